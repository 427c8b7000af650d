"""Does the rating hold? The survival curves, the plots on Weibull paper and the table.

From a `Review`; draws with `headlife.show.figures` and computes no answer.
"""

from __future__ import annotations

from collections.abc import Container
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from headlife.life.curves import fitted_line, fitted_survival
from headlife.life.nonparametric import kaplan_meier, plotting_positions
from headlife.show.figures import probability, style, survival, svg
from headlife.show.markup import Html, badge, paragraphs, table
from headlife.show.page import panels
from headlife.show.words import rating
from headlife.show.words.newest import division_answer, newest_sentence
from headlife.show.words.numbers import (
    chance_beside,
    counted,
    decimals,
    hours,
    listed,
    most_known,
    percent,
    span,
    whole,
)
from headlife.show.words.pictures import paper_shown, survival_shown

_BENDS: Final = (
    "The line bends because too few failures tell the shape of the life: it is the mean over every "
    "shape that fits, and each of them alone is straight."
)

if TYPE_CHECKING:
    from headlife.decisions.review_answers import Review, Stratum


def rating_table(review: Review) -> Html:
    """Tabulate what the records say about each rating.

    Parameters
    ----------
    review : Review
        The quarter's answers.

    Returns
    -------
    Html
        A piece of the page.
    """
    by = ["head type and role", *dict.fromkeys(c for one in review.divisions for c in one.columns)]
    headings = [
        "Heads of",
        "Verdict",
        "Chance the claim is true",
        "Rated [h]",
        "Reach the rating [%]",
        "Hours the claimed share reaches [h]",
        "Heads",
        "Print hours [h]",
        "Failures",
        "Weibull shape [-]",
        "Weibull scale [h]",
    ]
    return table(
        headings,
        [_row(review, stratum) for stratum in review.told],
        caption=f"Rating by {listed(by)}",
        numbers=(2, 3, 4, 5, 6, 7, 9, 10),
    )


def divisions_list(review: Review) -> Html:
    """Say of every division, such as that by lot, whether its parts differ and what is bought now.

    Parameters
    ----------
    review : Review
        The answers.

    Returns
    -------
    Html
        Paragraphs; where ratings are asked by head type and role only, one on how the
        newest purchases have fared.
    """
    said = [division_answer(review, one) for one in review.divisions]
    if review.newest:
        said.append(newest_sentence(review.newest))
    return paragraphs(*said)


def _row(review: Review, stratum: Stratum) -> list[object]:
    failed = ", ".join(f"{count} {mode}" for mode, count in stratum.failures.items())
    record = [stratum.heads, whole(stratum.evidence.print_hours), failed or "none"]
    rated = whole(stratum.rated_hours)
    verdict, life = stratum.verdict, stratum.life
    if verdict is None or life is None:
        unknown = ["unknown", "unknown"]
        return [stratum.name, rating.NO_VERDICT, "unknown", rated, *unknown, *record, "–", "–"]
    learned = life.has_ml and life.shape_learned
    return [
        stratum.name,
        Html(badge(review.stated_verdict(stratum) or verdict.verdict)),
        chance_beside(verdict.probability, verdict.confidence),
        rated,
        f"{percent(verdict.share_reaching)} ({span(*verdict.bounds)})",
        rating.hours_at_share(verdict),
        *record,
        decimals(life.shape, 2) if learned else "assumed",
        hours(life.scale, most_known(stratum.rated_hours)).removesuffix(" h") if learned else "–",
    ]


def survival_figures(review: Review) -> Html:
    """Draw heads still running against print hours, one panel per head type and role.

    Parameters
    ----------
    review : Review
        The quarter's answers.

    Returns
    -------
    Html
        A piece of the page.
    """
    return panels("heads still running", _each(review, _survival))


def _survival(stratum: Stratum) -> Html:
    lives, life, verdict = stratum.lives, stratum.life, stratum.verdict
    steps = kaplan_meier(lives, _failed(stratum))
    fitted = fitted_survival(life, _last_hours(stratum))
    shown = None if verdict is None else (verdict.share_reaching, *verdict.bounds)
    picture = style.as_svg(
        lambda ax: survival.draw_survival(
            ax,
            steps,
            fitted,
            lives,
            stratum.rated_hours,
            claim_share=verdict.share if verdict else None,
            share_bounds=shown,
            title=stratum.name,
        )
    )
    return svg.figure_html(
        picture,
        survival_shown(stratum.name, fitted, stratum.rated_hours),
        rating.evidence_sentence(stratum),
    )


def probability_figures(review: Review, drawn: Container[str] = ()) -> Html:
    """Draw the failures on Weibull paper, one panel per head type and role.

    Parameters
    ----------
    review : Review
        The quarter's answers.
    drawn : container of str
        Head types and roles whose failures another figure shows on the same paper.

    Returns
    -------
    Html
        A piece of the page.
    """
    return panels(
        "failures on Weibull paper",
        [one for one in _each(review, _probability) if one[0] not in drawn],
    )


def _probability(stratum: Stratum) -> Html:
    points = plotting_positions(stratum.lives, _failed(stratum))
    last = _last_hours(stratum)
    first = min([last / 12, *(0.7 * points["hours"]).tolist()])
    line = fitted_line(stratum.life, max(first, last / 1000), last * 1.3)
    life = stratum.life
    learned = life is not None and life.has_ml and life.shape_learned
    picture = style.as_svg(
        lambda ax: probability.draw_probability(
            ax, points, line, stratum.rated_hours, learned=learned, title=stratum.name
        )
    )
    late = int((stratum.lives["entry_hours"] > 0).sum())
    how = (
        f"Points at the middle of each Kaplan–Meier step, because "
        f"{counted(late, 'head', 'heads')} came with hours already on the counter."
        if late
        else "Points at median ranks, adjusted for heads taken out before they failed."
    )
    if not learned:
        how = f"{_BENDS} {how}" if len(points) else _BENDS
    return svg.figure_html(
        picture,
        paper_shown(stratum.name, points),
        how,
    )


def _each(review: Review, draw: Any) -> list[tuple[str, Any]]:
    """Every stratum that has a life, with what draws it."""
    return [(one.name, partial(draw, one)) for one in review.strata if one.life is not None]


def _failed(stratum: Stratum) -> Any:
    """Mark the lives that ended in the mode the rating is about."""
    primary = rating.primary_mode(stratum)
    return (stratum.lives["mode"] == primary).fillna(False).to_numpy(bool)


def _last_hours(stratum: Stratum) -> float:
    """End of the hours axis: past the oldest head and past the rating [h]."""
    oldest = float(stratum.lives["exit_hours"].max()) if len(stratum.lives) else 0.0
    return 1.12 * max(oldest, stratum.rated_hours)
