"""The page of running past the rating: advice, curves, policies, both heads, what is learned.

From a `Study`, all answers to one proposal for a whole shop; gives pieces of `Html` for cells of
the notebook. Draws with `figures.replacement`; computes no answer.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from headlife.show import sentences
from headlife.show.figures import replacement, style
from headlife.show.learning import HEADINGS as LEARNING_HEADINGS
from headlife.show.markup import Html, escape, panels, table, typeset
from headlife.show.proposal import advice_sentence, both_heads_sentence, proposal_sentence

if TYPE_CHECKING:
    from headlife.decisions.policy.both_heads import BothHeads
    from headlife.decisions.policy.past_rating import Kind, PastRating
    from headlife.show.proposal_study import Study

POLICY_HEADINGS: Final = (
    "Policy",
    "Swap at [h]",
    "Cost per print hour",
    "Planned",
    "Failures",
    "Spares held",
    "Heads per quarter",
    "Failed builds per quarter",
    "Standstill per quarter [h]",
    "Spares to hold",
    "Chance it beats the rating",
    "Saving per quarter",
    "Loss per quarter if wrong",
)
BOTH_HEADINGS: Final = (
    "Policy",
    "Swap along from [h]",
    "Cost per print hour",
    "Heads per quarter",
    "Failed builds per quarter",
    "Visits per quarter",
    "Standstill per quarter [h]",
    "Spares to hold",
    "Chance it beats the rating",
    "Saving per quarter",
    "Loss per quarter if wrong",
)


def headline(made: Study) -> Html:
    """Answer the question on one screen: the advice for each kind, then the proposal."""
    cards = "".join(
        f'<section class="card"><h2>{escape(kind.name)}<span class="rated">rated '
        f"{sentences.hours(kind.rated_hours)}</span></h2>"
        f'<h3>What do records and costs speak for?</h3><p class="line">'
        f"{typeset(advice_sentence(kind, answer))}</p>"
        f'<h3>What would the proposal do?</h3><p class="line">'
        f"{typeset(proposal_sentence(kind, answer))}</p></section>"
        for kind, answer in made.each()
    )
    day = made.review.as_of
    return Html(
        f'<header class="first"><p class="what">Running heads past their rating</p>'
        f"<h1>{escape(made.review.shop_name)}</h1>"
        f'<p class="when">as of {day.day} {day:%B %Y}</p></header>'
        f'<div class="cards">{cards}</div>',
        f"Running heads past their rating, {made.review.shop_name}",
    )


def curves(made: Study) -> Html:
    """Draw the three figures for each kind of head."""
    figures = [figure for kind, answer in made.each() for figure in _figures(kind, answer)]
    return panels(figures)


def _figures(kind: Kind, answer: PastRating) -> list[str]:
    rated, name = kind.rated_hours, kind.name
    cost = style.as_svg(lambda ax: replacement.draw_cost_curve(ax, answer, rated, title=name))
    policies = style.as_svg(
        lambda ax: replacement.draw_policies(ax, answer, title=f"{name}: policies")
    )
    events = style.as_svg(
        lambda ax: replacement.draw_events(ax, answer, rated, title=f"{name}: heads and builds")
    )
    said = advice_sentence(kind, answer)
    return [
        style.figure_html(
            cost,
            f"Expected cost per print hour of {name} heads against the age at which working heads "
            f"are swapped, with its range, planned swaps and failures apart. {said}",
            "Spares on the shelf are not in the curve. Shaded: ages no head has reached here.",
        ),
        style.figure_html(
            policies,
            f"Cost per print hour of {name} heads under each policy with its range, and the "
            "chance that it is cheaper than swapping at the rating.",
            "Dot: expected cost with spares; bar: nine chances in ten; dashed: at the rating.",
        ),
        style.figure_html(
            events,
            f"Heads used and builds failed per quarter by {name} heads against the swap age.",
            "Long-run numbers with their ranges, at the print hours of today.",
        ),
    ]


def policy_tables(made: Study) -> Html:
    """Tabulate the policies side by side, one table per kind of head."""
    pieces = [
        table(
            list(POLICY_HEADINGS),
            policy_rows(answer),
            caption=f"{kind.name}: policies side by side, amounts in {made.currency}",
            numbers=tuple(range(1, len(POLICY_HEADINGS))),
        )
        for kind, answer in made.each()
    ]
    return sum(pieces[1:], pieces[0])


def policy_rows(answer: PastRating) -> list[list[str]]:
    """Write the policies of one kind of head, one row each; see `POLICY_HEADINGS`."""
    return [
        [
            line.policy,
            "never" if math.isinf(line.swap_age) else f"{line.swap_age:,.0f}",
            _range(line.cost_per_hour, line.cost_low, line.cost_high, 2),
            f"{line.planned:.2f}",
            f"{line.unplanned:.2f}",
            f"{line.holding:.2f}",
            _range(line.heads, line.heads_low, line.heads_high, 1),
            _range(line.failed_builds, line.failed_builds_low, line.failed_builds_high, 1),
            _range(line.downtime, line.downtime_low, line.downtime_high, 1),
            f"{line.spares}",
            *_versus(line, line.policy == answer.at_rating.policy.name),
        ]
        for line in sentences.lines(answer.table)
    ]


def both_heads_tables(made: Study) -> Html:
    """Say and tabulate whether swapping both heads in one visit pays."""
    if not made.pairs:
        return Html("<p>No printer carries two heads of kinds that have run.</p>", "no pairs")
    pieces = [
        Html(f"<p>{typeset(both_heads_sentence(pair))}</p>")
        + table(
            list(BOTH_HEADINGS),
            both_heads_rows(pair),
            caption=f"{' and '.join(pair.names)} on {', '.join(pair.printers)}, "
            f"amounts in {made.currency}",
            numbers=tuple(range(1, len(BOTH_HEADINGS))),
        )
        for pair in made.pairs
    ]
    return sum(pieces[1:], pieces[0])


def both_heads_rows(pair: BothHeads) -> list[list[str]]:
    """Write the ways to look after both heads, one row each; see `BOTH_HEADINGS`."""
    return [
        [
            line.policy,
            "never" if math.isinf(line.limit) else f"{line.limit:,.0f}",
            _range(line.cost_per_hour, line.cost_low, line.cost_high, 2),
            _range(line.heads, line.heads_low, line.heads_high, 1),
            _range(line.failed_builds, line.failed_builds_low, line.failed_builds_high, 1),
            _range(line.visits, line.visits_low, line.visits_high, 1),
            _range(line.downtime, line.downtime_low, line.downtime_high, 1),
            f"{line.spares}",
            *_versus(line, place == 0),
        ]
        for place, line in enumerate(sentences.lines(pair.table))
    ]


def learning_table(made: Study) -> Html:
    """Say what each policy would teach about the rating, and what watching heads is worth."""
    said = made.learned.sentences
    words = "".join(f"<p>{typeset(one)}</p>" for one in said)
    return Html(words, "\n".join(said)) + table(
        LEARNING_HEADINGS,
        made.learned.rows,
        caption="What we would learn within a year",
        numbers=(2, 3, 4, 5),
    )


def _versus(line: Any, yardstick: bool) -> list[str]:
    if yardstick:
        return ["the yardstick", "–", "–"]
    return [
        sentences.chance(line.probability_cheaper),
        f"{line.saving:,.0f}",
        f"{line.regret:,.0f}",
    ]


def _range(value: float, low: float, high: float, digits: int) -> str:
    return f"{value:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"
