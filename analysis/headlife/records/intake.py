"""Open a shop's table, whatever program wrote it, as rows of plain text with row numbers.

Answers where the header is and what stands in each cell, from the file's bytes and the
`[intake]` settings. It never interprets a cell, never drops a row that has anything in it, and
row numbers are those a spreadsheet shows.
"""

from __future__ import annotations

import csv
import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Final

from headlife.errors import RecordsError
from headlife.shop import Intake

Row = tuple[int, list[str]]
Recognise = Callable[[Sequence[str]], int]

_DELIMITERS: Final = (",", ";", "\t", "|")
_BYTE_ORDER_MARKS: Final = (
    (b"\xef\xbb\xbf", "utf-8-sig"),
    (b"\xff\xfe", "utf-16"),
    (b"\xfe\xff", "utf-16"),
)
_HEADER_SEARCH_ROWS: Final = 20
LONGEST_CELL: Final = 32_767  # characters; what a spreadsheet cell can hold


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


def open_table(path: str | Path, intake: Intake, recognise: Recognise) -> TextTable:
    """Open a table of records or lifetimes.

    Parameters
    ----------
    path : str or Path
        A CSV file.
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
        When the file is missing, cannot be decoded or has no rows.
    """
    path = Path(path)
    sha256 = _sha256(path)
    rows = _csv_rows(path, intake, recognise)
    header, rest = _split_header(rows, recognise)
    if header is None:
        raise RecordsError(
            f"{path.name}: the file is empty; export the table with its header row again."
        )
    return TextTable(path.name, sha256, header, rest)


def _sha256(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except FileNotFoundError:
        raise RecordsError(f"There is no file '{path}'; check the name and the folder.") from None
    except IsADirectoryError:
        raise RecordsError(f"'{path}' is a folder; name the table in it.") from None
    except (OSError, ValueError) as problem:
        raise RecordsError(f"The file '{path}' cannot be opened: {problem}.") from None


def _csv_rows(path: Path, intake: Intake, recognise: Recognise) -> Iterator[Row]:
    encoding = intake.encoding or _encoding(path)
    delimiter = intake.delimiter or _delimiter(path, encoding, recognise)
    csv.field_size_limit(LONGEST_CELL)
    number = 0
    try:
        with path.open(encoding=encoding, newline="") as stream:
            for cells in csv.reader(stream, delimiter=delimiter, strict=True):
                number += 1
                yield number, cells
    except UnicodeError:
        raise RecordsError(
            f"{path.name}, near row {number + 1}: the text is not written in {encoding}; save the "
            "table as UTF-8, or state its encoding in the settings, for example "
            '[intake] encoding = "cp1252".'
        ) from None
    except csv.Error as problem:
        raise RecordsError(
            f"{path.name}, near row {number + 1}: the row cannot be split into cells ({problem}); "
            "look there for a quotation mark that is opened and not closed."
        ) from None


def _encoding(path: Path) -> str:
    with path.open("rb") as stream:
        start = stream.read(4)
    return next((name for mark, name in _BYTE_ORDER_MARKS if start.startswith(mark)), "utf-8")


def _delimiter(path: Path, encoding: str, recognise: Recognise) -> str:
    """Choose the delimiter under which the first rows name most known columns."""
    with path.open(encoding=encoding, newline="", errors="replace") as stream:
        lines = [line[:LONGEST_CELL] for line in islice(stream, _HEADER_SEARCH_ROWS)]

    def score(delimiter: str) -> tuple[int, int]:
        split = [[cell.strip(' "\r\n') for cell in line.split(delimiter)] for line in lines]
        return (
            max((recognise(cells) for cells in split), default=0),
            max((len(cells) for cells in split), default=0),
        )

    return max(_DELIMITERS, key=score)


def _split_header(
    rows: Iterator[Row], recognise: Recognise
) -> tuple[tuple[str, ...] | None, Iterator[Row]]:
    first = list(islice(rows, _HEADER_SEARCH_ROWS))
    filled = [i for i, (_, cells) in enumerate(first) if any(cell.strip() for cell in cells)]
    if not filled:
        return None, iter(())
    best = max(filled, key=lambda i: (recognise(first[i][1]), -i))
    header = tuple(cell.strip() for cell in first[best][1])

    def rest() -> Iterator[Row]:
        for number, cells in first[best + 1 :]:
            if any(cell.strip() for cell in cells):
                yield number, cells
        for number, cells in rows:
            if any(map(str.strip, cells)):
                yield number, cells

    return header, rest()
