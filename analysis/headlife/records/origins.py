"""Where in the shop's files does each entry stand? For messages, and to find a cell again.

An entry is a row or, where a row holds a group of columns for each head position, one group of
it. Entries of a single table are numbered as a spreadsheet numbers its rows; those of several
sheets, files or groups are numbered through, and their place is said in words.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np
import pandas as pd

_LETTERS: Final = 26
_ROWS_NAMED: Final = 10


@dataclass(frozen=True)
class Sheet:
    """One sheet or file, as one group of its columns is read."""

    file: str
    """Name of the file."""
    sheet: str = ""
    """Name of the sheet, where there are several."""
    group: str = ""
    """Head position of the group of columns, where there are several."""
    places: Mapping[str, int] = field(default_factory=dict)
    """Column -> its place in a row, from 0."""
    turned: bool = False
    """True where that is no place in the file: its cells were turned into rows."""


class EntryNumber(int):
    """An entry's number that people read as the place where it stands."""

    origins: Origins

    @classmethod
    def of(cls, entry: int, origins: Origins) -> EntryNumber:
        """Give an entry's number the words that follow "row", made where it is written.

        Parameters
        ----------
        entry : int
            Number of the entry.
        origins : Origins
            Where entries stand.

        Returns
        -------
        EntryNumber
            The number with its words.
        """
        number = cls(entry)
        number.origins = origins
        return number

    def __repr__(self) -> str:
        return self.origins.name(int(self))

    def __str__(self) -> str:
        return repr(self)

    def __format__(self, spec: str) -> str:
        return format(repr(self), spec)


@dataclass(frozen=True)
class Cell:
    """A cell of the shop's files."""

    file: str
    """Name of the file."""
    sheet: str
    """Name of the sheet; empty where the file has none."""
    row: int
    """Number of the row, from 1."""
    column: str
    """Letters, as a spreadsheet names it; empty where the table has no such column."""


@dataclass(frozen=True)
class Origins:
    """Where entries stand."""

    sheets: tuple[Sheet, ...]
    """Every sheet and group read."""
    sheet_of: np.ndarray | None = None
    """Entry, from 1 -> place in `sheets`; None for a single table."""
    row_of: np.ndarray | None = None
    """Entry, from 1 -> row as a spreadsheet numbers it; None where that is the entry's number."""

    @cached_property
    def _several_files(self) -> bool:
        return len({sheet.file for sheet in self.sheets}) > 1

    def name(self, entry: int) -> str:
        """Say where an entry stands; follows the word "row".

        Parameters
        ----------
        entry : int
            Number of the entry.

        Returns
        -------
        str
            The words.
        """
        if self.sheet_of is None or self.row_of is None:
            return str(entry)
        one = self.sheets[int(self.sheet_of[entry - 1])]
        parts = [
            f"of sheet '{one.sheet}'" if one.sheet else "",
            f"of {one.file}" if self._several_files else "",
            f"({one.group})" if one.group else "",
        ]
        return " ".join([str(int(self.row_of[entry - 1])), *(part for part in parts if part)])

    def listed(self, entries: Sequence[int]) -> str:
        """Name the first few of some entries and count the others; follows "row" or "rows".

        Parameters
        ----------
        entries : sequence of int
            Numbers of the entries.

        Returns
        -------
        str
            The words.
        """
        first = ", ".join(self.name(int(entry)) for entry in entries[:_ROWS_NAMED])
        more = len(entries) - _ROWS_NAMED
        return f"{first} and {more:,} more" if more > 0 else first

    def named(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Let `row` say where an entry stands, wherever it is written into a sentence.

        Parameters
        ----------
        rows : DataFrame
            Accepted rows.

        Returns
        -------
        DataFrame
            The rows.
        """
        if self.sheet_of is None:
            return rows
        names = np.empty(len(rows), dtype=object)
        names[:] = [EntryNumber.of(row, self) for row in rows["row"].tolist()]
        return rows.assign(row=names)

    def cell(self, entry: int, column: str) -> Cell:
        """Find the cell of an entry in a column.

        Parameters
        ----------
        entry : int
            Number of the entry.
        column : str
            Name of the column.

        Returns
        -------
        Cell
            File, sheet, row and column.
        """
        one = self.sheets[0 if self.sheet_of is None else int(self.sheet_of[entry - 1])]
        row = entry if self.row_of is None else int(self.row_of[entry - 1])
        place = None if one.turned else one.places.get(column)
        return Cell(one.file, one.sheet, row, "" if place is None else letters(place))


def letters(place: int) -> str:
    """Name a column as spreadsheets do, from its place counted from 0.

    Parameters
    ----------
    place : int
        Place, from 0.

    Returns
    -------
    str
        The letters.
    """
    text = ""
    place += 1
    while place:
        place, rest = divmod(place - 1, _LETTERS)
        text = chr(ord("A") + rest) + text
    return text
