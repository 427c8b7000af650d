"""The page of running past the rating: which sections, in which order, with which words.

From a study of one proposal for a whole shop; the notebook shows the same sections, with sliders
beside them. Draws with `figures.replacement`; computes no answer.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import TYPE_CHECKING, Final

from headlife.decisions.policy.past_rating import verdict_on
from headlife.show.markup import Html, badge, escape, first_lines, typeset
from headlife.show.page import Page, Section, closing, panels
from headlife.show.words import pictures
from headlife.show.words.days import day
from headlife.show.words.numbers import SURE, ranges
from headlife.show.words.policy import (
    advice_sentence,
    gives_way_sentence,
    proposal_sentence,
    rated_words,
    step_sentence,
)

if TYPE_CHECKING:
    from headlife.decisions.policy.past_rating import Kind
    from headlife.decisions.policy.past_rating_answer import PastRating
    from headlife.decisions.policy.proposal import ProposalStudy

TITLE: Final = "Running heads past their rating"
_WHAT_IF: Final = (
    "Everything else on this page is answered for the numbers of the settings and the proposal; "
    "here they move. Both heads in one visit, what would be learned and the heads to watch stay as "
    "they are below."
)
_CURVES: Final = (
    "Per kind of head: cost per print hour against the age at which working heads are swapped, "
    "the policies side by side, and heads used and builds failed per quarter. Beyond the oldest "
    "head seen everything is extrapolation, and drawn as that."
)
_POLICIES: Final = (
    f"Long-run costs and numbers at the print hours of today. {ranges(SURE)} "
    "Between builds, a head that is due comes out at the first build end after its age; a "
    "quality-critical one before the build that would carry it past. The saving if wrong is "
    "below nothing: what the policy costs more than swapping at the rating in case it is in truth "
    "the dearer one."
)
_BOTH: Final = (
    "When one head of a printer comes out, the other may be swapped too once it has reached a "
    "certain age: one calibration then serves both. The age is the one with the lowest cost. "
    "Costs are per print hour of the printer, both heads together."
)
_LEARNING: Final = (
    "Heads swapped at their rating say nothing about what comes after it. The chance that the "
    "claim on the rating gets a verdict within a year, under each policy, and what it would be "
    "worth to run a few heads on, where that is allowed, and watch."
)
_WATCH: Final = (
    "For every head in service, every way of failing counted, with its range. It is no advice to "
    "run a head past its rating."
)


def past_rating_page(made: ProposalStudy) -> Page:
    """Lay out the page of one proposal.

    Parameters
    ----------
    made : ProposalStudy
        All answers to the proposal.

    Returns
    -------
    Page
        The page.
    """
    from headlife.show.past_rating import tables
    from headlife.show.past_rating.on_page import what_if
    from headlife.show.review.watched import watch_table
    from headlife.show.sliders import script
    from headlife.show.words import in_short

    sections = {
        "what_if": Section(
            "What if? Try your own numbers",
            _WHAT_IF,
            (("sliders", lambda: what_if(made)),),
            short="What if?",
            result=lambda: "Swap age, costs, builds and spares: move them and read the answer.",
            stays_open=True,
        ),
        "cost": Section(
            "What does a print hour cost, what breaks?",
            _CURVES,
            (("cost against swap age", lambda: curves(made)),),
            short="Cost by age",
            result=lambda: in_short.ages_in_short(made),
        ),
        "policies": Section(
            "The policies side by side",
            _POLICIES,
            (("policies", lambda: tables.policy_tables(made)),),
            short="Policies",
            result=lambda: in_short.policies_in_short(made),
        ),
        "both_heads": Section(
            "Both heads in one visit?",
            _BOTH,
            (("both heads in one visit", lambda: tables.both_heads_tables(made)),),
            short="Both heads",
            result=lambda: in_short.both_heads_in_short(made),
        ),
        "learning": Section(
            "What would we learn?",
            _LEARNING,
            (("what would be learned", lambda: tables.learning_table(made)),),
            short="Learning",
            result=lambda: in_short.learning_in_short(made),
        ),
        "watch": Section(
            "Will this head finish the next long build?",
            _WATCH,
            (("heads in service", lambda: watch_table(made.review)),),
            short="Heads to watch",
            result=lambda: in_short.watch_in_short(made.review.watch, made.review.build_hours),
        ),
    }
    title = f"{TITLE}: {made.review.shop_name}, {day(made.review.as_of)}"
    return Page(title, first_screen(made), sections, closing(made.review), script("replace"))


def first_screen(made: ProposalStudy) -> Html:
    """Answer the question on one screen: the advice for each kind, then the proposal.

    Parameters
    ----------
    made : ProposalStudy
        The answers, with what they were made from.

    Returns
    -------
    Html
        A piece of the page.
    """
    cards = "".join(
        f'<section class="card"><h2>{escape(kind.name)}<span class="rated">'
        f"{escape(rated_words(kind))}</span></h2>"
        f"{_line(gives_way_sentence(kind))}"
        f'<h3>What do records and costs speak for?</h3><p class="line">'
        f"{typeset(advice_sentence(kind, answer))}</p>"
        f"{_line(step_sentence(answer))}"
        f'<h3>What would the proposal do?</h3><p class="line">{badge(verdict_on(kind, answer))} '
        f"{typeset(proposal_sentence(kind, answer))}</p></section>"
        for kind, answer in made.each()
    )
    when = f"as of {day(made.review.as_of)}"
    return first_lines(TITLE, made.review.shop_name, when) + Html(
        f'<div class="cards">{cards}</div>'
    )


def _line(said: str) -> str:
    return f'<p class="line">{typeset(said)}</p>' if said else ""


def curves(made: ProposalStudy) -> Html:
    """Draw the three figures for each kind of head.

    Parameters
    ----------
    made : ProposalStudy
        The answers, with what they were made from.

    Returns
    -------
    Html
        A piece of the page.
    """
    figures = [figure for kind, answer in made.each() for figure in _figures(kind, answer)]
    return panels("costs", figures)


def _figures(kind: Kind, answer: PastRating) -> Iterator[tuple[str, Callable[[], Html]]]:
    for draw in (_cost, _side_by_side, _events):
        yield kind.name, partial(draw, kind, answer)


def _cost(kind: Kind, answer: PastRating) -> Html:
    from headlife.show.figures import replacement, style, svg

    rated, name = kind.rated_hours, kind.name
    return svg.figure_html(
        style.as_svg(lambda ax: replacement.draw_cost_curve(ax, answer, rated, title=name)),
        pictures.costs_shown(name, answer),
        "Spares on the shelf are not in the curve.",
    )


def _side_by_side(kind: Kind, answer: PastRating) -> Html:
    from headlife.show.figures import policies, style, svg

    title = f"{kind.name}: policies"
    return svg.figure_html(
        style.as_svg(lambda ax: policies.draw_policies(ax, answer, title=title)),
        pictures.policies_shown(kind.name, answer),
        "Dot: expected cost with spares; bar: its range; dashed: at the rating; at the right "
        "the chance that the policy is cheaper than swapping at the rating.",
    )


def _events(kind: Kind, answer: PastRating) -> Html:
    from headlife.show.figures import replacement, style, svg

    title, rated = f"{kind.name}: heads and builds", kind.rated_hours
    return svg.figure_html(
        style.as_svg(lambda ax: replacement.draw_events(ax, answer, rated, title=title)),
        pictures.events_shown(kind.name, answer),
        "Long-run numbers with their ranges, at the print hours of today.",
    )
