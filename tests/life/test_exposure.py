"""The exposure curve against the same sum in extended precision, term by term."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.life.exposure import log_exposure

SHAPES = np.array([0.2, 0.7, 1.0, 2.3, 6.0, 20.0])


def plain_sum(entry, exit_, weight, reference):
    late, leave = (np.asarray(ages, np.longdouble) / reference for ages in (entry, exit_))
    return [
        float(np.log((np.asarray(weight, np.longdouble) * (leave**b - late**b)).sum()))
        for b in SHAPES.astype(np.longdouble)
    ]


@pytest.mark.parametrize("n", [1, 40, 3_000, 30_000])
@pytest.mark.parametrize("late", [False, True])
def test_curve_is_the_sum_over_the_lives_however_it_is_made(n, late):
    rng = np.random.default_rng(n)
    exit_ = 1000.0 * rng.weibull(1.5, n) + 1e-3
    entry = exit_ * rng.random(n) * 0.9 if late else np.zeros(n)
    weight = rng.integers(1, 4, n).astype(float)
    found = log_exposure(entry, exit_, weight, 900.0, SHAPES)
    assert found == pytest.approx(plain_sum(entry, exit_, weight, 900.0), rel=1e-11, abs=1e-11)


def test_lives_watched_only_briefly_keep_their_digits():
    exit_ = np.array([500.0, 800.0])
    entry = exit_ * (1 - 1e-9)
    found = log_exposure(entry, exit_, np.ones(2), 900.0, SHAPES)
    # d/dt of t**b is b t**(b-1): exact to the square of the relative gap
    gap = (exit_ - entry) / exit_
    exact = [np.log((b * gap * (exit_ / 900.0) ** b).sum()) for b in SHAPES]
    assert found == pytest.approx(exact, rel=1e-7)


def test_whole_hours_and_repeated_lives_are_weights():
    rng = np.random.default_rng(3)
    hours = np.ceil(800 * rng.weibull(2.0, 30_000))
    found = log_exposure(np.zeros(30_000), hours, np.ones(30_000), 900.0, SHAPES)
    once, count = np.unique(hours, return_counts=True)
    weighed = log_exposure(np.zeros(once.size), once, count.astype(float), 900.0, SHAPES)
    assert found == pytest.approx(weighed, abs=1e-11)


def test_nobody_watched_is_no_exposure():
    nothing = np.zeros(0)
    assert np.isneginf(log_exposure(nothing, nothing, nothing, 900.0, SHAPES)).all()
    assert np.isneginf(log_exposure(np.zeros(1), np.zeros(1), np.ones(1), 900.0, SHAPES)).all()
