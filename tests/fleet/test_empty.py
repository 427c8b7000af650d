"""Positions that wait for a head: told from the log, and counted among the heads needed."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats
from tests.fleet.test_coming import DRAWS, EXPONENTIAL, START, fleet, shop  # noqa: F401

import headlife as hl
from headlife.decisions.spares.levels import stock_answers
from headlife.decisions.spares.shelf import new_heads
from headlife.fleet.reduction import fleet_of, fleet_part
from headlife.futures.forecast import forecast_fleet
from headlife.show.due.values import due_values
from headlife.show.spares.values import stock_values
from headlife.show.words.due import due_sentence
from headlife.show.words.plan import doubts
from headlife.show.words.stock import ahead_sentence

SETTINGS = """
name = "Test workshop"
[reasons.failures]
"worn out" = "wear"
[reasons.suspensions]
"swapped" = "planned swap"
"other material" = "material change"
[head_types."A"]
rated_hours = 1000
price = 100.0
[spares]
lead_time_weeks = 6
{more}
"""
# Two printers that print on, and what is on record of the third, on 30 June 2026.
OTHERS = [
    ("H1", "P1", "left", "2025-09-01", 0, "2026-01-12", 700, "worn out"),
    ("H2", "P1", "left", "2026-01-12", 0, "2026-06-30", 900, ""),
    ("H3", "P1", "right", "2025-09-01", 0, "2026-06-30", 1600, ""),
    ("H4", "P2", "left", "2025-09-01", 0, "2026-03-02", 980, "swapped"),
    ("H5", "P2", "left", "2026-03-02", 0, "2026-06-30", 640, ""),
    ("H6", "P2", "right", "2025-09-01", 0, "2026-06-30", 1590, ""),
    ("H7", "P3", "left", "2025-09-01", 0, "2026-06-30", 1400, ""),
]
UP_TO_MAY = ("H8", "P3", "right", "2025-09-01", 0, "2026-05-20", 1200, "worn out")


@pytest.fixture
def case(tmp_path):
    def make(rows, more="", as_of="2026-06-30"):
        lines = ["head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason"]
        for head, printer, position, *rest in rows:
            role = "model" if position == "left" else "support"
            lines.append(",".join(map(str, (head, "A", role, printer, position, *rest))))
        (tmp_path / "log.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        (tmp_path / "shop.toml").write_text(SETTINGS.format(more=more), encoding="utf-8")
        return hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml", as_of=as_of)

    return make


def waiting(case):
    found = case.fleet.empty
    return list(zip(found["printer"], found["position"], found["since"].dt.date, strict=True))


P3_RIGHT = [("P3", "right", pd.Timestamp("2026-05-20").date())]


@pytest.mark.parametrize(
    ("rows", "as_of", "more", "wanted"),
    [
        ([UP_TO_MAY], "2026-06-30", "", P3_RIGHT),
        # A head that came out the day it went in was no replacement that stayed.
        ([UP_TO_MAY, ("H9", "P3", "right", "2026-05-20", 0, "2026-05-20", 1, "worn out")],
         "2026-06-30", "", P3_RIGHT),
        # Filled on the same day, after two that failed on that day, or a month later.
        ([UP_TO_MAY, ("H9", "P3", "right", "2026-05-20", 0, "2026-06-30", 90, "")],
         "2026-06-30", "", []),
        ([("H8", "P3", "right", "2026-05-20", 0, "2026-05-20", 1, "worn out"),
          ("H9", "P3", "right", "2026-05-20", 0, "2026-06-30", 90, "")], "2026-06-30", "", []),
        ([UP_TO_MAY, ("H9", "P3", "right", "2026-06-20", 0, "2026-06-30", 90, "")],
         "2026-06-30", "", []),
        # As it was known before that.
        ([UP_TO_MAY, ("H9", "P3", "right", "2026-06-20", 0, "2026-06-30", 90, "")],
         "2026-06-10", "", P3_RIGHT),
        ([UP_TO_MAY], "2026-05-10", "", []),
        # Taken out to go back in: nobody waits.
        ([(*UP_TO_MAY[:-1], "other material")], "2026-06-30", "", []),
        # More than half a year ago: out of use, unless its print hours are stated.
        ([("H8", "P3", "right", "2025-09-01", 0, "2025-12-20", 600, "worn out")],
         "2026-06-30", "", []),
        ([("H8", "P3", "right", "2025-09-01", 0, "2025-12-20", 600, "worn out")],
         "2026-06-30", "[usage]\nP3 = 30", [("P3", "right", pd.Timestamp("2025-12-20").date())]),
        ([UP_TO_MAY], "2026-06-30", "[usage]\nP3 = 0", []),
    ],
)  # fmt: skip
def test_a_position_waits_where_a_head_was_used_up_and_none_went_in(
    case, rows, as_of, more, wanted
):
    assert waiting(case([*OTHERS, *rows], more, as_of)) == wanted


def test_a_printer_without_any_head_is_taken_to_be_used_no_more(case):
    gone = ("H7", *OTHERS[6][1:5], "2026-05-20", 1200, "worn out")
    assert waiting(case([*OTHERS[:6], gone, UP_TO_MAY])) == []
    both = waiting(case([*OTHERS[:6], gone, UP_TO_MAY], "[usage]\nP3 = 30"))
    assert both == [("P3", "left", P3_RIGHT[0][2]), *P3_RIGHT]


def test_parts_of_the_records_tell_the_same(case):
    """A head that fills the position may stand in another part than the one that left it."""
    filled = ("H9", "P2", "left", "2026-06-29", 0, "2026-06-30", 5, "")
    rows = [*OTHERS[:4], ("H5", *OTHERS[4][1:5], "2026-06-02", 500, "worn out"), *OTHERS[5:],
            UP_TO_MAY, filled]  # fmt: skip
    whole = case(rows)
    records = whole.records
    parts, habits = [], []
    for odd in (0, 1):
        accepted = records.accepted
        mine = accepted[accepted["head"].str[1:].astype(int) % 2 == odd]
        lives = whole.lives[whole.lives["head"].isin(mine["head"])]
        part, stints = fleet_part(replace(records, accepted=mine), whole.as_of, lives)
        parts.append(part)
        habits.append(stints)
    last, day = max(one.last for one in habits), pd.Timestamp(whole.as_of)
    sums = [one.sums(last, day, whole.shop) for one in habits]
    together = fleet_of(parts, sums, whole.shop, "log", day)
    pd.testing.assert_frame_equal(together.empty, whole.fleet.empty)
    assert waiting(whole) == P3_RIGHT


def empty(role="model", printer="P000", hours=40.0, site="north"):
    return pd.DataFrame(
        {
            "head_type": ["A"],
            "role": [role],
            "site": [site],
            "printer": [printer],
            "position": ["left"],
            "since": [START - pd.Timedelta(days=9)],
            "age_hours": [0.0],
            "weekly_hours": [hours],
            "share_of_hours": [1.0],
        }
    )


def test_an_empty_position_takes_one_head_more_than_one_with_a_new_head_in(shop):  # noqa: F811
    # No memory: the head that goes in and those after it fail as a Poisson number (any text on
    # Poisson processes, such as Cox, Renewal Theory, 1962).
    settings, mean = shop(), 40 * 19 / 1000
    state = replace(fleet(), empty=empty())
    found = forecast_fleet(state, EXPONENTIAL, settings, 19, START)
    assert found.demand("A").mean == pytest.approx(mean, abs=4 * np.sqrt(mean / DRAWS))
    needed = new_heads(state, found, settings, "A").total
    np.testing.assert_array_equal(needed, found.swaps_of("A") + (np.arange(19) == 0))
    wanted = 1 + stats.poisson(mean).mean()
    assert needed.sum(axis=1).mean() == pytest.approx(wanted, abs=4 * np.sqrt(mean / DRAWS))


def test_nothing_goes_in_where_nothing_is_printed_in_the_weeks_ahead(shop):  # noqa: F811
    plan = '[plans.overhaul]\nbegins = 2026-01-01\nfactor = 0\nprinter = "P000"'
    state = replace(fleet(2), empty=empty(printer="P000"))
    for more, heads in (("", 1), (plan, 0)):
        found = forecast_fleet(state, EXPONENTIAL, shop(more), 19, START)
        assert found.taken_at_once("A") == heads
        assert found.taken_at_once("A", "support") == found.taken_at_once("A", site="south") == 0


def test_the_answer_names_them_and_says_what_to_do_where_none_waits(case):
    named = case([*OTHERS, UP_TO_MAY])
    (answer,) = hl.quarterly_review(named).stock
    said = (
        "1 of these heads goes in at once: by the records no head is in P3 right (since 20 May "
        "2026). Where one is in, add its row; where a printer prints no more, write 0 hours for it "
        "under [usage]."
    )
    assert said in ahead_sentence(answer)
    assert [one["position"] for one in stock_values(answer)["empty_positions"]] == ["right"]
    filled = [*OTHERS, UP_TO_MAY, ("H9", "P3", "right", "2026-06-30", 0, "2026-06-30", 0, "")]
    (other,) = hl.quarterly_review(case(filled)).stock
    # The head that would go in at once, and the same futures from there on.
    assert answer.demand.mean == pytest.approx(1 + other.demand.mean, rel=0.05)
    assert "at once" not in ahead_sentence(other)


def test_what_is_due_and_the_plan_ask_for_a_head(case):
    costs = "[costs]\n" + "\n".join(
        f"{name} = 1.0"
        for name in (
            *("labour_per_hour", "machine_hour_rate", "swap_labour_hours", "manual_check_hours"),
            *("scrapped_build_cost", "waiting_hours_per_stockout", "carrying_cost_per_head_year"),
        )
    )
    asked = "By the records no head is in P3 right (since 20 May 2026): put one in."
    for rows, said in (([*OTHERS, UP_TO_MAY], True), (OTHERS, False)):
        there = case(rows, costs)
        due = hl.due_list(there)
        assert (asked in due_sentence(due)) is said
        assert len(due_values(due)["empty_positions"]) == said
        assert any(asked in one for one in doubts(hl.build_plan(there))) is said


def test_sites_that_keep_their_own_stock_fill_their_own_positions(shop):  # noqa: F811
    head = "on_hand_by_site = { north = 0, south = 0 }"
    settings = shop(head=head, sites="separate")
    state = replace(fleet(2), empty=empty(site="south", printer="S1"), sites=frozenset("xy"))
    found = stock_answers(state, EXPONENTIAL, settings, START)
    assert {one.site: len(one.empty) for one in found if one.head_type == "A"} == {
        "north": 0,
        "south": 1,
    }
