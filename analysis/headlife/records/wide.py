"""Is this log wide, a row a day and a column a place? Turn it into rows of stretches or changes.

From plain rows: a header of places, a column of days, and in each cell the serial of the head that
is there on that day (perhaps with its counter), the reading of that head's counter, or why the head
was changed that day. Tables that have the days side by side are turned first. A head is in its
place from the first day it is seen there to the first day it is not; why it came out a wide log
cannot tell, so a removal says only whether the head is seen again. It reads no meaning, and no
cell is skipped in silence: what it cannot place is refused with its row and column.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Final

from headlife.errors import RecordsError
from headlife.plain_text import clean, plain
from headlife.records.cells import Problem, quoted
from headlife.records.date_columns import read_dates
from headlife.records.header import Row
from headlife.records.hour_columns import read_hours
from headlife.records.origins import letters
from headlife.records.wide_grid import (
    Grid,
    Look,
    cell_text,
    find_grid,
    is_number,
    is_serial,
    kind_and_places,
    parted,
)
from headlife.records.written import blank_words
from headlife.shop import Intake

STRETCHES: Final = (
    *("head", "printer", "position", "date_in", "hours_in", "date_out", "hours_out", "reason"),
)
CHANGES: Final = ("date", "printer", "position", "reason")
# Why a head came out is not in such a log; only whether it is seen again.
SEEN_AGAIN: Final = "moved, seen again later"
NOT_SEEN_AGAIN: Final = "not seen again"
_LAST_WORD: Final = re.compile(r"(.+?)[\s_/.:–-]+([^\s_/.:–-]+)\Z")
_FIRST_WORD: Final = re.compile(r"([^\s_/.:–-]+)[\s_/.:–-]+(.+)\Z")
_HOURS_A_DAY: Final = 24.0


@dataclass
class _Stay:
    """A head seen in a place."""

    place: int
    serial: str
    first: int
    last: int
    readings: list[str]
    until: int | None = None
    """The first look at which it is gone; None while it is there."""
    again: bool = False
    """True where the head is seen later elsewhere, or here again."""


def upright(
    rows: Sequence[Row], intake: Intake, file: str, stored: bool
) -> tuple[tuple[str, ...], list[Row]]:
    """Write a wide log as one row a stretch, or for reasons one row a change.

    Parameters
    ----------
    rows : sequence of (int, list of str)
        All rows of the table, with their row numbers.
    intake : Intake
        The settings; `wide` says what stands in the cells.
    file : str
        Name of the file, for messages.
    stored : bool
        As for `TextTable`.

    Returns
    -------
    header : tuple of str
        Standard names; and columns that are no places, such as remarks: what stands there on the
        day on which a stretch ended or, while the head is in, began.
    rows : list of (int, list of str)
        The number of the row in which each begins, and its cells.

    Raises
    ------
    RecordsError
        It has no column of days or no places, a row has no day, or a cell is neither.
    """
    grid = find_grid(rows)
    if grid is None or not grid.looks:
        raise RecordsError(
            f"{file}: [intake] wide says that rows are days and columns are places, and there is "
            "no column and no row of days; write the day of each look, such as 2026-03-31, or take "
            "that line out."
        )
    blank = blank_words(intake) | {""}
    _, places = kind_and_places(grid, intake.wide, blank)
    for number, cells in grid.strays:
        raise RecordsError(
            f"{file}, row {number}: it has no day ({quoted(next(filter(None, cells)))}), and the "
            "other rows say by their day what was where; write its day, or move the row elsewhere."
        )
    if not places:
        raise RecordsError(
            f"{file}: no column holds {intake.wide}, which [intake] wide says; correct that line."
        )
    grid = replace(grid, looks=_by_day(grid.looks, intake, stored))
    names = _named(grid, places)
    others = [i for i, name in enumerate(grid.header) if i and name.strip() and i not in places]
    further = tuple(clean(grid.header[i]) for i in others)
    if intake.wide == "reasons":
        return (*CHANGES, *further), _changes(grid, places, names, blank, others)
    made = _stretches(grid, places, names, intake, file, stored, blank, others)
    width = len(STRETCHES)
    told = [i for i in range(width) if any(cells[i] for _, cells in made)]
    header = tuple(STRETCHES[i] for i in told)
    return (*header, *further), [
        (number, [*(cells[i] for i in told), *cells[width:]]) for number, cells in made
    ]


def _by_day(looks: list[Look], intake: Intake, stored: bool) -> list[Look]:
    """Put looks in the order of the calendar; as they stand while a day cannot be read."""
    days = _days(looks, intake, stored)
    if not all(isinstance(day, datetime) for day in days):
        return looks
    return [looks[i] for i in sorted(range(len(looks)), key=lambda i: days[i])]


def _days(looks: list[Look], intake: Intake, stored: bool) -> list[Any]:
    return read_dates({"date": [one.day for one in looks]}, intake, stored).cells["date"]


def _named(grid: Grid, places: list[int]) -> dict[int, tuple[str, str]]:
    """Part the name of each place into printer and position; both are the name where it is one."""
    parts = {i: re.sub(r"[()\[\]]", " ", clean(grid.header[i])).strip() for i in places}
    ways = []
    for pattern, back in ((_LAST_WORD, False), (_FIRST_WORD, True)):
        found = {i: match for i, name in parts.items() if (match := pattern.match(name))}
        pairs = {i: (m[1 + back], m[2 - back]) for i, m in found.items()}
        positions = {position for _, position in pairs.values()}
        if back and len(positions) == 1:
            # One first word for all is the one printer of the table.
            pairs = {i: (m[1], m[2]) for i, m in found.items()}
        if len(found) == len(parts) and len(positions) < len(parts):
            digits = any(c.isdigit() for position in positions for c in position)
            ways.append((len(positions), digits, pairs))
    # Printers have few positions, and call them by words rather than by numbers.
    best = min(ways, key=lambda way: way[:2], default=None)
    return best[2] if best else {i: (name, name) for i, name in parts.items()}


def _changes(
    grid: Grid,
    places: list[int],
    names: dict[int, tuple[str, str]],
    blank: frozenset[str],
    others: list[int],
) -> list[Row]:
    return [
        (
            grid.place_rows[i] if grid.across else one.row,
            [one.day, *names[i], text, *(cell_text(one, other) for other in others)],
        )
        for one in grid.looks
        for i in places
        if plain(text := cell_text(one, i)).casefold() not in blank
    ]


def _stretches(
    grid: Grid,
    places: list[int],
    names: dict[int, tuple[str, str]],
    intake: Intake,
    file: str,
    stored: bool,
    blank: frozenset[str],
    others: list[int],
) -> list[Row]:
    """Follow each place from look to look."""
    stays: list[_Stay] = []
    for i in places:
        texts = [cell_text(one, i) for one in grid.looks]
        told = [plain(text).casefold() not in blank for text in texts]
        if intake.wide == "hours":
            stays += _by_readings(i, texts, told, grid, intake, file, stored)
        else:
            stays += _by_serials(i, texts, told, grid, intake, file)
    stays.sort(key=lambda stay: (stay.first, stay.place))
    latest: dict[str, _Stay] = {}
    for stay in reversed(stays):
        later = latest.get(stay.serial) if stay.serial else None
        stay.again = later is not None
        if later is not None and stay.readings:
            # A head's counter stands still while it is out: it ran until then what it shows next.
            stay.readings += later.readings[:1]
        latest[stay.serial] = stay
    return [
        (
            grid.place_rows[stay.place] if grid.across else grid.looks[stay.first].row,
            [
                *(stay.serial, *names[stay.place], grid.looks[stay.first].day),
                next(iter(stay.readings), ""),
                grid.looks[stay.last if stay.until is None else stay.until].day,
                stay.readings[-1] if stay.readings else "",
                "" if stay.until is None else SEEN_AGAIN if stay.again else NOT_SEEN_AGAIN,
                *(cell_text(grid.looks[stay.until or stay.first], other) for other in others),
            ],
        )
        for stay in stays
    ]


def _by_serials(
    place: int, texts: list[str], told: list[bool], grid: Grid, intake: Intake, file: str
) -> list[_Stay]:
    """Follow the serials of a place; a blank cell says that none is there, or the same one."""
    stays: list[_Stay] = []
    same = "head" in intake.fill_down
    for at, text in enumerate(texts):
        one = stays[-1] if stays and stays[-1].until is None else None
        if not told[at]:
            if one is not None and not same:
                one.until = at
            elif one is not None:
                one.last = at
            continue
        serial, reading = parted(text)
        if not (is_serial(text) or is_number(text)):
            what = (
                "is not the serial of the head that was there; write that, leave the cell blank "
                "where no head was there or, where this word says so, name it under [intake] blank"
            )
            raise _unreadable(grid, place, at, text, what, file)
        if one is None or one.serial != serial:
            if one is not None:
                one.until = at
            one = _Stay(place, serial, at, at, [])
            stays.append(one)
        one.last = at
        one.readings += [reading] * bool(reading)
    return stays


def _by_readings(
    place: int,
    texts: list[str],
    told: list[bool],
    grid: Grid,
    intake: Intake,
    file: str,
    stored: bool,
) -> list[_Stay]:
    """Follow the counter of a place: where it falls, or gains too much, it is another head's."""
    values = read_hours({"hours": texts}, intake, stored).cells["hours"]
    days = _days(grid.looks, intake, stored)
    stays: list[_Stay] = []
    for at, text in enumerate(texts):
        if not told[at]:
            continue
        if isinstance(values[at], Problem):
            raise _unreadable(grid, place, at, text, values[at].sentence, file)
        one = stays[-1] if stays else None
        if one is not None:
            gained = values[at] - values[one.last]
            time = _HOURS_A_DAY * (days[at] - days[one.last]).days if _both(days, at, one) else 0.0
            if gained < 0 or (time and gained > time):
                one.until, one = at, None
        if one is None:
            one = _Stay(place, "", at, at, [])
            stays.append(one)
        one.last = at
        one.readings.append(text)
    return stays


def _both(days: list[Any], at: int, one: _Stay) -> bool:
    return isinstance(days[at], datetime) and isinstance(days[one.last], datetime)


def _unreadable(grid: Grid, place: int, at: int, text: str, what: str, file: str) -> RecordsError:
    row = grid.place_rows[place] if grid.across else grid.looks[at].row
    where = f"column {letters(place)} ({quoted(clean(grid.header[place]))})"
    if grid.across:
        where = f"under {quoted(grid.looks[at].day)}"
    return RecordsError(f"{file}, row {row}, {where}: {quoted(text)} {what}.")
