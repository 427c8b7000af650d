"""Which sheets does a file have that may hold a log, and what are their rows?

Answers with every visible sheet that has a header, and where none of them may be a log with hidden
ones too, as rows of plain text; a CSV or a Parquet file is one sheet without a name. Interprets no
cell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from headlife.errors import HeadlifeError
from headlife.plain_text import clean
from headlife.records.dates import DateReadings, date_readings
from headlife.records.draft.names import SPOKEN, name_scores
from headlife.records.encodings import likely_encoding
from headlife.records.folders import in_folder
from headlife.records.header import HEADER_SEARCH_ROWS, Row, under
from headlife.records.hours import HourReadings, hour_readings
from headlife.records.intake import is_workbook, plain_rows
from headlife.records.wide import upright
from headlife.records.wide_grid import Kind, Seen, look_wide
from headlife.shop import Intake

LOG_SCORE: Final = 2.0  # from which a sheet may hold a log
_UPRIGHT: Final = 4.5  # from which a sheet is a log as it stands, whatever other sheets hold
_MOST_BESIDE: Final = 30
_LARGEST_BESIDE: Final = 5_000_000  # bytes
_OURS: Final = (".check.", ".marked.")  # what a check writes beside a log
_LOOKED_BELOW: Final = 12  # rows below a header that say whether it heads them
_HEADS_THEM: Final = 0.5  # what it is worth that the cells below a name are of another kind
_TWICE: Final = 0.5  # what a name that stands twice takes away
_DATA: Final = 0.75  # what a day or a number in a header takes away


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
    hidden: bool = False
    """True where no sheet that is shown may hold a log, so that hidden ones are among them."""


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
        The file, with its sheets.

    Raises
    ------
    RecordsError
        When the file is missing or is no table, or has no such sheet.
    """
    if is_workbook(path):
        from headlife.records.workbook import sheet_names

        tops = _tops(path, [sheet] if sheet else sheet_names(path))
        if sheet or any(top.score >= LOG_SCORE for top in tops.values()):
            return File(path.name, tops, True, None)
        return File(path.name, _tops(path, sheet_names(path, hidden=True)), True, None, True)
    encoding = likely_encoding(path) if _is_text(path) else None
    stored = not _is_text(path)
    rows = {"": list(plain_rows(path, Intake(encoding=encoding), spoken))}
    return File(path.name, _of_rows(rows, path.name, stored), stored, encoding)


def _is_text(path: Path) -> bool:
    with path.open("rb") as stream:
        return stream.read(4) not in (b"PK\x03\x04", b"PAR1", b"\xd0\xcf\x11\xe0")


def _tops(path: Path, sheets: Sequence[str]) -> dict[str, Top]:
    rows = {name: list(plain_rows(path, Intake(sheet=name), spoken)) for name in sheets}
    return _of_rows(rows, path.name, True)


def _of_rows(rows: dict[str, list[Row]], file: str, stored: bool) -> dict[str, Top]:
    """Find the header of each sheet; where none of them is a log upright, turn those that are wide.

    A table of meter readings beside a log is wide too, and stays as it is.
    """
    tops = {name: top for name, own in rows.items() if (top := _find_top(own))}
    wide = {name: seen for name in tops if (seen := look_wide(rows[name], _spoken_of))}
    if any(top.score >= _UPRIGHT for name, top in tops.items() if name not in wide):
        return tops
    return tops | {
        name: replace(tops[name], wide=seen.kind)
        if seen.kind == "numbers"
        else _turned(rows[name], seen, file, stored)
        for name, seen in wide.items()
    }


def _turned(rows: list[Row], seen: Seen, file: str, stored: bool) -> Top:
    intake = Intake.model_validate(
        {"wide": seen.kind, "blank": list(seen.words), "fill_down": ["head"] * seen.once}
    )
    header, made = upright(rows, intake, file, stored)
    return Top((), header, 0, tuple(made), _UPRIGHT, seen.kind, seen.once, seen.words)


def _spoken_of(name: str) -> frozenset[str]:
    return frozenset(what for what, score in name_scores(name).items() if score >= SPOKEN)


def spoken(cells: Sequence[str]) -> int:
    """Count the cells of a row that speak of a column.

    Parameters
    ----------
    cells : sequence of str
        Cells of a row.

    Returns
    -------
    int
        How many.
    """
    named = [name_scores(clean(cell)) for cell in cells if cell.strip()]
    return sum(max(scores.values(), default=0.0) >= SPOKEN for scores in named)


def tables_beside(path: Path) -> dict[str, Top]:
    """Find the tables in files of the same kind and folder.

    Parameters
    ----------
    path : Path
        The log.

    Returns
    -------
    dict of str to Top
        Name of each file that has one table, and the table; files that cannot be opened are no
        part of the log.
    """
    found: dict[str, Top] = {}
    try:
        others = [one for one in in_folder(path.parent) if one.suffix == path.suffix]
    except HeadlifeError:
        # The log itself can be read, whoever may see what is beside it.
        return {}
    for other in others[:_MOST_BESIDE]:
        if other == path or not other.is_file() or other.stat().st_size > _LARGEST_BESIDE:
            continue
        if any(mark in other.name for mark in _OURS):
            continue
        try:
            sheets = list(open_file(other).sheets.values())
        except HeadlifeError:
            continue
        if len(sheets) == 1:
            found[other.name] = sheets[0]
    return found


@dataclass(frozen=True)
class Top:
    """A table's header, with what stands above it."""

    titles: tuple[Row, ...]
    """Rows above the header that hold anything."""
    header: tuple[str, ...]
    """Names of the columns; of two rows under merged cells, joined."""
    header_row: int
    """Row number of the header, of its lower row where there are two."""
    rows: tuple[Row, ...]
    """Rows below that hold anything."""
    score: float
    """How much its cells speak of columns of a log [-]."""
    wide: Kind | None = None
    """What the cells of its places hold, where its rows are days; but for numbers they are turned
    here."""
    once: bool = False
    """True where such a cell is filled in only when another head went in."""
    words: tuple[str, ...] = ()
    """Texts in such cells that are neither, as where no head is."""


def _find_top(rows: Sequence[Row]) -> Top | None:
    """Find the header of a sheet; None for a sheet without two filled rows."""
    filled = [(number, cells) for number, cells in rows if any(map(str.strip, cells))]
    best: Top | None = None
    first = filled[:HEADER_SEARCH_ROWS]
    for i in range(len(first)):
        candidates = [(first[i][1], i)]
        # A title fills one cell; merged cells above a header are several.
        several = sum(bool(cell.strip()) for cell in first[i][1]) > 1
        if several and i + 1 < len(first) and first[i + 1][0] == first[i][0] + 1:
            candidates.append((under(first[i][1], first[i + 1][1]), i + 1))
        for header, last in candidates:
            if last > i and _holds_data(first[last][1]):
                continue
            score = _score(header, filled[last + 1 : last + 1 + _LOOKED_BELOW])
            if best is None or score > best.score:
                best = Top(
                    tuple(filled[:i]),
                    tuple(map(clean, header)),
                    first[last][0],
                    tuple(filled[last + 1 :]),
                    score,
                )
    return best


def _score(header: Sequence[str], below: Sequence[Row]) -> float:
    names = [clean(name) for name in header]
    filled = [name for name in names if name]
    total = -_TWICE * (len(filled) - len(set(filled)))
    for place, name in enumerate(names):
        if name and _is_data(name):
            total -= _DATA
        elif name:
            cells = [clean(cells[place]) for _, cells in below if place < len(cells)]
            total += max(name_scores(name).values(), default=0.0) - (name in cells)
            data = [_is_data(cell) for cell in cells if cell]
            total += _HEADS_THEM * (sum(data) / len(data) if data else 0.0)
    return total


def _holds_data(cells: Sequence[str]) -> bool:
    return any(_is_data(clean(cell)) for cell in cells)


def _is_data(text: str) -> bool:
    """Tell whether a cell holds a day or a number rather than words."""
    return isinstance(date_readings(text), DateReadings) or isinstance(
        hour_readings(text), HourReadings
    )
