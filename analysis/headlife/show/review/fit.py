"""Is the fitted life fair, and what else do the failures say? Every check of every stratum.

Asks `life.diagnostics` about each head type and role of a review; gives one list of sentences per
stratum, and a figure for each finding that had enough failures. Judges nothing itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from headlife.show.figures import adequacy, positions, style, svg
from headlife.show.markup import Html, escape, items
from headlife.show.page import panels
from headlife.show.words.fit import finding
from headlife.show.words.pictures import check_shown
from headlife.show.words.rating import primary_mode

if TYPE_CHECKING:
    from headlife.decisions.review_answers import Review
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
        lines = [finding(one) for each in _CHECKS for one in _each(each.told(diagnosis))]
        silent = [what for each in _CHECKS for what in each.silent(diagnosis)]
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
    figures = []
    for stratum in review.strata:
        for each in _CHECKS if stratum.name in checks else ():
            if found := each.told(checks[stratum.name]):
                title = f"{stratum.name}: {each.title}"
                rated = [stratum.rated_hours] if each.beside_rating else []
                figures.append((title, partial(_figure, title, each.draw, found, *rated)))
    return panels("checks of the fit", figures)


def _figure(title: str, draw: Callable[..., Any], found: Any, *rated: float) -> Html:
    """Draw one finding, or several of the effects in one figure."""
    sentence = " ".join(finding(one) for one in _each(found))
    picture = style.as_svg(lambda ax: draw(ax, found, *rated, title=title))
    return svg.figure_html(picture, check_shown(title, found), sentence)


def _each(found: Any) -> Sequence[Any]:
    return found if isinstance(found, Sequence) else (found,)


class _Check(NamedTuple):
    """One check: where a diagnosis has it, what it asks, and its figure."""

    name: str
    asks: str
    title: str
    draw: Callable[..., Any]
    beside_rating: bool = False

    def told(self, diagnosis: Diagnosis) -> Any:
        """Give what it found; of the effects those that had enough failures."""
        found = getattr(diagnosis, self.name)
        if self.name != _EFFECTS:
            return found if found.enough else ()
        return [effect for effect in found if effect.enough]

    def silent(self, diagnosis: Diagnosis) -> list[str]:
        """Name what there were too few failures to tell."""
        found = _each(getattr(diagnosis, self.name))
        return [self.asks or one.factor for one in found if not one.enough]


_EFFECTS: Final = "effects"
_CHECKS: Final = (
    _Check("check", "whether a Weibull life is fair", "Weibull check", adequacy.draw_check, True),
    _Check("rivals", "which kind of life fits best", "kinds of life", adequacy.draw_rivals),
    _Check(_EFFECTS, "", "groups compared", adequacy.draw_effects, True),
    _Check("drift", "drift with the purchase date", "purchase date", adequacy.draw_drift, True),
    _Check("trend", "a trend of the positions", "trend of positions", positions.draw_trend),
    _Check("positions", "positions that eat heads", "positions", positions.draw_positions),
)
