"""Reading records: nothing lost, nothing guessed, every fault named where it is."""

from __future__ import annotations

import hashlib
import re

import numpy as np
import pandas as pd
import pytest
from tests.records.small_shop import COLUMNS, as_csv, rows_of
from tests.show.conftest import DEMO

import headlife as hl
from headlife.errors import RecordsError
from headlife.records import intake


def test_rows_as_written(read, tmp_path):
    records = read()
    rows = records.accepted
    assert list(rows.columns) == ["row", *COLUMNS, "mode", "suspension", "in_doubt"]
    assert rows["row"].tolist() == [2, 3, 4, 5, 6]
    assert rows["hours_out"].tolist() == [100.5, 300.0, 400.0, 500.0, 210.5]
    assert rows["date_in"].iloc[0] == pd.Timestamp("2025-01-01")
    assert rows["mode"].tolist() == [None, "wear", None, None, None]
    assert rows["suspension"].tolist() == ["material change", None, None, "planned swap", None]
    assert rows["reason"].isna().tolist() == [False, False, True, False, True]
    assert rows["last_good_hours"].tolist()[1] == 280.0
    assert np.isnan(rows["last_good_hours"].tolist()[0])
    assert rows["note"].isna().all()
    assert records.rows_read == 5
    assert records.source == "log.csv"
    assert records.sha256 == hashlib.sha256((tmp_path / "log.csv").read_bytes()).hexdigest()
    assert records.summary() == ("log.csv: 5 rows read, 5 accepted (4 heads), 0 set aside.")
    records.raise_if_set_aside()


def test_the_shops_own_column_names_and_reasons(read, shop_with):
    settings = shop_with('[columns]\nhead = "Serial No"\nhours_in = "In [h]"')
    text = as_csv(rows_of()).replace("head,", "serial no ,", 1).replace("hours_in", "In [h]")
    text = text.replace("date_out", "Date Out").replace("worn out", " Worn  OUT ")
    records = read(text.replace("note\n", "note,extra\n"), settings)
    assert records.accepted["head"].tolist() == ["H1", "H1", "H2", "H3", "H4"]
    assert records.accepted["mode"].tolist()[1] == "wear"
    assert records.unused_columns == ("extra",)
    assert "Columns not used: 'extra'." in records.summary()


def test_optional_columns_may_be_missing(read):
    required = COLUMNS[: COLUMNS.index("reason") + 1]
    rows = [{name: row[name] for name in required} for row in rows_of()]
    records = read(as_csv(rows, required))
    assert records.accepted["material"].isna().all()
    assert records.accepted["last_good_hours"].isna().all()
    assert len(hl.lives(records)) == 4


CELL_FAULTS = [
    ("date_in", "2025-13-01", "not a date of the calendar"),
    ("date_in", "2025-02-30", "not a date of the calendar"),
    ("date_in", "31.02.2025", "not a date of the calendar"),
    ("date_in", "yesterday", "write it as year-month-day"),
    ("date_in", "03/04/2025", "can be 2025-04-03 .*date_order = .day first.*2025-03-04"),
    ("date_in", "2025-25-12", "not a date of the calendar"),
    ("date_in", "45000", "day number of a spreadsheet"),
    ("date_in", "0025-01-04", "outside the years"),
    ("date_in", "", "is blank; write the day on which the head went in"),
    ("date_out", "", "is blank; .*last hour reading"),
    ("date_out", "2024-12-31", "lies before date_in"),
    ("hours_in", "-1", "is negative"),
    ("hours_in", "twelve", "is not a number"),
    ("hours_in", "nan", "is not a number"),
    ("hours_in", "inf", "is not a number"),
    ("hours_in", "1_000", "is not a number"),
    ("hours_in", "", "is blank"),
    ("hours_out", "1e308", "more than a million hours"),
    ("hours_out", "-0.5", "is negative"),
    ("head", "", "is blank; write the head's serial"),
    ("head", "H\u202e1", r"invisible character \(U\+202E\)"),
    ("head", "H\x001", r"invisible character \(U\+0000\)"),
    ("head", "x" * 201, "is 201 characters long"),
    ("role", "both", "is not a role; write model or support"),
    ("role", "", "is blank; write model or support"),
    ("printer", "", "is blank; write the printer's name"),
    ("position", " ", "is blank; write the head's position"),
    ("last_good_hours", "99999", "lies above hours_out"),
]


@pytest.mark.parametrize(("column", "value", "sentence"), CELL_FAULTS)
def test_a_fault_in_a_cell_sets_its_row_aside_by_name(read, column, value, sentence):
    rows = rows_of()
    rows[2][column] = value
    records = read(rows)
    assert len(records.accepted) == 4
    assert records.rows_read == 5
    aside = records.set_aside
    assert aside["row"].tolist() == [4]
    assert aside["column"].tolist() == [column]
    assert aside["value"].tolist() == [value]
    assert re.search(sentence, aside["problem"].iloc[0])
    with pytest.raises(RecordsError, match=rf"log\.csv, row 4, {column} '.*{sentence}"):
        records.raise_if_set_aside()


def test_hours_out_below_hours_in_names_row_column_and_value(read):
    rows = rows_of()
    rows[1]["hours_out"] = "90"
    rows[1]["last_good_hours"] = ""
    aside = read(rows).set_aside
    assert aside.iloc[0].tolist()[:3] == [3, "hours_out", "90"]
    assert "below hours_in" in aside["problem"].iloc[0]


def test_a_failure_at_zero_hours_is_set_aside(read):
    rows = rows_of()
    rows[4] |= {"reason": "worn out", "hours_out": "0"}
    assert "at least 0.1 h" in read(rows).set_aside["problem"].iloc[0]


def test_a_row_with_several_faults_is_named_once_with_all_of_them(read):
    rows = rows_of()
    rows[2] |= {"date_in": "soon", "hours_in": "-3", "role": ""}
    aside = read(rows).set_aside
    assert len(aside) == 1
    for word in ("year-month-day", "hours_in '-3' is negative", "is blank; write model"):
        assert word in aside["problem"].iloc[0]


def test_the_sentences_stop_after_twenty_and_say_how_many_more(read):
    many = [dict(rows_of()[0], head=f"N{i}", reason=f"why {i}") for i in range(25)]
    records = read(rows_of() + many, unknown="set aside")
    with pytest.raises(RecordsError, match=r"\n5 more rows of log\.csv cannot be used") as caught:
        records.raise_if_set_aside()
    assert len(str(caught.value).splitlines()) == 21


def test_rows_of_one_cause_are_one_sentence(read):
    rows = [dict(rows_of()[0], head=f"N{i}", date_in="soon") for i in range(25)]
    with pytest.raises(RecordsError, match=r"log\.csv, 25 rows \(7, 8, .* and 15 more\), date_in"):
        read(rows_of() + rows).raise_if_set_aside()


def test_a_cell_too_many_sets_the_row_aside_and_a_cell_too_few_is_blank(read):
    lines = as_csv(rows_of()).splitlines()
    lines[2] += ",surplus"
    lines[4] = lines[4].rstrip(",").removesuffix(",S1")
    records = read("\n".join(lines))
    assert records.set_aside["row"].tolist() == [3]
    assert "15 cells where the header has 14" in records.set_aside["problem"].iloc[0]
    assert records.accepted["site"].isna().tolist() == [False, False, True, False]


def test_blank_lines_are_no_rows_and_keep_the_numbering(read):
    lines = as_csv(rows_of()).splitlines()
    records = read("\n".join([*lines[:2], "", ",,,,,,,,,,,,,", *lines[2:], "", ""]))
    assert records.rows_read == 5
    assert records.accepted["row"].tolist() == [2, 5, 6, 7, 8]


def refusal(read, text, settings=None) -> str:
    with pytest.raises(RecordsError, match=r"log\.csv") as caught:
        read(text, settings)
    return str(caught.value)


def test_unknown_reasons_and_types_stop_and_are_all_listed(read):
    rows = rows_of()
    rows[0]["reason"] = rows[3]["reason"] = "mat. change"
    rows[1]["reason"] = "crahs"
    rows[4]["head_type"] = "C"
    said = refusal(read, as_csv(rows)).splitlines()
    assert len(said) == 3
    assert "row 2, reason 'mat. change' (found 2 times)" in said[0]
    assert "[reasons.failures]" in said[0]
    assert "[reasons.suspensions]" in said[0]
    assert "row 3, reason 'crahs' (found once) is not in the settings (did you mean 'cr" in said[1]
    assert "row 6, head_type 'C' (found once)" in said[2]
    assert "rated_hours" in said[2]


def test_unknown_reasons_can_be_set_aside_instead(read):
    rows = rows_of()
    rows[1]["reason"] = "crahs"
    records = read(rows, unknown="set aside")
    assert records.set_aside[["row", "column", "value"]].iloc[0].tolist() == [3, "reason", "crahs"]


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("", r"log\.csv: the file is empty"),
        ("\n\n , \n", r"log\.csv: the file is empty"),
        (as_csv([]), r"log\.csv: the table has a header and no rows"),
        (
            as_csv(rows_of()).replace("hours_in", "hors_in"),
            r"column 'hours_in' \(did you mean 'hors_in'\?\) is missing; .* found are 'head', ",
        ),
        (as_csv(rows_of()).replace("material", "role"), r"column 'role' stands 2 times"),
        (as_csv(rows_of()).replace("S1", "\u00e9").encode("latin-1"), r"row .* not written in utf"),
        (as_csv(rows_of()) + '"H9,A\n' + "x\n" * 5, r"quotation mark that is opened"),
        (as_csv(rows_of()) + '"' + "x" * 40_000, r"cannot be split into cells"),
        (b"\x89PNG\r\n\x1a\n\x00\x00", r"log\.csv"),
    ],
)
def test_what_concerns_the_whole_table_stops(read, text, sentence):
    assert re.search(sentence, refusal(read, text))


def test_missing_file_and_folder(shop, tmp_path):
    with pytest.raises(RecordsError, match=r"file .*nowhere\.csv.*check its name"):
        hl.read_records(tmp_path / "nowhere.csv", shop)
    with pytest.raises(RecordsError, match="holds no Parquet or CSV file"):
        hl.read_records(tmp_path, shop)


def test_a_mapped_column_that_is_missing_is_named(read, shop_with):
    said = refusal(read, as_csv(rows_of()), shop_with('[columns]\nhead = "heat"'))
    assert "the column 'heat' (did you mean 'head'?), which the settings name for head" in said


def test_a_table_in_which_every_row_is_set_aside_stops(read):
    rows = [dict(row, date_in="soon") for row in rows_of()]
    assert "5 rows (2, 3, 4, 5, 6), date_in 'soon' is not a date" in refusal(read, as_csv(rows))


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be"])
def test_delimiters_and_encodings_change_nothing(read, delimiter, encoding):
    plain = read().accepted
    text = as_csv(rows_of(), delimiter=delimiter).encode(encoding)
    pd.testing.assert_frame_equal(read(text).accepted, plain)


def test_stated_encoding_decimal_comma_and_date_format(read, shop_with):
    plain = read().accepted
    settings = shop_with('[intake]\ndecimal = ","\ndate_format = "%d.%m.%Y"\nencoding = "cp1252"')
    rows = rows_of()
    for row in rows:
        row["site"] = "W\u00e9st"
        for name in ("hours_in", "hours_out"):
            row[name] = row[name].replace(".", ",")
        for name in ("date_in", "date_out"):
            row[name] = ".".join(reversed(row[name].split("-")))
    got = read(as_csv(rows, delimiter=";").encode("cp1252"), settings).accepted
    assert set(got["site"]) == {"W\u00e9st"}
    pd.testing.assert_frame_equal(got.drop(columns="site"), plain.drop(columns="site"))


def test_a_point_marks_thousands_where_the_comma_is_the_decimal_mark(read, shop_with):
    rows = rows_of()[2:3]
    rows[0]["hours_out"] = "1.100"
    records = read(rows, shop_with('[intake]\ndecimal = ","'))
    assert records.accepted["hours_out"].tolist() == [1100.0]


@pytest.mark.parametrize("asked", ["records", "lifetimes", "draft", "builds"])
def test_a_table_that_is_saved_while_it_is_read_is_refused(tmp_path, monkeypatch, asked):
    """Its rows would be of two states. Records were refused; a draft and ratings came of both."""
    demo = {"records": "removals", "draft": "removals"}.get(asked, asked)
    log = tmp_path / "log.csv"
    text = (DEMO / f"{demo}.csv").read_text(encoding="utf-8")
    shop = hl.read_shop(DEMO / "shop.toml")
    reading = {
        "records": lambda: hl.read_records(log, shop).rows_read,
        "lifetimes": lambda: len(hl.read_lifetimes(log)),
        "draft": lambda: hl.draft_settings(log),
        "builds": lambda: len(hl.read_builds(log).builds),
    }[asked]
    log.write_text(text, encoding="utf-8")
    as_it_was = reading()
    real = intake._csv_rows

    def saved_meanwhile(path, *more):
        yield from real(path, *more)
        log.write_text(text + text.splitlines()[-1] + "\n", encoding="utf-8")

    monkeypatch.setattr(intake, "_csv_rows", saved_meanwhile)
    with pytest.raises(RecordsError, match="was saved by a program while it was read; run this"):
        reading()
    monkeypatch.undo()
    log.write_text(text, encoding="utf-8")
    assert reading() == as_it_was


def test_tables_of_one_name_in_two_folders_are_one_log(tmp_path):
    """Each run said that one of them was saved while it was read."""
    text = (DEMO / "removals.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    (tmp_path / "2023").mkdir()
    (tmp_path / "2023" / "log.csv").write_text("".join(text[:120]), encoding="utf-8")
    (tmp_path / "log.csv").write_text("".join(text[:1] + text[120:]), encoding="utf-8")
    stated = (DEMO / "shop.toml").read_text(encoding="utf-8")
    (tmp_path / "shop.toml").write_text(
        stated + '\n[intake]\nmore_files = ["2023/log.csv"]\n', encoding="utf-8"
    )
    records = hl.read_records(tmp_path / "log.csv", hl.read_shop(tmp_path / "shop.toml"))
    assert records.rows_read == len(text) - 1 == 241


def test_a_doubt_about_hours_names_no_row_that_is_set_aside(read):
    """A head goes on where one was that went in again after it had failed, which is not used."""
    lines = [
        "H1 A model P1 left 2025-01-01 0 2025-02-01 100 worn_out - - - -",
        "H1 A model P2 left 2025-02-01 100 2025-03-01 150 swap - - - -",
        "H2 A model P2 left 2025-03-01 155 2025-04-01 200 - - - - -",
        "H3 A model P4 left 2025-01-01 0 2025-02-01 300 swap - - - -",
        "H4 A model P4 left 2025-02-01 0 2025-04-01 300 - - - - -",
    ]
    goes_on = "counter goes on from another head"
    found = read(rows_of(lines), unknown="set aside")
    assert found.set_aside["row"].tolist() == [3]
    assert goes_on not in found.findings["check"].tolist()
    lines[0] = lines[0].replace("worn_out", "material_change")
    found = read(rows_of(lines), unknown="set aside")
    assert found.set_aside.empty
    assert goes_on in found.findings["check"].tolist()
