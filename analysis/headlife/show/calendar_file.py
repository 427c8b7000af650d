"""How do entries of whole days become a calendar that phones and mail programs open?

From entries; gives an iCalendar file (RFC 5545). An entry about the same thing keeps its
identifier, so that a calendar read again updates it and never shows it twice; nothing in the file
knows the clock.
"""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Iterable, Sequence
from typing import Final, NamedTuple

_FIRST_DAY: Final = datetime.date(2000, 1, 1)
_ONE_DAY: Final = datetime.timedelta(days=1)


class Entry(NamedTuple):
    """One thing to do on one day."""

    about: Sequence[object]
    """What tells it from every other entry; the same in every calendar."""
    day: datetime.date
    """The day."""
    summary: str
    """What is to be done, in a few words."""
    description: str
    """Why and how."""
    location: str
    """Where."""


def calendar_bytes(name: str, kind: str, today: datetime.date, entries: Iterable[Entry]) -> bytes:
    """Write entries as an iCalendar file.

    Parameters
    ----------
    name : str
        Shown as the calendar's name.
    kind : str
        What its entries are about, for the program that wrote it.
    today : datetime.date
        The day that it was made for; a later calendar replaces the entries of an earlier one.
    entries : iterable of Entry
        The entries.

    Returns
    -------
    bytes
        The file; the same entries give the same bytes.
    """
    from icalendar import Calendar, Event

    calendar = Calendar()
    calendar.add("prodid", f"-//headlife//{kind}//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", name)
    for one in entries:
        event = Event()
        event.add("uid", identifier(one.about))
        event.add("dtstamp", datetime.datetime.combine(today, datetime.time(), datetime.UTC))
        event.add("sequence", (today - _FIRST_DAY).days)
        event.add("dtstart", one.day)
        event.add("dtend", one.day + _ONE_DAY)
        event.add("summary", one.summary)
        event.add("description", one.description)
        event.add("location", one.location)
        event.add("transp", "TRANSPARENT")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def identifier(about: Sequence[object]) -> str:
    """Name an entry, the same in every calendar.

    Parameters
    ----------
    about : sequence of object
        What tells it from every other entry.

    Returns
    -------
    str
        A name that tells nothing to whoever does not know what it is about.
    """
    # The lengths keep ("ab", "c") and ("a", "bc") apart.
    named = "".join(f"{len(part)}:{part}" for part in map(str, about))
    return f"{hashlib.sha256(named.encode()).hexdigest()[:32]}@headlife"
