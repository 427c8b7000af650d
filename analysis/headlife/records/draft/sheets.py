"""Which sheets does a file have that may hold a log, and what are their rows?

Answers with every visible sheet that has a header, as rows of plain text; a CSV or a Parquet file
is one sheet without a name. Interprets no cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from headlife.plain_text import clean
from headlife.records.draft.names import SPOKEN, name_scores
from headlife.records.draft.top import Top, find_top
from headlife.records.encodings import likely_encoding
from headlife.records.intake import is_workbook, plain_rows
from headlife.shop import Intake


@dataclass(frozen=True)
class File:
    """A file opened for a draft."""

    name: str
    """Its name."""
    sheets: dict[str, Top]
    """Sheets with a header, by name; "" for a file without sheets."""
    stored: bool
    """True when it stores numbers and dates as such."""
    encoding: str | None
    """Encoding to state, where it is not certain."""


def open_file(path: Path, sheet: str | None = None) -> File:
    """Open every sheet of a file that has a header.

    Parameters
    ----------
    path : Path
        CSV, XLSX or Parquet.
    sheet : str, optional
        Only this sheet.

    Returns
    -------
    File

    Raises
    ------
    RecordsError
        When the file is missing or is no table, or has no such sheet.
    """
    if is_workbook(path):
        from headlife.records.workbook import sheet_names

        tops = {
            name: find_top(list(plain_rows(path, Intake(sheet=name), spoken)))
            for name in ([sheet] if sheet else sheet_names(path))
        }
        return File(path.name, {name: top for name, top in tops.items() if top}, True, None)
    encoding = likely_encoding(path) if _is_text(path) else None
    top = find_top(list(plain_rows(path, Intake(encoding=encoding), spoken)))
    return File(path.name, {"": top} if top else {}, not _is_text(path), encoding)


def _is_text(path: Path) -> bool:
    with path.open("rb") as stream:
        return stream.read(4) not in (b"PK\x03\x04", b"PAR1", b"\xd0\xcf\x11\xe0")


def spoken(cells: Sequence[str]) -> int:
    """Count the cells of a row that speak of a column."""
    named = [name_scores(clean(cell)) for cell in cells if cell.strip()]
    return sum(max(scores.values(), default=0.0) >= SPOKEN for scores in named)
