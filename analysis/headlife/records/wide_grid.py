"""Is a table wide, a row a day and a column a place, and what do its cells hold?

From plain rows: where its header of places and its days stand, downwards or side by side (it is
turned then), and whether cells look like serials, counters, reasons or other numbers. Interprets no
cell; what a wide log says is `wide`'s.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from headlife.plain_text import clean, plain
from headlife.records.dates import NO_DAY, DateReadings, date_readings
from headlife.records.header import HEADER_SEARCH_ROWS, Row, under
from headlife.records.hours import HourReadings, hour_readings
from headlife.records.written import DASHES
from headlife.shop.layout import Wide

Kind = Wide | Literal["numbers"]
"""What cells hold: as `[intake] wide` says, or numbers that are no counters of heads."""

_FEWEST: Final = 3  # days, and cells of a row of days, from which a table may be wide
_FEWEST_PLACES: Final = 2
_MOSTLY: Final = 0.8  # share of cells from which they are of a kind
_HALF: Final = 0.5
_MOST_FALLS: Final = 0.2  # share of steps; what falls more often is no counter
_MOST_WORDS: Final = 12  # distinct texts that may be reasons
_LABELS: Final = 3  # columns of names beside days that stand side by side
_WITH_HOURS: Final = re.compile(
    r"(?P<serial>\S*[0-9]\S*)(?: ?[/|(;,:@] ?| )(?P<hours>[0-9][0-9.,' ]*(?: ?[a-z]{1,7}\.?)?)\)?\Z"
)


@dataclass(frozen=True)
class Look:
    """What one day's cells say."""

    row: int
    """Number of its row."""
    day: str
    """The day as written."""
    cells: Sequence[str]
    """Its cells, by the places of the header."""


@dataclass(frozen=True)
class Grid:
    """A wide table, days downwards."""

    header: list[str]
    """Names of its columns, the first above the days."""
    looks: list[Look]
    """Rows with a day, as they stand."""
    strays: list[tuple[int, list[str]]]
    """Rows below the header without a day that hold more than a heading."""
    across: bool
    """True where the file has its days side by side."""
    place_rows: list[int]
    """Row number of each place, where days stand side by side."""


@dataclass(frozen=True)
class Seen:
    """What a wide table looks like."""

    kind: Kind
    """What its cells hold."""
    once: bool
    """True where a serial seems to be written only where it changes."""
    words: tuple[str, ...]
    """Texts in its cells that are something else."""


def look_wide(rows: Sequence[Row], speaks: Callable[[str], frozenset[str]]) -> Seen | None:
    """Tell whether a table is a wide log, and what its cells say.

    Parameters
    ----------
    rows : sequence of (int, list of str)
        All rows of the table.
    speaks : callable
        Takes a name and gives the standard columns it may speak of.

    Returns
    -------
    Seen or None
        What was seen; None for a table of another form.
    """
    grid = find_grid(rows)
    if grid is None or len(grid.looks) < _FEWEST:
        return None
    names = [clean(name) for name in grid.header]
    said = [speaks(name) for name in names]
    kind, places = kind_and_places(grid)
    if (
        kind is None
        or len(places) < _FEWEST_PLACES
        or len({names[i] for i in places}) < len(places)
    ):
        return None
    if any(said[i] - {"printer", "position", "role", "site", "head"} for i in places):
        return None
    others = [said[i] for i in range(len(names)) if i and i not in places]
    if any(one - {"note", "site", "date"} for one in others):
        return None
    fits = _FITS[kind]
    cells = [text for one in grid.looks for i in places if (text := cell_text(one, i))]
    words = dict.fromkeys(text for text in cells if text not in DASHES and not fits(text))
    return Seen(kind, kind == "serials" and _only_changes(grid, places), tuple(words))


def _only_changes(grid: Grid, places: list[int]) -> bool:
    """Tell whether a serial is hardly ever followed by itself, and most cells are blank."""
    columns = [[cell_text(one, i) for one in grid.looks] for i in places]
    filled = [[text for text in own if text] for own in columns]
    steps = [(a, b) for own in filled for a, b in zip(own, own[1:], strict=False)]
    blank = sum(map(len, columns)) - sum(map(len, filled))
    same = sum(a == b for a, b in steps)
    return blank >= _HALF * sum(map(len, columns)) and same <= _MOST_FALLS * len(steps)


def _is_day(text: str) -> bool:
    reading = date_readings(text) if any(c.isdigit() for c in text) else None
    return isinstance(reading, DateReadings) or reading == NO_DAY


def find_grid(rows: Sequence[Row]) -> Grid | None:
    """Find header and days, downwards or side by side.

    Parameters
    ----------
    rows : sequence of (int, list of str)
        All rows of the table.

    Returns
    -------
    Grid or None
        The table; None where no column and no row is of days.
    """
    filled = [(number, cells) for number, cells in rows if any(map(str.strip, cells))]
    for i, (number, cells) in enumerate(filled[:HEADER_SEARCH_ROWS]):
        days = [k for k, cell in enumerate(cells) if _is_day(clean(cell))]
        if len(days) >= _FEWEST and 0 < days[0] <= _LABELS:
            told = sum(bool(cell.strip()) for cell in cells[days[0] :])
            if len(days) >= _MOSTLY * told:
                return _turned(filled[i:], days[0], number)
    return _downwards(filled)


def _downwards(filled: list[Row]) -> Grid | None:
    day_cells = [cells[0] if cells else "" for _, cells in filled]
    marks = [_is_day(clean(cell)) for cell in day_cells]
    if not any(marks):
        return None
    first = marks.index(True)
    told = sum(bool(cell.strip()) for cell in day_cells[first:])
    if first == 0 or sum(marks) < _MOSTLY * told:
        return None
    header = list(filled[first - 1][1])
    # Merged cells above it: each printer once over its positions.
    if first > 1 and filled[first - 2][0] == filled[first - 1][0] - 1:
        above = filled[first - 2][1]
        if sum(bool(cell.strip()) for cell in above) > 1:
            header = under(above, header)
    looks, strays = [], []
    for (number, cells), is_day in zip(filled[first:], marks[first:], strict=True):
        if is_day:
            looks.append(Look(number, clean(cells[0]), cells))
        elif sum(bool(cell.strip()) for cell in cells) > 1:
            strays.append((number, [clean(cell) for cell in cells]))
    return Grid(header, looks, strays, False, [])


def _turned(filled: list[Row], labels: int, number: int) -> Grid:
    """Turn a table whose days stand side by side."""
    days = filled[0][1]
    below = filled[1:]
    names: list[str] = []
    for _, cells in below:
        own = [clean(cell) for cell in cells[:labels]]
        names.append(" ".join(part for part in own if part))
    looks = [
        Look(
            number,
            clean(days[k]),
            ["", *(cells[k] if k < len(cells) else "" for _, cells in below)],
        )
        for k in range(labels, len(days))
        if days[k].strip()
    ]
    return Grid(["", *names], looks, [], True, [0, *(n for n, _ in below)])


def kind_and_places(
    grid: Grid, stated: Wide | None = None, blank: frozenset[str] = DASHES
) -> tuple[Kind | None, list[int]]:
    """Tell what stands in the cells, and in which columns.

    Parameters
    ----------
    grid : Grid
        The table.
    stated : {"serials", "hours", "reasons"}, optional
        What the settings say.
    blank : frozenset of str
        Texts that mean a blank cell.

    Returns
    -------
    kind : Kind or None
        As stated, else what most cells look like; None for a mixture.
    places : list of int
        Columns that hold it, from 0.
    """
    columns = {
        i: [
            text
            for one in grid.looks
            if (text := cell_text(one, i)) and plain(text).casefold() not in blank
        ]
        for i, name in enumerate(grid.header)
        if i and name.strip()
    }
    every = [text for texts in columns.values() for text in texts]
    kind = stated or _kind(every, columns)
    if kind is None:
        return None, []
    return kind, [i for i, texts in columns.items() if _mostly(texts, kind)]


def _kind(every: list[str], columns: dict[int, list[str]]) -> Kind | None:
    if not every:
        return None
    if sum(map(is_number, every)) >= _MOSTLY * len(every):
        return _kind_of_numbers(every, columns)
    if sum(map(is_serial, every)) >= _MOSTLY * len(every):
        return "serials"
    few = len(set(every)) <= min(_MOST_WORDS, len(every) / 2)
    return "reasons" if few and sum(map(_is_word, every)) >= _MOSTLY * len(every) else None


def _kind_of_numbers(every: list[str], columns: dict[int, list[str]]) -> Kind:
    """Tell serials, which stay the same, and counters, which rise and seldom fall, from others."""
    steps = [(a, b) for own in columns.values() for a, b in zip(own, own[1:], strict=False)]
    same = sum(a == b for a, b in steps)
    if all(text.isdigit() and int(text) for text in every) and same >= _HALF * len(steps):
        return "serials"
    moves = [_number(b) - _number(a) for a, b in steps if _number(a) != _number(b)]
    falls = sum(move < 0 for move in moves)
    # Hours of each week fall as often as they rise; a printer's meter never falls.
    return "hours" if 0 < falls <= _MOST_FALLS * len(moves) else "numbers"


def is_number(text: str) -> bool:
    """Tell whether a cell is a number of hours.

    Parameters
    ----------
    text : str
        The cell.

    Returns
    -------
    bool
        True where it is.
    """
    return isinstance(hour_readings(text), HourReadings)


def _number(text: str) -> float:
    reading = hour_readings(text)
    hours = reading.under(".") if isinstance(reading, HourReadings) else None
    return float("nan") if hours is None else hours


def is_serial(text: str) -> bool:
    """Tell whether a cell looks like a serial, perhaps with a reading behind it.

    Parameters
    ----------
    text : str
        The cell.

    Returns
    -------
    bool
        True for one word with a digit.
    """
    serial, _ = parted(text)
    return " " not in serial and any(c.isdigit() for c in serial) and not _is_day(text)


def _is_word(text: str) -> bool:
    return not is_number(text) and not any(c.isdigit() for c in text)


_FITS: Final[dict[Kind, Callable[[str], bool]]] = {
    "numbers": is_number,
    "serials": lambda text: is_serial(text) or is_number(text),
    "hours": is_number,
    "reasons": _is_word,
}


def _mostly(texts: list[str], kind: Kind) -> bool:
    return sum(map(_FITS[kind], texts)) >= _HALF * len(texts)


def cell_text(look: Look, place: int) -> str:
    """Give a cell.

    Parameters
    ----------
    look : Look
        Its day.
    place : int
        Its column, from 0.

    Returns
    -------
    str
        The text; blank where the row ends before.
    """
    return clean(look.cells[place]) if place < len(look.cells) else ""


def parted(text: str) -> tuple[str, str]:
    """Part a cell into a serial and the reading behind it.

    Parameters
    ----------
    text : str
        The cell.

    Returns
    -------
    tuple of str
        Serial, and reading or nothing.
    """
    both = _WITH_HOURS.match(text)
    if both is None or not is_number(both["hours"]):
        return text, ""
    return both["serial"].rstrip("/|(;,:@"), both["hours"]
