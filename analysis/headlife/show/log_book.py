"""A workbook to keep the log in, made for one shop: headings, lists to choose from, an example.

From the settings: the shop's own names of columns, its head types, roles, reasons and printers, and
the clock whose hours it writes down. What is kept in it reads back by the same settings.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from headlife.errors import HeadlifeError
from headlife.records.no_records import EXAMPLE
from headlife.shop import COLUMNS, Shop
from headlife.show.xlsx import new_workbook, printable, workbook_of

_ROWS: Final = 5_000  # rows with lists to choose from
_WIDTH: Final = 16
_GREY, _PALE, _BLUE = "FF6B6B6B", "FFF3F5F7", "FFDCE6F0"
_DAY: Final = "yyyy-mm-dd"
_HOURS: Final = "0.0"
_HOW: Final = (
    "One row for each stay of a head in a printer.",
    "When a head goes in, begin a new row: serial, printer, position, day and hours.",
    "When it comes out, add the day, the hours and the reason to the same row.",
    "While it is in, the last day and hours are those of the latest reading; the reason is blank.",
    "A head that goes in again, in whatever printer, begins another row with its own serial.",
    "The row marked EXAMPLE is never counted; leave it or delete it.",
    "Headings are protected, without a password; the settings know the columns by them.",
)


@dataclass(frozen=True)
class _Column:
    """One column of the log."""

    name: str
    """Standard name."""
    heading: str
    """Heading as the shop calls it."""
    example: Any
    """What the example row says."""
    choices: Sequence[str] = ()
    """Words to choose from; none where anything may be written."""


def log_workbook(shop: Shop) -> bytes:
    """Make a workbook to keep the log in.

    Parameters
    ----------
    shop : Shop
        Its settings.

    Returns
    -------
    bytes
        The XLSX file; the same settings give the same bytes.

    Raises
    ------
    HeadlifeError
        The settings describe a log of another shape.
    """
    if not shop.intake.plain or shop.intake.header_row is not None:
        raise HeadlifeError(
            "The settings describe a log of another layout ([intake] shape, sheets, header_row or "
            "the like); a new log has one row for each stay of a head in one sheet: take those "
            "lines out, or go on with the log you have."
        )
    columns = _columns(shop)
    book = new_workbook()
    _log_sheet(book.create_sheet(shop.intake.sheet or "Log"), columns)
    _how_sheet(book.create_sheet("How to"), columns)
    lists = book.create_sheet("Lists")
    lists.sheet_state = "hidden"
    for place, column in enumerate(columns, start=1):
        for number, word in enumerate(column.choices, start=1):
            _write(lists.cell(row=number, column=place), word)
    return workbook_of(book)


def _columns(shop: Shop) -> list[_Column]:
    types = list(shop.head_types)
    roles = list(shop.roles) or ["model", "support"]
    reasons = [*shop.reasons.suspensions, *shop.reasons.failures, *shop.reasons.looked_bad]
    reasons += list(shop.reasons.may_have_failed)
    printers = sorted({*shop.usage, *shop.printers, *shop.new_printers})
    positions = list(shop.positions) or ["left", "right"]
    meter = "printer_" if _by_meter(shop) else ""
    worn = next(iter(shop.reasons.failures), reasons[0] if reasons else "worn out")
    examples: dict[str, tuple[Any, Sequence[str]]] = {
        "head": (EXAMPLE, ()),
        "head_type": (types[0], types),
        "role": (roles[0], roles),
        "printer": (printers[0] if printers else "Otter", printers),
        "position": (positions[0], positions if shop.positions else ()),
        "date_in": (date(2026, 1, 5), ()),
        f"{meter}hours_in": (2410.0 if meter else 0.0, ()),
        "date_out": (date(2026, 6, 30), ()),
        f"{meter}hours_out": (3122.5 if meter else 712.5, ()),
        "reason": (worn, reasons),
        "material": ("white", ()),
        "last_good_hours": (700.0, ()),
        "lot": ("L-17", ()),
        "site": ("Mill Yard", ()),
        "note": ("", ()),
    }
    left_out = {"role"} if shop.positions else set()
    left_out |= {"last_good_hours"} if meter else set()
    return [
        _Column(name, shop.columns.get(name, name), *examples[name])
        for name in examples
        if name not in left_out
    ]


def _by_meter(shop: Shop) -> bool:
    """Tell whether the shop writes down the printer's meter."""
    return shop.intake.hours == "printer" or "printer_hours_out" in shop.columns


def _log_sheet(sheet: Any, columns: Sequence[_Column]) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Protection, Side
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.properties import PageSetupProperties

    line = Border(bottom=Side(style="thin", color=_GREY))
    for place, column in enumerate(columns, start=1):
        letter = get_column_letter(place)
        whole = sheet.column_dimensions[letter]
        whole.width = max(_WIDTH, len(column.heading) + 3)
        whole.protection = Protection(locked=False)
        heading = sheet.cell(row=1, column=place)
        _write(heading, column.heading)
        heading.font, heading.border = Font(bold=True), line
        heading.fill = PatternFill("solid", fgColor=_BLUE)
        heading.alignment = Alignment(wrap_text=True, vertical="top")
        heading.protection = Protection(locked=True)
        note = Comment(_advice(column.name), "headlife")
        note.width, note.height = 320, 90
        heading.comment = note
        example = sheet.cell(row=2, column=place)
        _write(example, column.example)
        example.font = Font(italic=True, color=_GREY)
        example.fill = PatternFill("solid", fgColor=_PALE)
        example.protection = Protection(locked=False)
        form = {"date": _DAY, "hours": _HOURS}.get(COLUMNS[column.name].kind)
        if form:
            whole.number_format = example.number_format = form
        _allow(sheet, column, letter, place)
    sheet.freeze_panes = "B2"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.protection.sheet = True
    # What people do with a log stays allowed.
    for what in ("formatCells", "formatColumns", "formatRows", "insertRows", "deleteRows", "sort"):
        setattr(sheet.protection, what, False)
    sheet.protection.autoFilter = False


def _allow(sheet: Any, column: _Column, letter: str, place: int) -> None:
    """Say what a spreadsheet lets people write into a column."""
    from openpyxl.worksheet.datavalidation import DataValidation

    kind = COLUMNS[column.name].kind
    if column.choices:
        rule = DataValidation(
            type="list",
            formula1=f"Lists!${letter}$1:${letter}${len(column.choices)}",
            showErrorMessage=column.name in ("head_type", "role", "reason"),
            error="Choose a word of the list; a new one goes into the settings first.",
        )
    elif kind == "date":
        rule = DataValidation(type="date", operator="greaterThan", formula1="29221")
        rule.error = "Write a day, for example 2026-03-31."
    elif kind == "hours":
        rule = DataValidation(type="decimal", operator="greaterThanOrEqual", formula1="0")
        rule.error = "Write hours as a number of 0 or more, for example 712.5."
    else:
        return
    rule.allow_blank = True
    rule.errorTitle = column.heading
    rule.showErrorMessage = rule.showErrorMessage or not column.choices
    rule.add(f"{letter}2:{letter}{_ROWS}")
    sheet.add_data_validation(rule)


def _how_sheet(sheet: Any, columns: Sequence[_Column]) -> None:
    from openpyxl.styles import Alignment, Font

    for number, sentence in enumerate(_HOW, start=1):
        sheet.cell(row=number, column=1).value = sentence
    top = len(_HOW) + 2
    for place, word in enumerate(("Heading", "What to write"), start=1):
        sheet.cell(row=top, column=place).value = word
        sheet.cell(row=top, column=place).font = Font(bold=True)
    for number, column in enumerate(columns, start=top + 1):
        _write(sheet.cell(row=number, column=1), column.heading)
        told = sheet.cell(row=number, column=2)
        _write(told, _advice(column.name))
        told.alignment = Alignment(wrap_text=True, vertical="top")
    sheet.column_dimensions["A"].width = 28
    sheet.column_dimensions["B"].width = 90


def _advice(name: str) -> str:
    column = COLUMNS[name]
    wanted = "" if column.needed else " May stay blank."
    return f"{column.meaning[:1].upper()}{column.meaning[1:]}.{wanted}"


def _write(cell: Any, value: Any) -> None:
    cell.value = printable(value) if isinstance(value, str) else value
    if isinstance(value, str):
        cell.data_type = "s"
