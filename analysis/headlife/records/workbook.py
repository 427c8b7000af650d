"""Read one sheet of an XLSX workbook as rows of plain text, whatever is inside the file.

Answers from the cells' stored values: dates as year-month-day, numbers as written in full.
A workbook is a zip archive of XML, so its unpacked size, its width and its entities are bounded
before and while it is read; a formula whose result was never stored shows as an error, never as
a blank. It never runs a formula, follows a link or opens another file.
"""

from __future__ import annotations

import re
import warnings
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import IO, Any, Final

from defusedxml.common import DefusedXmlException
from defusedxml.ElementTree import iterparse
from openpyxl import load_workbook
from openpyxl.utils import column_index_from_string
from openpyxl.worksheet._reader import CELL_TAG, FORMULA_TAG, ROW_TAG, WorkSheetParser

from headlife.alike import nearest
from headlife.errors import RecordsError
from headlife.records.cells import UNSTORED_FORMULA, as_typed, named, quoted
from headlife.records.header import HEADER_SEARCH_ROWS, Recognise, Row, split_header
from headlife.records.workbook_size import refuse_large_workbook
from headlife.shop import Intake

MOST_SHEETS: Final = 500
_MOST_COLUMNS: Final = 1_000
_MOST_ROWS: Final = 1_048_576  # of a sheet, by the file format
_PARTS_OF_A_CELL: Final = 8
_MOST_MERGES: Final = 100_000
_MERGE: Final = re.compile(
    rb"<(?:\w+:)?mergeCell\b[^>]{0,200}?ref=\"([A-Z]{1,3})([0-9]{1,7}):([A-Z]{1,3})([0-9]{1,7})\""
)
_ENOUGH_NAMES: Final = 2

# What openpyxl and the standard library raise on a damaged or hostile archive.
_DAMAGED: Final = (
    zipfile.BadZipFile,
    zlib.error,
    SyntaxError,  # the XML parsers' errors are of this kind, with lxml installed or without
    DefusedXmlException,
    KeyError,
    ValueError,
    TypeError,
    IndexError,
    AttributeError,
    EOFError,
    OverflowError,
    NotImplementedError,
    RuntimeError,
    OSError,
)


def workbook_rows(path: Path, intake: Intake, recognise: Recognise) -> Iterator[Row]:
    """Read the sheet that holds the table.

    Parameters
    ----------
    path : Path
        An XLSX workbook.
    intake : Intake
        `sheet` names the sheet; without it there must be exactly one visible sheet that looks
        like the table.
    recognise : callable
        Counts known column names in a row.

    Yields
    ------
    (int, list of str)
        Row number as the spreadsheet shows it, and cells; rows without cells are left out.

    Raises
    ------
    RecordsError
        When the file is no workbook, is too large unpacked, or it is not clear which sheet to
        read.
    """
    try:
        with path.open("rb") as stream:
            sheet = _sheet(path, _open(path, stream), intake, recognise)
            yield from _filled(_sheet_rows(path, sheet), _merged(path, sheet))
    except RecordsError:
        raise
    except _DAMAGED as problem:
        raise _damaged(path, problem) from None


def table_sheet(path: Path, intake: Intake, recognise: Recognise) -> str:
    """Name the sheet that `workbook_rows` reads.

    Parameters
    ----------
    path, intake, recognise : Path, Intake, Recognise
        As for `workbook_rows`.

    Returns
    -------
    str
        Its name.

    Raises
    ------
    RecordsError
        As for `workbook_rows`.
    """
    try:
        with path.open("rb") as stream:
            return str(_sheet(path, _open(path, stream), intake, recognise).title)
    except RecordsError:
        raise
    except _DAMAGED as problem:
        raise _damaged(path, problem) from None


def sheet_names(path: Path, hidden: bool = False) -> list[str]:
    """Name the visible sheets of a workbook.

    Parameters
    ----------
    path : Path
        An XLSX workbook.
    hidden : bool
        Name those that are hidden too.

    Returns
    -------
    list of str
        Their names.

    Raises
    ------
    RecordsError
        As for `workbook_rows`.
    """
    try:
        with path.open("rb") as stream:
            sheets = _open(path, stream).worksheets
            return [str(one.title) for one in sheets if hidden or one.sheet_state == "visible"]
    except RecordsError:
        raise
    except _DAMAGED as problem:
        raise _damaged(path, problem) from None


@dataclass(frozen=True)
class SheetSeen:
    """A sheet of a workbook, looked at."""

    name: str
    """Its name."""
    hidden: bool
    """True where nobody sees it who opens the workbook."""
    names: int
    """Known column names in its header."""
    rows: int
    """Rows below its header that are not blank."""


def look_at_sheets(path: Path, recognise: Recognise) -> list[SheetSeen]:
    """Look at every sheet of a workbook, hidden or not.

    Parameters
    ----------
    path : Path
        An XLSX workbook.
    recognise : callable
        Counts known column names in a row.

    Returns
    -------
    list of SheetSeen
        In the workbook's order; a single sheet is not counted through.

    Raises
    ------
    RecordsError
        As for `workbook_rows`.
    """
    try:
        with path.open("rb") as stream:
            sheets = list(_open(path, stream).worksheets)
            if len(sheets) == 1:
                return [SheetSeen(str(sheets[0].title), False, 0, 0)]
            return [_seen(path, sheet, recognise) for sheet in sheets]
    except RecordsError:
        raise
    except _DAMAGED as problem:
        raise _damaged(path, problem) from None


def _seen(path: Path, sheet: Any, recognise: Recognise) -> SheetSeen:
    header, rest = split_header(_sheet_rows(path, sheet), recognise)
    rows = sum(1 for _ in rest)
    hidden = sheet.sheet_state != "visible"
    return SheetSeen(str(sheet.title), hidden, recognise(header or ()), rows)


def struck_rows(path: Path, sheet: str) -> list[int]:
    """Find rows of a sheet in which every cell that holds anything is struck through.

    Parameters
    ----------
    path : Path
        An XLSX workbook.
    sheet : str
        Name of the sheet.

    Returns
    -------
    list of int
        Their numbers, as the spreadsheet shows them.

    Raises
    ------
    RecordsError
        As for `workbook_rows`.
    """
    try:
        with path.open("rb") as stream:
            book = _open(path, stream)
            struck = {i for i, font in enumerate(book._fonts) if font.strike}
            styles = {i for i, one in enumerate(book._cell_styles) if one.fontId in struck}
            return _struck(path, book[sheet], styles) if styles else []
    except RecordsError:
        raise
    except _DAMAGED as problem:
        raise _damaged(path, problem) from None


def _struck(path: Path, sheet: Any, styles: set[int]) -> list[int]:
    found: list[int] = []
    number = 0
    cells: list[bool] = []
    with sheet._get_source() as source:
        for kind, element in _elements(path, source):
            if kind == "row begins":
                number = int(element.get("r") or number + 1)
                cells = []
            elif kind == "cell":
                cells += [int(element.get("s") or 0) in styles] * bool(len(element))
            elif cells and all(cells):
                found.append(number)
    return found


def enough_names(most: int) -> float:
    """Give how many known column names make a sheet look like a table that has so many.

    Parameters
    ----------
    most : int
        Known names in the table's header.

    Returns
    -------
    float
        As many, or more.
    """
    return max(_ENOUGH_NAMES, most / 2)


def _open(path: Path, stream: IO[bytes]) -> Any:
    refuse_large_workbook(path)
    # Opened here: openpyxl would judge a path by its ending, we judge a file by its bytes.
    with warnings.catch_warnings():
        # openpyxl warns of styles and extensions it leaves out; values are all we read.
        warnings.simplefilter("ignore")
        book = load_workbook(stream, read_only=True, data_only=True, keep_links=False)
    # Each is looked into to find the table, and many may stand for one part of the file.
    if len(book.worksheets) > MOST_SHEETS:
        raise RecordsError(
            f"{path.name}: the workbook has {len(book.worksheets):,} sheets; {MOST_SHEETS} at most "
            "can be looked through, save the table as a workbook of its own or as CSV."
        )
    return book


def _damaged(path: Path, problem: BaseException) -> RecordsError:
    return RecordsError(
        f"{path.name}: the workbook cannot be read ({_reason(problem)}); where a program is saving "
        "it just now, try again in a moment, else open it in a spreadsheet program and save it as "
        "XLSX or CSV again."
    )


def _reason(problem: BaseException) -> str:
    cause: BaseException | None = problem
    while cause is not None and not isinstance(cause, DefusedXmlException):
        cause = cause.__cause__ or cause.__context__  # openpyxl wraps what it meets
    if cause is not None or "entity" in str(problem):
        return "it defines XML entities, which no spreadsheet program writes"
    text = str(problem).splitlines()[0] if str(problem) else type(problem).__name__
    return quoted(text)


def _sheet(path: Path, book: Any, intake: Intake, recognise: Recognise) -> Any:
    sheets = list(book.worksheets)
    names = [str(sheet.title) for sheet in sheets]
    if intake.sheet is not None:
        if intake.sheet not in names:
            raise RecordsError(
                f"{path.name}: there is no sheet {quoted(intake.sheet)}"
                f"{nearest(intake.sheet, names)}; correct [intake] sheet, the sheets are "
                f"{named(names) or 'none'}."
            )
        return sheets[names.index(intake.sheet)]
    visible = [sheet for sheet in sheets if sheet.sheet_state == "visible"]
    if not visible:
        raise RecordsError(f"{path.name}: the workbook has no visible sheet; unhide the table.")
    scores = [_score(path, sheet, recognise) for sheet in visible]
    enough = enough_names(max(scores))
    likely = [sheet for sheet, score in zip(visible, scores, strict=True) if score >= enough]
    if len(likely) > 1:
        raise RecordsError(
            f"{path.name}: the sheets {named([s.title for s in likely], ' and ')} all look "
            "like the table; state which in the settings, [intake] sheet, or put all rows into "
            "one sheet."
        )
    if not likely:
        _refuse_hidden_table(path, sheets, max(scores), recognise)
    return likely[0] if likely else visible[scores.index(max(scores))]


def _refuse_hidden_table(
    path: Path, sheets: Sequence[Any], best: int, recognise: Recognise
) -> None:
    """Refuse a workbook whose table is on a sheet that is hidden, rather than read another one."""
    hidden = [sheet for sheet in sheets if sheet.sheet_state != "visible"]
    tables = [one.title for one in hidden if _score(path, one, recognise) > max(best, 1)]
    if tables:
        raise RecordsError(
            f"{path.name}: no sheet that is shown looks like the table, and "
            f"{named(tables)}, which is hidden, does; show it, or "
            "state it in the settings, [intake] sheet."
        )


def _score(path: Path, sheet: Any, recognise: Recognise) -> int:
    top = islice(_sheet_rows(path, sheet), HEADER_SEARCH_ROWS)
    header, _ = split_header(top, recognise)
    return recognise(header or ())


class _Cells(WorkSheetParser):  # type: ignore[misc]
    """Stored values of cells; a formula without a stored result is an error."""

    def value_of(self, element: Any) -> tuple[int, Any]:
        cell = self.parse_cell(element)
        value = cell["value"]
        if value is None and element.find(FORMULA_TAG) is not None:
            value = UNSTORED_FORMULA
        return int(cell["column"]), value

    row_counter: int

    def begin_row(self, element: Any) -> None:
        number = element.get("r")
        self.row_counter = self.row_counter + 1 if number is None else int(float(number))
        self.col_counter = 0


def _sheet_rows(path: Path, sheet: Any) -> Iterator[Row]:
    book = sheet.parent
    with sheet._get_source() as source:
        cells = _Cells(
            source,
            sheet._shared_strings,
            data_only=True,
            epoch=book.epoch,
            date_formats=book._date_formats,
            timedelta_formats=book._timedelta_formats,
        )
        row: dict[int, str] = {}
        rows = 0
        for kind, element in _elements(path, source):
            if kind == "row begins":
                cells.begin_row(element)
                row = {}
                rows += 1
                if rows > _MOST_ROWS or cells.row_counter > _MOST_ROWS:
                    raise RecordsError(
                        f"{path.name}: the sheet has more rows than a sheet can have; save it as "
                        "XLSX or CSV again."
                    )
            elif kind == "cell":
                column, value = cells.value_of(element)
                if column > _MOST_COLUMNS:
                    raise RecordsError(
                        f"{path.name}, row {cells.row_counter}: the sheet is more than "
                        f"{_MOST_COLUMNS:,} columns wide; delete what is not the table."
                    )
                row[column] = as_typed(value)
            elif row:
                yield cells.row_counter, [row.get(i, "") for i in range(1, max(row) + 1)]


def _merged(path: Path, sheet: Any) -> dict[int, list[tuple[int, int]]]:
    """Find cells merged downwards: first row -> (column, last row), all from 1."""
    with sheet._get_source() as source:
        text = source.read()
    found: dict[int, list[tuple[int, int]]] = {}
    for n, match in enumerate(_MERGE.finditer(text)):
        if n > _MOST_MERGES:
            raise RecordsError(f"{path.name}: the sheet has more merged cells than rows.")
        left, top, _, bottom = match.groups()
        if int(bottom) > int(top):
            column = int(column_index_from_string(left.decode()))
            found.setdefault(int(top), []).append((column, int(bottom)))
    return found


def _filled(rows: Iterator[Row], merged: dict[int, list[tuple[int, int]]]) -> Iterator[Row]:
    """Repeat what a cell merged downwards says in every row of it that holds anything else."""
    if not merged:
        yield from rows
        return
    running: dict[int, tuple[str, int]] = {}
    starts = sorted(merged)
    for number, cells in rows:
        running = {column: one for column, one in running.items() if one[1] >= number}
        if any(map(str.strip, cells)):
            cells = cells + [""] * (max(running, default=0) - len(cells))
            for column, (text, _) in running.items():
                cells[column - 1] = cells[column - 1] if cells[column - 1].strip() else text
        while starts and starts[0] <= number:
            top = starts.pop(0)
            for column, bottom in merged[top] if top == number else ():
                if column <= len(cells):
                    running[column] = (cells[column - 1], bottom)
        yield number, cells


def _elements(path: Path, source: Any) -> Iterator[tuple[str, Any]]:
    """Walk a sheet's XML, forgetting each element once it is used."""
    open_elements: list[Any] = []
    in_cell = 0
    for event, element in iterparse(source, events=("start", "end")):
        if event == "start":
            open_elements.append(element)
            in_cell += element.tag == CELL_TAG
            if element.tag == ROW_TAG:
                yield "row begins", element
            continue
        open_elements.pop()
        in_cell -= element.tag == CELL_TAG
        if in_cell:
            if len(element) > _PARTS_OF_A_CELL or len(open_elements[-1]) > _PARTS_OF_A_CELL * 50:
                raise RecordsError(f"{path.name}: a cell has parts no spreadsheet program writes.")
            continue
        if element.tag == CELL_TAG:
            yield "cell", element
        elif element.tag == ROW_TAG:
            yield "row ends", element
        if open_elements:
            open_elements[-1].remove(element)
