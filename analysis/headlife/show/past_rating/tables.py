"""Policies side by side, both heads in one visit, and what would be learned: rows and tables.

From a study of one proposal; the page, the notebook and the terminal write the same rows.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from headlife.shop.policy import AT_RATING
from headlife.show.markup import Html, paragraphs, table
from headlife.show.plain import Table, lines
from headlife.show.words.learning import learned_sentences, learning
from headlife.show.words.numbers import chance, decimals, hourly_cost, listed, whole
from headlife.show.words.policy import both_heads_sentence

if TYPE_CHECKING:
    from headlife.decisions.policy.both_heads import BothHeads
    from headlife.decisions.policy.past_rating_answer import PastRating
    from headlife.decisions.policy.proposal import ProposalStudy

POLICY_HEADINGS: Final = (
    "Policy",
    "Swap at [h]",
    "Cost per print hour, spares included",
    "Planned",
    "Failures",
    "Spares held",
    "Heads per quarter",
    "Failed builds per quarter",
    "Standstill per quarter [h]",
    "Spares to hold",
    "Chance it beats the rating",
    "Saving per quarter",
    "Saving per quarter if wrong",
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
    "Saving per quarter if wrong",
)


def policy_tables(made: ProposalStudy) -> Html:
    """Tabulate the policies side by side, one table per kind of head.

    Parameters
    ----------
    made : ProposalStudy
        The answers, with what they were made from.

    Returns
    -------
    Html
        A piece of the page.
    """
    pieces = [
        table(
            *policies(answer),
            caption=f"{kind.name}: policies side by side, amounts in {made.currency}",
        )
        for kind, answer in made.each()
    ]
    return sum(pieces[1:], pieces[0])


def policies(answer: PastRating) -> Table:
    """Tabulate the policies of one kind of head.

    Parameters
    ----------
    answer : PastRating
        The answers about one kind of head.

    Returns
    -------
    Table
        A row for each policy.
    """
    rows = [
        [
            line.policy,
            "never" if math.isinf(line.swap_age) else whole(line.swap_age),
            cost_range(line),
            decimals(line.planned, 2),
            decimals(line.unplanned, 2),
            decimals(line.holding, 2),
            _range(line, "heads"),
            _range(line, "failed_builds"),
            _range(line, "downtime"),
            f"{line.spares}",
            *versus_rating(line, line.policy == AT_RATING),
        ]
        for line in lines(answer.table)
    ]
    return Table(POLICY_HEADINGS, rows, range(1, len(POLICY_HEADINGS)))


def both_heads_tables(made: ProposalStudy) -> Html:
    """Say and tabulate whether swapping both heads in one visit pays.

    Parameters
    ----------
    made : ProposalStudy
        The answers, with what they were made from.

    Returns
    -------
    Html
        A piece of the page.
    """
    if not made.pairs:
        return Html("<p>No printer carries two heads of kinds that have run.</p>", "no pairs")
    pieces = [
        paragraphs(both_heads_sentence(pair))
        + table(
            BOTH_HEADINGS,
            _both_heads_rows(pair),
            caption=f"{listed(pair.names)} on {', '.join(pair.printers)}, "
            f"amounts in {made.currency}",
            numbers=tuple(range(1, len(BOTH_HEADINGS))),
        )
        for pair in made.pairs
    ]
    return sum(pieces[1:], pieces[0])


def _both_heads_rows(pair: BothHeads) -> list[list[str]]:
    """Write the ways to look after both heads, one row each; see `BOTH_HEADINGS`."""
    return [
        [
            line.policy,
            "never" if math.isinf(line.limit) else whole(line.limit),
            cost_range(line),
            _range(line, "heads"),
            _range(line, "failed_builds"),
            _range(line, "visits"),
            _range(line, "downtime"),
            f"{line.spares}",
            *versus_rating(line, place == 0),
        ]
        for place, line in enumerate(lines(pair.table))
    ]


def learning_table(made: ProposalStudy) -> Html:
    """Say what each policy would teach about the rating, and what watching heads is worth.

    Parameters
    ----------
    made : ProposalStudy
        The answers, with what they were made from.

    Returns
    -------
    Html
        A piece of the page.
    """
    return paragraphs(*learned_sentences(made.learned, made.currency)) + table(
        *learning(made.learned), caption="What we would learn within a year"
    )


def versus_rating(line: Any, yardstick: bool) -> list[str]:
    """Write odds, saving and what is saved if wrong, against swapping at the rating.

    Parameters
    ----------
    line : object
        A row of the table of policies.
    yardstick : bool
        Whether this row is what the others are compared with.

    Returns
    -------
    list of str
        Three cells.
    """
    if yardstick:
        return ["the yardstick", "–", "–"]
    return [chance(line.probability_cheaper), whole(line.saving), whole(-line.regret)]


def cost_range(line: Any) -> str:
    """Write a cost per print hour with its range.

    Parameters
    ----------
    line : object
        A row of the table of policies.

    Returns
    -------
    str
        The words.
    """
    low, high = hourly_cost(line.cost_low), hourly_cost(line.cost_high)
    return f"{hourly_cost(line.cost_per_hour)} ({low} to {high})"


def _range(line: Any, name: str) -> str:
    value, low, high = (getattr(line, f"{name}{end}") for end in ("", "_low", "_high"))
    return f"{decimals(value, 1)} ({decimals(low, 1)} to {decimals(high, 1)})"
