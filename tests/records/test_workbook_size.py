"""Small files that would cost minutes and gigabytes are refused before anything is built."""

from __future__ import annotations

import zipfile

import openpyxl
import pandas as pd
import pytest
from tests.records.small_shop import rows_of

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.workbook_size import MOST_TEXTS, refuse_large_workbook

SPREADSHEET = b'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'


@pytest.fixture
def book(tmp_path):
    """A workbook that openpyxl wrote, two texts in it."""
    path = tmp_path / "log.xlsx"
    made = openpyxl.Workbook()
    made.active.append(["head", "reason"])
    made.save(path)
    with zipfile.ZipFile(path) as archive:
        parts = {part: archive.read(part) for part in archive.namelist()}
    # Named as the part of the texts, whether or not the texts stand in the cells.
    types = parts["[Content_Types].xml"]
    if b"sharedStrings" not in types:
        own = b'<Override PartName="/xl/sharedStrings.xml" ContentType="x.sharedStrings+xml"/>'
        parts["[Content_Types].xml"] = types.replace(b"</Types>", own + b"</Types>")
        parts["xl/sharedStrings.xml"] = many(b"sst", b"", 0)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, data in parts.items():
            archive.writestr(part, data)
    return path


def replaced(book, name, data):
    with zipfile.ZipFile(book) as archive:
        parts = {part: archive.read(part) for part in archive.namelist()}
    assert parts[name]
    with zipfile.ZipFile(book, "w", zipfile.ZIP_DEFLATED) as archive:
        for part, old in parts.items():
            archive.writestr(part, data if part == name else old)
    return book


def many(root, child, count):
    return b"<%s %s>%s</%s>" % (root, SPREADSHEET, child * count, root)


def test_an_honest_workbook_passes(book):
    refuse_large_workbook(book)


@pytest.mark.parametrize("child", [b"<si/>", b"<si ><t>a</t></si>", b"<x:si/>", b"<r><t>a</t></r>"])
def test_texts_are_counted_before_one_is_built(book, child):
    """38 kB packed: five million texts took minutes."""
    replaced(book, "xl/sharedStrings.xml", many(b"sst", child, MOST_TEXTS + 1))
    assert book.stat().st_size < 100_000
    with pytest.raises(RecordsError, match=r"more than 600,000 texts; save the sheet as CSV"):
        refuse_large_workbook(book)


def test_as_many_texts_as_allowed_pass(book):
    refuse_large_workbook(
        replaced(book, "xl/sharedStrings.xml", many(b"sst", b"<si/>", MOST_TEXTS))
    )


@pytest.mark.parametrize(
    ("part", "root", "child"),
    [
        ("xl/styles.xml", b"styleSheet", b"<xf/>"),
        ("xl/styles.xml", b"styleSheet", b"<font></font>"),
        ("xl/workbook.xml", b"workbook", b"<definedName/>"),
        ("xl/_rels/workbook.xml.rels", b"Relationships", b"<Relationship/>"),
        ("docProps/core.xml", b"coreProperties", b"<a/>"),
        ("[Content_Types].xml", b"Types", b"<Override/>"),
    ],
)
def test_formats_names_and_relations_are_counted_too(book, part, root, child):
    replaced(book, part, many(root, child, 300_001))
    with pytest.raises(RecordsError, match=r"has more than 300,000 entries"):
        refuse_large_workbook(book)


def test_tags_cut_in_two_by_a_block_are_counted_once(book, monkeypatch):
    monkeypatch.setattr("headlife.records.workbook_size._BLOCK", 7)
    monkeypatch.setattr("headlife.records.workbook_size.MOST_TEXTS", 100)
    refuse_large_workbook(replaced(book, "xl/sharedStrings.xml", many(b"sst", b"<si/>", 100)))
    replaced(book, "xl/sharedStrings.xml", many(b"sst", b"<si/>", 101))
    with pytest.raises(RecordsError, match="texts"):
        refuse_large_workbook(book)


def test_a_workbook_of_endless_sheets_is_refused_shortly(book, shop):
    # 5,000 names of one part: each was looked into, a minute, and all were named.
    with zipfile.ZipFile(book) as archive:
        part = archive.read("xl/workbook.xml").decode()
    relation = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
    more = "".join(
        f'<sheet name="s{k}" sheetId="{k + 5}" r:id="rId1" xmlns:r="{relation}"/>'
        for k in range(600)
    )
    replaced(book, "xl/workbook.xml", part.replace("</sheets>", f"{more}</sheets>").encode())
    with pytest.raises(RecordsError, match=r"has 601 sheets; 500 at most"):
        hl.read_records(book, shop)


def test_sheets_that_all_look_like_the_table_are_named_but_not_all(tmp_path, shop):
    path = tmp_path / "log.xlsx"
    with pd.ExcelWriter(path) as writer:
        for k in range(30):
            pd.DataFrame(rows_of()).to_excel(writer, sheet_name=f"month {k}", index=False)
    with pytest.raises(RecordsError, match="'month 11' and 18 more all look like the table"):
        hl.read_records(path, shop)
