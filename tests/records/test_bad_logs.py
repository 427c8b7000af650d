"""Logs that cannot be true as they stand: named with sheet, row and cell, and nothing lost."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import pytest
from tests.records.fleets import fleet
from tests.records.messy_logs import (
    CORE,
    Log,
    a_sheet_a_printer,
    as_book,
    as_csv,
    days_and_readings,
    events_by_counter,
    events_by_meter,
    orders_by_meter,
    plain,
    score,
    table,
    two_years,
)

import headlife as hl
from headlife import cli
from headlife.errors import RecordsError


def read(log: Log, folder, unknown="set aside"):
    path, settings = log.write(folder)
    return hl.read_records(path, hl.read_shop(settings), unknown=unknown)


def sentences(records) -> str:
    return "\n".join(records.sentences())


def whole(records) -> bool:
    """Nothing is lost: every row is used, set aside or no record."""
    named = len(records.set_aside) + len(records.no_records)
    return records.rows_used == records.rows_read - named and records.set_aside["row"].is_unique


def changed(log: Log, change, delimiter=",") -> Log:
    """Change the rows of a log's first file."""
    name = next(iter(log.files))
    text = log.files[name].decode()
    rows = list(csv.reader(io.StringIO(text), delimiter=delimiter))
    return replace(log, files=log.files | {name: as_csv(change(rows), delimiter)})


def stretches_by_meter(seed: int) -> Log:
    made = fleet(seed)
    names = (*CORE, "printer_hours_in", "date_out", "printer_hours_out", "reason")
    return Log("by meter", {"log.csv": as_csv(table(plain(made), names))}, "", made)


def test_a_meter_that_runs_backwards_without_a_stated_replacement(tmp_path):
    log = replace(two_years(1), settings='[intake]\nmore_files = ["log_2023.csv"]\n')
    records = read(log, tmp_path)
    said = sentences(records)
    assert "meter of printer 'Lynx' runs backwards from" in said
    assert "state it: meter_changes" in said
    assert "row " in said and "of log_2023.csv" in said
    assert whole(records)
    found, _ = score(log, tmp_path)
    assert not found.wrong  # lives across the break are flagged, all others are right
    with pytest.raises(RecordsError, match="runs backwards"):
        hl.read_case(*log.write(tmp_path))


def test_a_file_whose_accent_the_disk_writes_in_another_way_is_the_one_that_is_named(tmp_path):
    """Unpacked from a Mac: a and a mark in the name, one sign in the settings."""
    log = two_years(1)
    files = {"log_2024.csv": log.files["log_2024.csv"]}
    files["ma\u0308rz.csv"] = log.files["log_2023.csv"]
    settings = log.settings.replace("log_2023.csv", "m\u00e4rz.csv")
    found = read(replace(log, files=files, settings=settings), tmp_path)
    assert found.rows_used == read(log, tmp_path).rows_used > 0


def test_one_wrong_reading_sets_aside_the_two_stays_that_it_ends_and_begins(tmp_path):
    log = stretches_by_meter(2)
    old = next(
        one for one in log.truth.stints if one.reason and one.day_in > log.truth.stints[9].day_in
    )
    row = log.truth.stints.index(old) + 2

    def slip(rows):
        rows[row - 1][8] = f"{old.meter_out + 3000:.1f}"
        return rows

    records = read(changed(log, slip), tmp_path)
    assert row in records.set_aside["row"].tolist()
    assert f"does not fit the meter of printer '{old.printer}'" in sentences(records)
    assert len(records.set_aside) <= 3
    found, _ = score(changed(log, slip), tmp_path)
    assert not found.wrong


def test_two_printers_with_one_name_by_their_meters(tmp_path):
    def rename(rows):
        return [[("Otter" if cell == "Heron" else cell) for cell in row] for row in rows]

    records = read(changed(stretches_by_meter(1), rename), tmp_path)
    assert "two printers with one name" in sentences(records)
    assert set(records.accepted["printer"]) == {"Lynx"}
    assert whole(records)
    # Where the meter stands in the columns of hours, those are named, with what stands there.
    log = stretches_by_meter(1)
    plainly = log.files["log.csv"].replace(b"printer_hours", b"hours")
    log = replace(log, files={"log.csv": plainly}, settings='[intake]\nhours = "printer"\n')
    found = read(changed(log, rename), tmp_path).set_aside
    assert set(found["column"]) <= {"hours_in", "hours_out"}
    assert found["value"].str.len().gt(0).all()


def test_removed_before_it_was_installed(tmp_path):
    """A head's two events with their days exchanged."""
    log = events_by_meter(1)
    head = next(one.head for one in log.truth.stints if one.reason == "worn out")

    def exchange(rows):
        own = [row for row in rows if row[2] == head]
        own[0][0], own[-1][0] = own[-1][0], own[0][0]
        return rows

    records = read(changed(log, exchange, ";"), tmp_path)
    assert f"'{head}'" in sentences(records)
    assert "comes out before row" in sentences(records) or "already in" in sentences(records)
    assert head not in set(hl.lives(records)["head"])
    assert whole(records)


def test_an_event_that_nobody_knows_a_head_for(tmp_path):
    def blank(rows):
        rows[-3][2] = rows[1][2] = ""
        return rows

    records = read(changed(events_by_counter(1), blank), tmp_path)
    assert "write the serial of the head" in sentences(records)
    assert "None" not in set(hl.lives(records)["head"])
    assert whole(records)


def test_a_head_in_two_places(tmp_path):
    """By the printers' meters its hours would count twice."""
    log = stretches_by_meter(3)
    first = log.truth.stints[0]

    def again(rows):
        other = next(
            row for row in rows[1:] if row[3] != first.printer and row[5] > str(first.day_in)
        )
        other[0], other[1] = first.head, first.head_type
        other[5] = str(first.day_in)
        return rows

    records = read(changed(log, again), tmp_path)
    assert "is in two places: row 2 has it in printer" in sentences(records) or (
        first.head in set(records.set_aside["head"])
    )
    assert whole(records)


def test_a_head_put_in_while_it_is_in_another_printer(tmp_path):
    log = events_by_meter(1)
    first = log.truth.stints[0]

    def again(rows):
        out = [i for i, row in enumerate(rows) if row[2] == first.head and row[1] == "taken out"]
        del rows[out[0]]
        rows.insert(out[0], [*rows[1]])
        rows[out[0]][4] = "Lynx"
        rows[out[0]][0] = str(first.day_out)
        return rows

    records = read(changed(log, again, ";"), tmp_path)
    assert f"'{first.head}' is already in" in sentences(records)
    assert "write that removal" in sentences(records)
    assert whole(records)


def test_a_sheet_in_another_layout_than_its_neighbours(tmp_path):
    log = a_sheet_a_printer(1)
    names = ("head", "head_type", "position", "date_in", "hours_in", "date_out", "hours_out", "why")
    rows = [row for row in plain(log.truth) if row["printer"] == "Lynx"]
    good = table(rows, (*names[:-1], "reason"))
    bad = [names, *good[1:]]
    settings = log.settings.replace('["Otter", "Lynx", "Heron"]', '["Otter", "Lynx"]')
    for other, match in (
        (bad, "log.xlsx, sheet 'Lynx': the column 'reason'.* is missing"),
        ([("a", "b"), (1, 2)], "log.xlsx, sheet 'Lynx': no row of it names the log's columns"),
    ):
        data = as_book({"Otter": good, "Lynx": other})
        with pytest.raises(RecordsError, match=match):
            read(replace(log, files={"log.xlsx": data}, settings=settings), tmp_path)


def test_rows_of_several_sheets_are_named_by_sheet_and_cell(tmp_path):
    log = a_sheet_a_printer(1)
    names = ("head", "head_type", "position", "date_in", "hours_in", "date_out", "hours_out")
    rows = [row for row in plain(log.truth) if row["printer"] == "Lynx"]
    rows[4]["hours_out"] = "soon"
    sheets = {"Otter": table(rows[:2], (*names, "reason")), "Lynx": table(rows, (*names, "reason"))}
    settings = log.settings.replace('["Otter", "Lynx", "Heron"]', '["Otter", "Lynx"]')
    log = replace(log, files={"log.xlsx": as_book(sheets)}, settings=settings)
    records = read(log, tmp_path)
    number = int(records.set_aside["row"][records.set_aside["value"] == "soon"].iloc[0])
    assert records.origins.name(number) == "6 of sheet 'Lynx'"
    cell = records.origins.cell(number, "hours_out")
    assert (cell.file, cell.sheet, cell.row, cell.column) == ("log.xlsx", "Lynx", 6, "G")
    assert "log.xlsx, row 6 of sheet 'Lynx', hours_out 'soon'" in sentences(records)


MISTAKES = {
    "no such sheet": ('sheets = ["Otter"]', 'sheets = ["Ottar"]', "no sheet 'Ottar'.*did you mean"),
    "another shape": ('sheet_is = "printer"', 'shape = "sheets"', "cannot be used; write"),
    "an unknown column": ("as_of =", 'fill_down = ["prinetr"]\nas_of =', "did you mean 'printer'"),
    "a cell that holds no day": ("as_of = 2024-03-03", 'as_of = "A1"', "cell A1.*not a date"),
    "a blank cell": ("as_of = 2024-03-03", 'as_of = "Z99"', "the cell is blank"),
    "no cell at all": ("as_of = 2024-03-03", 'as_of = "today"', "neither a cell nor"),
}


@pytest.mark.parametrize(("old", "new", "match"), MISTAKES.values(), ids=MISTAKES)
def test_mistakes_in_the_settings_are_named(old, new, match, tmp_path, capsys):
    log = a_sheet_a_printer(1)
    settings = log.settings.replace('["Otter", "Lynx", "Heron"]', '["Otter"]')
    assert old in settings
    path, shop = replace(log, settings=settings.replace(old, new)).write(tmp_path)
    assert cli.main(["check", str(path), "--shop", str(shop), "--no-files"]) == 2
    said = " ".join(capsys.readouterr().err.split())
    import re

    assert re.search(match, said), said


def test_mistakes_about_readings_are_named(tmp_path):
    log = days_and_readings(1)
    for old, new, match in (
        ('sheet = "Meters", ', 'sheet = "Meter", ', "no sheet 'Meter'"),
        ('date = "Date"', 'date = "Day"', "the column 'Day' is missing"),
        ('date = "Date"', 'date = "Date", printer = "Otter"', "'printer_hours' is missing"),
        ("readings = {", 'readings = { file = "gone.csv", ', "does not exist"),
    ):
        with pytest.raises(RecordsError, match=match):
            read(replace(log, settings=log.settings.replace(old, new)), tmp_path)


def test_a_removal_without_a_reason_is_not_a_head_in_service(tmp_path):
    def forget(rows):
        taken = next(row for row in rows if row[1] == "taken out")
        taken[-1] = ""
        return rows

    records = read(changed(events_by_counter(1), forget), tmp_path)
    assert "is blank; write why the head came out" in sentences(records)
    assert whole(records)


def test_an_event_nobody_explained_is_asked(tmp_path):
    def other(rows):
        rows[3][1] = "greased"
        return rows

    log = changed(events_by_counter(1), other)
    with pytest.raises(RecordsError, match=r"event 'greased'.*under \[intake.events\]"):
        read(log, tmp_path, unknown="stop")
    records = read(log, tmp_path)
    assert "event 'greased'" in sentences(records)
    assert whole(records)


def test_orders_are_chosen_by_words_that_stand_there(tmp_path):
    log = orders_by_meter(1)
    wrong = replace(log, settings=log.settings.replace('"Work" =', '"Job" ='))
    with pytest.raises(RecordsError, match="no column 'Job', by which .intake. only chooses rows"):
        read(wrong, tmp_path)
    records = read(log, tmp_path)
    assert set(records.no_records["why"].str.split(",").str[0]) <= {
        f"Work is '{what}'" for what in ("Grease rails", "Replace belt", "Clean chamber")
    }
