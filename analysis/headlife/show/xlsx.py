"""How do tables become a workbook that opens without harm, with the same bytes every time?

From sheets of plain cells; text is text whatever it begins with, and nothing in the file knows
the time. Knows nothing of what the sheets are about.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Final

# A fixed day, so that the same tables give the same bytes; a workbook knows no day of its own.
_WRITTEN: Final = datetime(1980, 1, 1)
_AMOUNT: Final = "#,##0.00"
_LONGEST: Final = 32_767  # characters in a cell
FORMULA_STARTS: Final = ("=", "+", "-", "@", "|", "%")

Row = Sequence[Any]


def workbook_bytes(
    sheets: Mapping[str, Sequence[Row]], widths: Sequence[float], *, wrap: bool = False
) -> bytes:
    """Make a workbook in memory.

    Parameters
    ----------
    sheets : mapping of str to sequence of rows
        Name of a sheet -> its rows, the headings first.
    widths : sequence of float
        Of the columns, in characters; the last one serves those after it.
    wrap : bool
        Whether long cells go over several lines.

    Returns
    -------
    bytes
        The XLSX file; the same sheets give the same bytes.
    """
    book = new_workbook()
    for title, rows in sheets.items():
        _sheet(book.create_sheet(title), rows, widths, wrap)
    return workbook_of(book)


class _OfOneDay(zipfile.ZipFile):
    """An archive whose parts all have the same day, whatever the clock says."""

    def writestr(
        self, zinfo_or_arcname: Any, data: Any, compress_type: Any = None, compresslevel: Any = None
    ) -> None:
        """Write a part."""
        part = zipfile.ZipInfo(zinfo_or_arcname, _WRITTEN.timetuple()[:6])
        part.compress_type = zipfile.ZIP_DEFLATED
        super().writestr(part, data)


def new_workbook() -> Any:
    """Begin a workbook without a sheet.

    Returns
    -------
    openpyxl.Workbook
        The workbook.
    """
    from openpyxl import Workbook

    book = Workbook()
    book.remove(book.active)
    return book


def workbook_of(book: Any) -> bytes:
    """Write a workbook so that the same one gives the same bytes.

    Parameters
    ----------
    book : openpyxl.Workbook
        The workbook.

    Returns
    -------
    bytes
        The XLSX file.
    """
    book.properties.creator = "headlife"
    book.properties.created = book.properties.modified = _WRITTEN
    from openpyxl.drawing.spreadsheet_drawing import SpreadsheetDrawing
    from openpyxl.worksheet._writer import WorksheetWriter
    from openpyxl.writer.excel import ExcelWriter

    class InMemory(ExcelWriter):  # type: ignore[misc]
        """A writer without files in between, for which a computer may have no room."""

        def write_worksheet(self, ws: Any) -> None:
            """Write a sheet with its charts, as the class above does."""
            ws._drawing = SpreadsheetDrawing()
            ws._drawing.charts, ws._drawing.images = ws._charts, ws._images
            writer = WorksheetWriter(ws, io.BytesIO())
            writer.write()
            ws._rels = writer._rels
            self._archive.writestr(ws.path[1:], writer.read())
            self.manifest.append(ws)

    stream = io.BytesIO()
    # Saved by its own method it would carry the hour, and fail where the clock is wrong: the
    # format of its archive knows no day before 1980 or after 2107.
    InMemory(book, _OfOneDay(stream, "w", zipfile.ZIP_DEFLATED)).save()
    return stream.getvalue()


def printable(text: str) -> str:
    """Write characters that no spreadsheet can show as their codes.

    Parameters
    ----------
    text : str
        Text of a cell.

    Returns
    -------
    str
        The text.
    """
    shown = "".join(sign if sign.isprintable() else f"<U+{ord(sign):04X}>" for sign in text)
    return shown[:_LONGEST]


def _sheet(sheet: Any, rows: Sequence[Row], widths: Sequence[float], wrap: bool) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    columns = max((len(row) for row in rows), default=0)
    for number, row in enumerate(rows, start=1):
        for place, value in enumerate(row, start=1):
            cell = sheet.cell(row=number, column=place)
            put(cell, value)
            if number == 1:
                cell.font = Font(bold=True)
            if number == 1 or wrap:
                cell.alignment = Alignment(wrap_text=True, vertical="top")
    for place in range(1, columns + 1):
        width = widths[min(place, len(widths)) - 1]
        sheet.column_dimensions[get_column_letter(place)].width = width
    sheet.freeze_panes = "A2"


def put(cell: Any, value: Any) -> None:
    """Write a value into a cell; text stays text whatever it begins with.

    Parameters
    ----------
    cell : openpyxl.cell.Cell
        The cell.
    value : object
        Text, a number, a day, or None.
    """
    value = value.item() if hasattr(value, "item") else value
    if not isinstance(value, str):
        cell.value = value
        if isinstance(value, float):
            cell.number_format = _AMOUNT
        return
    text = printable(value)
    cell.value = text
    cell.data_type = "s"  # text, whatever it begins with
    cell.quotePrefix = text.lstrip().startswith(FORMULA_STARTS)
