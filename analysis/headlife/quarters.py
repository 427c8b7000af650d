"""Which calendar quarters lie ahead and behind, and what are they called in a fiscal year?

From a day and the month in which the fiscal year begins. Knows nothing of heads or money.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from headlife.units import QUARTERS_PER_YEAR


@dataclass(frozen=True)
class Quarter:
    """A calendar quarter, or what is left of one."""

    name: str
    """Such as "2026 Q4"; "2026 Q4, rest" where its first days have passed."""
    first: datetime.date
    """First day."""
    last: datetime.date
    """Last day."""
    whole: bool = True
    """Whether all of it is meant."""


def quarter_of(day: datetime.date) -> Quarter:
    """Give the calendar quarter of a day.

    Parameters
    ----------
    day : datetime.date
        The day.

    Returns
    -------
    Quarter
        The quarter.
    """
    number = (day.month - 1) // 3
    first = datetime.date(day.year, 3 * number + 1, 1)
    later = first + datetime.timedelta(days=95)
    last = datetime.date(later.year, later.month, 1) - datetime.timedelta(days=1)
    return Quarter(f"{day.year} Q{number + 1}", first, last)


def quarters_ahead(day: datetime.date) -> tuple[Quarter, ...]:
    """Give what is left of a day's quarter after it, where anything is, and the next four.

    Parameters
    ----------
    day : datetime.date
        The day.

    Returns
    -------
    tuple of Quarter
        Without a gap, from the day after on.
    """
    first = day + datetime.timedelta(days=1)
    found = []
    present = quarter_of(first)
    if first > present.first:
        found.append(Quarter(f"{present.name}, rest", first, present.last, whole=False))
        first = present.last + datetime.timedelta(days=1)
    for _ in range(QUARTERS_PER_YEAR):
        found.append(quarter_of(first))
        first = found[-1].last + datetime.timedelta(days=1)
    return tuple(found)


def quarters_behind(day: datetime.date) -> tuple[Quarter, ...]:
    """Give the last four whole quarters up to a day, the oldest first.

    Parameters
    ----------
    day : datetime.date
        The day.

    Returns
    -------
    tuple of Quarter
        Without a gap.
    """
    found: list[Quarter] = []
    next_day = day + datetime.timedelta(days=1)
    begins = quarter_of(next_day).first
    while len(found) < QUARTERS_PER_YEAR:
        found.insert(0, quarter_of(begins - datetime.timedelta(days=1)))
        begins = found[0].first
    return tuple(found)


def fiscal_name(quarter: Quarter, begins: int) -> str:
    """Name a quarter in a fiscal year, which is called by the year in which it ends.

    Parameters
    ----------
    quarter : Quarter
        A calendar quarter.
    begins : int
        Month in which the fiscal year begins: 1, 4, 7 or 10.

    Returns
    -------
    str
        Such as "FY2027 Q3" (common practice, no source).
    """
    months = (quarter.first.month - begins) % 12
    year = quarter.first.year + (1 if begins > 1 and quarter.first.month >= begins else 0)
    return f"FY{year} Q{months // 3 + 1}"
