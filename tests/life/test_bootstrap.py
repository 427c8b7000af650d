"""Batched refits are the same estimates as one fit at a time."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.errors import EvidenceError
from headlife.life import bootstrap
from headlife.life.posterior import fit_life
from studies.bench.life import batched_newton, simulated_lives


@pytest.mark.parametrize("late", [False, True])
def test_refits_are_fits_with_weights(simulate, late):
    lives = simulate(60, late=late)
    weights = bootstrap.resample(60, 40, np.random.default_rng(1))
    shape, scale = bootstrap.refit(lives.entry, lives.exit, lives.failed, weights)
    for k in range(40):
        life = fit_life(lives.evidence(weights=weights[k]))
        assert (shape[k], scale[k]) == pytest.approx((life.shape, life.scale), rel=1e-7)


def test_refits_are_those_of_newtons_method():
    exit_, failed = simulated_lives(200)
    weights = bootstrap.resample(200, 100, np.random.default_rng(3))
    shape, _ = bootstrap.refit(0.0, exit_, failed, weights)
    assert shape == pytest.approx(batched_newton(exit_, failed, weights), rel=1e-6)


def test_a_refit_without_a_peak_is_nan():
    exit_, failed = np.array([50.0, 60.0, 70.0]), np.array([True, True, False])
    weights = np.array([[1, 1, 1], [0, 0, 3], [3, 0, 0], [1, 2, 2]])
    shape, scale = bootstrap.refit(0.0, exit_, failed, weights)
    assert np.isnan(shape).tolist() == np.isnan(scale).tolist() == [False, True, True, False]


def test_samples_hold_as_many_lives():
    counts = bootstrap.resample(25, 10, np.random.default_rng(1))
    assert counts.shape == (10, 25) and (counts.sum(axis=1) == 25).all()


def test_weights_must_fit_the_lives():
    with pytest.raises(EvidenceError, match="one weight per life and refit: 2 lives"):
        bootstrap.refit(0.0, [1.0, 2.0], [True, True], np.ones((5, 3)))


def test_spread_of_refits_is_that_of_large_sample_theory(simulate):
    lives = simulate(400, until=1e9)
    weights = bootstrap.resample(400, 1000, np.random.default_rng(2))
    shape, _ = bootstrap.refit(0.0, lives.exit, lives.failed, weights)
    # Meeker & Escobar 1998, section 8.4: sd of ln(shape) is sqrt(6 / n) / pi; the bootstrap of
    # one record scatters about it
    assert np.log(shape).std() == pytest.approx(np.sqrt(6 / 400) / np.pi, rel=0.2)
