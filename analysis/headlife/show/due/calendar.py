"""What is due, as a calendar that phones and mail programs open.

From a `DueList`; one entry for each head about which something is to be done, on the day its swap
or its rating is expected. The entry of a head in its place keeps its identifier, so that a
calendar read again updates it and never shows it twice; nothing in it knows the clock.
"""

from __future__ import annotations

import datetime
import hashlib
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.due import BEFORE_BUILD, LEAVE, SWAP_NOW
from headlife.show.plain import lines
from headlife.show.words import due as words
from headlife.show.words.cautions import CAUTIONS

if TYPE_CHECKING:
    from headlife.decisions.due import DueList

_FIRST_DAY: Final = datetime.date(2000, 1, 1)
_ONE_DAY: Final = datetime.timedelta(days=1)


def due_calendar(due: DueList) -> bytes:
    """Write the list as an iCalendar file (RFC 5545).

    Parameters
    ----------
    due : DueList
        The list.

    Returns
    -------
    bytes
        The file; the same list gives the same bytes.
    """
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", "-//headlife//heads due//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", f"Heads due, {due.shop_name}")
    for row in lines(due.heads):
        if row.action != LEAVE:
            calendar.add_component(_entry(row, due))
    return bytes(calendar.to_ical())


def _entry(row: Any, due: DueList) -> Any:
    from icalendar import Event

    today = due.as_of.date()
    event = Event()
    event.add("uid", identifier(due.shop_name, row))
    event.add("dtstamp", datetime.datetime.combine(today, datetime.time(), datetime.UTC))
    event.add("sequence", (today - _FIRST_DAY).days)
    when = _day(row, today)
    event.add("dtstart", when)
    event.add("dtend", when + _ONE_DAY)
    event.add("summary", f"{row.action}: {words.done(row)}")
    event.add(
        "description",
        f"{words.why(row, due.build_hours)} Spare: {words.spare_words(row)}. {CAUTIONS[0]}",
    )
    event.add("location", f"{row.printer} {row.position}")
    event.add("transp", "TRANSPARENT")
    return event


def identifier(shop: str, row: Any) -> str:
    """Name the entry of a head in its place, the same in every calendar of the shop.

    Parameters
    ----------
    shop : str
        Name of the shop.
    row : named tuple
        A row of the list.

    Returns
    -------
    str
        A name that tells nothing to whoever does not know the shop and the head.
    """
    parts = (shop, row.head_type, row.head, row.printer, row.position)
    named = "".join(f"{len(part)}:{part}" for part in map(str, parts))
    return f"{hashlib.sha256(named.encode()).hexdigest()[:32]}@headlife"


def _day(row: Any, today: datetime.date) -> datetime.date:
    """Day of the entry: today for what is to be done at once, else when the swap is expected."""
    if row.action in (SWAP_NOW, BEFORE_BUILD):
        return today
    expected = row.day_swap if row.day_swap == row.day_swap else row.day_rating
    return today if expected != expected else max(expected.date(), today)
