"""Open a shop's table, whatever program wrote it, as rows of plain text with row numbers.

Answers where the header is and what stands in each cell, from the file's bytes and the
`[intake]` settings: CSV, XLSX or Parquet, told apart by their first bytes. It never interprets a
cell, never drops a row that has anything in it, and row numbers are those a spreadsheet shows.
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Final

from headlife.alike import missing_file
from headlife.errors import RecordsError
from headlife.records.cells import quoted
from headlife.records.encodings import certain_encoding, likely_encoding, stated_encoding
from headlife.records.header import HEADER_SEARCH_ROWS, Recognise, Row, split_header
from headlife.records.wide import upright
from headlife.shop import Intake

LONGEST_CELL: Final = 32_767  # characters; what a spreadsheet cell can hold
_DELIMITERS: Final = (",", ";", "\t", "|")
_SWALLOWED: Final = 3  # delimiters in one line of a cell from which it may be a row
_ZIP, _PARQUET, _OLD_WORKBOOK = b"PK\x03\x04", b"PAR1", b"\xd0\xcf\x11\xe0"
_PACKED: Final = "is packed; unpack it and name the table in it"
_EXPORTED: Final = "and no table; export the table as CSV or XLSX"
# What other files begin with (their published formats): as text they would be called damaged.
_NO_TABLE: Final = (
    *((mark, _PACKED) for mark in (b"\x1f\x8b", b"BZh", b"\xfd7zX", b"7z\xbc\xaf")),
    *((mark, _PACKED) for mark in (b"\x28\xb5\x2f\xfd", b"Rar!")),
    (b"%PDF", f"is a PDF {_EXPORTED}"),
    *((mark, f"is a picture {_EXPORTED}") for mark in (b"\x89PNG", b"\xff\xd8\xff", b"GIF8")),
    (b"SQLi", f"is a database {_EXPORTED}"),
)


@dataclass(frozen=True)
class TextTable:
    """A table opened but not yet understood."""

    file: str
    """Name of the file, for messages."""
    sha256: str
    """SHA-256 of the file's bytes."""
    header: tuple[str, ...]
    """Column names as written, trimmed."""
    rows: Iterator[Row]
    """(row number, cells) of every row below the header that is not blank; read once."""
    stored: bool = False
    """True when the file stores numbers and dates as such (a workbook, Parquet), so that a number
    with a point, or a day written year first, is no proof of how people type."""
    sheet: str = ""
    """Name of its sheet, where it is one of several."""
    turned: bool = False
    """True where its columns are not those of the file."""

    @property
    def label(self) -> str:
        """File, and sheet where it is one of several, for messages."""
        return f"{self.file}, sheet '{self.sheet}'" if self.sheet else self.file


def open_table(path: str | Path, intake: Intake, recognise: Recognise) -> TextTable:
    """Open a table of records or lifetimes.

    Parameters
    ----------
    path : str or Path
        A CSV, XLSX or Parquet file.
    intake : Intake
        The shop's `[intake]` settings.
    recognise : callable
        Takes the cells of a row and returns how many of them are names of known columns; the
        header is the row, among the first twenty, with most of them.

    Returns
    -------
    TextTable
        Header, and the rows still to be read.

    Raises
    ------
    RecordsError
        When the file is missing, is no table, cannot be decoded or is empty.
    """
    path = Path(path)
    sha256 = file_hash(path)
    rows = plain_rows(path, intake, recognise, sha256)
    stored = _start(path) in (_ZIP, _PARQUET)
    if intake.wide is not None:
        names, made = upright(list(rows), intake, path.name, stored)
        return TextTable(path.name, sha256, names, iter(made), stored, turned=True)
    header, rest = split_header(rows, recognise, intake.header_row)
    if header is None and intake.header_row is not None:
        raise RecordsError(
            f"{path.name}: row {intake.header_row}, which [intake] header_row names, is blank or "
            f"not among the first {HEADER_SEARCH_ROWS}; correct that line."
        )
    if header is None:
        raise RecordsError(
            f"{path.name}: the file is empty; export the table with its header row again."
        )
    return TextTable(path.name, sha256, header, rest, stored)


def is_workbook(path: Path) -> bool:
    """Tell by the first bytes whether a file is a workbook.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    bool
        True where it does.
    """
    file_hash(path)  # says what is wrong with a file that cannot be opened
    return _start(path) == _ZIP


def plain_rows(
    path: Path, intake: Intake, recognise: Recognise, sha256: str | None = None
) -> Iterator[Row]:
    """Read all rows of a table as they are; the reader is chosen by the file's first bytes.

    Parameters
    ----------
    path : Path
        The file.
    intake : Intake
        How the file is written.
    recognise : Recognise
        Counts known column names in a row.
    sha256 : str, optional
        Of the file as it was when reading began; default: as it is now.

    Returns
    -------
    iterator of rows
        Row numbers and cells. At their end the file is as it was, or it is refused: its rows
        would be of two states.
    """
    return _of_one_state(path, sha256 or file_hash(path), _rows(path, intake, recognise))


def _of_one_state(path: Path, sha256: str, rows: Iterator[Row]) -> Iterator[Row]:
    yield from rows
    if file_hash(path) != sha256:
        raise RecordsError(
            f"{path.name} was saved by a program while it was read; run this again, so that all "
            "rows are of one state."
        )


def _rows(path: Path, intake: Intake, recognise: Recognise) -> Iterator[Row]:
    start = _start(path)
    if start == _ZIP:
        from headlife.records.workbook import workbook_rows

        return workbook_rows(path, intake, recognise)
    if start == _PARQUET:
        from headlife.records.parquet import parquet_rows

        return parquet_rows(path, intake)
    if start == _OLD_WORKBOOK:
        raise RecordsError(
            f"{path.name}: this is an old or a password-protected workbook; open it in a "
            "spreadsheet program and save it as XLSX without a password, or as CSV."
        )
    for mark, what in _NO_TABLE:
        if start.startswith(mark):
            raise RecordsError(f"{path.name}: this file {what}.")
    return _csv_rows(path, intake, recognise)


def _start(path: Path) -> bytes:
    with path.open("rb") as stream:
        return stream.read(4)


def file_hash(path: Path) -> str:
    """Work out the SHA-256 of a file, or say why it cannot be opened.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    str
        The hash, in hexadecimal.

    Raises
    ------
    RecordsError
        It does not exist, is a folder, or may not be read.
    """
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except FileNotFoundError:
        raise RecordsError(f"The file '{path}' does not exist{missing_file(path)}.") from None
    except IsADirectoryError:
        raise RecordsError(f"'{path}' is a folder; name the table in it.") from None
    except (OSError, ValueError) as problem:
        said = getattr(problem, "strerror", None) or problem
        raise RecordsError(f"The file '{path}' cannot be opened: {said}.") from None


def _csv_rows(path: Path, intake: Intake, recognise: Recognise) -> Iterator[Row]:
    encoding = _encoding(path, intake)
    delimiter = intake.delimiter or _delimiter(path, encoding, recognise)
    number = width = lines = 0
    try:
        with path.open(encoding=encoding, newline="") as stream:
            reader = csv.reader(stream, delimiter=delimiter, strict=True)
            previous = csv.field_size_limit(LONGEST_CELL)
            try:
                for cells in reader:
                    number += 1
                    if reader.line_num > lines + 1:  # a cell goes over several lines
                        _refuse_swallowed(path, number, cells, delimiter, width)
                    lines = reader.line_num
                    width = max(width, len(cells))
                    yield number, cells
            finally:
                csv.field_size_limit(previous)
    except UnicodeError:
        likely = likely_encoding(path) or "cp1252"
        raise RecordsError(
            f"{path.name}, near row {number + 1}: the text is not written in {encoding}; state its "
            f'encoding in the settings, most likely [intake] encoding = "{likely}", or save the '
            "table as UTF-8."
        ) from None
    except csv.Error as problem:
        raise RecordsError(
            f"{path.name}, near row {number + 1}: the row cannot be split into cells ({problem}); "
            "look there for a quotation mark that is opened and not closed."
        ) from None


def _refuse_swallowed(
    path: Path, number: int, cells: list[str], delimiter: str, width: int
) -> None:
    """Stop where a quotation mark that was never meant takes whole rows into one cell."""
    enough = max(_SWALLOWED, width // 2)
    for cell in cells:
        if "\n" in cell and any(line.count(delimiter) >= enough for line in cell.split("\n")):
            start = quoted(cell.split("\n", 1)[0].strip())
            raise RecordsError(
                f"{path.name}, row {number}: the cell that begins with {start} takes in "
                f"{cell.count(chr(10))} more lines that look like rows; look in that row for a "
                "quotation mark that is opened and not meant, and delete it."
            )


def _encoding(path: Path, intake: Intake) -> str:
    if intake.encoding is not None:
        return stated_encoding(path, intake.encoding)
    return certain_encoding(path) or "utf-8"


def _delimiter(path: Path, encoding: str, recognise: Recognise) -> str:
    """Choose the delimiter under which the first rows name most known columns."""
    with path.open(encoding=encoding, newline="", errors="replace") as stream:
        lines = [line[:LONGEST_CELL] for line in islice(stream, HEADER_SEARCH_ROWS)]

    def score(delimiter: str) -> tuple[int, int]:
        split = [[cell.strip(' "\r\n') for cell in line.split(delimiter)] for line in lines]
        return (
            max((recognise(cells) for cells in split), default=0),
            max((len(cells) for cells in split), default=0),
        )

    return max(_DELIMITERS, key=score)
