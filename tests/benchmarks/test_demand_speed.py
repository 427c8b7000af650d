"""The demand simulation beside the same model in simpy and beside a bare numpy loop.

``python -m pytest tests/benchmarks -rP`` prints the table. Every ratio is of medians taken in
turns in one run. The three models are one: 28 positions with heads of given ages run 45 h a week
to failure over 26 weeks, parameters drawn once for each future.
"""

from __future__ import annotations

import random
import time

import numpy as np
import pytest
import simpy
from tests.benchmarks.side_by_side import report

from headlife.futures.demand import forecast_demand
from studies.timing import medians

pytestmark = pytest.mark.xdist_group("benchmarks")

POSITIONS, DRAWS, WEEKS, HOURS = 28, 20_000, 26, 45.0
SIMPY_DRAWS = 100  # takes about as long as ours, so that a busy machine slows both alike
AGES = np.random.default_rng(0).uniform(0.0, 1500.0, POSITIONS)


class Drawn:
    """About what 30 failures teach of a Weibull(2.2, 1800 h) life."""

    def draw(self, n, rng):
        shape = 2.2 * np.exp(0.15 * rng.standard_normal(n))
        return shape, 1800.0 * np.exp(0.08 * rng.standard_normal(n))


def ours(weeks=WEEKS):
    return forecast_demand(Drawn(), AGES, HOURS, weeks, draws=DRAWS, seed=1)


def bare_numpy():
    """Inverse hazard, position by position, counting totals and nothing else."""
    rng = np.random.default_rng(1)
    shape, scale = Drawn().draw(DRAWS, rng)
    totals = np.zeros(DRAWS, dtype=np.int64)
    end = HOURS * WEEKS
    for age in AGES:
        hazard = (age / scale) ** shape + rng.standard_exponential(DRAWS)
        hours = scale * hazard ** (1.0 / shape) - age
        who = np.flatnonzero(hours <= end)
        hours = hours[who]
        while who.size:
            totals[who] += 1
            hazard = rng.standard_exponential(who.size)
            hours = hours + scale[who] * hazard ** (1.0 / shape[who])
            inside = hours <= end
            who, hours = who[inside], hours[inside]
    return totals


def in_simpy(draws=SIMPY_DRAWS):
    """One process for each position, one environment for each future."""
    rng = np.random.default_rng(1)
    dice = random.Random(1)
    totals, by_week = [], np.zeros(WEEKS, dtype=np.int64)

    def position(world, age, shape, scale, failures):
        hazard = (age / scale) ** shape + dice.expovariate(1.0)
        yield world.timeout((scale * hazard ** (1.0 / shape) - age) / HOURS)
        while True:
            failures.append(world.now)
            by_week[int(world.now)] += 1
            yield world.timeout(scale * dice.expovariate(1.0) ** (1.0 / shape) / HOURS)

    for shape, scale in zip(*Drawn().draw(draws, rng), strict=True):
        world, failures = simpy.Environment(), []
        for age in AGES:
            world.process(position(world, float(age), float(shape), float(scale), failures))
        world.run(until=WEEKS)
        totals.append(len(failures))
    return np.array(totals)


def test_the_three_models_are_one():
    demand = ours()
    loop, events = bare_numpy(), in_simpy(400)
    assert abs(demand.mean - loop.mean()) <= 4 * demand.sd * np.sqrt(2 / DRAWS)
    assert abs(demand.mean - events.mean()) <= 4 * demand.sd / np.sqrt(400)


def test_speed_beside_simpy_and_bare_numpy():
    own, loop, events = medians(ours, bare_numpy, in_simpy, rounds=21, clock=time.process_time)
    events *= DRAWS / SIMPY_DRAWS
    report("simpy / ours, 28 positions x 20,000 draws x 26 weeks", events / own, ">= 200")
    report("ours / bare numpy loop", own / loop, "<= 4")
    report("ours, milliseconds", own * 1e3, "-")
    assert events / own >= 200
    assert own / loop <= 4


def test_a_longer_horizon_costs_in_proportion():
    half, whole, double = medians(
        lambda: ours(13), lambda: ours(26), lambda: ours(52), rounds=9, clock=time.process_time
    )
    report("26 weeks / 13 weeks", whole / half, "<= 2.5")
    report("52 weeks / 26 weeks", double / whole, "<= 2.5")
    # Twice the weeks bring about twice the failures; the tables grow with the weeks as well.
    assert whole / half <= 2.5
    assert double / whole <= 2.5
