"""A fleet too large to follow printer by printer needs what the same positions need one by one."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.decisions.left_out import POSITIONS_TOGETHER
from headlife.decisions.spares import ahead
from headlife.fleet.state import Fleet
from headlife.futures.demand import KnownLife
from headlife.futures.forecast import forecast_fleet
from headlife.futures.large_fleet import forecast_large_fleet
from headlife.life.groups import Group

DEMO = Path(__file__).parents[2] / "data_demo"
START = pd.Timestamp("2026-01-05")
LIVES = {Group("Standard", "model"): [KnownLife(2.2, 1500.0)]}


def fleet(count=60):
    rng = np.random.default_rng(4)
    positions = pd.DataFrame(
        {
            "head": [f"H{n}" for n in range(count)],
            "head_type": "Standard",
            "role": ["model", "model", "support"] * (count // 3),
            "site": ["north", None] * (count // 2),
            "printer": [f"P{n:03d}" for n in range(count)],
            "position": "left",
            "age_hours": rng.uniform(0.0, 1200.0, count),
            "weekly_hours": rng.uniform(10.0, 60.0, count),
        }
    )
    return Fleet(positions, positions.head(0)[["head", "head_type", "role", "site", "age_hours"]])


@pytest.fixture
def shop():
    return hl.read_shop(DEMO / "shop.toml").with_(printers={})


@pytest.mark.parametrize("policy", [{"swap_at": "rating"}, {"swap_at": "failure"}])
def test_the_same_positions_need_the_same_heads(shop, policy):
    shop = shop.with_(policy=policy)
    alone = forecast_large_fleet(fleet(), LIVES, shop, 19, START, 4_000)
    together = forecast_fleet(fleet(), LIVES, shop, 19, START, 4_000)
    assert alone.positions == together.positions
    assert alone.left_out == together.left_out == {"Standard": 20}
    assert alone.hours_per_week == pytest.approx(together.hours_per_week)
    one, other = alone.demand(), together.demand()
    error = 4 * other.sd * np.sqrt(2 / 4_000)
    assert one.mean == pytest.approx(other.mean, abs=error)
    assert one.failure_mean == pytest.approx(other.failure_mean, abs=error)
    assert one.sd == pytest.approx(other.sd, rel=0.06)
    for group in alone.positions:
        mine, theirs = alone.demand(*group).mean, together.demand(*group).mean
        assert mine == pytest.approx(theirs, abs=error)


def test_a_rule_for_one_printer_concerns_that_printer_alone(shop):
    immortal = {Group("Standard", "model"): [KnownLife(2.0, 1e12)]}
    state = fleet()
    state.positions["age_hours"], state.positions["weekly_hours"] = 0.0, 40.0
    # 760 h in 19 weeks: one printer swaps at 300 h, twice, the others at 1,200 h, never.
    ruled = shop.with_(policy={"printers": {"P000": {"swap_at": 300.0}}})
    found = forecast_large_fleet(state, immortal, ruled, 19, START, 20)
    assert found.demand().mean == 2.0
    assert forecast_large_fleet(state, immortal, shop, 19, START, 20).demand().mean == 0.0


def test_a_review_of_a_large_fleet_says_what_it_left_out(shop, monkeypatch):
    case = hl.read_case(DEMO / "removals.csv", shop).with_(review={"draws": 500})
    usual = hl.quarterly_review(case)
    monkeypatch.setattr(ahead, "MOST_TOGETHER", 3)
    large = hl.quarterly_review(case)
    assert usual.left_out == ()
    (left_out,) = large.left_out
    assert left_out.what == POSITIONS_TOGETHER
    assert (left_out.positions, left_out.draws) == (len(case.fleet.positions), 500)
    assert [one.verdict for one in large.strata] == [one.verdict for one in usual.strata]
    assert [one.head_type for one in large.stock] == [one.head_type for one in usual.stock]
    assert all(one.shelf_heads == 0 for one in large.stock)
