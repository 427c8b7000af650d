"""Printers of a forecast: a head that runs a share of its printer's hours, on its own clock."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from tests.conftest import DEMO

import headlife as hl
from headlife.fleet.state import Fleet
from headlife.futures.forecast import forecast_fleet
from headlife.life.groups import Group

START = "2026-01-05"
SUPPORT = ("Fibre", "support", "")


class KnownLife:
    """Weibull life of known parameters, the same in every draw."""

    def __init__(self, shape, scale):
        self.shape, self.scale = shape, scale

    def draw(self, n, rng):
        return np.full(n, self.shape), np.full(n, self.scale)


def fleet(share, lag, printers=30):
    """Printers at 40 h a week; ages and lags of the support heads are in shares of their life."""
    rng = np.random.default_rng(3)
    ages = 600.0 * rng.random(printers)
    shares = np.tile([1.0, share], printers)
    positions = pd.DataFrame(
        {
            "head": [f"H{n}" for n in range(2 * printers)],
            "head_type": ["Standard", "Fibre"] * printers,
            "role": ["model", "support"] * printers,
            "site": None,
            "printer": np.repeat([f"P{n:03d}" for n in range(printers)], 2),
            "position": ["left", "right"] * printers,
            "age_hours": np.repeat(ages, 2) * shares,
            "weekly_hours": 40.0 * shares,
            "share_of_hours": shares,
        }
    )
    shelf = positions.head(0)[["head", "head_type", "role", "site", "age_hours"]]
    return Fleet(positions, shelf, 0.3, swap_lag={"Standard": lag, "Fibre": lag * share})


def forecast(share, policy, support_scale, lag=60.0):
    lives = {
        Group("Standard", "model"): [KnownLife(2.0, 1_000.0)],
        Group("Fibre", "support"): [KnownLife(2.0, support_scale)],
    }
    shop = hl.read_shop(DEMO / "shop.toml").with_(policy=policy, plans={})
    return forecast_fleet(fleet(share, lag), lives, shop, 26, START, 400)


@pytest.mark.parametrize(
    "policies",
    [
        ({"swap_at": "failure"}, {"swap_at": "failure"}),
        (
            {"swap_at": 800.0, "join_from": 500.0},
            {"roles": {"support": {"swap_at": 400.0, "join_from": 250.0}}},
        ),
    ],
)
def test_half_the_hours_of_half_the_life_are_the_same_swaps(policies):
    """Ages, limits and lives in hours of a counter that runs at half the pace: the same futures."""
    plain, other = policies
    whole = forecast(1.0, plain, 1_000.0)
    half = forecast(0.5, plain | other, 500.0)
    for place, tallies in whole.swaps.items():
        for kind, tally in tallies.items():
            np.testing.assert_array_equal(tally, half.swaps[place][kind])
    assert half.hours_per_week[SUPPORT[:2]] == pytest.approx(
        0.5 * whole.hours_per_week[SUPPORT[:2]]
    )
    assert half.hours_per_week["Standard", "model"] == whole.hours_per_week["Standard", "model"]


def test_a_head_that_runs_less_is_used_up_more_slowly():
    """Steady renewals: at 60 % of the hours about 60 % of the swaps by plan."""
    policy = {"swap_at": 100.0}
    whole, part = (forecast(share, policy, 1e9, lag=0.0) for share in (1.0, 0.6))
    used = [one.swaps[SUPPORT]["planned"].sum(axis=1).mean() for one in (whole, part)]
    # 26 weeks at 40 h are about ten swaps; each may miss or gain a part of one.
    assert used[1] / used[0] == pytest.approx(0.6, abs=0.06)
