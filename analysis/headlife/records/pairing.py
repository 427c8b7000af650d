"""Which installation do events belong to? From events and work orders to stretches.

Answers from typed events in the order of the calendar: an installation opens a stretch, the
removal of that head, or of whatever is in that position, closes it. What cannot be so (removed
before it was installed, in two places at once) is named; it never guesses an event that nobody
wrote down, except that a head put where another one is took its place.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.records.cells import quoted
from headlife.records.findings import Fault
from headlife.records.origins import Origins
from headlife.shop import Shop, reason_key
from headlife.shop.columns import EVENT_COLUMNS

Name = Callable[[int], str]

_PASSES: Final = 4  # over the events of one day, to bring them into an order that can be
_OF_EVENTS: Final = (*EVENT_COLUMNS, "row", "head", "reason", "date_in", "date_out", "hours_in")


@dataclass(frozen=True)
class Paired:
    """Stretches made from events."""

    rows: pd.DataFrame
    """One row a stretch, typed as rows of stretches are; `row` is the entry that opened it."""
    opened: np.ndarray
    """Place of the event that opened each stretch."""
    closed: np.ndarray
    """Place of the event that closed it; -1 while it is open, or where nobody wrote it down."""
    readings: pd.DataFrame
    """Readings of the printers' meters between: `printer, day, hours` [h], `name`."""
    faults: list[Fault]
    """Events that cannot be used."""
    spoilt: dict[str, int]
    """Head -> place of an event of it that cannot be used: its stretches are in doubt."""


@dataclass
class _Event:
    place: int
    kind: str
    head: str | None
    printer: str
    position: str | None
    day: int
    own_row: bool = True
    """True where the row is about this head alone, so that its hours are this head's."""


@dataclass
class _Open:
    """A head in a position."""

    stretch: int
    head: str
    printer: str
    position: str | None


@dataclass
class _Log:
    """What happened so far."""

    inside: dict[str, _Open] = field(default_factory=dict)
    places: dict[tuple[str, str | None], _Open] = field(default_factory=dict)
    opened: list[int] = field(default_factory=list)
    closed: list[int] = field(default_factory=list)
    ended_by: list[int] = field(default_factory=list)  # event after which it is known to be out
    last_read: list[int] = field(default_factory=list)
    heads: list[str] = field(default_factory=list)
    own_row: list[bool] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    spoilt: dict[str, int] = field(default_factory=dict)
    seen: set[str] = field(default_factory=set)


def stretches(typed: pd.DataFrame, shop: Shop, origins: Origins) -> Paired:
    """Make stretches from events.

    Parameters
    ----------
    typed : DataFrame
        Sound events or orders with their days, serials and readings; the index is each one's
        place in the table.
    shop : Shop
        The settings: what is an event.
    origins : Origins
        Where events stand, for messages.

    Returns
    -------
    Paired
        The stretches.
    """
    events = list(_events(typed, shop))
    later = {str(event.head): event for event in events if event.kind == "in"}
    log = _Log()
    rows = typed["row"].to_dict()

    def name(place: int) -> str:
        return origins.name(int(rows[place]))

    for day in _days(events):
        for event in _in_order(day, log):
            _happen(event, log, later, name)
    return _paired(typed, log, shop, name)


def no_head_named(orders: pd.DataFrame) -> np.ndarray:
    """Tell which work orders name no head, neither one that came out nor one that went in.

    Parameters
    ----------
    orders : DataFrame
        Orders with `head_out` and `head_in`, typed.

    Returns
    -------
    array of bool
        True where neither is filled in, (n,).
    """
    blank = orders["head_in"].isna() & orders["head_out"].isna()
    return blank.to_numpy(dtype=bool)


def _events(typed: pd.DataFrame, shop: Shop) -> Iterator[_Event]:
    """Give what happened, in the order of the calendar; an order takes one out, puts one in."""
    columns = {name: _texts(typed, name) for name in ("head", "head_in", "head_out", "event")}
    columns |= {name: _texts(typed, name) for name in ("printer", "position", "role")}
    days = typed["date"].to_numpy().astype("datetime64[D]").astype(np.int64)
    kinds = _kinds(typed, shop)
    for i in np.argsort(days, kind="stable").tolist():
        one = {name: values[i] for name, values in columns.items()}
        where = (int(typed.index[i]), int(days[i]), one["printer"], one["position"] or one["role"])
        kind = kinds[i]
        going_in = one["head_in"] if shop.intake.shape == "orders" else one["head"]
        if kind == "swapped":
            yield _event("out", one["head_out"], where, own_row=False)
        if kind == "installed" or (kind == "swapped" and going_in):
            yield _event("in", going_in, where, own_row=kind == "installed")
        if kind in ("removed", "reading"):
            yield _event("out" if kind == "removed" else "reading", one["head"], where)


def _kinds(typed: pd.DataFrame, shop: Shop) -> list[str]:
    """Give what each event is; an order that names no head changed none, so it is a reading."""
    if shop.intake.shape == "orders":
        return ["reading" if none else "swapped" for none in no_head_named(typed)]
    known = {reason_key(word): kind for word, kind in shop.intake.events.items()}
    return [known[reason_key(word)] for word in typed["event"].tolist()]


def _event(
    kind: str, head: str | None, where: tuple[int, int, str, str | None], own_row: bool = True
) -> _Event:
    place, day, printer, position = where
    # Where no serial is named, whatever was there came out.
    kind = "replaced" if kind == "out" and head is None else kind
    return _Event(place, kind, head, printer, position, day, own_row)


def _texts(typed: pd.DataFrame, name: str) -> list[Any]:
    if name not in typed:
        return [None] * len(typed)
    return [value if isinstance(value, str) else None for value in typed[name].tolist()]


def _days(events: list[_Event]) -> Iterator[list[_Event]]:
    start = 0
    for i in range(1, len(events) + 1):
        if i == len(events) or events[i].day != events[start].day:
            yield events[start:i]
            start = i


def _in_order(day: list[_Event], log: _Log) -> Iterator[_Event]:
    """Give the events of one day in an order that can be, as far as there is one."""
    waiting = day
    for _ in range(_PASSES):
        left = []
        for event in waiting:
            if _can_be(event, log):
                yield event
            else:
                left.append(event)
        if len(left) == len(waiting):
            break
        waiting = left
    else:
        left = waiting
    yield from left


def _can_be(event: _Event, log: _Log) -> bool:
    if event.kind == "out":
        return event.head in log.inside
    if event.kind == "in":
        there = log.places.get((event.printer, event.position))
        return event.head not in log.inside and there is None
    return True


def _happen(event: _Event, log: _Log, later: dict[str, _Event], name: Name) -> None:
    if event.kind == "in":
        _install(event, log, name)
    elif event.kind == "out":
        _remove(event, log, later, name)
    elif event.kind == "replaced":
        there = log.places.get((event.printer, event.position))
        if there is not None:
            _close(there, event.place, log)
        elif event.own_row:
            _fault(
                event,
                "head",
                "is blank, and no head is on record in that position; write the serial of the head "
                "that came out",
                log,
            )
    else:
        there = log.inside.get(event.head or "") or log.places.get((event.printer, event.position))
        if there is not None and (event.head or event.position):
            log.last_read[there.stretch] = event.place


def _install(event: _Event, log: _Log, name: Name) -> None:
    head = str(event.head)
    already = log.inside.get(head)
    if already is not None:
        same = (already.printer, already.position) == (event.printer, event.position)
        where = "in that position" if same else f"in printer {quoted(already.printer)}"
        row = name(log.opened[already.stretch])
        _fault(
            event,
            "head",
            f"is already {where} since row {row}, and no removal is on record in between; write "
            "that removal, or correct the serial or the day",
            log,
        )
        return
    there = log.places.get((event.printer, event.position))
    if there is not None:
        _close(there, event.place, log, written=False)
    one = _Open(len(log.opened), head, event.printer, event.position)
    log.opened.append(event.place)
    log.closed.append(-1)
    log.ended_by.append(-1)
    log.last_read.append(-1)
    log.heads.append(head)
    log.own_row.append(event.own_row)
    log.seen.add(head)
    log.inside[head] = log.places[event.printer, event.position] = one


def _remove(event: _Event, log: _Log, later: dict[str, _Event], name: Name) -> None:
    there = log.inside.get(str(event.head))
    if there is not None:
        _close(there, event.place, log)
        return
    after = later.get(str(event.head))
    if event.head in log.seen:
        what = "is not in a printer on that day: it came out before and was not put in again"
    elif after is not None and after.day >= event.day:
        what = f"comes out before row {name(after.place)} puts it in"
    else:
        what = "comes out, and that it went in is not on record"
    _fault(event, "head", f"{what}; correct the day or the serial, or add the missing event", log)


def _close(one: _Open, place: int, log: _Log, written: bool = True) -> None:
    if written:
        log.closed[one.stretch] = place
    log.ended_by[one.stretch] = place
    log.inside.pop(one.head, None)
    if log.places.get((one.printer, one.position)) is one:
        del log.places[one.printer, one.position]


def _fault(event: _Event, column: str, sentence: str, log: _Log) -> None:
    log.faults.append(Fault(event.place, column, sentence))
    if event.head is not None:
        log.spoilt.setdefault(event.head, event.place)


def _paired(typed: pd.DataFrame, log: _Log, shop: Shop, name: Name) -> Paired:
    """Put the stretches together: what the opening event says, else what the closing one says."""
    opened, closed = np.array(log.opened, dtype=np.int64), np.array(log.closed, dtype=np.int64)
    ended, read = np.array(log.ended_by, dtype=np.int64), np.array(log.last_read, dtype=np.int64)
    written, lost = closed >= 0, (closed < 0) & (ended >= 0)
    by_meter = "printer_hours" in typed
    # Where nobody wrote the removal down, a head was there until its last reading or, by the
    # printer's meter, until the next one went in.
    unwritten = np.where(lost, ended if by_meter else np.where(read >= 0, read, opened), read)
    if by_meter:
        unwritten = np.where(lost, unwritten, -1)  # in service at its printer's last reading
    last = np.where(written, closed, unwritten)
    start, end, final = _at(typed, opened), _at(typed, closed), _at(typed, last)
    rows: dict[str, Any] = {
        name: start[name].where(start[name].notna(), end[name]).to_numpy()
        for name in typed.columns
        if name not in _OF_EVENTS
    }
    rows["row"] = start["row"].to_numpy().astype(np.int64)
    rows["head"] = np.array(log.heads, dtype=object)
    rows["date_in"], rows["date_out"] = start["date"].to_numpy(), final["date"].to_numpy()
    # An order, or a swap in one row, tells the hours of the head that came out.
    own = np.array(log.own_row, dtype=bool)
    of_another = lost & by_meter
    rows["hours_in"] = _where(own, start, "hours")
    rows["hours_out"] = _where(~of_another & (own | (last != opened)), final, "hours")
    if by_meter:
        rows["printer_hours_in"] = start["printer_hours"].to_numpy(dtype=float)
        rows["printer_hours_out"] = final["printer_hours"].to_numpy(dtype=float)
    rows["reason"] = _where(written, end, "reason", None)
    return Paired(
        pd.DataFrame(rows), opened, closed, _between(typed, shop, name), log.faults, log.spoilt
    )


def _between(typed: pd.DataFrame, shop: Shop, name: Name) -> pd.DataFrame:
    """Give the meter readings that were written down as events of their own."""
    if "printer_hours" not in typed:
        return pd.DataFrame({"printer": [], "day": [], "hours": [], "name": []})
    meant = np.array([kind == "reading" for kind in _kinds(typed, shop)], dtype=bool)
    read = typed[meant & typed["printer_hours"].notna()]
    return pd.DataFrame(
        {
            "printer": read["printer"].to_numpy(),
            "day": read["date"].to_numpy().astype("datetime64[D]").astype(np.float64),
            "hours": read["printer_hours"].to_numpy(dtype=float),
            "name": [name(int(place)) for place in read.index],
        }
    )


def _at(typed: pd.DataFrame, places: np.ndarray) -> pd.DataFrame:
    """Give the rows at some places; blank where a place is -1."""
    return typed.reindex(places).reset_index(drop=True)


def _where(mask: np.ndarray, rows: pd.DataFrame, name: str, blank: Any = np.nan) -> np.ndarray:
    if name not in rows:
        return np.full(len(rows), blank, dtype=object if blank is None else float)
    return np.asarray(rows[name].where(mask, blank).to_numpy())
