"""What does a posterior cost beside the libraries a user could pick instead?

Ratios of medians taken in turns in one run, of processor time where one core does all the work, so
that a busy machine slows both sides alike. Times alone, in microseconds, are those of the machine
at hand.
"""

from __future__ import annotations

import time
import tracemalloc
import warnings
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np

import headlife as hl
from headlife.life.many import fit_many
from headlife.life.stacked import StackedEvidence
from studies.bench.measured import Measured, at_least, at_most
from studies.timing import medians

HOURS = 900.0  # reference hours of every record
_SMALL = {30: "n = 30", 300: "n = 300"}
_IN_A_ROW = 20


def simulated_lives(
    heads: int, seed: int = 1, until: float = HOURS
) -> tuple[np.ndarray, np.ndarray]:
    """Ages [h] at which heads of a Weibull(2, 1000 h) life failed or were last seen, and which."""
    age = 1000.0 * np.random.default_rng(seed).weibull(2.0, heads)
    return np.minimum(age, until), age <= until


def measure(short: bool) -> Iterator[Measured]:
    """Measure posteriors, many groups, passes over many rows and memory."""
    for heads, name in _SMALL.items():
        yield from _beside_libraries(heads, name, rounds=7 if short else 25)
    yield from _many_groups(groups=1_000, rounds=2 if short else 5)
    yield from _passes(3_000_000, rounds=3 if short else 5)
    yield from _memory(3_000_000)


def posterior_with_bounds(exit_: np.ndarray, failed: np.ndarray) -> Any:
    """Evidence, posterior, and its bounds on the share reaching the rating and on B10."""
    life = hl.fit_life(hl.Evidence.from_lives(0.0, exit_, failed, reference_hours=HOURS))
    return life.share_and_life(HOURS, 0.1, [0.05, 0.95])


def _beside_libraries(heads: int, name: str, rounds: int) -> Iterator[Measured]:
    """Time posteriors as a review makes them, one after the other, and one alone.

    One alone between fits of other libraries finds none of its code and data in the core's caches.
    """
    import lifelines
    import surpyval

    exit_, failed = simulated_lives(heads)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        in_a_row, lifelines_fit, alone, surpyval_fit = medians(
            lambda: [posterior_with_bounds(exit_, failed) for _ in range(_IN_A_ROW)],
            lambda: lifelines.WeibullFitter().fit(exit_, failed),
            lambda: posterior_with_bounds(exit_, failed),
            lambda: surpyval.Weibull.fit(exit_, c=(~failed).astype(int)),
            rounds=rounds,
            clock=time.process_time,
        )
    for own, how in ((in_a_row / _IN_A_ROW, f"{_IN_A_ROW} in a row"), (alone, "one alone")):
        what = f"our posterior with bounds, {name}, {how}"
        yield Measured(f"a lifelines fit / {what}", lifelines_fit / own, "times", at_least(400))
        yield Measured(f"a SurPyval fit / {what}", surpyval_fit / own, "times", at_least(20))
        yield Measured(what, own * 1e6, "µs", at_most(150))


def _many_groups(groups: int, rounds: int) -> Iterator[Measured]:
    """Time so many groups of 30 lives, all at once and one by one: lives in, bounds out."""
    exit_, failed = simulated_lives(30 * groups)
    group = np.repeat(np.arange(groups), 30)
    apart = list(zip(exit_.reshape(-1, 30), failed.reshape(-1, 30), strict=True))

    def at_once() -> Any:
        _, evidence = StackedEvidence.from_lives(group, 0.0, exit_, failed, reference_hours=HOURS)
        return fit_many(evidence).share_and_life(HOURS, 0.1, [0.05, 0.95])

    own, one_by_one = medians(
        at_once,
        lambda: [posterior_with_bounds(*each) for each in apart],
        rounds=rounds,
        clock=time.process_time,
    )
    name = f"{groups:,} groups of 30 lives"
    yield Measured(f"{name}, one by one / all at once", one_by_one / own, "times", at_least(10))
    yield Measured(f"a group of {name}", own / groups * 1e6, "µs")


def _passes(rows: int, rounds: int) -> Iterator[Measured]:
    exit_, failed = simulated_lives(rows, until=2000.0)
    size = f"{rows:,} lives"
    whole, zeros = np.ceil(exit_), np.zeros_like(exit_)
    log_age, room = np.log(exit_ / HOURS), np.empty_like(exit_)

    def evidence(entry: object, leave: np.ndarray) -> Callable[[], object]:
        return lambda: hl.Evidence.from_lives(entry, leave, failed, reference_hours=HOURS)

    whole_hours, whole_zeros, distinct, late, one_pass = medians(
        evidence(0.0, whole),
        evidence(zeros, whole),
        evidence(0.0, exit_),
        evidence(0.5 * exit_, exit_),
        lambda: np.exp(1.7 * log_age, out=room),
        rounds=rounds,
    )
    unit = "np.exp"
    yield Measured(f"evidence of {size} in whole hours", whole_hours / one_pass, unit, at_most(10))
    yield Measured(
        "the same with entry ages an array of zeros", whole_zeros / one_pass, unit, at_most(10)
    )
    yield Measured(f"evidence of {size}, all ages distinct", distinct / one_pass, unit, at_most(45))
    yield Measured("the same, every head entering late", late / one_pass, unit, at_most(90))


def _memory(rows: int) -> Iterator[Measured]:
    exit_, failed = simulated_lives(rows, until=2000.0)
    for name, entry in (("", 0.0), (" entering late", 0.5 * exit_)):
        tracemalloc.start()
        hl.Evidence.from_lives(entry, exit_, failed, reference_hours=HOURS)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        yield Measured(
            f"extra memory of the evidence of {rows:,} lives{name}", peak / 1e6, "MB", at_most(100)
        )
