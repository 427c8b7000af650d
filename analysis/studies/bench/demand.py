"""What does the demand simulation cost beside the same model in simpy and in a plain NumPy loop?

The three models are one, and a test holds them to each other: 28 positions with heads of given
ages run 45 h a week to failure over 26 weeks, parameters drawn once for each future.
"""

from __future__ import annotations

import random
import time
from collections.abc import Iterator
from typing import Any

import numpy as np

import headlife as hl
from studies.bench.measured import Measured, at_least, at_most
from studies.timing import medians

POSITIONS, DRAWS, WEEKS, HOURS = 28, 20_000, 26, 45.0
SIMPY_DRAWS = 100  # takes about as long as ours, so that a busy machine slows both alike
AGES = np.random.default_rng(0).uniform(0.0, 1500.0, POSITIONS)


class Drawn:
    """About what 30 failures teach of a Weibull(2.2, 1800 h) life."""

    def draw(self, n: int, rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
        """Shapes [-] and scales [h] of so many futures."""
        shape = 2.2 * np.exp(0.15 * rng.standard_normal(n))
        return shape, 1800.0 * np.exp(0.08 * rng.standard_normal(n))


def ours(weeks: int = WEEKS) -> Any:
    """Forecast with headlife."""
    return hl.forecast_demand(Drawn(), AGES, HOURS, weeks, draws=DRAWS, seed=1)


def plain_numpy() -> np.ndarray:
    """Count the total of each future by inverse hazard, position by position, nothing else."""
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


def in_simpy(draws: int = SIMPY_DRAWS) -> np.ndarray:
    """Count the total of each future with one process a position, one environment a future."""
    import simpy

    rng = np.random.default_rng(1)
    dice = random.Random(1)
    totals, by_week = [], np.zeros(WEEKS, dtype=np.int64)

    def position(world: Any, age: float, shape: float, scale: float, failures: list[float]) -> Any:
        hazard = (age / scale) ** shape + dice.expovariate(1.0)
        yield world.timeout((scale * hazard ** (1.0 / shape) - age) / HOURS)
        while True:
            failures.append(world.now)
            by_week[int(world.now)] += 1
            yield world.timeout(scale * dice.expovariate(1.0) ** (1.0 / shape) / HOURS)

    for shape, scale in zip(*Drawn().draw(draws, rng), strict=True):
        world, failures = simpy.Environment(), []  # type: ignore[var-annotated]
        for age in AGES:
            world.process(position(world, float(age), float(shape), float(scale), failures))
        world.run(until=WEEKS)
        totals.append(len(failures))
    return np.array(totals)


def measure(short: bool) -> Iterator[Measured]:
    """Measure one forecast beside both, and how it grows with the horizon."""
    rounds = 7 if short else 21
    own, loop, events = medians(ours, plain_numpy, in_simpy, rounds=rounds, clock=time.process_time)
    size = f"{POSITIONS} positions x {DRAWS:,} draws x {WEEKS} weeks"
    yield Measured(
        f"simpy / ours, {size}", events * DRAWS / SIMPY_DRAWS / own, "times", at_least(200)
    )
    yield Measured("ours / a plain NumPy loop", own / loop, "times", at_most(4))
    yield Measured(f"ours, {size}", own * 1e3, "ms")
    # Twice the weeks bring about twice the failures; the tables grow with the weeks as well.
    half, whole, double = medians(
        lambda: ours(13),
        lambda: ours(26),
        lambda: ours(52),
        rounds=max(rounds // 3, 3),
        clock=time.process_time,
    )
    yield Measured("demand over 26 weeks / over 13 weeks", whole / half, "times", at_most(2.5))
    yield Measured("demand over 52 weeks / over 26 weeks", double / whole, "times", at_most(2.5))
