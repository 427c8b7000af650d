"""Builds to printers and days: nothing overlaps, nothing is lost, what cannot be done is named."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from headlife.decisions.plan.printers_ahead import late_costs
from headlife.decisions.plan.schedule import (
    NO_PRINTER,
    TOO_LONG,
    TOO_SOON,
    PrinterThere,
    schedule,
    usual_builds,
)

DAY = pd.Timestamp("2026-09-30")
PRINTERS = (
    PrinterThere("P1", "North", frozenset({"A"}), 500.0, 1.5),
    PrinterThere("P2", "South", frozenset({"A", "B"}), 800.0, 1.5),
)


def builds(*rows):
    names = ["build", "printer", "head_type", "site", "build_hours", "earliest", "due"]
    table = pd.DataFrame(rows, columns=names).assign(quality_critical=False)
    table["row"] = range(2, len(table) + 2)
    return table.astype({"earliest": "datetime64[ns]", "due": "datetime64[ns]"})


def one(name, hours, printer=None, head_type=None, site=None, earliest=None, due=None):
    return name, printer, head_type, site, hours, earliest, due


def test_a_build_goes_where_it_may_and_a_pause_is_kept():
    table = builds(
        one("a", 40.0, "P1"), one("b", 40.0, "P1"), one("c", 30.0, None, "B"),
        one("d", 20.0, None, None, "North", "2026-10-20"),
    )  # fmt: skip
    found, left = schedule(table, PRINTERS, DAY)
    assert not len(left)
    by_name = found.set_index("build")
    assert by_name.loc["c", "printer"] == "P2" and by_name.loc["d", "printer"] == "P1"
    assert by_name.loc["d", "start"] == 20 * 24.0
    first, second = sorted([by_name.loc["a"], by_name.loc["b"]], key=lambda row: row["start"])
    assert second["start"] - first["end"] == pytest.approx(1.5)


def test_what_is_due_first_runs_first_and_short_work_fills_a_gap():
    table = builds(
        one("late", 40.0, "P1", due="2026-10-30"),
        one("soon", 40.0, "P1", due="2026-10-03"),
        one("fixed", 48.0, "P1", earliest="2026-10-10", due="2026-10-12"),
        one("filler", 20.0, "P1", due="2026-11-30"),
    )
    found = schedule(table, PRINTERS, DAY)[0]
    assert list(found["build"]) == ["soon", "late", "filler", "fixed"]


@pytest.mark.parametrize(
    ("row", "why"),
    [
        (one("x", 10.0, "P9"), NO_PRINTER),
        (one("x", 10.0, "P1", "B"), NO_PRINTER),
        (one("x", 10.0, site="West"), NO_PRINTER),
        (one("x", 501.0, "P1"), TOO_LONG),
        (one("x", 801.0), TOO_LONG),
        (one("x", 60.0, due="2026-10-01"), TOO_SOON),
        (one("x", 60.0, due="2026-09-20"), TOO_SOON),
        (one("x", 60.0, earliest="2026-10-10", due="2026-10-09"), TOO_SOON),
    ],
)
def test_what_cannot_be_done_is_left_out_with_the_reason_and_the_rest_is_planned(row, why):
    found, left = schedule(builds(row, one("fine", 20.0)), PRINTERS, DAY)
    assert list(found["build"]) == ["fine"]
    assert list(left["build"]) == ["x"] and left["why"].iloc[0] == why
    if why == TOO_SOON:
        possible = left["possible"].iloc[0]
        retry = schedule(builds(row[:-1] + (possible,)), PRINTERS, DAY)
        assert not len(retry[1])
        early = schedule(builds(row[:-1] + (possible - pd.Timedelta(days=1),)), PRINTERS, DAY)
        assert len(early[1]) == 1


@pytest.mark.parametrize("seed", range(10))
def test_builds_drawn_at_random_never_overlap_and_none_is_lost(seed):
    rng = np.random.default_rng(seed)
    table = builds(
        *(
            one(
                str(i),
                rng.uniform(5, 120),
                rng.choice(["P1", "P2", "P9"]) if rng.random() < 0.5 else None,
                earliest=DAY + pd.Timedelta(days=int(rng.integers(0, 30))),
                due=DAY + pd.Timedelta(days=int(rng.integers(5, 60))),
            )
            for i in range(60)
        )
    )
    found, left = schedule(table, PRINTERS, DAY)
    assert sorted([*found["row"], *left["row"]]) == list(table["row"])
    for _, own in found.groupby("printer"):
        assert (own["start"].to_numpy()[1:] >= own["end"].to_numpy()[:-1] + 1.5 - 1e-9).all()
    asked = table.set_index("row").loc[found["row"]]
    wait = (asked["earliest"] - DAY) / pd.Timedelta(hours=1)
    assert (found["start"].to_numpy() >= wait.to_numpy()).all()


def test_builds_of_the_usual_length_follow_the_hours_that_are_printed():
    positions = pd.DataFrame({"printer": ["P1", "P1", "P2"], "site": None})
    weekly = np.array([[40.0] * 4, [40.0] * 4, [0.0, 0.0, 30.0, 30.0]])
    found = usual_builds(positions, weekly, 80.0, DAY)
    assert list(found["printer"]) == ["P1", "P1", "P2"]
    in_two_weeks = DAY + pd.Timedelta(days=14)  # P2 prints nothing before
    assert list(found["earliest"]) == [DAY, in_two_weeks, in_two_weeks]


def test_a_failure_delays_what_follows_by_what_free_time_does_not_take_up():
    start, end = np.array([0.0, 50.0, 200.0]), np.array([40.0, 90.0, 240.0])
    due = np.array([100.0, 90.0, 230.0])
    added, anyway = late_costs(start, end, due, 2.0, 3.0)
    # Half of 40 h and 2 h: in time itself, the next 12 h late (10 h were free), 0 after.
    np.testing.assert_allclose(added, [3.0 * 12.0, 3.0 * 22.0, 3.0 * 22.0])
    assert anyway == 3.0 * 10.0
