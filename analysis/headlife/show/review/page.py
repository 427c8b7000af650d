"""The page of the quarterly review: which sections, in which order, with which words.

From a case, its review and its doubts read both ways; the notebook shows the same sections.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property
from typing import TYPE_CHECKING, Final

from headlife.show.markup import paragraphs
from headlife.show.page import Page, Section, closing
from headlife.show.review.first_screen import first_screen
from headlife.show.words.days import day

if TYPE_CHECKING:
    from headlife.case import Case
    from headlife.decisions.actions import Actions
    from headlife.decisions.came_of import CameOf
    from headlife.decisions.review_answers import Review
    from headlife.decisions.two_ways import TwoWays
    from headlife.show.review.fit import Checks

TITLE: Final = "Quarterly head review"
_RATING: Final = (
    "The black steps are what happened to the heads, the blue curve is the fitted life with its "
    "range. The dashed line is the rating; the dot on it is the share of heads that reach it, with "
    "its bounds, to be compared with the dotted claim. The steps stop where fewer than five heads "
    "are left."
)
_FIT: Final = (
    "On this paper a Weibull life is a straight line. Failures that follow the line inside its "
    "range speak for the fit; a bend speaks against it, and against anything read from the curve "
    "beyond the oldest head."
)
_STOCK: Final = (
    "Every position starts from the present age of its head and its own print hours a week; every "
    "forecast carries the uncertainty of the fitted lives. A new head serves either role, so both "
    "roles are counted together. The two measures of risk differ: the cycle service level is the "
    "chance that nobody waits at all, the fill rate the share of requests served from the shelf."
)
_WATCH: Final = (
    "The chance that a head which runs today finishes one more build of the stated length, every "
    "way of failing counted, with its range. It is no advice to run a head past its rating."
)
_DOUBTS: Final = (
    "Removals called wear that pile up where the counter calls for a swap may be the counter's "
    "doing, and a head pulled because it looked bad may have had life left. Where there are such "
    "removals every answer is given twice. What was set aside is not in any number on this page; "
    "what was kept and flagged is."
)


def review_page(
    case: Case,
    review: Review,
    both: TwoWays,
    actions: Actions | None = None,
    given_back: tuple[Sequence[CameOf], Sequence[str]] | None = None,
) -> Page:
    """Lay out the page of a review.

    Parameters
    ----------
    case : Case
        What the answers were made from.
    review : Review
        The answers.
    both : TwoWays
        The answers with removals in doubt read both ways.
    actions : Actions, optional
        What is to be done, for the first screen.
    given_back : tuple, optional
        What came of earlier actions, and sentences about rows that could not be answered.

    Returns
    -------
    Page
        The page.
    """
    from headlife.records.audit import audit
    from headlife.show.review import doubts, fit, fleet, rating, standing, watched
    from headlife.show.spares import stock
    from headlife.show.words import in_short
    from headlife.show.words.records import rows_read

    checked = _Checked(case, review)
    currency = case.shop.costs.currency
    audited = audit(case.records, review.as_of.date())
    sections = {
        "rating": Section(
            "Does the rating hold?",
            _RATING,
            (
                ("heads still running", lambda: rating.survival_figures(review)),
                ("ratings", lambda: rating.rating_table(review)),
                ("groups compared", lambda: rating.divisions_list(review)),
                ("verdicts over time", lambda: standing.strips(review)),
                ("what would overturn the verdicts", lambda: standing.overturn_table(review)),
            ),
            short="Rating",
            result=lambda: in_short.ratings_in_short(review),
        ),
        "fit": Section(
            "Is the fitted life a fair description?",
            _FIT,
            (
                (
                    "failures on Weibull paper",
                    lambda: rating.probability_figures(review, fit.on_paper(checked.found)),
                ),
                ("checks of the fit", lambda: fit.findings(checked.found)),
                ("checks of the fit", lambda: fit.finding_figures(review, checked.found)),
            ),
            short="Fit",
            result=lambda: in_short.fit_in_short(checked.found),
        ),
        "stock": Section(
            "How many spares?",
            _STOCK,
            (
                ("demand", lambda: stock.demand_figures(review.stock)),
                ("stock level against risk", lambda: stock.level_table(review.stock, currency)),
            ),
            short="Spares",
            result=lambda: in_short.stock_in_short(review.stock),
        ),
        "watch": Section(
            "Which heads to watch?",
            _WATCH,
            (("heads in service", lambda: watched.watch_table(review)),),
            short="Heads to watch",
            result=lambda: in_short.watch_in_short(review.watch, review.build_hours),
        ),
        "records": Section(
            "What the records hold",
            "",
            (
                ("how the records were read", lambda: paragraphs(*review.notes)),
                (
                    "the fleet over the calendar",
                    lambda: fleet.timeline_figure(
                        case.records.accepted, review.as_of, list(case.shop.head_types)
                    ),
                ),
            ),
            short="Records",
            result=lambda: f"{rows_read(review)}.",
        ),
        "doubts": Section(
            "What in the records is doubtful?",
            _DOUBTS,
            (
                ("answers both ways", lambda: doubts.both_ways_table(both)),
                (
                    "findings",
                    lambda: doubts.findings_table(audited),
                ),
            ),
            short="Doubts",
            result=lambda: in_short.doubts_in_short(both, len(audited)),
        ),
    }
    if given_back is not None:
        sections = {"given back": _given_back(*given_back), **sections}
    title = f"{TITLE}: {review.shop_name}, {day(review.as_of)}"
    return Page(title, first_screen(review, both, actions), sections, closing(review))


def _given_back(found: Sequence[CameOf], problems: Sequence[str]) -> Section:
    from headlife.show.actions.section import came_table

    made = ("actions given back", lambda: came_table(found, problems))
    return Section(
        "What came of the actions of the last review?",
        "",
        (made,),
        short="Given back",
        stays_open=True,
    )


class _Checked:
    """The checks of the fit, made when the first piece asks for them."""

    def __init__(self, case: Case, review: Review) -> None:
        self._case, self._review = case, review

    @cached_property
    def found(self) -> Checks:
        """Name of a stratum -> what its checks found."""
        from headlife.show.review.fit import check_strata

        return check_strata(self._review, self._case.records)
