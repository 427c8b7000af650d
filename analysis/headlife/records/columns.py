"""Find the shop's columns and take their cells in, each column as codes into distinct texts.

Answers which column of the file is which standard column, from the header and the settings'
`[columns]`, and holds the cells as written. It never interprets a cell; a column that is missing
or stands twice is named, with the columns found.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from headlife.alike import closest, nearest
from headlife.errors import RecordsError
from headlife.plain_text import plain
from headlife.progress import Progress
from headlife.records.cells import quoted
from headlife.records.header import Recognise
from headlife.records.intake import TextTable
from headlife.records.origins import letters
from headlife.shop import REQUIRED_COLUMNS, STANDARD_COLUMNS, Shop
from headlife.shop.columns import COLUMNS, EVENT_COLUMNS, METER_COLUMNS

# Holds the memory of one table to some 10 GB; a table of a million rows takes about 1 GB.
MOST_ROWS: Final = 10_000_000
_MISSPELT: Final = 0.8  # share of matching characters from which a name is taken for a slip
_LETTERED: Final = re.compile(r"column_([a-z]{1,3})\Z")
_ROWS_PER_STEP: Final = 50_000  # between two reports of progress


def column_key(name: str) -> str:
    """Return a column name as it is compared: plain, lower case, spaces as underscores.

    Parameters
    ----------
    name : str
        The name.

    Returns
    -------
    str
        The name as it is compared.
    """
    return "_".join(plain(name).replace("_", " ").split()).casefold()


def recogniser(shop: Shop) -> Recognise:
    """Give a function that counts how many cells of a row are names of the log's columns.

    Parameters
    ----------
    shop : Shop
        The settings.

    Returns
    -------
    Recognise
        The function.
    """
    known = {column_key(name) for name in _names_to_find(shop)}
    return lambda cells: len(known & {column_key(cell) for cell in cells})


def _names_to_find(shop: Shop) -> list[str]:
    intake = shop.intake
    events = EVENT_COLUMNS if intake.of_events else ()
    groups = [own for group in intake.groups.values() for own in group.values()]
    own = (*shop.columns.values(), *shop.own_columns.values(), *intake.only, *groups)
    return [*STANDARD_COLUMNS, *events, *own]


def match_columns(
    table: TextTable, shop: Shop, group: str | None = None
) -> tuple[dict[str, int], list[str]]:
    """Find the place of every column to read.

    Parameters
    ----------
    table : TextTable
        Its header is looked at.
    shop : Shop
        The settings.
    group : str, optional
        The head position whose group of columns is read.

    Returns
    -------
    places : dict
        Name -> place.
    unused : list of str
        Columns of the table that are not read.

    Raises
    ------
    RecordsError
        A column is missing or stands twice.
    """
    keys = [column_key(name) for name in table.header]
    mapped = shop.columns | shop.own_columns | shop.intake.groups.get(group or "", {})
    found: dict[str, list[int]] = {}
    events = EVENT_COLUMNS if shop.intake.of_events else ()
    for name in (*STANDARD_COLUMNS, *events, *shop.own_columns):
        found[name] = _places(mapped.get(name, name), keys)
        if len(found[name]) > 1:
            letter = letters(found[name][0])
            raise RecordsError(
                f"{table.label}: the column '{mapped.get(name, name)}' stands "
                f"{len(found[name])} times in the header; name the one that counts by its letter, "
                f'such as [columns] {name} = "column {letter}", or rename the others.'
            )
    places = {name: hits[0] for name, hits in found.items() if hits}
    needed = _needed_columns(shop, places)
    others = [name for i, name in enumerate(table.header) if name and i not in places.values()]
    alone = "hours_out" in places and "hours_in" not in places
    if alone and closest("hours_in", others, _MISSPELT):
        needed.append("hours_in")  # a name that is misspelt is no column the log goes without
    missing = [
        _missing(name, mapped.get(name, name), table.header, shop, group)
        for name in dict.fromkeys((*needed, *mapped))
        if name not in places
    ]
    if missing:
        seen = ", ".join(quoted(name) for name in table.header if name) or "none"
        raise RecordsError(f"{table.label}: {'; '.join(missing)}. The columns found are {seen}.")
    used = set(places.values())
    return places, [name for i, name in enumerate(table.header) if name and i not in used]


def _places(wanted: str, keys: Sequence[str]) -> list[int]:
    """Find a column by its name or, where none has that name, by its letter: "column F"."""
    own = column_key(wanted)
    hits = [i for i, key in enumerate(keys) if key == own]
    lettered = _LETTERED.match(own)
    if hits or lettered is None:
        return hits
    return [i for i in range(len(keys)) if letters(i).casefold() == lettered[1]]


def _needed_columns(shop: Shop, found: Collection[str]) -> list[str]:
    """Give the columns without which a table of this shop cannot be read.

    What the settings say elsewhere (`always`, a sheet's name, a role by position, another clock, a
    day on which heads are in service) needs no column; columns found make others unnecessary.
    """
    intake = shop.intake
    if intake.shape == "orders":
        needed = {"head_in", "head_out", "printer", "date", "head_type", "role", "position"}
    elif intake.shape == "events":
        needed = {"head", "event", "printer", "date", "head_type", "role", "position", "reason"}
    else:
        needed = set(REQUIRED_COLUMNS)
        if _tells_hours(shop, found):
            needed -= {"hours_in", "hours_out"}
        elif "hours_out" in found:
            needed -= {"hours_in"}  # from 0, then from where the head came out last
    needed -= _said_elsewhere(shop, found)
    return [name for name in (*STANDARD_COLUMNS, *EVENT_COLUMNS) if name in needed]


def _said_elsewhere(shop: Shop, found: Collection[str]) -> set[str]:
    """Give the columns that the settings or other columns make unnecessary."""
    intake = shop.intake
    said = {*intake.always, intake.sheet_is or ""}
    if intake.as_of is not None:
        said |= {"date_out", "hours_out", "reason"}
    if shop.positions and ("position" in found or intake.groups):
        said.add("role")
    if "role" in found or "role" in intake.always or intake.groups:
        said.add("position")
    if len(shop.head_types) == 1:
        said.add("head_type")
    if intake.without_serials:
        said |= {"head", "head_in", "head_out"}
    return said


def _tells_hours(shop: Shop, found: Collection[str]) -> bool:
    """Tell whether hours can be had without the head's own counter."""
    intake = shop.intake
    return bool(
        {"hours_run", *METER_COLUMNS} & set(found)
        or intake.readings
        or intake.weekly_hours is not None
        or (shop.usage and not {"hours_in", "hours_out"} & set(found))
    )


def _missing(name: str, wanted: str, header: Sequence[str], shop: Shop, group: str | None) -> str:
    # A column that is read as another one is not meant by this one.
    others = [own for own in header if wanted != name or column_key(own) not in COLUMNS]
    guess = nearest(wanted, others)
    tables = {
        f"[intake.groups.{group}]": shop.intake.groups.get(group or "", {}),
        "[columns]": shop.columns,
        "[own_columns]": shop.own_columns,
    }
    for table, names in tables.items():
        if name in names:
            return (
                f"the column '{wanted}'{guess}, which the settings name for {name}, is missing; "
                f"correct {table} {name}"
            )
    return (
        f"the column '{wanted}'{guess} is missing; add it, or name the shop's own column in the "
        f'settings, [columns] {name} = "..."{_INSTEAD.get(name, "")}'
    )


# What else would say it.
_HOURS_INSTEAD: Final = (
    ", or say where hours come from: hours_run, printer_hours_in and printer_hours_out, [intake] "
    "readings or weekly_hours"
)
_OUT_INSTEAD: Final = ", or, where no head came out yet, state [intake] as_of"
_INSTEAD: Final = {
    "date_in": "; where the log tells only when heads came out, a head went in on the day the one "
    "before it in that position came out: add that day, and a row for each head in service",
    "hours_in": _HOURS_INSTEAD,
    "hours_out": _HOURS_INSTEAD,
    "date_out": _OUT_INSTEAD,
    "reason": _OUT_INSTEAD,
    "head": ", or, where heads have none, state [intake] without_serials = true",
    "role": ', or state roles by position, [positions] "..." = "model"',
    "head_type": ', or state it for all rows, [intake] always = { head_type = "..." }',
    "printer": ', or state that sheets are printers, [intake] sheet_is = "printer"',
}


@dataclass(frozen=True)
class Coded:
    """The table with each column as codes into its distinct texts."""

    rows: np.ndarray
    """Number of each row, as a person finds it in the file, (n,)."""
    codes: dict[str, np.ndarray]
    """By column, the place of each row's text in `texts`, (n,)."""
    texts: dict[str, list[str]]
    """By column, its distinct texts."""
    misfits: list[tuple[int, str]]
    """(index, sentence) of rows with more cells than the header."""
    stored: bool = False
    """True when the file stores numbers and dates as such; see `TextTable`."""

    @property
    def rows_read(self) -> int:
        """Rows that are not blank."""
        return len(self.rows)

    def without(self, places: Sequence[int]) -> Coded:
        """Leave some rows out, and texts that only they have.

        Parameters
        ----------
        places : sequence of int
            Places of the rows to leave out.

        Returns
        -------
        Coded
            The other rows.
        """
        kept = np.ones(self.rows_read, dtype=bool)
        kept[list(places)] = False
        moved = np.cumsum(kept) - 1
        codes, texts = {}, {}
        for name, column in self.codes.items():
            used, codes[name] = np.unique(column[kept], return_inverse=True)
            texts[name] = [self.texts[name][int(i)] for i in used]
        misfits = [(int(moved[i]), sentence) for i, sentence in self.misfits if kept[i]]
        return replace(self, rows=self.rows[kept], codes=codes, texts=texts, misfits=misfits)

    def text(self, column: str, index: int) -> str:
        """Give a cell as written; blank where the table has no such column.

        Parameters
        ----------
        column : str
            Name of the column.
        index : int
            Place of the row, from 0.

        Returns
        -------
        str
            The cell.
        """
        if column not in self.codes:
            return ""
        return self.texts[column][int(self.codes[column][index])]


def too_many_cells(cells: int, width: int) -> str:
    """Say that a row has more cells than the header; follows a column and its value.

    Parameters
    ----------
    cells : int
        How many cells, or the cells of a row.
    width : int
        Columns of the header.

    Returns
    -------
    str
        The words.
    """
    return (
        f"and its row have {cells} cells where the header has {width}; look for a delimiter inside "
        "a cell and put that cell in quotation marks"
    )


def code(
    table: TextTable,
    places: dict[str, int],
    progress: Progress | None,
) -> Coded:
    """Take in every row of a table; reports progress while it reads.

    Parameters
    ----------
    table : TextTable
        The table.
    places : dict of str to int
        Place of each column in the table.
    progress : callable or None
        Told how far it is.

    Returns
    -------
    Coded
        The rows, coded.
    """
    width = len(table.header)
    index_of: dict[str, dict[str, int]] = {name: {} for name in places}
    codes = {name: array("i") for name in places}
    columns = [(place, index_of[name], codes[name]) for name, place in places.items()]
    rows = array("q")
    misfits: list[tuple[int, str]] = []
    for number, cells in table.rows:
        if len(cells) != width:
            if any(cell.strip() for cell in cells[width:]):
                misfits.append((len(rows), too_many_cells(len(cells), width)))
            cells = cells + [""] * (width - len(cells))
        if len(rows) >= MOST_ROWS:
            raise RecordsError(
                f"{table.file}: the table has more than {MOST_ROWS:,} rows; split it, and pool "
                "the evidence of the parts."
            )
        rows.append(number)
        for place, known, into in columns:
            text = cells[place]
            into.append(known.setdefault(text, len(known)))
        if progress is not None and len(rows) % _ROWS_PER_STEP == 0:
            progress("reading rows", len(rows), 0)
    return Coded(
        np.array(rows, dtype=np.int64),
        {name: np.array(column, dtype=np.int64) for name, column in codes.items()},
        {name: list(known) for name, known in index_of.items()},
        misfits,
        table.stored,
    )
