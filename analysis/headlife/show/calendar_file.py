"""How do entries of whole days become a calendar that phones and mail programs open?

From entries, and the calendar that stood in the same file before; gives an iCalendar file (RFC
5545). An entry about the same thing keeps its identifier, so that a calendar read again updates it
and never shows it twice; one that lies ahead and is dropped is called off. Nothing in the file
knows the clock.
"""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final, NamedTuple

if TYPE_CHECKING:
    from icalendar import Calendar, Event

_FIRST_DAY: Final = datetime.date(2000, 1, 1)
_ONE_DAY: Final = datetime.timedelta(days=1)
_LARGEST: Final = 5_000_000  # bytes of a calendar of ours; a larger file is not read
_CALLED_OFF: Final = "CANCELLED"


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


def calendar_bytes(
    name: str,
    kind: str,
    today: datetime.date,
    entries: Iterable[Entry],
    place: Path | None = None,
) -> bytes:
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
    place : Path, optional
        Where it is to be: if the same calendar of an earlier day stands there, its entries from
        today on that are none any more are called off.

    Returns
    -------
    bytes
        The file; the same entries over the same earlier file give the same bytes.
    """
    calendar = _empty(name, kind)
    before = {} if place is None else _events_before(place, calendar)
    for one in entries:
        calendar.add_component(_event(one, today, before.pop(identifier(one.about), None)))
    for event in before.values():
        if event.start >= today:
            calendar.add_component(_called_off(event, today))
    return bytes(calendar.to_ical())


def _empty(name: str, kind: str) -> Calendar:
    from icalendar import Calendar

    calendar = Calendar()
    calendar.add("prodid", f"-//headlife//{kind}//EN")
    calendar.add("version", "2.0")
    calendar.add("x-wr-calname", name)
    return calendar


def _event(entry: Entry, today: datetime.date, before: Event | None) -> Event:
    from icalendar import Event

    event = Event()
    event.add("uid", identifier(entry.about))
    event.add("dtstart", entry.day)
    event.add("dtend", entry.day + _ONE_DAY)
    event.add("summary", entry.summary)
    event.add("description", entry.description)
    event.add("location", entry.location)
    event.add("transp", "TRANSPARENT")
    return _revised(event, today, before)


def _called_off(before: Event, today: datetime.date) -> Event:
    """Keep an entry that is none any more, so that readers take theirs away."""
    event = before.copy(recursive=True)
    event.pop("status", None)
    event.add("status", _CALLED_OFF)
    return _revised(event, today, before)


def _revised(event: Event, today: datetime.date, before: Event | None) -> Event:
    """Give an entry its number and date, above those of an earlier one that said otherwise."""
    number = (today - _FIRST_DAY).days
    if before is not None:
        number = max(number, _number(before) + (_says(event) != _says(before)))
    for name in ("dtstamp", "sequence"):
        event.pop(name, None)
    event.add("dtstamp", datetime.datetime.combine(today, datetime.time(), datetime.UTC))
    event.add("sequence", number)
    return event


def _says(event: Event) -> list[tuple[str, bytes]]:
    """Give what an entry tells a reader, without its number and date."""
    told = ((name, value) for name, value in event.items() if name not in ("DTSTAMP", "SEQUENCE"))
    return sorted((name, bytes(value.to_ical())) for name, value in told)


def _events_before(place: Path, calendar: Calendar) -> dict[str, Event]:
    """Read the entries of the same calendar; none where something else stands there."""
    from icalendar import Calendar

    try:
        if not place.is_file() or place.stat().st_size > _LARGEST:
            return {}
        data = place.read_bytes()
        if not data.startswith(b"BEGIN:VCALENDAR"):
            return {}
        before = Calendar.from_ical(data)
        if any(before.get(name) != calendar.get(name) for name in ("prodid", "x-wr-calname")):
            return {}
        return {str(one["uid"]): one for one in before.events if _is_whole(one)}
    except (OSError, ValueError, KeyError, IndexError, TypeError, AttributeError):
        return {}  # an edited file is replaced as any other


def _is_whole(event: Event) -> bool:
    """Whether an entry has what one of ours has."""
    return type(event.start) is datetime.date and _number(event) >= 0 and "uid" in event


def _number(event: Event) -> int:
    """Give the revision of an entry."""
    return int(str(event["sequence"]))


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
