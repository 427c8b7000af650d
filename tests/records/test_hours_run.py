"""Logs that tell hours at removal, or hours of each stay, and none at installation."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest

import headlife as hl
from headlife.records.draft import draft_settings

DEMO = Path(__file__).parents[2] / "data_demo"
SHOP = """
name = "Shop"
[reasons.failures]
"worn" = "wear"
[reasons.suspensions]
"material" = "material change"
[head_types."A"]
rated_hours = 500
on_hand = 1
[spares]
lead_time_weeks = 6
"""
HEADER = "head,head_type,role,printer,position,date_in,date_out,reason"
# H1 runs 120 h, is set aside for a change of material, runs 200 h more elsewhere and fails.
STAYS = {
    "H1,A,model,P1,left,2025-01-01,2025-02-01,material": (0.0, 120.0),
    "H2,A,model,P1,left,2025-02-01,2025-06-01,worn": (0.0, 410.5),
    "H1,A,model,P2,left,2025-03-01,2025-05-01,worn": (120.0, 320.0),
    "H3,A,model,P1,left,2025-06-01,2025-08-01,": (0.0, 90.0),
}


def read(tmp_path, columns, cells, shop=SHOP, **how):
    """Read the stays with some columns of hours; ``cells`` makes them from hours in and out."""
    rows = [f"{HEADER},{columns}"]
    rows += [f"{stay},{','.join(map(str, cells(*hours)))}" for stay, hours in STAYS.items()]
    (tmp_path / "log.csv").write_text("\n".join(rows) + "\n")
    (tmp_path / "shop.toml").write_text(shop)
    return hl.read_records(tmp_path / "log.csv", hl.read_shop(tmp_path / "shop.toml"), **how)


def hours_of(records):
    rows = records.accepted
    return list(zip(rows["hours_in"].tolist(), rows["hours_out"].tolist(), strict=True))


@pytest.mark.parametrize(
    ("columns", "cells"),
    [
        ("hours_run", lambda start, end: [end - start]),
        ("hours_out", lambda start, end: [end]),
        ("hours_out,hours_run", lambda start, end: [end, end - start]),
        ("hours_in,hours_run", lambda start, end: [start, end - start]),
    ],
)
def test_every_stay_gets_its_heads_hours(tmp_path, columns, cells):
    records = read(tmp_path, columns, cells)
    assert records.set_aside.empty
    assert hours_of(records) == list(STAYS.values())
    lives = hl.lives(records).set_index("head")
    assert lives["exit_hours"].to_dict() == {"H1": 320.0, "H2": 410.5, "H3": 90.0}
    assert lives["mode"].notna().to_dict() == {"H1": True, "H2": True, "H3": False}
    alone = columns in ("hours_run", "hours_out")
    assert any("first stay counts from 0 h" in note for note in records.notes) == alone


def test_a_head_that_came_part_used_keeps_its_hours_where_both_are_told(tmp_path):
    records = read(tmp_path, "hours_out,hours_run", lambda start, end: [end + 80, end - start])
    assert hours_of(records) == [(start + 80, end + 80) for start, end in STAYS.values()]


def test_more_hours_in_a_stay_than_in_the_life_is_named(tmp_path):
    records = read(
        tmp_path, "hours_out,hours_run", lambda start, end: [end, 2 * end], unknown="set aside"
    )
    assert len(records.set_aside) == len(STAYS)
    assert "hours_run is more than hours_out" in records.sentences()[0]


def test_clocks_that_disagree_are_told(tmp_path):
    records = read(
        tmp_path,
        "hours_in,hours_out,hours_run",
        lambda start, end: [start, end, 2 * (end - start)],
    )
    assert hours_of(records) == list(STAYS.values())
    assert records.findings["sentence"].str.contains("by hours_run; correct one").sum() == len(
        STAYS
    )


def test_a_blank_run_of_a_head_in_service_is_worked_out_with_its_range(tmp_path):
    """By the weekly hours of heads before it in that printer, with the most it may be off."""
    records = read(tmp_path, "hours_run", lambda start, end: ["" if end == 90 else end - start])
    row = records.accepted.set_index("head").loc["H3"]
    weekly = (120.0 + 410.5) / (31 + 120)
    assert row["hours_out"] == pytest.approx(weekly * 61)
    assert row["hours_out_low"] < row["hours_out"] < row["hours_out_high"]


@pytest.mark.parametrize(
    "name",
    ["Hours run", "Laufzeit [h]", "Heures de marche", "Horas de uso", "Ore di lavoro"]
    + ["Gedraaide uren", "Godziny pracy", "運転時間"],
)
def test_a_draft_takes_hours_of_a_stay_for_what_they_are(tmp_path, name):
    text = (DEMO / "removals.csv").read_text(encoding="utf-8")
    rows = list(csv.DictReader(io.StringIO(text)))
    out = io.StringIO()
    table = csv.writer(out, delimiter=";")
    table.writerow(
        ["Serial", "Type", "Role", "Printer", "Side", "Installed", "Removed", name, "Why"]
    )
    for row in rows:
        run = float(row["hours_out"]) - float(row["hours_in"])
        cells = [row[key] for key in ("head", "head_type", "role", "printer", "position")]
        table.writerow([*cells, row["date_in"], row["date_out"], f"{run:.1f}", row["reason"]])
    (tmp_path / "log.csv").write_text(out.getvalue(), encoding="utf-8")
    text = draft_settings(tmp_path / "log.csv")
    assert f'hours_run = "{name}"' in text and "hours_in" not in text
