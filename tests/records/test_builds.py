"""A table of builds ahead in many hands: read whole, or row by row with its sentence."""

from __future__ import annotations

import pandas as pd
import pytest
from openpyxl import Workbook

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.builds import read_builds
from headlife.shop.columns import BUILD_COLUMNS, LANGUAGES


@pytest.fixture
def table(tmp_path):
    def write(text, name="builds.csv", encoding="utf-8"):
        (tmp_path / name).write_bytes(text.encode(encoding))
        return read_builds(tmp_path / name)

    return write


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_header_in_any_language_is_read(table, language):
    header = ";".join(column.words[language][0] for column in BUILD_COLUMNS.values())
    found = table(f"{header}\nB1;P1;A;North;40;2026-10-01;2026-10-09;\n")
    row = found.builds.iloc[0]
    assert list(row[["build", "printer", "head_type", "site"]]) == ["B1", "P1", "A", "North"]
    assert row["build_hours"] == 40.0 and not row["quality_critical"]
    assert row["earliest"] == pd.Timestamp("2026-10-01")


def test_a_column_that_stands_for_nothing_is_named_where_it_has_cells(table):
    found = table("build;hours;not earlier than;,;customer\nA;40;2026-10-05;;\n")
    assert found.unread == ("not earlier than",)
    assert table("build;hours\nA;40\n").unread == ()


def test_what_is_blank_is_open_and_a_build_without_a_name_has_its_row(table):
    row = table("hours;due\n12,5;\n").builds.iloc[0]
    assert row["build"] == "row 2" and row["build_hours"] == 12.5
    assert row["printer"] is None and pd.isna(row["due"]) and pd.isna(row["earliest"])


def test_every_row_is_a_build_or_is_set_aside_with_where_and_what(table):
    found = table(
        "build,hours,due,critical\nA,40,2026-10-09,\nB,,2026-10-09,\nC,40,2026-02-31,\n"
        "D,0,,\nE,40,,perhaps\nF,40,,,too,many\nG,-4,,\n"
    )
    assert list(found.builds["build"]) == ["A"]
    assert list(found.set_aside["row"]) == [3, 4, 5, 6, 7, 8]
    said = list(found.set_aside["sentence"])
    for sentence, words in zip(
        said,
        ("is blank", "2026-02-31", "above zero", "neither yes nor no", "cells", "-4"),
        strict=True,
    ):
        assert sentence.startswith("builds.csv, row ") and words in sentence


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("build,due\nA,2026-10-09\n", "build_hours; the columns found are 'build', 'due'"),
        ("hours,duration\n1,2\n", "both stand for build_hours"),
        ("hours\n", "no builds"),
        ("hours,due\n40,03.04.2026\n40,05.06.2026\n", "builds.csv"),
    ],
)
def test_what_concerns_the_whole_table_stops_with_a_sentence(table, text, words):
    with pytest.raises(RecordsError, match=words.replace("(", "\\(")):
        table(text)


def test_a_workbook_reads_as_its_csv(tmp_path, table):
    text = table("build,hours,due\nA,40,2026-10-09\n")
    book = Workbook()
    book.active.append(["build", "hours", "due"])
    book.active.append(["A", 40, pd.Timestamp("2026-10-09").to_pydatetime()])
    book.save(tmp_path / "b.xlsx")
    pd.testing.assert_frame_equal(hl.read_builds(tmp_path / "b.xlsx").builds, text.builds)
