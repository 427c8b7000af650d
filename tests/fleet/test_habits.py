from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from tests.futures.one_printer import changing, lives_of, position
from tests.show.conftest import DEMO

import headlife as hl
from headlife.fleet.habits import handovers, material_changes
from headlife.futures.demand import KnownLife
from headlife.futures.position import HeadKind
from headlife.futures.visits import FAILED, PLANNED, Printer, count_swaps
from headlife.shop.policy import Policy

REUSABLE = ("material change",)


def changes(rows):
    return material_changes(handovers(rows.assign(row=np.arange(len(rows))), REUSABLE))


def stint(printer, begins, ends, head_type="A", suspension="material change", **more):
    return {
        "head": f"H{printer}{begins}",
        "hours_in": 0.0,
        "reason": suspension,
        "printer": printer,
        "position": "left",
        "role": "model",
        "head_type": head_type,
        "date_in": pd.Timestamp(begins),
        "date_out": pd.Timestamp(ends),
        "suspension": suspension,
        **more,
    }


def test_changes_are_counted_over_the_weeks_in_position():
    rows = pd.DataFrame(
        [
            stint("P", "2026-01-05", "2026-03-16"),
            stint("P", "2026-03-16", "2026-04-20", "B"),
            stint("P", "2026-04-20", "2026-06-01", suspension="planned swap"),
            stint("Q", "2026-01-05", "2026-06-01", suspension=None),
        ]
    )
    found = changes(rows)
    # Two changes in 10 + 5 + 6 + 21 weeks.
    assert found.per_week == {"model": pytest.approx(2 / 42)}
    # From A once to B, from B once to A; the shares after any type count as one more case.
    assert found.following["model", "A"] == pytest.approx({"A": 0.25, "B": 0.75})
    assert found.following["model", "B"] == pytest.approx({"A": 0.75, "B": 0.25})
    assert changes(rows[rows["printer"] == "Q"]).per_week == {}


DRAWS = 20_000
IMMORTAL = lives_of(KnownLife(2.0, 1e12), DRAWS)


def run(held, weeks=52, hours=40.0):
    printer = Printer((held,), np.full(weeks, hours))
    swaps = count_swaps([printer], DRAWS, np.random.default_rng(5))
    return {place[0]: tallies for place, tallies in swaps.items()}


def test_a_lag_delays_planned_swaps_by_its_mean():
    late = position(IMMORTAL, 960.0, Policy(1000.0), lag=400.0)
    planned = run(late, weeks=26)["A"][PLANNED]
    # Due after 40 h, then at a constant rate: no second swap fits into 1,040 h.
    expected = 1 - np.exp(-np.maximum(40.0 * np.arange(1, 27) - 40.0, 0) / 400.0)
    assert np.abs(planned.mean(axis=0).cumsum() - expected).max() < 4 * 0.5 / np.sqrt(20_000)


def test_an_exponential_life_does_not_care_which_head_is_in():
    lives = lives_of(KnownLife(1.0, 700.0), DRAWS)
    kind = HeadKind(lives, in_circulation=(0.0, 500.0, 900.0))
    found = run(changing(300.0, [kind], 1 / 200.0, [[1.0]]))["A"][FAILED].sum(axis=1)
    mean = 40 * 52 / 700
    assert found.mean() == pytest.approx(mean, abs=3 * np.sqrt(mean / found.size))
    assert found.var() == pytest.approx(mean, rel=0.05)


def test_old_heads_that_are_changed_away_do_not_come_due():
    due_soon = position(IMMORTAL, 990.0, Policy(1000.0))
    kind = HeadKind(IMMORTAL, Policy(1000.0), in_circulation=(100.0,))
    changed = changing(990.0, [kind], 1 / 10.0, [[1.0]])
    stays = run(due_soon, weeks=1)["A"][PLANNED].sum(axis=1)
    leaves = run(changed, weeks=1)["A"][PLANNED].sum(axis=1)
    assert stays.mean() == 1.0
    # The change comes first with probability 1 - exp(-10 h x 0.1 / h).
    assert leaves.mean() == pytest.approx(np.exp(-1.0), abs=4 * 0.5 / np.sqrt(20_000))


def test_types_mix_as_the_changes_say():
    kinds = [HeadKind(IMMORTAL, Policy(1e9)), HeadKind(IMMORTAL, Policy(50.0))]
    found = run(changing(0.0, kinds, 1 / 100.0, [[0.0, 1.0], [0.0, 1.0]]), weeks=10)
    assert found["A"][PLANNED].sum() == 0
    # Once changed to B, heads are swapped every 50 h without a change in between.
    assert found["B"][PLANNED].sum(axis=1).mean() > 1


def cut(day):
    """The demo's log as the shop had it on a day: what goes out later is still in, at its hours."""
    rows = pd.read_csv(DEMO / "removals.csv", dtype={"head": str})
    begins, ends = pd.to_datetime(rows["date_in"]), pd.to_datetime(rows["date_out"])
    rows = rows[begins <= day].copy()
    later = (ends > day)[rows.index]
    passed = (pd.Timestamp(day) - begins)[rows.index] / (ends - begins)[rows.index]
    ran = rows["hours_in"] + (rows["hours_out"] - rows["hours_in"]) * passed.fillna(1.0)
    rows.loc[later, "hours_out"] = ran[later].round(4)
    rows.loc[later, "date_out"] = day
    rows.loc[later, ["reason", "last_good_hours"]] = np.nan
    return rows


@pytest.mark.parametrize("day", ["2025-03-31", "2025-12-31", "2026-06-30"])
def test_a_past_day_knows_what_the_log_of_that_day_did_of_which_head_follows_which(day, tmp_path):
    # Heads that are still in count as what followed; a past day knew nothing of them before.
    cut(day).to_csv(tmp_path / "removals.csv", index=False)
    then = hl.read_case(tmp_path / "removals.csv", DEMO / "shop.toml").fleet
    now = hl.read_case(DEMO / "removals.csv", DEMO / "shop.toml", as_of=day).fleet
    assert now.changes == then.changes
    assert (now.giving_way, now.refurbished) == (then.giving_way, then.refurbished)
