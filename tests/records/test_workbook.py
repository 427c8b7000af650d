"""Workbooks and Parquet: what spreadsheets do to a table, and files made to do harm."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime
from itertools import product

import pandas as pd
import pytest
from openpyxl import Workbook
from tests.records.small_shop import COLUMNS, as_csv, rows_of

import headlife as hl
from headlife.errors import RecordsError
from studies.bench.hostile import write_wide_workbook


def typed(name: str, text: str):
    """Give a cell the type that a spreadsheet would store."""
    if name.startswith("date") and text:
        return datetime.fromisoformat(text)
    return float(text) if "hours" in name and text else text or None


def book_of(rows, header=COLUMNS, title="Log"):
    book = Workbook()
    sheet = book.active
    sheet.title = title
    sheet.append(list(header))
    for row in rows:
        sheet.append([typed(name, row[name]) for name in COLUMNS])
    return book


@pytest.fixture
def read_book(tmp_path, shop):
    def make(book, settings=None, name="log.xlsx", **options):
        book.save(tmp_path / name)
        return hl.read_records(tmp_path / name, settings or shop, **options)

    return make


def test_a_workbook_reads_like_the_same_csv(read, read_book):
    pd.testing.assert_frame_equal(read_book(book_of(rows_of())).accepted, read().accepted)


def test_a_file_is_judged_by_its_bytes_not_by_its_name(read, read_book):
    got = read_book(book_of(rows_of()), name="log.csv")
    pd.testing.assert_frame_equal(got.accepted, read().accepted)


def test_titles_merged_headers_hidden_columns_and_blank_rows(read, read_book, shop_with):
    plain = read().accepted
    book = Workbook()
    sheet = book.active
    sheet.append(["Our log"])
    upper = ["Head", None, None, "Printer", "Side", "In", None, "Out", None, None]
    lower = ["serial", "type", "use", None, None, "date", "hours", "date", "hours", "why"]
    sheet.append([*upper, "material", "last good hours", "site", "note", "internal"])
    sheet.append(lower)
    for span in ("A2:C2", "F2:G2", "H2:J2", "D2:D3", "E2:E3", "K2:K3"):
        sheet.merge_cells(span)
    sheet.column_dimensions["O"].hidden = True
    for i, row in enumerate(rows_of()):
        if i == 2:
            sheet.append([])
        sheet.append([*(typed(name, row[name]) for name in COLUMNS), f"secret {i}"])
    own = ["Head serial", "Head type", "Head use", "Printer", "Side"]
    own += ["In date", "In hours", "Out date", "Out hours", "Out why"]
    mapped = "\n".join(f'{n} = "{o}"' for n, o in zip(COLUMNS, own, strict=False))
    records = read_book(book, shop_with(f"[columns]\n{mapped}"))
    assert records.accepted["row"].tolist() == [4, 5, 7, 8, 9]
    assert records.unused_columns == ("internal",)
    pd.testing.assert_frame_equal(records.accepted.drop(columns="row"), plain.drop(columns="row"))


def test_several_sheets(read_book, shop_with):
    book = book_of(rows_of(), title="2024")
    book.create_sheet("notes").append(["nothing here"])
    assert len(read_book(book).accepted) == 5
    more = book.create_sheet("2025")
    for row in book["2024"].iter_rows(values_only=True):
        more.append(row)
    with pytest.raises(RecordsError, match=r"'2024' and '2025' all look like.*\[intake\] sheet"):
        read_book(book)
    settings = shop_with('[intake]\nsheet = "2025"')
    assert len(read_book(book, settings).accepted) == 5
    with pytest.raises(RecordsError, match=r"no sheet '2052' \(did you mean '2025'\?\)"):
        read_book(book, shop_with('[intake]\nsheet = "2052"'))
    more.sheet_state = "hidden"
    assert len(read_book(book).accepted) == 5


@pytest.mark.parametrize(
    ("layout", "state"),
    [
        *product(['sheet = "2024"', 'sheets = ["2024"]'], ["visible", "hidden", "veryHidden"]),
        *product(['sheets = "all"', ""], ["hidden", "veryHidden"]),
    ],
)
def test_a_sheet_like_the_log_that_is_not_read_is_named_with_its_rows(
    read_book, shop_with, layout, state
):
    """A hidden second sheet, or one beside the sheet that is stated, was passed over."""
    book = book_of(rows_of(), title="2024")
    more = book.create_sheet("2025")
    for row in book["2024"].iter_rows(values_only=True, max_row=4):
        more.append(row)
    more["A2"] = "other head"
    more.sheet_state = state
    settings = shop_with(f"[intake]\n{layout}")
    records = read_book(book, settings)
    assert records.rows_read == 5
    (said,) = records.not_read
    assert said.startswith("Sheet '2025' of log.xlsx")
    assert ("which is hidden" in said) == (state != "visible")
    assert "(3 rows) and is not read" in said
    assert said in records.summary()
    (found,) = [one for one in hl.audit(records).itertuples() if one.check == "sheet not read"]
    assert (found.sentence, found.treatment) == (said, "not read")
    # What it says to do is done: then every row of it is read.
    line = said.partition("state [intake] ")[2].partition(", where")[0]
    both = read_book(book, shop_with(f"[intake]\n{line}"))
    assert both.rows_read == 8
    assert both.not_read == ()
    assert "other head" in set(both.accepted["head"])


def test_other_sheets_with_rows_are_listed_and_those_of_readings_are_not(read_book, shop_with):
    book = book_of(rows_of())
    assert read_book(book).notes == ()
    book.create_sheet("Read me").append(["Fill in every swap on the day"])
    assert read_book(book).notes == ()
    stock = book.create_sheet("Stock")
    for row in (["type", "count"], ["A", 4], ["B", 2]):
        stock.append(row)
    book.create_sheet("Old").append(["x"])
    book["Old"].append(["y"])
    book["Old"].sheet_state = "hidden"
    records = read_book(book)
    assert records.not_read == ()
    assert records.notes == (
        "Sheets of log.xlsx that are not read: 'Stock' (2 rows), 'Old' (hidden, 1 row).",
    )


def test_hidden_and_filtered_rows_and_columns_are_read(read, read_book):
    book = book_of(rows_of())
    sheet = book.active
    sheet.auto_filter.ref = "A1:N6"
    sheet.auto_filter.add_filter_column(1, ["B"])
    for row in (2, 3, 4, 6):
        sheet.row_dimensions[row].hidden = True
    sheet.column_dimensions["D"].hidden = True
    pd.testing.assert_frame_equal(read_book(book).accepted, read().accepted)


def test_cells_beside_the_table_are_named_by_their_column_and_leave_rows_alone(read, read_book):
    """A remark to the right of a row set the row aside; a column without a name was lost."""
    book = book_of(rows_of())
    sheet = book.active
    sheet["Q1"] = "Stock"
    sheet["P2"] = "look here"
    sheet["S3"] = "P1"
    sheet["S5"] = 1234
    records = read_book(book)
    pd.testing.assert_frame_equal(records.accepted, read().accepted)
    assert records.unused_columns == (
        "Stock",
        "column P, which has no name (1 cell)",
        "column S, which has no name (2 cells)",
    )


def test_tables_under_the_log_are_rows_that_are_named(read_book):
    book = book_of(rows_of())
    below = ([], ["Meter"], ["Printer", "Date", "Hours"], ["P1", "2025-03-01", 500], ["P2", "", 9])
    for row in below:
        book.active.append(row)
    records = read_book(book, unknown="set aside")
    assert records.rows_read == 9
    assert len(records.accepted) == 5
    assert records.set_aside["row"].tolist() == [8, 9, 10, 11]


@pytest.mark.parametrize("state", ["hidden", "veryHidden"])
def test_a_table_on_a_hidden_sheet_behind_a_cover_is_named(read_book, shop_with, state):
    """A cover was read in its place: "the file is empty"."""
    book = book_of(rows_of(), title="export")
    cover = book.create_sheet("Welcome")
    book["export"].sheet_state = state
    for _ in range(2):
        with pytest.raises(RecordsError, match="'export', which is hidden, does; show it"):
            read_book(book)
        cover.append(["Heads of the year", "see the other sheet"])
    assert len(read_book(book, shop_with('[intake]\nsheet = "export"')).accepted) == 5


def test_formulas_errors_and_types_of_cells(read_book):
    rows = rows_of()
    book = book_of(rows)
    sheet = book.active
    sheet["I2"] = "=G2+100"  # a formula that no program has computed
    sheet["D3"] = "#REF!"
    sheet["A4"] = 1002
    sheet["G5"] = "12,5"
    records = read_book(book)
    aside = records.set_aside.set_index("row")
    assert aside.index.tolist() == [2, 3]
    assert "error of the spreadsheet" in aside.loc[2, "problem"]
    assert "error of the spreadsheet" in aside.loc[3, "problem"]
    assert records.accepted["head"].tolist() == ["1002", "H3", "H4"]
    assert records.accepted["hours_in"].tolist() == [0.0, 12.5, 0.0]


def test_a_decimal_comma_in_the_settings_leaves_stored_numbers_alone(read, read_book, shop_with):
    got = read_book(book_of(rows_of()), shop_with('[intake]\ndecimal = ","'))
    pd.testing.assert_frame_equal(got.accepted, read().accepted)


def test_parquet_reads_like_the_same_csv(read, shop, tmp_path):
    frame = pd.DataFrame({name: [typed(name, row[name]) for row in rows_of()] for name in COLUMNS})
    frame["note"] = frame["note"].astype("string")
    frame["site"] = frame["site"].astype("category")
    frame.to_parquet(tmp_path / "log.parquet")
    records = hl.read_records(tmp_path / "log.parquet", shop)
    pd.testing.assert_frame_equal(records.accepted, read().accepted)


# ---- files made to do harm ---------------------------------------------------------------


def part_replaced(book, part: str, data: bytes) -> bytes:
    """Put other bytes into one part of a workbook."""
    stream, out = io.BytesIO(), io.BytesIO()
    book.save(stream)
    with zipfile.ZipFile(stream) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as to:
        for name in source.namelist():
            to.writestr(name, data if name == part else source.read(name))
    return out.getvalue()


LAUGHS = (
    b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "ha">'
    + b"".join(b'<!ENTITY %c "%s">' % (c, b"&%c;" % (c - 1) * 10) for c in range(98, 108))
    + b']><worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    + b'<sheetData><row r="1"><c t="inlineStr"><is><t>&k;</t></is></c></row></sheetData>'
    + b"</worksheet>"
)
FAR = (
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>'
    b'<row r="%s"><c r="%s" t="n"><v>1</v></c></row></sheetData></worksheet>'
)


@pytest.mark.parametrize(
    ("part", "data", "sentence"),
    [
        ("xl/worksheets/sheet1.xml", LAUGHS, "defines XML entities"),
        ("xl/workbook.xml", LAUGHS, "defines XML entities"),
        ("xl/worksheets/sheet1.xml", b"<worksheet", "cannot be read"),
        ("xl/worksheets/sheet1.xml", b"", "cannot be read"),
        ("xl/worksheets/sheet1.xml", FAR % (b"9" * 30, b"A1"), "more rows than a sheet can"),
        ("xl/worksheets/sheet1.xml", FAR % (b"1", b"XFD1"), "columns wide"),
        ("xl/worksheets/sheet1.xml", FAR % (b"1", b"A" * 50 + b"1"), "cannot be read|columns"),
        ("xl/_rels/workbook.xml.rels", b"<Relationships/>", r"log\.xlsx"),
        ("[Content_Types].xml", b"<Types/>", "cannot be read"),
    ],
)
def test_hostile_parts_are_refused_with_a_sentence(part, data, sentence, shop, tmp_path):
    path = tmp_path / "log.xlsx"
    path.write_bytes(part_replaced(book_of(rows_of()), part, data))
    with pytest.raises(RecordsError, match=sentence) as refused:
        hl.read_records(path, shop)
    assert len(str(refused.value)) < 600


def test_a_zip_bomb_is_refused_by_its_stated_size_before_it_is_unpacked(
    shop, tmp_path, monkeypatch
):
    # 2 GB of blanks in one part pack to about 2 MB; written in pieces here too.
    path = tmp_path / "log.xlsx"
    book_of(rows_of()).save(path)
    with (
        zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED, compresslevel=1) as archive,
        archive.open("xl/media/bomb.bin", "w", force_zip64=True) as part,
    ):
        block = b" " * 2**24
        for _ in range(128):
            part.write(block)
    assert path.stat().st_size < 20 * 2**20
    monkeypatch.setattr(zipfile.ZipExtFile, "read", lambda *_: pytest.fail("it was unpacked"))
    with pytest.raises(RecordsError, match=r"unpacks to 2,048 MB .* save the sheet as CSV"):
        hl.read_records(path, shop)


def test_a_sheet_of_endless_columns_is_refused(shop, tmp_path):
    # What it costs in memory is measured by `python -m studies.bench hostile`.
    path = tmp_path / "log.xlsx"
    write_wide_workbook(path, cells=5_000)
    with pytest.raises(RecordsError, match="more than 1,000 columns wide"):
        hl.read_records(path, shop)


def test_sheet_names_and_cells_with_paths_scripts_and_signs_do_no_harm(read_book, tmp_path):
    rows = rows_of()
    rows[2]["head"] = '<script>alert("x")</script>'
    rows[2]["note"] = "=cmd|' /C calc'!A0"
    rows[4]["note"] = "\u202e" + "x" * 10_000
    book = book_of(rows, title=".. etc passwd")
    records = read_book(book)
    assert '<script>alert("x")</script>' in set(records.accepted["head"])
    assert records.set_aside.empty
    assert sorted(path.name for path in tmp_path.iterdir()) == ["log.xlsx", "shop.toml"]


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "old or a password-protected"),
        (b"PK\x03\x04" + b"\0" * 100, "cannot be read"),
        (b"PAR1" + b"\0" * 100, "Parquet file cannot be read"),
        (b"PAR1" + b"\xff" * 100 + b"PAR1", "Parquet file cannot be read"),
    ],
)
def test_broken_and_foreign_files_are_refused(data, sentence, shop, tmp_path):
    path = tmp_path / "log.dat"
    path.write_bytes(data)
    with pytest.raises(RecordsError, match=sentence):
        hl.read_records(path, shop)


def test_a_zip_that_is_no_workbook(shop, tmp_path):
    path = tmp_path / "log.zip"
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("log.csv", as_csv(rows_of()))
    with pytest.raises(RecordsError, match="zip archive and no workbook"):
        hl.read_records(path, shop)


def test_a_parquet_file_that_unfolds_and_nested_columns(shop, tmp_path):
    import pyarrow as pa
    import pyarrow.parquet as pq

    rows = 30_000
    huge = pa.array(["x" * 1_000_000]).dictionary_encode()
    column = pa.DictionaryArray.from_arrays(pa.array([0] * rows, pa.int32()), huge.dictionary)
    table = pa.table({"head": column, **{n: pa.array([""] * rows) for n in COLUMNS[1:]}})
    pq.write_table(table, tmp_path / "log.parquet", dictionary_pagesize_limit=2**24)
    assert (tmp_path / "log.parquet").stat().st_size < 2**24
    with pytest.raises(RecordsError, match="1000000 characters long"):
        hl.read_records(tmp_path / "log.parquet", shop)
    nested = pa.table({"head": pa.array([[1], [2]])})
    pq.write_table(nested, tmp_path / "nested.parquet")
    with pytest.raises(RecordsError, match=r"column 'head': a cell holds a list"):
        hl.read_records(tmp_path / "nested.parquet", shop)
