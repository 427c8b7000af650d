"""The life room beside the libraries a user could pick instead: ratios, measured in turns.

``python -m pytest tests/benchmarks -rP`` prints the table. Every ratio is of medians taken in
turns in one run, so a slow or busy machine moves both sides.
"""

from __future__ import annotations

import tracemalloc
import warnings

import numpy as np
import pytest
from tests.benchmarks.side_by_side import report

from headlife.life import bootstrap
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life
from studies.timing import medians

pytestmark = pytest.mark.xdist_group("benchmarks")


def lives(n: int, seed: int = 1, until: float = 900.0):
    age = 1000.0 * np.random.default_rng(seed).weibull(2.0, n)
    return np.minimum(age, until), age <= until


@pytest.mark.parametrize("n", [30, 300])
def test_whole_posterior_beside_one_maximum_likelihood_fit(n):
    import lifelines
    import surpyval

    exit_, failed = lives(n)

    def ours():
        life = fit_life(Evidence.from_lives(0.0, exit_, failed, reference_hours=900.0))
        return life.reliability_bounds(900.0), life.life_bounds(0.1)

    def theirs():
        return lifelines.WeibullFitter().fit(exit_, failed)

    def others():
        return surpyval.Weibull.fit(exit_, c=(~failed).astype(int))

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        own, first, second = medians(ours, theirs, others, rounds=25)
    report(f"lifelines fit / our posterior, n = {n}", first / own, ">= 100")
    report(f"SurPyval fit / our posterior, n = {n}", second / own, ">= 20")
    report(f"our posterior, n = {n}, microseconds", own * 1e6, "-")
    assert first / own >= 100
    assert second / own >= 20


@pytest.fixture(scope="module", params=[300_000, 3_000_000])
def many(request):
    return lives(request.param, until=2000.0)


def passes(exit_, failed, entry=0.0):
    """Time of the evidence in passes of one ``np.exp(b * logt, out=...)`` over the rows."""
    log_age, room = np.log(exit_ / 900.0), np.empty_like(exit_)

    def one_pass():
        np.exp(1.7 * log_age, out=room)

    def ours():
        Evidence.from_lives(entry, exit_, failed, reference_hours=900.0)

    own, one = medians(ours, one_pass, rounds=5)
    return own / one


def test_passes_over_many_rows(many):
    ratio = passes(*many)
    report(f"passes, n = {len(many[0])}", ratio, "<= 45")
    assert ratio <= 45


def test_passes_with_late_entry(many):
    exit_, failed = many
    ratio = passes(exit_, failed, entry=0.5 * exit_)
    report(f"passes with late entry, n = {len(exit_)}", ratio, "<= 90")
    assert ratio <= 90


def test_passes_over_whole_hours(many):
    exit_, failed = many
    ratio = passes(np.ceil(exit_), failed)
    report(f"passes, whole hours, n = {len(exit_)}", ratio, "<= 10")
    assert ratio <= 10


@pytest.mark.parametrize("late", [False, True])
def test_memory_does_not_grow_with_the_rows(late):
    exit_, failed = lives(3_000_000, until=2000.0)
    entry = 0.5 * exit_ if late else 0.0
    tracemalloc.start()
    Evidence.from_lives(entry, exit_, failed, reference_hours=900.0)
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    report(f"extra memory at 3,000,000 rows, MB (late entry {late})", peak / 1e6, "<= 100")
    assert peak <= 100e6


def batched_newton(exit_, failed, weights):
    """Newton's method on all profile likelihoods at once, row by row of the weights."""
    log_age = np.log(exit_)
    failures = weights @ failed
    mean_log = (weights @ np.where(failed, log_age, 0.0)) / failures
    shape = np.ones(len(weights))
    for _ in range(50):
        power = weights * np.exp(shape[:, None] * log_age)
        zero = power.sum(axis=1)
        power *= log_age
        first = power.sum(axis=1) / zero
        power *= log_age
        second = power.sum(axis=1) / zero
        climb = 1.0 / shape + mean_log - first
        step = climb / (1.0 / shape**2 + second - first**2)
        following = np.maximum(shape + step, 0.2 * shape)
        done = np.abs(following - shape).max() < 1e-8
        shape = following
        if done:
            break
    return shape


def test_bootstrap_refits_beside_a_batched_newton():
    exit_, failed = lives(200)
    weights = bootstrap.resample(200, 1000, np.random.default_rng(3))
    shape, _ = bootstrap.refit(0.0, exit_, failed, weights)
    assert shape == pytest.approx(batched_newton(exit_ / 900.0, failed, weights), rel=1e-6)
    own, newton = medians(
        lambda: bootstrap.refit(0.0, exit_, failed, weights),
        lambda: batched_newton(exit_ / 900.0, failed, weights),
    )
    report("1,000 refits at n = 200 / batched Newton", own / newton, "<= 2")
    assert own / newton <= 2
