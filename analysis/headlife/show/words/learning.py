"""What would a policy teach about the rating, in words and rows? For the page and the terminal.

From what the policy room worked out for each kind of head; computes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from headlife.show.plain import Table, lines
from headlife.show.words.numbers import chance, counted, hours, money, whole

if TYPE_CHECKING:
    from headlife.decisions.policy.proposal import Learned

_HEADINGS: Final = (
    "Head type, role",
    "Policy",
    "Chance of a verdict on the rating",
    "Holds",
    "Falls short",
    "Print hours past the rating [h]",
)
_WORTH: Final = 1.0  # a year's saving below this is nothing [currency]


def learning(learned: Sequence[Learned]) -> Table:
    """Tabulate the chance of a verdict within a year, one row per kind and policy.

    Parameters
    ----------
    learned : sequence of Learned
        What each policy teaches.

    Returns
    -------
    Table
        A row for each.
    """
    return Table(_HEADINGS, [row for one in learned for row in _rows(one)], (2, 3, 4, 5))


def _rows(one: Learned) -> list[list[str]]:
    name = learned_name(one)
    if one.chances is None:
        return [[name, "any", f"settled already: {one.verdict or 'unknown'}", "–", "–", "–"]]
    return [
        [
            name,
            line.policy,
            chance(line.settled),
            chance(line.holds),
            chance(line.falls_short),
            whole(line.past_rating),
        ]
        for line in lines(one.chances)
    ]


def learned_name(one: Learned) -> str:
    """Name what something would be learned of.

    Parameters
    ----------
    one : Learned
        What would be learned.

    Returns
    -------
    str
        Head type and role, and the lot that is bought now where lots are told apart.
    """
    return one.kind.name if one.part is None else f"{one.part.name}, bought now"


def learned_sentences(learned: Sequence[Learned], currency: str) -> list[str]:
    """Say what watching heads is worth, and what the chances of a verdict are about.

    Parameters
    ----------
    learned : sequence of Learned
        What each policy teaches.
    currency : str
        In which amounts are stated; empty where none is.

    Returns
    -------
    list of str
        The sentences.
    """
    # Of several lots that are bought side by side it is the same.
    said = dict.fromkeys(worth_sentence(one, currency) for one in learned)
    if any(one.part is not None for one in learned):
        said[
            "The chances are of a verdict on what is bought now by its own heads alone; heads of "
            "other lots in place teach nothing of it until they are swapped. What watching is "
            "worth is worked out with one life for all lots."
        ] = None
    return list(said)


def worth_sentence(one: Learned, currency: str) -> str:
    """Say what it is worth to run heads past the rating and watch them.

    Parameters
    ----------
    one : Learned
        What watching one kind of head is worth.
    currency : str
        In which amounts are stated; empty where none is.

    Returns
    -------
    str
        The sentence.
    """
    kind = one.kind
    if kind.quality_critical:
        return f"{kind.name}: quality-critical, so no head is run past its rating to learn from it."
    told = [
        f"{counted(worth.heads, 'head', 'heads')}: "
        f"{money(worth.value_per_hour * one.hours_per_year, currency)}"
        for worth in one.worths
        if worth.value_per_hour * one.hours_per_year >= _WORTH
    ]
    run_to = hours(one.run_to)
    if not told:
        return (
            f"{kind.name}: running up to {one.worths[-1].heads} heads on to {run_to} is not "
            "expected to change the choice of policy."
        )
    where = f" (not on {', '.join(kind.never_past)})" if kind.never_past else ""
    return (
        f"{kind.name}: running heads past the rating on non-critical work{where}, to failure or "
        f"{run_to}, would save about so much a year through better-informed swaps: "
        f"{'; '.join(told)}."
    )
