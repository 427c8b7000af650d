"""Work orders during which no head was changed: what they read counts, and they are named."""

from __future__ import annotations

import re

import pytest

import headlife as hl
from headlife.errors import RecordsError
from headlife.records.draft import draft_settings, draft_with_steps

SETTINGS = """
name = "Shop"
[intake]
shape = "orders"
as_of = "last reading"
[columns]
date = "Date"
printer = "Printer"
position = "Side"
head_out = "Serial out"
head_in = "Serial in"
reason = "Why"
printer_hours = "Meter"
[positions]
left = "model"
[reasons.failures]
"worn" = "wear"
[head_types."A"]
rated_hours = 500
on_hand = 1
[spares]
lead_time_weeks = 6
"""
HEADER = "Date;Printer;Side;Serial out;Serial in;Why;Meter\n"
SWAPS = [
    "2025-01-01;P1;left;;H1;;100",
    "2025-06-01;P1;left;H1;H2;worn;520",
    "2025-03-01;P2;left;;H3;;40",
]
VISITS = [
    "2025-09-01;P1;;;;quarterly inspection;700",
    "2025-09-01;P2;;;;quarterly inspection;340",
    "2025-04-15;P1;left;;;;",
]


def written(tmp_path, rows, settings=SETTINGS):
    (tmp_path / "orders.csv").write_text(HEADER + "\n".join(rows) + "\n")
    (tmp_path / "shop.toml").write_text(settings)
    return tmp_path / "orders.csv", tmp_path / "shop.toml"


def test_a_visit_is_a_reading_of_the_meter_and_is_named(tmp_path):
    """Worked out by hand: H2 ran 700 - 520 h by the inspection, H3 340 - 40 h."""
    path, settings = written(tmp_path, [*SWAPS, *VISITS])
    records = hl.read_records(path, hl.read_shop(settings))
    assert records.set_aside.empty and records.rows_used == 6
    hours = records.accepted.set_index("head")["hours_out"]
    assert hours.to_dict() == {"H1": 420.0, "H2": 180.0, "H3": 300.0}
    (note,) = (note for note in records.notes if "no head" in note)
    assert "only their meter readings count: 3 (row 5, 6, 7)." in note


def test_an_order_that_says_why_a_head_came_out_needs_its_serial(tmp_path):
    path, settings = written(tmp_path, [*SWAPS, "2025-08-01;P2;left;;;Worn;300", *VISITS[:1]])
    with pytest.raises(RecordsError, match="write the serial of the head"):
        hl.read_case(path, settings)
    records = hl.read_records(path, hl.read_shop(settings), unknown="set aside")
    assert records.set_aside["row"].tolist() == [5]
    assert "1 (row 6)" in " ".join(records.notes)


def test_without_visits_nothing_is_said(tmp_path):
    path, settings = written(tmp_path, SWAPS)
    assert not any(
        "no head" in note for note in hl.read_records(path, hl.read_shop(settings)).notes
    )


def test_a_draft_asks_for_no_meaning_of_what_visits_say(tmp_path):
    rows = [line.replace("worn", "zzz") for line in SWAPS]
    path, _ = written(tmp_path, [*rows, *VISITS])
    text = draft_settings(path)
    assert '# "zzz" = "..."' in text and "inspection" not in text
    _, steps = draft_with_steps(path)
    assert not any("serial" in step or "cannot be used" in step for step in steps)
    assert any(re.fullmatch(r'what "zzz" means: \[reasons\]', step) for step in steps)
