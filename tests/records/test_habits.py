"""Habits of the pen in logs of the usual shapes: drafted and read as they are meant, or asked."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from openpyxl import Workbook
from openpyxl.styles import Font

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.draft import draft_with_steps

DEMO = Path(__file__).parents[2] / "data_demo"
LOG = pd.read_csv(DEMO / "removals.csv", dtype=str, keep_default_na=False)
STAY = ["printer", "position", "date_in", "hours_in", "date_out", "hours_out", "reason"]
ANSWERS = (
    ("# rated_hours = 1000", "rated_hours = 1200"),
    ("# lead_time_weeks = 6", "lead_time_weeks = 6"),
    ('# "left" = "model"', '"left" = "model"'),
    ('# "right" = "model"', '"right" = "support"'),
)


def written(folder, rows, name="log.csv"):
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    (folder / name).write_text(text.getvalue())
    return folder / name


def drafted(path, folder):
    """Fill in what a draft asks for, and read the log by it."""
    draft, steps = draft_with_steps(path)
    for asked, answer in ANSWERS:
        draft = draft.replace(asked, answer)
    (folder / "shop.toml").write_text(draft)
    return hl.read_records(path, hl.read_shop(folder / "shop.toml")), draft, steps


def lives_of(records):
    told = ["head", "head_type", "role", "entry_hours", "exit_hours", "in_service", "mode"]
    lives = hl.lives(records)[told].sort_values("head", ignore_index=True)
    return lives.astype(object).where(lives.notna(), None)


@pytest.fixture(scope="module")
def truth(tmp_path_factory):
    folder = tmp_path_factory.mktemp("truth")
    path = written(folder, [list(LOG.columns), *LOG.to_numpy().tolist()])
    return lives_of(drafted(path, folder)[0])


def by_place():
    order = ["printer", "position", "head_type", "role", "head", *STAY[2:]]
    return [
        order,
        *LOG.sort_values(["printer", "position", "date_in"], kind="stable")[order].to_numpy(),
    ]


def test_what_is_written_once_for_the_rows_below(tmp_path, truth):
    rows = [list(row) for row in by_place()]
    short = [rows[0], rows[1]]
    for above, row in zip(rows[1:], rows[2:], strict=False):
        short.append(["" if i < 4 and cell == above[i] else cell for i, cell in enumerate(row)])
    records, draft, _ = drafted(written(tmp_path, short), tmp_path)
    pd.testing.assert_frame_equal(lives_of(records), truth)
    assert "fill_down" in draft


def test_a_row_a_head_with_its_stays_side_by_side(tmp_path, truth):
    most = LOG.groupby("head").size().max()
    rows = [["head", "head_type", "role", *(f"{n} {k}" for k in range(1, most + 1) for n in STAY)]]
    for head, own in LOG.groupby("head"):
        cells = [head, own["head_type"].iloc[0], own["role"].iloc[0], *own[STAY].to_numpy().ravel()]
        rows.append(cells + [""] * (len(rows[0]) - len(cells)))
    records, draft, _ = drafted(written(tmp_path, rows), tmp_path)
    assert "each row is a head, with a group of columns for each of its stays" in draft
    pd.testing.assert_frame_equal(lives_of(records), truth)


def orders(names):
    """A row a change: the old head, the new one, and the hours of the old one."""
    rows = []
    for (printer, position), own in LOG.groupby(["printer", "position"]):
        before = None
        for one in own.sort_values("date_in", kind="stable").itertuples():
            gone = before is not None and before.date_out < one.date_in
            if gone:
                rows.append([before.date_out, printer, position, before.head, "", before])
            out = before.head if before is not None and not gone else ""
            rows.append([one.date_in, printer, position, out, one.head, before if out else None])
            before = one
    rows.sort(key=lambda row: row[0])
    return [
        names,
        *(
            [*row[:5], row[5].hours_out, row[5].reason] if row[5] else [*row[:5], "", ""]
            for row in rows
        ),
    ]


@pytest.mark.parametrize(
    "names",
    [
        ["Date", "Printer", "Side", "Old S/N", "New S/N", "Hours old head", "Reason"],
        ["Date", "Printer", "Side", "Removed", "Installed", "Counter removed", "Why removed"],
    ],
)
def test_the_hours_of_the_head_that_came_out_are_read(tmp_path, names):
    path = written(tmp_path, orders(names))
    records, draft, steps = drafted(path, tmp_path)
    assert 'shape = "orders"' in draft
    assert not any("print hours a week" in step for step in steps)
    lives = hl.lives(records)
    out = lives[~lives["in_service"]].set_index("head")["exit_hours"]
    true = LOG.assign(hours=LOG["hours_out"].astype(float)).groupby("head")["hours"].max()
    assert len(out) > 40
    np.testing.assert_allclose(out, true.reindex(out.index))


def test_a_serial_with_a_label_is_told_and_not_taken_for_another_head_in_silence(tmp_path):
    rows = LOG.assign(head=[f"{h} (new)" if i < 20 else h for i, h in enumerate(LOG["head"])])
    records, _, _ = drafted(written(tmp_path, [list(rows), *rows.to_numpy().tolist()]), tmp_path)
    found = records.findings
    spelt = found.loc[found["check"] == "two spellings", "sentence"]
    assert spelt.str.contains(r"'S005 \(new\)' and 'S005'").any()
    assert spelt.str.contains("words in brackets").all()


def test_serials_that_differ_in_brackets_by_a_number_are_two(tmp_path):
    rows = LOG.assign(head=[f"{h} (1)" if i < 20 else h for i, h in enumerate(LOG["head"])])
    records, _, _ = drafted(written(tmp_path, [list(rows), *rows.to_numpy().tolist()]), tmp_path)
    assert not (records.findings["check"] == "two spellings").any()


def test_page_numbers_below_the_last_row_are_no_record(tmp_path, truth):
    rows = [list(LOG.columns), *LOG.to_numpy().tolist(), ["Page 7"]]
    records, _, _ = drafted(written(tmp_path, rows), tmp_path)
    assert records.set_aside.empty
    assert len(records.no_records) == 1
    pd.testing.assert_frame_equal(lives_of(records), truth)


def test_a_head_begun_below_the_last_row_is_a_record(tmp_path):
    rows = [list(LOG.columns), *LOG.to_numpy().tolist(), ["S099"]]
    path = written(tmp_path, rows)
    records = hl.read_records(path, hl.read_shop(DEMO / "shop.toml"), unknown="set aside")
    assert len(records.set_aside) == 1


METERS = [["day", *dict.fromkeys(LOG["printer"])]]
METERS += [
    [
        f"{year}-{month:02d}-01",
        *(f"{1000 + 480 * (year - 2023) + 40 * month}" for _ in METERS[0][1:]),
    ]
    for year in (2023, 2024, 2025, 2026)
    for month in range(1, 13)
]


def test_readings_in_a_file_beside_the_log_are_found(tmp_path):
    days = LOG.drop(columns=["hours_in", "hours_out", "last_good_hours"])
    path = written(tmp_path, [list(days), *days.to_numpy().tolist()])
    written(tmp_path, METERS, "readings.csv")
    draft, steps = draft_with_steps(path)
    assert 'readings = { file = "readings.csv", date = "day" }' in draft
    assert not any("print hours a week" in step for step in steps)


def test_types_that_only_a_list_of_heads_tells_are_asked_for(tmp_path):
    book = Workbook()
    book.active.title = "removals"
    log = LOG.drop(columns="head_type")
    for row in [list(log), *log.to_numpy().tolist()]:
        book.active.append(row)
    heads = book.create_sheet("heads")
    for row in [["serial", "type"], *LOG[["head", "head_type"]].drop_duplicates().to_numpy()]:
        heads.append(list(row))
    book.save(tmp_path / "log.xlsx")
    _, steps = draft_with_steps(tmp_path / "log.xlsx")
    assert any('sheet "heads" tells it in "type"' in step for step in steps)


def test_a_counter_in_days_is_named_before_hours_a_week_are_asked(tmp_path):
    log = LOG.rename(columns={"hours_in": "days in", "hours_out": "days out"})
    for name in ("days in", "days out"):
        log[name] = (log[name].astype(float) / 24).round(2).astype(str)
    log = log.drop(columns="last_good_hours")
    _, steps = draft_with_steps(written(tmp_path, [list(log), *log.to_numpy().tolist()]))
    asked = [i for i, step in enumerate(steps) if "seems to count days and is not read" in step]
    weekly = [i for i, step in enumerate(steps) if "print hours a week" in step]
    assert len(asked) == 2
    assert max(asked) < weekly[0]


def test_a_column_of_months_is_found_and_told_for_what_it_is(tmp_path):
    log = LOG.assign(date_in=[f"{day[5:7]}/{day[:4]}" for day in LOG["date_in"]])
    _, steps = draft_with_steps(written(tmp_path, [list(log), *log.to_numpy().tolist()]))
    assert not any("which column" in step for step in steps)
    assert any("names a month or a quarter and no day" in step for step in steps)


def test_rows_that_are_struck_through_are_told(tmp_path):
    book = Workbook()
    for row in [list(LOG), *LOG.to_numpy().tolist()]:
        book.active.append([cell or None for cell in row])
    for number in (4, 9):
        for cell in book.active[number]:
            cell.font = Font(strike=True)
    book.active["A6"].font = Font(strike=True)
    book.active.title = "Log"
    book.save(tmp_path / "log.xlsx")
    records = hl.read_records(tmp_path / "log.xlsx", hl.read_shop(DEMO / "shop.toml"))
    told = [note for note in records.notes if "struck through" in note]
    assert len(told) == 1
    assert told[0].startswith("Rows 4, 9 of sheet 'Log' of log.xlsx are struck through and read")
    assert len(records.accepted) == len(LOG)


def test_a_log_of_removals_alone_is_told_what_to_add(tmp_path):
    log = LOG[LOG["reason"] != ""].drop(columns=["date_in", "hours_in", "last_good_hours"])
    path = written(tmp_path, [list(log), *log.to_numpy().tolist()])
    _, steps = draft_with_steps(path)
    assert steps[0].startswith("which column is date_in (where none tells it: the day the head")
    with pytest.raises(RecordsError, match=r"'date_in' is missing.*add that day, and a row for"):
        hl.read_records(path, hl.read_shop(DEMO / "shop.toml"))
