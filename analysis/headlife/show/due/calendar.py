"""What is due, as a calendar that phones and mail programs open.

From a `DueList`; one entry for each head about which something is to be done, on the day its swap
or its rating is expected. The entry of a head in its place keeps its identifier.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from headlife.decisions.due import BEFORE_BUILD, LEAVE, SWAP_NOW
from headlife.show.calendar_file import Entry, calendar_bytes
from headlife.show.plain import lines
from headlife.show.words import due as words
from headlife.show.words.cautions import CAUTIONS

if TYPE_CHECKING:
    import datetime
    from pathlib import Path

    from headlife.decisions.due import DueList


def due_calendar(due: DueList, place: Path | None = None) -> bytes:
    """Write the list as an iCalendar file (RFC 5545).

    Parameters
    ----------
    due : DueList
        The list.
    place : Path, optional
        Where the calendar is to be; what an earlier one there says and this one does not is called
        off.

    Returns
    -------
    bytes
        The file; the same list over the same earlier file gives the same bytes.
    """
    entries = (_entry(row, due) for row in lines(due.heads) if row.action != LEAVE)
    name = f"Heads due, {due.shop_name}"
    return calendar_bytes(name, "heads due", due.as_of.date(), entries, place)


def _entry(row: Any, due: DueList) -> Entry:
    return Entry(
        about=(due.shop_name, row.head_type, row.head, row.printer, row.position),
        day=_day(row, due.as_of.date()),
        summary=f"{row.action}: {words.done(row)}",
        description=f"{words.why(row, due.build_hours)} Spare: {words.spare_words(row)}. "
        f"{CAUTIONS[0]}",
        location=f"{row.printer} {row.position}",
    )


def _day(row: Any, today: datetime.date) -> datetime.date:
    """Day of the entry: today for what is to be done at once, else when the swap is expected."""
    if row.action in (SWAP_NOW, BEFORE_BUILD):
        return today
    expected = row.day_swap if row.day_swap == row.day_swap else row.day_rating
    return today if expected != expected else max(expected.date(), today)
