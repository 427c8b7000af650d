"""A copy of somebody's workbook: cells coloured and commented, nothing else in it changed."""

from __future__ import annotations

import io
import zipfile

import pytest
from defusedxml.ElementTree import fromstring
from openpyxl import Workbook, load_workbook
from openpyxl.chart import BarChart, Reference
from openpyxl.comments import Comment
from openpyxl.formatting.rule import CellIsRule
from openpyxl.styles import Font, PatternFill
from openpyxl.worksheet.datavalidation import DataValidation

from headlife.errors import HeadlifeError
from headlife.show.xlsx_marks import marked_workbook
from headlife.show.xlsx_notes import Mark

NAME = 'Log & "Buch"'
MARKS = [
    Mark(NAME, "A", 2, "F8CBAD", "not used: <b> & 'x'"),
    Mark(NAME, "B", 3, "FFF2CC", "doubtful"),
    Mark(NAME, "B", 3, "F8CBAD", "and more"),
    Mark(NAME, "C", 4, "FFF2CC", "doubtful"),
    Mark(NAME, "D", 3, "F8CBAD", "is blank"),
    Mark(NAME, "AB", 5, "F8CBAD", "beyond the last cell"),
]


def workbook(commented: bool = True) -> bytes:
    """A workbook with what people put into one, and a part that stands for its macros."""
    book = Workbook()
    sheet = book.active
    sheet.title = NAME
    for row in range(1, 8):
        sheet.append([f"H{row}", "A", row * 1.5, None, "=C1+1"])
    if commented:
        sheet["A2"].comment = Comment("an old note", "somebody")
        sheet["E1"].comment = Comment("another", "somebody")
    sheet["B3"].font = Font(bold=True)
    sheet["C4"].number_format = "0.00"
    sheet.merge_cells("A9:C9")
    chart = BarChart()
    chart.add_data(Reference(sheet, min_col=3, min_row=1, max_row=5))
    sheet.add_chart(chart, "H2")
    rule = DataValidation(type="list", formula1='"a,b"')
    rule.add("B2:B9")
    sheet.add_data_validation(rule)
    red = PatternFill(bgColor="FF0000")
    sheet.conditional_formatting.add("C1:C9", CellIsRule("greaterThan", ["5"], fill=red))
    book.create_sheet("Other")["A1"] = "=1+1"
    stream = io.BytesIO()
    book.save(stream)
    with zipfile.ZipFile(stream, "a") as archive:
        archive.writestr("xl/vbaProject.bin", b"\x00macros")
    return stream.getvalue()


def parts(data: bytes) -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


@pytest.mark.parametrize("commented", [True, False])
def test_cells_are_coloured_and_commented(commented):
    sheet = load_workbook(io.BytesIO(marked_workbook(workbook(commented), MARKS)))[NAME]
    said = {
        "A2": "not used: <b> & 'x'",
        "B3": "doubtful\nand more",
        "C4": "doubtful",
        "D3": "is blank",
        "AB5": "beyond the last cell",
    }
    for where, words in said.items():
        assert sheet[where].comment.text.endswith(words), where
    assert sheet["A2"].comment.text.startswith("an old note") is commented
    colours = {where: sheet[where].fill.fgColor.rgb[2:] for where in said}
    assert colours == {
        "A2": "F8CBAD",
        "B3": "FFF2CC",
        "C4": "FFF2CC",
        "D3": "F8CBAD",
        "AB5": "F8CBAD",
    }
    # What a cell said and how it looked otherwise stays.
    assert (sheet["B3"].value, sheet["B3"].font.b) == ("A", True)
    assert (sheet["C4"].value, sheet["C4"].number_format) == (6, "0.00")
    assert sheet["A3"].fill.fill_type is None


@pytest.mark.parametrize("commented", [True, False])
def test_nothing_else_changes(commented):
    given = workbook(commented)  # once: a workbook holds the second in which it was made
    before, after = parts(given), parts(marked_workbook(given, MARKS))
    changed = {name for name in before if before[name] != after[name]}
    assert set(before) <= set(after)
    allowed = ("xl/worksheets/sheet1.xml", "xl/styles.xml", "xl/worksheets/_rels/sheet1.xml.rels")
    assert not {
        name
        for name in changed
        if name not in (*allowed, "[Content_Types].xml") and "omment" not in name
    }
    for kept in ("xl/vbaProject.bin", "xl/charts/chart1.xml", "xl/worksheets/sheet2.xml"):
        assert after[kept] == before[kept]
    for name, part in after.items():
        if name.endswith((".xml", ".rels", ".vml")):
            fromstring(part)
    one, two = (load_workbook(io.BytesIO(data)) for data in (workbook(commented), _whole(after)))
    for sheet in one:
        for row in sheet.iter_rows():
            for cell in row:
                assert two[sheet.title][cell.coordinate].value == cell.value
    assert len(two[NAME]._charts) == 1
    assert two[NAME].merged_cells.ranges == one[NAME].merged_cells.ranges
    assert len(two[NAME].conditional_formatting) == 1


def _whole(after: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        for name, part in after.items():
            archive.writestr(name, part)
    return stream.getvalue()


def test_sheets_written_with_a_prefix_and_without_rows_are_marked_too():
    before = parts(workbook(commented=False))
    text = before["xl/worksheets/sheet1.xml"].decode()
    for tag in ("worksheet", "sheetData", "row", "c", "v", "f", "is", "t"):
        text = text.replace(f"<{tag} ", f"<x:{tag} ").replace(f"<{tag}>", f"<x:{tag}>")
        text = text.replace(f"</{tag}>", f"</x:{tag}>")
    text = text.replace('<x:worksheet xmlns="', '<x:worksheet xmlns="a" xmlns:x="').replace(
        'xmlns="a" ', ""
    )
    text = text[: text.index("</x:sheetData>")] + '<x:row r="30"/></x:sheetData></x:worksheet>'
    before["xl/worksheets/sheet1.xml"] = text.encode()
    marks = [Mark(NAME, "A", 2, "F8CBAD", "one"), Mark(NAME, "B", 30, "F8CBAD", "two")]
    after = marked_workbook(_whole(before), marks)
    sheet = load_workbook(io.BytesIO(after))[NAME]
    assert sheet["A2"].fill.fgColor.rgb == "FFF8CBAD"
    assert sheet["B30"].fill.fgColor.rgb == "FFF8CBAD"
    assert sheet["B30"].comment.text == "two"


def test_a_workbook_without_such_a_sheet_is_named():
    with pytest.raises(HeadlifeError, match="cannot be marked"):
        marked_workbook(workbook(), [Mark("no such", "A", 1, "F8CBAD", "x")])


def test_the_same_marks_give_the_same_bytes():
    data = workbook()
    assert marked_workbook(data, MARKS) == marked_workbook(data, MARKS)
