"""In few futures many printers are simulated at once, in many each alone: the same answer."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import headlife as hl
from headlife.decisions.spares import ahead
from headlife.fleet.habits import MaterialChanges
from headlife.fleet.state import Fleet
from headlife.futures.demand import KnownLife
from headlife.futures.forecast import FUTURES_ALONE, forecast_fleet
from headlife.futures.visits import CHANGED, FAILED, JOINED, PLANNED
from headlife.life.groups import Group

DEMO = Path(__file__).parents[2] / "data_demo"
START = pd.Timestamp("2026-01-05")
LIVES = {
    Group("Standard", "model"): [KnownLife(2.2, 1500.0), KnownLife(1.0, 9000.0)],
    Group("Standard", "support"): [KnownLife(1.8, 2500.0)],
    Group("Fibre", "model"): [KnownLife(3.0, 900.0)],
}
CHANGES = MaterialChanges(
    per_week={"model": 0.3},
    following={("model", "Standard"): {"Standard": 0.6, "Fibre": 0.4},
               ("model", "Fibre"): {"Standard": 1.0}},
)  # fmt: skip


def fleet(printers=400):
    """Printers with two heads each, on two sites, some of which stand still."""
    rng = np.random.default_rng(4)
    hours = np.where(np.arange(printers) % 20 == 0, 0.0, rng.uniform(10.0, 60.0, printers))
    heads = 2 * printers
    positions = pd.DataFrame(
        {
            "head": [f"H{n}" for n in range(heads)],
            "head_type": "Standard",
            "role": ["model", "support"] * printers,
            "site": np.repeat(["north", None] * (printers // 2), 2),
            "printer": np.repeat([f"P{n:03d}" for n in range(printers)], 2),
            "position": ["left", "right"] * printers,
            "age_hours": rng.uniform(0.0, 1200.0, heads),
            "weekly_hours": np.repeat(hours, 2),
            "share_of_hours": 1.0,
        }
    )
    shelf = positions.head(0)[["head", "head_type", "role", "site", "age_hours"]]
    return Fleet(positions, shelf, 0.6, changes=CHANGES, swap_lag={"Standard": 60.0})


@pytest.fixture
def shop():
    shop = hl.read_shop(DEMO / "shop.toml")
    summer = {"factor": 0.5, "begins": "2026-02-01", "site": "north"}
    return shop.with_(
        printers={"P002": {"quality_critical": True}},
        policy={"join_from": "notice", "between_builds": True, "build_hours": 80.0},
        plans={"stocktaking": summer | {"begins": pd.Timestamp("2026-02-01").date()}},
    )


def test_many_printers_at_once_need_what_each_needs_alone(shop):
    # With joint visits, builds, late swaps, changes of material, plans and hours that vary.
    few = FUTURES_ALONE - 1_000
    together = forecast_fleet(fleet(40), LIVES, shop, 8, START, few)
    apart = forecast_fleet(fleet(40), LIVES, shop, 8, START, FUTURES_ALONE)
    assert together.positions == apart.positions
    assert together.hours_per_week == apart.hours_per_week
    for place in apart.positions:
        for kind in (FAILED, PLANNED, JOINED, CHANGED):
            one, other = (each.swaps[place][kind].sum(axis=1) for each in (together, apart))
            assert (one.mean() > 0) == (kind != CHANGED or place[1] == "model")
            error = np.sqrt(one.var() / one.size + other.var() / other.size) + 1e-9
            assert abs(one.mean() - other.mean()) < 4.5 * error, (place, kind)
    one, other = (each.demand() for each in (together, apart))
    assert one.sd == pytest.approx(other.sd, rel=0.06)
    error = np.sqrt(np.maximum(other.failures_by_week, 1.0) * 2 / few)
    assert np.all(np.abs(one.failures_by_week - other.failures_by_week) < 5 * error)


def test_the_order_of_printers_and_who_works_on_them_change_nothing(shop):
    state = fleet(200)
    alone = forecast_fleet(state, LIVES, shop, 6, START, 60)
    turned = replace(state, positions=state.positions[::-1])
    with ThreadPoolExecutor(2) as threads:
        for other in (
            forecast_fleet(state, LIVES, shop, 6, START, 60, executor=threads),
            forecast_fleet(turned, LIVES, shop, 6, START, 60),
        ):
            for place, tallies in alone.swaps.items():
                for kind, tally in tallies.items():
                    np.testing.assert_array_equal(tally, other.swaps[place][kind])


def test_a_rule_for_one_printer_concerns_that_printer_alone(shop):
    immortal = {group: [KnownLife(2.0, 1e12)] for group in LIVES}
    state = fleet(60)
    state = Fleet(state.positions.assign(age_hours=0.0, weekly_hours=40.0), state.shelf)
    # 760 h in 19 weeks: both heads of one printer are swapped at 300 h, twice, the others never.
    plain = shop.with_(plans={}, policy={"between_builds": False, "join_from": "never"})
    ruled = plain.with_(policy={"printers": {"P001": {"swap_at": 300.0}}})
    assert forecast_fleet(state, immortal, ruled, 19, START, 20).demand().mean == 4.0
    assert forecast_fleet(state, immortal, plain, 19, START, 20).demand().mean == 0.0


def test_a_large_fleet_is_simulated_in_fewer_futures(shop, monkeypatch):
    monkeypatch.setattr(ahead, "PATHS", 600 * 40)
    state = fleet(20)
    assert ahead.fleet_ahead(state, LIVES, shop, START).draws == 600
    assert ahead.fleet_ahead(fleet(40), LIVES, shop, START).draws == ahead.FEWEST_DRAWS
