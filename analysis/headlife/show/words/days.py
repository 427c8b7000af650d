"""How is a day, a month or a range of days written for people?

From dates; gives words. Files and programs get year-month-day.
"""

from __future__ import annotations

import datetime
from typing import Final

_MONTHS: Final = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip


def day(date: datetime.date) -> str:
    """Write a day as people do: 30 September 2026.

    Parameters
    ----------
    date : datetime.date
        The day.

    Returns
    -------
    str
        The words.
    """
    return f"{date.day} {_MONTHS[date.month - 1]} {date.year}"


def month(date: datetime.date) -> str:
    """Write a month in few letters: Sep 2026.

    Parameters
    ----------
    date : datetime.date
        A day of it.

    Returns
    -------
    str
        The words.
    """
    return f"{_MONTHS[date.month - 1][:3]} {date.year}"


def day_span(first: datetime.date, last: datetime.date) -> str:
    """Write a range of days in few letters: 22 Nov to 12 Dec 2026.

    Parameters
    ----------
    first, last : datetime.date
        The days.

    Returns
    -------
    str
        The words.
    """
    ends = [f"{one.day} {_MONTHS[one.month - 1][:3]}" for one in (first, last)]
    year = f" {first.year}" if first.year != last.year else ""
    return f"{ends[0]}{year} to {ends[1]} {last.year}"
