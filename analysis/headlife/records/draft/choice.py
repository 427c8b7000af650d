"""Which column of a table is which? From names and contents together, each column once.

Answers with the choice whose scores add up highest, so that a column serves one purpose only. What
is chosen on thin grounds is marked, for a person to confirm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from headlife.records.counted import PER_HOUR, other_unit
from headlife.records.draft.contents import Contents
from headlife.records.draft.names import EXACT, SPOKEN, name_scores
from headlife.shop.columns import COLUMNS, REQUIRED_COLUMNS

_ENOUGH: Final = 0.29  # below this nothing is chosen
_MOSTLY: Final = 0.5  # share of cells from which a column is of a kind
_CLEARLY: Final = 0.8
_UNIQUE: Final = 0.6  # share of different texts among serials; a head goes in again now and then
_BY_CONTENT: Final = 0.3
_NEEDED: Final = frozenset({*REQUIRED_COLUMNS, "date"})
_BY_WORDS: Final = 0.45


@dataclass(frozen=True)
class Choice:
    """The column chosen for a purpose."""

    place: int
    """Its place in the table."""
    sure: bool
    """True when its name says so and its cells agree."""


def choose(
    header: Sequence[str], contents: Sequence[Contents], wanted: Sequence[str]
) -> dict[str, Choice]:
    """Choose a column for each purpose.

    Parameters
    ----------
    header : sequence of str
        Names of the columns.
    contents : sequence of Contents
        What is in them.
    wanted : sequence of str
        Standard columns to choose for.

    Returns
    -------
    dict of str to Choice
        Standard column -> choice; those that no column looks like are left out.
    """
    from scipy.optimize import linear_sum_assignment

    if not header:
        return {}
    named = [name_scores(name) for name in header]
    timeless = [other_unit(name) not in (None, *PER_HOUR) for name in header]
    scores = np.array(
        [
            [
                0.0
                if timeless[i] and COLUMNS[name].kind == "hours"
                else _score(name, named[i].get(name, 0.0), contents[i])
                for i in range(len(header))
            ]
            for name in wanted
        ]
    )
    rows, places = linear_sum_assignment(scores, maximize=True)
    chosen = {
        wanted[row]: Choice(int(place), bool(named[place].get(wanted[row], 0.0) >= SPOKEN))
        for row, place in zip(rows, places, strict=True)
        if scores[row, place] >= _ENOUGH
    }
    return _in_order(_lent(chosen, contents, wanted), contents)


def _score(name: str, by_name: float, contents: Contents) -> float:
    """Weigh what a column's name says with what it holds; blank columns go by their name."""
    if not contents.filled:
        return by_name if by_name >= SPOKEN else 0.0
    kind = COLUMNS[name].kind
    if kind == "date":
        return _of_kind(name, by_name, contents.days)
    if kind == "hours":
        return _of_kind(name, by_name, contents.hours)
    if kind == "yes or no":
        return by_name if contents.answers >= _MOSTLY else 0.0
    if kind == "remark":
        return by_name
    if contents.days >= _CLEARLY:
        return 0.0
    if name in ("head_in", "head_out") and 0 < by_name < SPOKEN:
        # "Removed" over serials says which head, not when.
        own = contents.serials >= _CLEARLY and contents.hours < _MOSTLY
        return SPOKEN - 0.1 if own else by_name
    numbers = contents.hours >= _CLEARLY and name not in ("head", "head_in", "head_out", "lot")
    words = _by_words(name, contents)
    if by_name >= EXACT:
        return by_name + words / 10
    return (by_name - (0.3 if numbers else 0.0)) + words * (1.0 if by_name < SPOKEN else 0.3)


def _of_kind(name: str, by_name: float, share: float) -> float:
    """Score days or hours; without a word for it, only for what no table can do without."""
    if share < _MOSTLY:
        return 0.0
    by_content = share >= _CLEARLY and name in _NEEDED
    return by_name or (_BY_CONTENT if by_content else 0.0)


def _by_words(name: str, contents: Contents) -> float:
    """Score what the words of a column speak for."""
    shares: Mapping[str, float] = {
        "role": contents.roles if contents.words else 0.0,
        "position": contents.positions if contents.words else 0.0,
        "event": contents.events if contents.words else 0.0,
        "reason": contents.reasons if contents.words else 0.0,
    }
    if name in shares:
        return _BY_WORDS * shares[name] if shares[name] >= _MOSTLY else 0.0
    if name == "head":
        unique = len(contents.texts) / contents.filled
        serials = contents.serials >= _CLEARLY and unique >= _UNIQUE
        return _BY_CONTENT + unique / 20 if serials else 0.0
    return 0.0


# What no log can do without, and the column it may stand in under another name.
_LENDERS: Final = {"role": ("material", "note"), "reason": ("note", "event")}


def _lent(
    chosen: dict[str, Choice], contents: Sequence[Contents], wanted: Sequence[str]
) -> dict[str, Choice]:
    """Take a needed column from one that is not needed, where its words say so."""
    for name, lenders in _LENDERS.items():
        for lender in lenders if name in wanted and name not in chosen else ():
            place = chosen[lender].place if lender in chosen else None
            if place is None or getattr(contents[place], f"{name}s") < _CLEARLY:
                continue
            rest = {other: one for other, one in chosen.items() if other != lender}
            chosen = rest | {name: Choice(place, False)}
            break
    return chosen


def _in_order(chosen: dict[str, Choice], contents: Sequence[Contents]) -> dict[str, Choice]:
    """Put two columns of days, or of hours, that only their cells chose in the table's order."""
    for first, last in (("date_in", "date_out"), ("hours_in", "hours_out")):
        if first in chosen and last in chosen and not (chosen[first].sure or chosen[last].sure):
            low, high = sorted((chosen[first].place, chosen[last].place))
            chosen = chosen | {first: Choice(low, False), last: Choice(high, False)}
    return chosen
