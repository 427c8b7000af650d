"""Printers of a forecast: a head that runs a share of its printer's hours, on its own clock."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from tests.conftest import DEMO

import headlife as hl
from headlife.fleet.state import Fleet
from headlife.fleet.succession import GivesWay
from headlife.futures.forecast import forecast_fleet, heads_in_place
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


SUCCEEDS = (GivesWay("Standard", "model", "Fibre", 6, 6),)


def goes_over(swap_at, lives, weeks=26):
    """Heads of one type only, the other in its place from now on; demand of both."""
    shop = hl.read_shop(DEMO / "shop.toml").with_(
        policy={"head_types": {name: {"swap_at": age} for name, age in swap_at.items()}}, plans={}
    )
    every = fleet(1.0, 0.0)
    models = every.positions[every.positions["role"] == "model"].reset_index(drop=True)
    state = replace(every, positions=models, week_sd=0.0, swap_lag={}, giving_way=SUCCEEDS)
    known = {Group(name, "model"): [KnownLife(*life)] for name, life in lives.items()}
    return state, forecast_fleet(state, known, shop, weeks, START, 400)


@pytest.mark.parametrize("old", [600.0, 900.0, "failure"])
@pytest.mark.parametrize("new", [700.0, "failure"])
def test_another_type_takes_the_place_of_heads_as_they_come_out(old, new):
    """Each head in place to its own age or failure, those after it as the other type; by hand."""
    lives = {"Standard": (2.0, 1_000.0), "Fibre": (3.0, 500.0)}
    state, found = goes_over({"Standard": old, "Fibre": new}, lives)
    assert found.demand("Standard").mean == 0.0
    limits = [np.inf if age == "failure" else age for age in (old, new)]
    if np.isfinite(limits[0]) and np.isinf(limits[1]):
        limits[0] = np.inf  # as stated: where the new type is never due, no head is
    rng, futures = np.random.default_rng(8), 400
    used = np.zeros(futures)
    for age in state.positions["age_hours"]:
        left = np.full(futures, 26 * 40.0)
        hazard = (age / 1_000.0) ** 2 + rng.exponential(size=futures)
        ends = np.minimum(1_000.0 * np.sqrt(hazard), max(limits[0], age)) - age
        while (left > ends).any():
            out = left > ends
            used += out
            left = np.where(out, left - ends, left)
            new_life = np.minimum(500.0 * rng.weibull(3.0, futures), limits[1])
            ends = np.where(out, new_life, np.inf)
    error = 4.0 * used.std() / np.sqrt(futures)
    assert found.demand("Fibre").mean == pytest.approx(used.mean(), abs=2 * error)
    (heads,) = heads_in_place(state, found, "Fibre")
    assert heads.ages.size == 30 and heads_in_place(state, found, "Standard") == []
    assert heads.modes[0].shape[0] == 2.0 and heads.new_heads[0][1][0].shape[0] == 3.0


def test_a_type_without_a_life_takes_no_place():
    state, found = goes_over({"Standard": 900.0, "Fibre": 700.0}, {"Standard": (2.0, 1_000.0)})
    plain = forecast_fleet(
        replace(state, giving_way=()),
        {Group("Standard", "model"): [KnownLife(2.0, 1_000.0)]},
        hl.read_shop(DEMO / "shop.toml").with_(
            policy={"head_types": {"Standard": {"swap_at": 900.0}}}, plans={}
        ),
        26,
        START,
        400,
    )
    assert found.demand("Standard").mean == plain.demand("Standard").mean > 0.0
