"""Wide logs, a column a place and a row a day: read as the stretches that were written down."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

import pandas as pd
import pytest
from openpyxl import Workbook

import headlife as hl
from headlife.cli import main
from headlife.errors import RecordsError
from headlife.records.draft import draft_with_steps

DEMO = Path(__file__).parents[2] / "data_demo"
SHOP = """
name = "Shop"
[intake]
{intake}
[positions]
left = "model"
right = "support"
[reasons.failures]
"worn" = "wear"
[reasons.suspensions]
"moved, seen again later" = "moved"
[reasons.may_have_failed]
"not seen again" = "wear"
[head_types."A"]
rated_hours = 500
[spares]
lead_time_weeks = 6
"""
SERIALS = [
    ["week", "P1 left", "P1 right", "P2 left"],
    ["2025-01-06", "H1", "H2", "H3"],
    ["2025-01-13", "H1", "H2", "H3"],
    ["2025-01-20", "H4", "H2", ""],
    ["2025-01-27", "H4", "H2", "H1"],
]
STRETCHES = [
    ("H1", "P1", "left", "2025-01-06", "2025-01-20", "moved, seen again later"),
    ("H1", "P2", "left", "2025-01-27", "2025-01-27", None),
    ("H2", "P1", "right", "2025-01-06", "2025-01-27", None),
    ("H3", "P2", "left", "2025-01-06", "2025-01-20", "not seen again"),
    ("H4", "P1", "left", "2025-01-20", "2025-01-27", None),
]


def text_of(rows):
    text = io.StringIO()
    csv.writer(text, lineterminator="\n").writerows(rows)
    return text.getvalue()


def read(tmp_path, rows, intake='wide = "serials"\nweekly_hours = 30', name="log.csv"):
    (tmp_path / name).write_text(text_of(rows))
    (tmp_path / "shop.toml").write_text(SHOP.format(intake=intake))
    return hl.read_records(tmp_path / name, hl.read_shop(tmp_path / "shop.toml"))


def stretches(records):
    rows = records.accepted.astype(object).where(records.accepted.notna(), None)
    told = [
        (r.head, r.printer, r.position, f"{r.date_in:%Y-%m-%d}", f"{r.date_out:%Y-%m-%d}", r.reason)
        for r in rows.itertuples()
    ]
    return sorted(told)


def turned(rows):
    return [list(column) for column in zip(*rows, strict=True)]


def once(rows):
    """Write a serial only where it changes, a dash where no head is."""
    made = [rows[0], rows[1]]
    for above, row in zip(rows[1:], rows[2:], strict=False):
        cells = [
            "" if cell == over and cell else cell for cell, over in zip(row, above, strict=True)
        ]
        made.append([row[0], *cells[1:]])
    return made


@pytest.mark.parametrize(
    "rows",
    [
        SERIALS,
        [SERIALS[0], *SERIALS[:0:-1]],
        turned(SERIALS),
        [["Where heads sit"], [], *SERIALS],
        [SERIALS[0], *SERIALS[1:3], ["second half"], *SERIALS[3:]],
    ],
    ids=["as it is", "newest first", "days side by side", "title", "heading"],
)
def test_serials_are_read_as_stretches(tmp_path, rows):
    records = read(tmp_path, rows)
    assert stretches(records) == STRETCHES
    assert records.set_aside.empty


def test_printers_over_their_positions_in_two_rows(tmp_path):
    book = Workbook()
    book.active.append(["week", "P1", None, "P2"])
    book.active.append([None, "left", "right", "left"])
    for row in SERIALS[1:]:
        book.active.append([cell or None for cell in row])
    book.active.merge_cells("B1:C1")
    book.save(tmp_path / "log.xlsx")
    (tmp_path / "shop.toml").write_text(SHOP.format(intake='wide = "serials"\nweekly_hours = 30'))
    shop = hl.read_shop(tmp_path / "shop.toml")
    assert stretches(hl.read_records(tmp_path / "log.xlsx", shop)) == STRETCHES


def test_blank_cells_repeat_the_serial_above_where_that_is_stated(tmp_path):
    rows = [SERIALS[0], *([["2025-01-06", "2025-01-13", "2025-01-20"][i]] for i in range(3))]
    rows[1] += ["H1", "H2", "H3"]
    rows[2] += ["", "", ""]
    rows[3] += ["H4", "", ""]
    intake = 'wide = "serials"\nfill_down = ["head"]\nweekly_hours = 30'
    found = stretches(read(tmp_path, rows, intake))
    assert [(one[0], one[3], one[4]) for one in found] == [
        ("H1", "2025-01-06", "2025-01-20"),
        ("H2", "2025-01-06", "2025-01-20"),
        ("H3", "2025-01-06", "2025-01-20"),
        ("H4", "2025-01-20", "2025-01-20"),
    ]


def test_a_reading_behind_the_serial_is_the_heads_counter(tmp_path):
    rows = [
        ["week", "P1 left", "P2 left"],
        ["2025-01-06", "H1 / 0 h", "H2 (10,5)"],
        ["2025-01-13", "H1 / 31 h", "H2 (40,5)"],
        ["2025-01-20", "H2 / 66 h", "H1 / 50 h"],
        ["2025-01-27", "H2 / 90 h", "H1 / 71 h"],
    ]
    found = read(tmp_path, rows, 'wide = "serials"').accepted.sort_values(["head", "date_in"])
    # The counter stands still while a head is out: what it shows next it ran before.
    assert found[["hours_in", "hours_out"]].to_numpy().tolist() == [
        [0.0, 50.0],
        [50.0, 71.0],
        [10.5, 66.0],
        [66.0, 90.0],
    ]


def test_a_counter_that_falls_or_leaps_is_another_heads(tmp_path):
    rows = [
        ["day", "P1 left", "P2 left"],
        *([f"2025-01-{6 + i:02d}", left, right] for i, (left, right) in enumerate(COUNTERS)),
    ]
    intake = 'wide = "hours"\nwithout_serials = true\nhours = "head"'
    found = read(tmp_path, rows, intake).accepted.sort_values(["printer", "date_in"])
    assert found[["printer", "hours_in", "hours_out"]].to_numpy().tolist() == [
        ["P1", 100.0, 110.0],
        ["P1", 2.0, 8.0],
        ["P2", 20.0, 30.0],
        ["P2", 430.0, 431.0],
    ]


COUNTERS = [(100, 20), (110, 30), (2, 430), (8, 431)]


def test_reasons_are_changes(tmp_path):
    rows = [
        ["day", "P1 left", "P1 right"],
        ["2025-01-06", "worn", "worn"],
        ["2025-02-03", "worn", ""],
        ["2025-03-03", "", "worn"],
    ]
    intake = 'wide = "reasons"\nshape = "orders"\nwithout_serials = true\nweekly_hours = 30'
    found = read(tmp_path, rows, intake + '\nas_of = "last reading"').accepted
    out = found[found["reason"].notna()]
    assert [
        (r.position, f"{r.date_in:%m-%d}", f"{r.date_out:%m-%d}") for r in out.itertuples()
    ] == [
        ("left", "01-06", "02-03"),
        ("right", "01-06", "03-03"),
    ]


@pytest.mark.parametrize(
    ("row", "told"),
    [
        (
            ["2025-02-03", "H4", "gone home", ""],
            r"row 6, column C \('P1 right'\): 'gone home' is not",
        ),
        (["?", "H4", "H2", ""], r"row 6: it has no day \('\?'\)"),
    ],
)
def test_what_cannot_be_placed_is_refused_with_its_cell(tmp_path, row, told):
    with pytest.raises(RecordsError, match=told):
        read(tmp_path, [*SERIALS, row])


def test_wide_of_a_table_that_is_not(tmp_path):
    with pytest.raises(RecordsError, match="no column and no row of days"):
        read(tmp_path, [["head", "printer"], ["H1", "P1"]])


def test_a_month_without_a_day_says_so(tmp_path):
    rows = [[row[0] if i == 0 else f"{i:02d}/2025", *row[1:]] for i, row in enumerate(SERIALS)]
    with pytest.raises(RecordsError, match=r"'01/2025' names a month or a quarter and no day"):
        read(tmp_path, rows).raise_if_set_aside()


def demo_by_week(cell):
    """The demo's records as a row a week with a column a place."""
    log = pd.read_csv(DEMO / "removals.csv", parse_dates=["date_in", "date_out"])
    places = sorted(log.groupby(["printer", "position"]).groups)
    last = log["date_out"].max()
    rows = [["week", *(f"{printer} {position}" for printer, position in places)]]
    for day in [*pd.date_range(log["date_in"].min(), last, freq="7D"), last]:
        there = log[(log["date_in"] <= day) & ((log["date_out"] > day) | log["reason"].isna())]
        sits = {(one.printer, one.position): cell(one, day) for one in there.itertuples()}
        rows.append([f"{day:%Y-%m-%d}", *(sits.get(place, "") for place in places)])
    return log, rows


def hours(one, day):
    """Give a head's counter on a day of its stay."""
    share = (day - one.date_in) / max(one.date_out - one.date_in, pd.Timedelta(days=1))
    return round(one.hours_in + share * (one.hours_out - one.hours_in), 1)


def finished(draft):
    """Fill in what the draft asks for, and nothing else."""
    for asked, answer in (
        ("# rated_hours = 1000", "rated_hours = 1200"),
        ("# lead_time_weeks = 6", "lead_time_weeks = 6"),
        ("# weekly_hours = 40  # TO DO", "weekly_hours = 20  # TO DO"),
        ('# "left" = "model"', '"left" = "model"'),
        ('# "right" = "model"', '"right" = "support"'),
    ):
        draft = draft.replace(asked, answer)
    draft = re.sub(r'# "not seen again" = "\.\.\.".*', "", draft)
    return draft.replace(
        "[reasons.may_have_failed]", '[reasons.may_have_failed]\n"not seen again" = "wear"\n#', 1
    )


def test_the_demo_kept_by_the_week_goes_the_users_way(tmp_path, capsys):
    log, rows = demo_by_week(lambda one, day: one.head)
    (tmp_path / "log.csv").write_text(text_of(rows))
    draft, steps = draft_with_steps(tmp_path / "log.csv")
    assert 'wide = "serials"  # TO DO' in draft
    assert any("does not say why heads came out" in step for step in steps)
    (tmp_path / "shop.toml").write_text(finished(draft))
    told = [str(tmp_path / "log.csv"), "--shop", str(tmp_path / "shop.toml")]
    assert main(["check", *told]) == 0
    assert "75 heads" in capsys.readouterr().out
    shop = hl.read_shop(tmp_path / "shop.toml")
    records = hl.read_records(tmp_path / "log.csv", shop)
    assert records.set_aside.empty
    lives = hl.lives(records)
    in_service = set(log.loc[log["reason"].isna(), "head"])
    assert set(lives["head"]) == set(log["head"])
    assert {life.head for life in lives.itertuples() if life.in_service} == in_service


def test_the_demo_with_counters_has_its_hours(tmp_path):
    log, rows = demo_by_week(
        lambda one, day: (
            f"{one.head} / {one.hours_out if day == one.date_out else hours(one, day)} h"
        )
    )
    (tmp_path / "log.csv").write_text(text_of(rows))
    draft, _ = draft_with_steps(tmp_path / "log.csv")
    (tmp_path / "shop.toml").write_text(finished(draft))
    lives = hl.lives(hl.read_records(tmp_path / "log.csv", hl.read_shop(tmp_path / "shop.toml")))
    true = log.groupby("head")["hours_out"].max()
    found = lives.set_index("head")
    short = true.reindex(found.index) - found["exit_hours"]
    # What a head ran between the last look and its end nobody wrote down.
    assert short.min() > -0.11
    assert short.max() < 60
    assert short[found["in_service"]].abs().max() < 0.11


def test_a_remark_of_the_day_goes_with_the_head_that_came_out_then(tmp_path):
    told = ["note", "", "all fine", "H3 clogged", ""]
    rows = [[*row, remark] for row, remark in zip(SERIALS, told, strict=True)]
    found = read(tmp_path, rows).accepted
    assert found.set_index(["head", "printer"])["note"].dropna().to_dict() == {
        ("H1", "P1"): "H3 clogged",
        ("H3", "P2"): "H3 clogged",
        ("H4", "P1"): "H3 clogged",
    }


def test_words_in_the_cells_are_proposed_as_blank(tmp_path):
    rows = [[cell or "leer" for cell in row] for row in SERIALS]
    (tmp_path / "log.csv").write_text(text_of(rows))
    draft, _ = draft_with_steps(tmp_path / "log.csv")
    assert 'blank = ["leer"]  # TO DO: do they mean that no head was there?' in draft
    intake = 'wide = "serials"\nweekly_hours = 30\nblank = ["leer"]'
    assert stretches(read(tmp_path, rows, intake)) == STRETCHES


def test_hours_of_printers_by_the_week_are_no_log_of_heads(tmp_path):
    hours = [[20.5, 31.0], [25.0, 12.5], [11.0, 30.5], [31.5, 8.0]]
    rows = [["week", "P1", "P2"], *([f"2025-01-{6 + 7 * i:02d}", *h] for i, h in enumerate(hours))]
    rows = [[str(cell) for cell in row] for row in rows[:4]]
    (tmp_path / "log.csv").write_text(text_of(rows))
    with pytest.raises(RecordsError, match=r"says nothing of heads.*\[intake\] readings"):
        draft_with_steps(tmp_path / "log.csv")
