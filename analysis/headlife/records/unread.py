"""What do the files of a log hold that nobody reads: other sheets, nameless columns, crossing out?

Answers from the headers of a workbook's other sheets, hidden ones included, from cells under no
column's name, and from rows that are struck through. Takes nothing from sheets and columns that it
names: whether they belong to the log, only the shop can say.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from headlife.records.cells import named, quoted
from headlife.records.columns import recogniser
from headlife.records.findings import name_rows
from headlife.records.header import Row
from headlife.records.intake import TextTable, is_workbook
from headlife.records.origins import letters
from headlife.records.sources import files_of
from headlife.shop import Shop

_FILES_NAMED: Final = 3
_OTHER_COLUMNS: Final = (
    "give both sheets the same columns (heads that went in on one sheet and those that came out on "
    "the other go into one column for the day, one for the hours and one that says installed or "
    'removed, with shape = "events") and '
)


def sheets_not_read(
    path: str | Path, shop: Shop, tables: Sequence[TextTable]
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Name the sheets that are not read.

    Parameters
    ----------
    path : str or Path
        The log, or the first file of it.
    shop : Shop
        The settings.
    tables : sequence of TextTable
        What is read of it.

    Returns
    -------
    like_the_log : tuple of str
        A sentence for each that looks like the log: which, how many rows, what to do.
    others : tuple of str
        A sentence for each file that has others with rows.
    """
    like_the_log: list[str] = []
    others: list[str] = []
    for file in files_of(path, shop.intake):
        if is_workbook(file):
            mine = [table for table in tables if table.file == file.name]
            like, other = _of_workbook(file, shop, mine)
            like_the_log += like
            others += other
    return tuple(like_the_log), tuple(others)


def _of_workbook(
    file: Path, shop: Shop, tables: Sequence[TextTable]
) -> tuple[list[str], list[str]]:
    from headlife.records.workbook import enough_names, look_at_sheets, table_sheet

    recognise, intake = recogniser(shop), shop.intake
    sheets = look_at_sheets(file, recognise)
    read = [table.sheet or table_sheet(file, intake, recognise) for table in tables]
    struck = _struck_through(file, read)
    if len(sheets) == 1:
        return [], struck
    readings = intake.readings.sheet if intake.readings else None
    unread = [one for one in sheets if one.name not in (*read, readings) and one.rows]
    most = max(recognise(table.header) for table in tables)
    enough = enough_names(most)
    like = [
        f"Sheet {quoted(one.name)} of {file.name}{', which is hidden,' * one.hidden} looks like "
        f"the log too ({_rows(one.rows)}) and is not read; where its rows belong to the log, "
        f"{_OTHER_COLUMNS * (one.names < most)}state [intake] sheets = "
        f"[{named([*read, one.name])}], where they do not, delete it or rename its columns."
        for one in unread
        if one.names >= enough
    ]
    others = [
        f"{quoted(one.name)} ({'hidden, ' * one.hidden}{_rows(one.rows)})"
        for one in unread
        if one.names < enough
    ]
    unread_others = [f"Sheets of {file.name} that are not read: {', '.join(others)}."]
    return like, struck + unread_others * bool(others)


def _struck_through(file: Path, sheets: Sequence[str]) -> list[str]:
    """Say which rows are struck through: void or only done with, nobody but the shop can say."""
    from headlife.records.workbook import struck_rows

    found = []
    for sheet in sheets:
        rows = struck_rows(file, sheet)
        if rows:
            many = len(rows) > 1
            found.append(
                f"{'Rows' if many else 'Row'} {name_rows(rows)} of sheet {quoted(sheet)} of "
                f"{file.name} {'are' if many else 'is'} struck through and read like any other; "
                "where that means that nothing in it holds, delete it."
            )
    return found


def _rows(count: int) -> str:
    return f"{count:,} {'row' if count == 1 else 'rows'}"


def said_of_nameless(found: Iterable[tuple[str, Sequence[str]]]) -> tuple[str, ...]:
    """Say which files have columns without a name, whose cells are not read.

    Parameters
    ----------
    found : iterable of (str, sequence of str)
        Of every table its name, and such columns in words, from `NamelessCells`.

    Returns
    -------
    tuple of str
        A sentence; none where there is none.
    """
    named = [f"{table}: {', '.join(columns)}" for table, columns in found if columns]
    more = len(named) - _FILES_NAMED
    rest = f"; and {more:,} more files" if more > 0 else ""
    return (f"Not read: {'; '.join(named[:_FILES_NAMED])}{rest}.",) * bool(named)


class NamelessCells:
    """Counts cells under no column's name while the rows of a table are read."""

    def __init__(self, table: TextTable, used: Collection[int]) -> None:
        self._width = len(table.header)
        places = [i for i, name in enumerate(table.header) if not name and i not in used]
        self._places = places
        # A workbook has no delimiter that could be missed: what stands further right is no part
        # of the row.
        self._beyond = table.stored
        self._cells: dict[int, int] = {}
        counts = self._beyond or places
        self.table = replace(table, rows=self._counted(table.rows)) if counts else table

    def _counted(self, rows: Iterator[Row]) -> Iterator[Row]:
        for number, cells in rows:
            beyond = self._beyond and len(cells) > self._width
            further = range(self._width, len(cells)) if beyond else ()
            for place in (*self._places, *further) if self._places or beyond else ():
                if place < len(cells) and cells[place].strip():
                    self._cells[place] = self._cells.get(place, 0) + 1
            yield number, cells[: self._width] if beyond else cells

    def columns(self) -> list[str]:
        """Name the columns that have none and hold something; known once the rows are read.

        Returns
        -------
        list of str
            Letter and number of cells of each.
        """
        return [
            f"column {letters(place)}, which has no name ({count:,} "
            f"{'cell' if count == 1 else 'cells'})"
            for place, count in sorted(self._cells.items())
        ]
