"""Print hours learned while a plan of the settings held: what it changed is not taken for usual."""

from __future__ import annotations

import datetime

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.records.usage import usual_days, weekly_hours
from headlife.shop.work import Plan

SETTINGS = """
name = "Shop"
[reasons.failures]
"worn out" = "wear"
[head_types."A"]
rated_hours = 500
[spares]
lead_time_weeks = 6
"""
HEADER = "head,head_type,role,printer,position,date_in,hours_in,date_out,hours_out,reason,site\n"
STOP = '[plans."move"]\nfactor = 0.0\nbegins = 2026-03-01\nends = 2026-04-11\n'  # six weeks


@pytest.fixture
def case(tmp_path):
    def make(rows, plans="", as_of=None):
        (tmp_path / "log.csv").write_text(HEADER + "\n".join(rows) + "\n")
        (tmp_path / "shop.toml").write_text(SETTINGS + plans)
        return hl.read_case(tmp_path / "log.csv", tmp_path / "shop.toml", as_of=as_of)

    return make


def row(printer, begins, ends, hours, site="Mill"):
    return f"H{printer}{begins},A,model,{printer},left,{begins},0,{ends},{hours},,{site}"


# 40 h a week from 1 February on, but for the six weeks of the stop: 20 weeks, of which 14 print.
PRINTED = [row(name, "2026-02-01", "2026-06-21", 560) for name in ("P1", "P2")]


def test_a_stop_that_is_stated_does_not_dilute_print_hours(case):
    # Before, 28 h a week were learned, stated or not.
    assert weekly_hours(case(PRINTED).records) == pytest.approx({"P1": 28, "P2": 28})
    stated = case(PRINTED, STOP)
    assert weekly_hours(stated.records) == pytest.approx({"P1": 40, "P2": 40})
    assert stated.fleet.positions["weekly_hours"].tolist() == pytest.approx([40, 40])
    one = case(PRINTED, STOP + 'printer = "P2"\n')
    assert weekly_hours(one.records) == pytest.approx({"P1": 28, "P2": 40})
    rows = [PRINTED[0], row("P2", "2026-02-01", "2026-06-21", 560, "Pier")]
    there = case(rows, STOP + 'site = "Pier"\n')
    assert weekly_hours(there.records) == pytest.approx({"P1": 28, "P2": 40})
    workload = stated.fleet.workload
    assert workload is not None
    mean, _ = workload.of_printers(np.array([0]), np.array([13.0]))
    plain = case(PRINTED).fleet.workload.of_printers(np.array([0]), np.array([13.0]))[0]
    assert mean[0] > 1.2 * plain[0]


def test_growth_that_is_stated_and_has_begun_counts_once(case):
    # 40 h a week, from April on 48 h: what is learned is the usual, and the plan makes 48 of it.
    rows = [
        row("P1", "2026-01-04", "2026-03-29", 480),
        row("P1", "2026-03-29", "2026-06-21", 576),
    ]
    rows[0] = rows[0].replace(",480,,", ",480,worn out,")
    grown = case(rows, '[plans."grown"]\nfactor = 1.2\nbegins = 2026-03-29\n')
    assert weekly_hours(grown.records)["P1"] == pytest.approx(40)


def test_plans_that_have_not_begun_change_nothing_learned(case):
    later = case(PRINTED, STOP.replace("2026-03-01", "2026-06-21").replace("04-11", "07-31"))
    assert weekly_hours(later.records) == weekly_hours(case(PRINTED).records)
    # Seen from an earlier day, too.
    rows = [row("P1", "2026-01-04", "2026-02-15", 240)]
    assert weekly_hours(case(rows, STOP).records) == weekly_hours(case(rows).records)


def test_no_hours_are_added_to_the_last_reading_while_printers_stood(case):
    # Read on the day before the stop; two weeks of printing have passed since it ended.
    rows = [row("P1", "2026-01-04", "2026-03-01", 320)]
    found = case(rows, STOP, as_of="2026-04-26").fleet.positions
    assert found["age_hours"].tolist() == pytest.approx([320 + 2 * 40])
    assert found["projected"].tolist() == [True]


def test_usual_days_go_on_and_end_on_the_same_day():
    def plan(factor, begins, ends=None):
        return Plan(
            factor=factor,
            begins=datetime.date.fromisoformat(begins),
            ends=None if ends is None else datetime.date.fromisoformat(ends),
        )

    days = pd.Series(np.arange(20_000, 20_400))
    names = pd.Series(["P"] * 400)
    plans = {
        "one": plan(0.0, "2024-11-01", "2024-12-15"),
        "two": plan(0.0, "2024-12-01", "2025-01-10"),  # together with the first
        "more": plan(1.5, "2025-06-01"),
    }
    usual = usual_days(days, names, names, plans, 20_399)
    passed = np.diff(usual)
    assert usual.iloc[-1] == 20_399 and set(np.round(passed, 9)) == {0.0, 1.0, 1.5}
    assert (passed == 0).sum() == 71  # 1 November to 10 January, both counted, stood but once
    assert usual_days(days, names, names, {}, 20_399) is days
