"""One name, whatever keyboard it was typed on; what stays doubtful is told, never merged."""

from __future__ import annotations

import pytest
from tests.records.small_shop import rows_of

import headlife as hl


@pytest.mark.parametrize(
    "serial",
    ["\uff28\uff11", "H1 ", "\xa0H1"],
)
def test_a_serial_in_other_characters_is_the_same_head(serial, read):
    rows = rows_of()
    rows[1]["head"] = serial
    assert len(hl.lives(read(rows))) == 4


@pytest.mark.parametrize("dash", ["-", "\u2010", "\u2013", "\u2014", "\u2212", "\uff0d"])
def test_every_dash_is_one(dash, read):
    rows = rows_of()
    rows[0]["head"], rows[1]["head"] = "H-1", f"H{dash}1"
    assert len(hl.lives(read(rows))) == 4


def test_left_and_Left_are_one_place(read):  # noqa: N802
    rows = rows_of()
    rows[4]["position"] = "LEFT"
    assert set(read(rows).accepted["position"]) == {"left", "right"}


def test_a_head_type_in_other_capitals_is_the_one_of_the_settings(read):
    rows = rows_of()
    rows[3]["head_type"] = "b"
    assert read(rows).accepted["head_type"].tolist()[3] == "B"


def test_reasons_and_roles_in_other_characters_keep_their_meaning(read, shop_with):
    rows = rows_of()
    rows[1]["reason"] = "worn\xa0out"
    rows[3]["reason"] = "D\u00fcse \u2013 zu"
    rows[0]["role"] = "Tr\u00e4ger \uff11"
    shop = shop_with('[roles]\n"tr\u00e4ger 1" = "model"')
    rows[3]["reason"] = "Looked \u2007 bad"
    records = read(rows, shop)
    assert records.set_aside.empty
    assert records.accepted["mode"].tolist()[3] == "wear"


def test_a_clock_on_one_side_of_a_day_is_no_contradiction(read):
    rows = rows_of()[2:3]
    rows[0] |= {"date_in": "2025-01-01 14:00", "date_out": "2025-01-01", "hours_out": "3"}
    records = read(rows)
    assert records.set_aside.empty
    assert records.accepted["date_in"].iloc[0] <= records.accepted["date_out"].iloc[0]


@pytest.mark.parametrize(
    "twin",
    ["h1", "H-1", "H 1", "H01", "H001", "\u041d1", "\u03971", "Hl", "HI", "H1*", "#H1", "H1\u0301"],
)
def test_two_serials_that_look_alike_are_two_heads_and_told(twin, read):
    rows = rows_of()
    rows[4]["head"] = twin
    records = read(rows)
    assert len(hl.lives(records)) == 4
    found = records.findings[records.findings["check"] == "two spellings"]
    assert found["rows"].tolist() == ["2, 6"]


@pytest.mark.parametrize(("one", "other"), [("12", "12.0"), ("12", "012"), ("SO5", "S05")])
def test_numbers_as_serials_too(one, other, read):
    rows = rows_of()
    rows[3]["head"], rows[4]["head"] = one, other
    found = read(rows).findings
    assert found.loc[found["check"] == "two spellings", "rows"].tolist() == ["5, 6"]


@pytest.mark.parametrize(
    ("one", "other"),
    [("S10", "S1"), ("S20", "S2.5"), ("A1", "B1"), ("S1-12", "S11-2"), ("S005-10", "S051-0")],
)
def test_other_serials_are_not_called_alike(one, other, read):
    rows = rows_of()
    rows[3]["head"], rows[4]["head"] = one, other
    assert "two spellings" not in read(rows).findings["check"].tolist()
