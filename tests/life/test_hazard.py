"""The Gamma hazard at given shapes against SciPy's own Gamma distribution."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import integrate, stats

from headlife.life.hazard import GammaHazard

COUNTS = [0.5, 1.5, 9.5, 400.5]
LOG_RATE = np.log([0.3, 2.0, 50.0])


@pytest.mark.parametrize("count", COUNTS)
def test_chance_and_density_are_those_of_the_gamma_distribution(count):
    hazard = GammaHazard(count, LOG_RATE)
    truth = stats.gamma(count, scale=np.exp(-LOG_RATE)[:, None])
    level = np.log(truth.ppf([0.001, 0.3, 0.999]))
    below, density, slope = hazard.below_and_density(level)
    assert below == pytest.approx(truth.cdf(np.exp(level)), rel=1e-9)
    assert hazard.below(level) == pytest.approx(below, rel=1e-12)
    # density of the log: times the hazard itself
    assert density == pytest.approx(truth.pdf(np.exp(level)) * np.exp(level), rel=1e-9)
    step = 1e-5
    _, higher, _ = hazard.below_and_density(level + step)
    _, lower, _ = hazard.below_and_density(level - step)
    assert slope == pytest.approx((higher - lower) / (2 * step), rel=1e-4, abs=1e-6)


@pytest.mark.parametrize("count", COUNTS)
def test_moments_are_those_of_the_log_hazard(count):
    mean, variance, third = GammaHazard(count, LOG_RATE).moments()
    law = stats.loggamma(count)
    assert mean[:, 0] == pytest.approx(law.mean() - LOG_RATE, rel=1e-9, abs=1e-9)
    assert variance == pytest.approx(law.var(), rel=1e-9)
    low, high = law.ppf([1e-14, 1 - 1e-14])
    exact, _ = integrate.quad(
        lambda x: (x - law.mean()) ** 3 * law.pdf(x), low - 20, high, points=[law.mean()], limit=200
    )
    assert third == pytest.approx(exact, rel=1e-5)


@pytest.mark.parametrize("count", COUNTS)
def test_points_average_polynomials_of_the_hazard_exactly(count):
    log_hazard, weight = GammaHazard(count, LOG_RATE).points(4)
    assert weight.sum(axis=1) == pytest.approx(1.0)
    for power in range(1, 8):  # degree 2 * 4 - 1
        law = stats.gamma(count)
        exact = law.moment(power) * np.exp(-power * LOG_RATE)
        assert (weight * np.exp(power * log_hazard)).sum(axis=1) == pytest.approx(exact, rel=1e-8)
