"""What was found in a shop's log, before it is written down as settings?

Opens the file, takes the best sheet and those like it, guesses the layout and reads its columns of
hours and dates as a whole. From the file alone; it settles no meaning.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from headlife.errors import RecordsError
from headlife.plain_text import clean
from headlife.records.cells import named
from headlife.records.columns import column_key
from headlife.records.date_columns import read_dates
from headlife.records.draft.contents import Contents, contents_of
from headlife.records.draft.shape import Guess, guess_shape
from headlife.records.draft.sheets import LOG_SCORE, File, Top, open_file, tables_beside
from headlife.records.draft.vocabulary import IN_SERVICE, speaks_of
from headlife.records.hour_columns import read_hours
from headlife.records.origins import letters
from headlife.records.written import Written
from headlife.shop import Intake
from headlife.shop.columns import COLUMNS

_AS_GOOD: Final = 0.6  # share of the best sheet's score
_TOLD: Final = 3  # columns named in a sentence
_SAME: Final = 0.7  # share of column names from which two sheets are alike
# Share of blank cells from which a column is taken to be written once for the rows below: a type of
# head that somebody forgot now and then is no such column.
_MOST_BLANK: Final = 0.5


@dataclass(frozen=True)
class Found:
    """A log, as far as it can be told from its file."""

    file: File
    """The file."""
    sheet: str
    """The sheet looked at."""
    alike: tuple[str, ...]
    """All sheets that hold the log, when there are several."""
    top: Top
    """Its title and header."""
    rows: tuple[list[str], ...]
    """Cells of every row below the headers, of all sheets."""
    contents: tuple[Contents, ...]
    """What is in each column."""
    guess: Guess
    """How it is laid out."""
    hours: Written
    """Its columns of hours, read without any setting."""
    dates: Written
    """Its columns of dates, read without any setting."""
    tables_beside: dict[str, Top] = field(default_factory=dict)
    """Tables of other files in the same folder, by the name of the file."""

    @property
    def beside(self) -> tuple[str, ...]:
        """Files in the same folder with the same header: perhaps of the same log."""
        return tuple(
            name for name, top in self.tables_beside.items() if top.header == self.top.header
        )

    @property
    def others(self) -> dict[tuple[str, str], Top]:
        """Tables that are not of the log: ("sheet", its name) or ("file", its name) -> table."""
        sheets = {
            ("sheet", name): top for name, top in self.file.sheets.items() if name not in self.alike
        }
        files = {
            ("file", name): top
            for name, top in self.tables_beside.items()
            if name not in self.beside
        }
        return sheets | files

    @property
    def header(self) -> tuple[str, ...]:
        """Names of its columns."""
        return self.top.header

    def label(self, place: int) -> str:
        """Name a column as the settings can: by its name, or by its letter where it has none.

        Parameters
        ----------
        place : int
            Which column, from 0.

        Returns
        -------
        str
            The name.
        """
        return _label(self.header, place)

    def places(self, name: str) -> list[int]:
        """Give the places of the columns chosen for a purpose; one in each group.

        Parameters
        ----------
        name : str
            The purpose.

        Returns
        -------
        list of int
            Places, from 0.
        """
        own = self.guess.place(name)
        groups = [group[name] for group in self.guess.groups.values() if name in group]
        return groups if own is None else [own, *groups]

    def texts(self, name: str) -> Counter[str]:
        """Give the distinct texts of the columns chosen for a purpose, with their rows.

        Parameters
        ----------
        name : str
            The purpose.

        Returns
        -------
        Counter[str]
            Each text with its rows.
        """
        found: Counter[str] = Counter()
        if name == "reason" and self.places("head_out") and self.places("head_in"):
            # An order that names no head is a visit: what it says is no reason of a removal.
            serials = zip(self.cells("head_out"), self.cells("head_in"), strict=True)
            told = zip(self.cells(name), serials, strict=True)
            return Counter(text for text, heads in told if text and any(heads))
        for place in self.places(name):
            found.update(self.contents[place].texts)
        return found

    def cells(self, name: str) -> list[str]:
        """Give the cells of the column chosen for a purpose, row by row.

        Parameters
        ----------
        name : str
            The purpose.

        Returns
        -------
        list of str
            The cells.
        """
        place = self.guess.place(name)
        return [""] * len(self.rows) if place is None else self.column(place)

    def column(self, place: int) -> list[str]:
        """Give the cells of a column, row by row.

        Parameters
        ----------
        place : int
            Place of the column, from 0.

        Returns
        -------
        list of str
            The cells.
        """
        return [clean(row[place]) if place < len(row) else "" for row in self.rows]

    def in_service_words(self) -> list[str]:
        """Give words in columns of removal that say that the head is still in."""
        texts = [text for name in ("date_out", "hours_out", "reason") for text in self.texts(name)]
        return [text for text in dict.fromkeys(texts) if speaks_of(text, IN_SERVICE)]


def look_at(path: str | Path, sheet: str | None = None) -> Found:
    """Look at a shop's log.

    Parameters
    ----------
    path : str or Path
        Its file.
    sheet : str, optional
        Only this sheet.

    Returns
    -------
    Found
        What was found.

    Raises
    ------
    RecordsError
        When the file is missing, empty or is no table.
    """
    file = open_file(Path(path), sheet)
    if not file.sheets:
        raise RecordsError(
            f"{file.name}: the file is empty; export the table with its header row again."
        )
    best = max(file.sheets, key=lambda name: file.sheets[name].score)
    top = file.sheets[best]
    if top.wide == "numbers":
        columns = named([name for name in top.header[1:] if name][:_TOLD])
        raise RecordsError(
            f"{file.name}: each row is a day, and the cells under {columns} are numbers that are "
            "no counters of heads; it may be the printers' hours, and says nothing of heads. Name "
            "the log that says which head went in and came out and when; readings of the printers' "
            "meters go beside it, [intake] readings."
        )
    alike = tuple(name for name, one in file.sheets.items() if name == best or _alike(one, top))
    rows = tuple(row for name in alike for row in _rows(file.sheets[name], top))
    if not rows:
        raise RecordsError(
            f"{file.name}: the table has a header and no rows; add at least one installation."
        )
    contents = tuple(
        contents_of((row[place] for row in rows if place < len(row)), len(rows))
        for place in range(len(top.header))
    )
    guess = guess_shape(top.header, contents)
    # A row without a day and a reason is a sum or a heading: its words are none of the log's.
    told = [guess.place(name) for name in ("date_in", "date_out", "date", "reason")]
    kept = tuple(
        row
        for row in rows
        if any(place < len(row) and clean(row[place]) for place in told if place is not None)
    )
    if guess.shape != "printers" and kept and len(kept) < len(rows):
        rows = kept
        contents = tuple(
            contents_of((row[place] for row in rows if place < len(row)), len(rows))
            for place in range(len(top.header))
        )
    texts = {
        kind: {
            _label(top.header, place): list(contents[place].texts)
            for place in sorted(_of_kind(kind, guess))
        }
        for kind in ("hours", "date")
    }
    still_in = [text for of in texts.values() for own in of.values() for text in own]
    intake = Intake(blank=[text for text in still_in if speaks_of(text, IN_SERVICE)])
    return Found(
        file,
        best,
        alike,
        top,
        rows,
        contents,
        guess,
        read_hours(texts["hours"], intake, file.stored),
        read_dates(texts["date"], intake, file.stored),
        tables_beside(Path(path)),
    )


def _label(header: Sequence[str], place: int) -> str:
    own = column_key(header[place])
    alike = sum(column_key(name) == own for name in header)
    return header[place] if own and alike == 1 else f"column {letters(place)}"


def _alike(one: Top, best: Top) -> bool:
    """Tell whether a sheet is a part of the same log."""
    if one.score < max(LOG_SCORE, _AS_GOOD * best.score):
        return False
    names = {column_key(name) for name in one.header if name}
    own = {column_key(name) for name in best.header if name}
    return len(names & own) >= _SAME * max(len(names), len(own))


def _rows(one: Top, best: Top) -> list[list[str]]:
    """Give a sheet's rows with their cells in the order of the best sheet's columns.

    Rows that only repeat the header are left out.
    """
    rows = [cells for _, cells in one.rows if not _is_header(cells, one.header)]
    if one.header == best.header:
        return rows
    places = {column_key(name): i for i, name in enumerate(one.header)}
    order = [places.get(column_key(name)) for name in best.header]
    return [["" if i is None or i >= len(cells) else cells[i] for i in order] for cells in rows]


def _is_header(cells: Sequence[str], header: Sequence[str]) -> bool:
    same = [clean(cell) == name for cell, name in zip(cells, header, strict=False) if name]
    return sum(same) > len(same) / 2


def _of_kind(kind: str, guess: Guess) -> set[int]:
    chosen = {name: one.place for name, one in guess.chosen.items()}
    pairs = [*chosen.items(), *(pair for group in guess.groups.values() for pair in group.items())]
    return {place for name, place in pairs if COLUMNS[name].kind == kind}


def filled_down(found: Found, names: Sequence[str]) -> list[str]:
    """Give columns that are written once and meant for the rows below too.

    Parameters
    ----------
    found : Found
        What was found in the log.
    names : sequence of str
        Names of columns.

    Returns
    -------
    list of str
        Their names.
    """
    down = []
    for name in names:
        cells = found.cells(name)
        blank = sum(not cell for cell in cells)
        others = [
            bool(row) for row in (_other_cells(found, name, i) for i in range(len(cells))) if row
        ]
        if cells[0] and blank >= _MOST_BLANK * len(others) and blank > 1:
            down.append(name)
    return down


def _other_cells(found: Found, name: str, row: int) -> list[str]:
    own = found.guess.place(name)
    return [cell for i, cell in enumerate(found.rows[row]) if i != own and cell.strip()]
