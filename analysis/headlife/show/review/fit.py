"""Is the fitted life fair, and what else do the failures say? Every check of every stratum.

Asks `life.diagnostics` about each head type and role of a review; gives one list of sentences per
stratum, and a figure for each finding that had enough failures. Judges nothing itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from functools import partial
from typing import TYPE_CHECKING, Any

from headlife.show.figures import adequacy, positions, style, svg
from headlife.show.markup import Html, escape, items
from headlife.show.page import panels
from headlife.show.words.fit import finding
from headlife.show.words.pictures import check_shown
from headlife.show.words.rating import primary_mode

if TYPE_CHECKING:
    from headlife.decisions.review_answers import Review, Stratum
    from headlife.life.diagnostics.stratum import Diagnosis
    from headlife.records.record_set import Records

Checks = Mapping[str, "Diagnosis"]


def check_strata(review: Review, records: Records) -> Checks:
    """Run every check on every head type and role that has run at all.

    Parameters
    ----------
    review : Review
        The answers.
    records : Records
        What they were made from.

    Returns
    -------
    mapping
        Name of the stratum -> its `Diagnosis`.
    """
    from headlife.life.diagnostics.stratum import diagnose

    found = {}
    rows = records.accepted[records.accepted["date_in"] <= review.as_of]
    for stratum in review.strata:
        if stratum.verdict is None:
            continue
        own = rows[stratum.group.rows(rows)]
        found[stratum.name] = diagnose(
            stratum.lives,
            own,
            mode=primary_mode(stratum),
            rated_hours=stratum.rated_hours,
            share=stratum.verdict.share,
            seed=review.seed,
        )
    return found


def on_paper(checks: Checks) -> set[str]:
    """Name the head types and roles whose check is drawn on Weibull paper.

    Parameters
    ----------
    checks : Checks
        Every check of every head type and role, by its name.

    Returns
    -------
    set of str
        The names.
    """
    return {name for name, one in checks.items() if one.check.enough}


def findings(checks: Checks) -> Html:
    """List what was found, and in one line what there are too few failures to tell.

    Parameters
    ----------
    checks : Checks
        Every check of every head type and role, by its name.

    Returns
    -------
    Html
        A piece of the page.
    """
    parts = []
    for name, diagnosis in checks.items():
        told = [part for _, part in _parts(diagnosis) if part.enough]
        silent = [what for what, part in _parts(diagnosis) if not part.enough]
        lines = [finding(part) for part in told]
        if silent:
            lines.append(f"Too few failures to tell: {', '.join(silent)}.")
        parts.append(f"<h3>{escape(name)}</h3>{items(lines)}")
    return Html("".join(parts), "findings about the fitted lives")


def finding_figures(review: Review, checks: Checks) -> Html:
    """Draw every finding that had enough failures.

    Parameters
    ----------
    review : Review
        The quarter's answers.
    checks : Checks
        Every check of every head type and role, by its name.

    Returns
    -------
    Html
        A piece of the page.
    """
    figures = [
        (title, partial(_figure, title, draw, sentence, found))
        for stratum in review.strata
        if stratum.name in checks
        for title, draw, sentence, found in _drawings(stratum, checks[stratum.name])
    ]
    return panels("checks of the fit", figures)


def _figure(title: str, draw: Callable[[Any], Any], sentence: str, found: Any) -> Html:
    return svg.figure_html(style.as_svg(draw), check_shown(title, found), sentence)


def _parts(diagnosis: Diagnosis) -> list[tuple[str, Any]]:
    effects = [(effect.factor, effect) for effect in diagnosis.effects]
    return [
        ("whether a Weibull life is fair", diagnosis.check),
        ("which kind of life fits best", diagnosis.rivals),
        *effects,
        ("drift with the purchase date", diagnosis.drift),
        ("a trend of the positions", diagnosis.trend),
        ("positions that eat heads", diagnosis.positions),
    ]


def _drawings(
    stratum: Stratum, diagnosis: Diagnosis
) -> Iterator[tuple[str, Callable[[Any], Any], str, Any]]:
    """Title, drawing, sentence and finding of every finding that had enough failures."""
    name, rated = stratum.name, stratum.rated_hours
    told = [effect for effect in diagnosis.effects if effect.enough]
    drawings: list[tuple[bool, str, Callable[..., Any], str, Any]] = [
        (
            diagnosis.check.enough,
            "Weibull check",
            partial(adequacy.draw_check, check=diagnosis.check, rated_hours=rated),
            finding(diagnosis.check),
            diagnosis.check,
        ),
        (
            diagnosis.rivals.enough,
            "kinds of life",
            partial(adequacy.draw_rivals, rivals=diagnosis.rivals),
            finding(diagnosis.rivals),
            diagnosis.rivals,
        ),
        (
            bool(told),
            "groups compared",
            partial(adequacy.draw_effects, effects=told, rated_hours=rated),
            " ".join(finding(effect) for effect in told),
            told,
        ),
        (
            diagnosis.drift.enough,
            "purchase date",
            partial(adequacy.draw_drift, drift=diagnosis.drift, rated_hours=rated),
            finding(diagnosis.drift),
            diagnosis.drift,
        ),
        (
            diagnosis.trend.enough,
            "trend of positions",
            partial(positions.draw_trend, trend=diagnosis.trend),
            finding(diagnosis.trend),
            diagnosis.trend,
        ),
        (
            diagnosis.positions.enough,
            "positions",
            partial(positions.draw_positions, positions=diagnosis.positions),
            finding(diagnosis.positions),
            diagnosis.positions,
        ),
    ]
    for enough, what, draw, sentence, found in drawings:
        if enough:
            title = f"{name}: {what}"
            yield title, partial(draw, title=title), sentence, found
