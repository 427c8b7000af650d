"""A second table below the log: one sentence with its rows, and nothing lost or guessed."""

from __future__ import annotations

import csv

import pytest
from openpyxl import Workbook
from tests.show.conftest import DEMO

import headlife as hl
from headlife.cli import main
from headlife.errors import RecordsError
from headlife.records.causes import causes

with (DEMO / "removals.csv").open(encoding="utf-8") as stream:
    LOG = list(csv.reader(stream))[:41]
COUNT = [
    ["Stock count"],
    ["Type", "Shelf", "Bin", "Counted by", "Counted on", "Remark"],
    *(["Standard", n, f"B{n}", "Ann", f"2026-09-{n + 1:02d}", "ok"] for n in range(25)),
]


def read(folder, rows, name="Sheet", further=(), settings="", **options):
    book = Workbook()
    book.active.title = name
    for row in rows:
        book.active.append(row)
    for title, more in further:
        sheet = book.create_sheet(title)
        for row in more:
            sheet.append(row)
    book.save(folder / "log.xlsx")
    text = (DEMO / "shop.toml").read_text(encoding="utf-8") + settings
    (folder / "shop.toml").write_text(text, encoding="utf-8")
    return hl.read_records(folder / "log.xlsx", hl.read_shop(folder / "shop.toml"), **options)


def test_one_sentence_names_the_rows_of_the_other_table(tmp_path):
    records = read(tmp_path, [*LOG, [], *COUNT], unknown="set aside")
    # Every row is in the list, and accepted + set aside + no records = rows read, as always.
    assert list(records.set_aside["row"]) == list(range(43, 70))
    assert records.rows_read == 40 + 27 and len(records.accepted) == 40
    (cause,) = causes(records.set_aside, records.origins)
    assert (
        "another table below the log (rows 43 to 69, its columns 'Type', 'Shelf'" in cause.problem
    )
    assert "move that table to a sheet of its own" in cause.problem
    assert records.set_aside["head"].isna().all()  # "Standard" is no serial


def test_a_review_stops_with_that_sentence_and_not_with_unknown_words(tmp_path, capsys):
    """It said that head types '0', '1', '2' ... are not in the settings, a line for each."""
    read(tmp_path, [*LOG, [], *COUNT])
    files = [str(tmp_path / "log.xlsx"), "--shop", str(tmp_path / "shop.toml")]
    assert main(["review", *files]) == 2
    said = capsys.readouterr().err
    assert "another table below the log (rows 43 to 69" in said
    assert "head type" not in said and len(said) < 900


def test_the_other_table_of_one_of_several_sheets(tmp_path):
    sheets = [("2025", [*LOG, [], *COUNT]), ("2026", [LOG[0], *LOG[20:41]])]
    settings = '\n[intake]\nsheets = ["Old", "2025", "2026"]\n'
    records = read(tmp_path, LOG[:10], "Old", sheets, settings, unknown="set aside")
    below = records.set_aside[records.set_aside["problem"].str.contains("another table")]
    # Its title has records after it, on the next sheet, so it is a heading.
    assert len(below) == 26 and len(records.no_records) == 1
    assert "rows 44 of sheet '2025' to 69 of sheet '2025'" in below["problem"].iloc[0]


def broken(row, **cells):
    made = list(row)
    for name, value in cells.items():
        made[LOG[0].index(name)] = value
    return made


@pytest.mark.parametrize(
    "rows",
    [
        # Records with days in a hand that cannot be read, and one without any number.
        [broken(row, date_in="soon", date_out="later") for row in LOG[1:6]],
        [
            ["Anna", "Standard", "model", "Otter", "left"],
            *([f"S{n}", "Standard"] for n in range(4)),
        ],
        # Remarks below the log, and names with a single row below them.
        [["see", "the", "folder"]],
        [["Type", "Shelf", "Bin"], ["Standard", 4, "B"]],
    ],
)
def test_rows_that_may_be_records_keep_their_own_sentences(tmp_path, rows):
    records = read(tmp_path, [*LOG, *rows], unknown="set aside")
    assert len(records.set_aside) == len(rows)
    assert not records.set_aside["problem"].str.contains("another table").any()


def test_a_table_of_which_no_row_can_be_used_is_no_table_below_one(tmp_path):
    with pytest.raises(RecordsError) as caught:
        read(tmp_path, [LOG[0], *COUNT])
    assert "another table" not in str(caught.value)
