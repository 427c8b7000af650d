"""How does a sheet become one that people work with: typed, filtered, fit to print, with charts?

From headings, rows and formats; knows nothing of what a sheet is about.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from headlife.show.xlsx import Row, put

WHOLE: Final = "#,##0"
ONE: Final = "#,##0.0"
SHARE: Final = "0.0%"
DAY: Final = "yyyy-mm-dd"
_TOP: Final = 4  # row of the headings; above them the title and a line of words
_ACROSS: Final = 16  # columns over which the line of words goes at most
_CHART: Final = (16.0, 8.0)  # width and height [cm]
_CHART_WIDTH: Final = 92.0  # the same width in characters of a column, with a gap
_CHART_ROWS: Final = 18
_LINE: Final = 15.0  # height of a line [points]


def money(currency: str) -> str:
    """Give the number format of amounts in a currency.

    Parameters
    ----------
    currency : str
        Label of amounts.

    Returns
    -------
    str
        The format.
    """
    label = "".join(sign for sign in currency if sign.isprintable() and sign not in '"\\')
    return f'#,##0.00\\ "{label}"'


@dataclass(frozen=True)
class Chart:
    """A chart of some columns of a sheet."""

    title: str
    """What it shows."""
    unit: str
    """Unit of its values."""
    columns: tuple[int, ...]
    """Columns drawn, from 1."""
    rows: tuple[int, int]
    """First and last row of the table drawn, from 1."""
    kind: str = "bars"
    """bars, stacked or lines."""


@dataclass(frozen=True)
class ReportSheet:
    """One sheet: a title, a line of words, a table, charts below it."""

    name: str
    """On its tab."""
    title: str
    """Above the table."""
    words: str
    """How to read it; may be empty."""
    headings: Row
    """One per column, with units."""
    rows: Sequence[Row]
    """Cells; None where there is no value."""
    widths: Sequence[float]
    """Of the columns, in characters."""
    formats: Sequence[str | None] = ()
    """Number format of each column; None where it is text."""
    charts: Sequence[Chart] = field(default=())
    """Drawn below the table."""
    row_formats: Sequence[str | None] = ()
    """Number format of each row, before that of the column."""
    left: bool = False
    """Whether numbers stand to the left, as among words."""


def add_sheet(book: Any, sheet: ReportSheet) -> None:
    """Add a sheet to a workbook.

    Parameters
    ----------
    book : openpyxl.Workbook
        The workbook.
    sheet : ReportSheet
        What stands on it.
    """
    from openpyxl.styles import Alignment, Font

    made = book.create_sheet(sheet.name)
    put(made.cell(1, 1), sheet.title)
    made.cell(1, 1).font = Font(bold=True, size=14)
    _words(made, sheet)
    for place, heading in enumerate(sheet.headings, start=1):
        cell = made.cell(_TOP, place)
        put(cell, heading)
    for number, row in enumerate(sheet.rows, start=_TOP + 1):
        for place, value in enumerate(row, start=1):
            cell = made.cell(number, place)
            put(cell, value)
            style = _format(sheet, number - _TOP - 1, place - 1)
            if style is not None and value is not None and not isinstance(value, str):
                cell.number_format = style
            left = "left" if style == DAY or sheet.left else None
            cell.alignment = Alignment(
                wrap_text=isinstance(value, str), vertical="top", horizontal=left
            )
        made.row_dimensions[number].height = _LINE * _lines(sheet, row)
    last = _lay_out(made, sheet)
    for number, chart in enumerate(sheet.charts):
        _draw(made, chart, f"{_chart_column(sheet, number)}{last + 2}")


def _format(sheet: ReportSheet, row: int, column: int) -> str | None:
    own = sheet.row_formats[row] if row < len(sheet.row_formats) else None
    return own or (sheet.formats[column] if column < len(sheet.formats) else None)


def _lines(sheet: ReportSheet, row: Row) -> int:
    """Lines that the longest text of a row takes."""
    return max(
        (
            math.ceil(1.1 * len(value) / _width(sheet, place))
            for place, value in enumerate(row, start=1)
            if isinstance(value, str) and value
        ),
        default=1,
    )


def _chart_column(sheet: ReportSheet, number: int) -> str:
    """Charts stand side by side: the column at which the next one begins."""
    from openpyxl.utils import get_column_letter

    wanted, passed, place = number * _CHART_WIDTH, 0.0, 1
    while passed < wanted:
        passed += _width(sheet, place)
        place += 1
    return str(get_column_letter(place))


def _words(made: Any, sheet: ReportSheet) -> None:
    from openpyxl.styles import Alignment

    across = max(len(sheet.headings), 1)
    room = sum(_width(sheet, place) for place in range(1, across + 1))
    put(made.cell(2, 1), sheet.words or None)
    made.cell(2, 1).alignment = Alignment(wrap_text=True, vertical="top")
    made.merge_cells(start_row=2, start_column=1, end_row=2, end_column=min(across, _ACROSS))
    made.row_dimensions[2].height = _LINE * (1 + int(1.1 * len(sheet.words) / max(room, 1.0)))


def _width(sheet: ReportSheet, place: int) -> float:
    return sheet.widths[min(place, len(sheet.widths)) - 1]


def _lay_out(made: Any, sheet: ReportSheet) -> int:
    """Widths, filter, frozen headings and what is printed; gives the last row of the table."""
    from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
    from openpyxl.utils import get_column_letter

    last = _TOP + len(sheet.rows)
    right = get_column_letter(max(len(sheet.headings), 1))
    for place in range(1, len(sheet.headings) + 1):
        made.column_dimensions[get_column_letter(place)].width = _width(sheet, place)
        cell = made.cell(_TOP, place)
        cell.font = Font(bold=True)
        cell.fill = PatternFill("solid", fgColor="E8EDF2")
        cell.border = Border(bottom=Side(style="medium"))
        cell.alignment = Alignment(wrap_text=True, vertical="bottom")
    made.freeze_panes = f"A{_TOP + 1}"
    if sheet.rows:
        made.auto_filter.ref = f"A{_TOP}:{right}{last}"
    made.row_dimensions[_TOP].height = 3 * _LINE
    bottom = last + (_CHART_ROWS if sheet.charts else 0)
    # Charts are wider than a narrow table.
    wide = right
    if sheet.charts and len(_chart_column(sheet, len(sheet.charts))) >= len(right):
        wide = max(right, _chart_column(sheet, len(sheet.charts)))
    made.print_area = f"A1:{wide}{bottom}"
    made.print_title_rows = f"{_TOP}:{_TOP}"
    made.page_setup.orientation = "landscape"
    made.page_setup.paperSize = 9  # A4
    made.page_setup.fitToWidth, made.page_setup.fitToHeight = 1, 0
    made.sheet_properties.pageSetUpPr.fitToPage = True
    made.oddFooter.center.text = "&A, page &P of &N"
    return last


def _draw(made: Any, chart: Chart, where: str) -> None:
    from openpyxl.chart import BarChart, LineChart, Reference

    drawn = LineChart() if chart.kind == "lines" else BarChart()
    first, last = (_TOP + row for row in chart.rows)
    for column in chart.columns:
        # The heading above the table names the series.
        drawn.add_data(
            Reference(made, min_col=column, min_row=first, max_row=last), titles_from_data=False
        )
        _name(drawn.series[-1], made.cell(_TOP, column).value)
    drawn.set_categories(Reference(made, min_col=1, min_row=first, max_row=last))
    if chart.kind == "stacked":
        drawn.grouping, drawn.overlap = "stacked", 100
    drawn.title = chart.title
    drawn.y_axis.title = chart.unit
    drawn.x_axis.delete = drawn.y_axis.delete = False
    drawn.y_axis.scaling.min = 0
    drawn.legend.position = "b"
    drawn.width, drawn.height = _CHART
    made.add_chart(drawn, where)


def _name(series: Any, name: str) -> None:
    from openpyxl.chart.series import SeriesLabel

    series.tx = SeriesLabel(v=name)
