"""The Gamma hazard at given shapes against SciPy's own Gamma distribution."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from headlife.life.hazard import GammaHazard, NodeWeights

COUNTS = [0.5, 1.5, 9.5, 400.5]
LOG_RATE = np.log([0.3, 2.0, 50.0])
SMOOTH = np.linspace(-0.5, 0.6, 41)  # of log rates, as close as those of a posterior's nodes


def bell(nodes):
    weight = np.exp(-0.5 * np.linspace(-5, 5, nodes) ** 2)
    return weight / weight.sum()


@pytest.mark.parametrize("count", COUNTS)
@pytest.mark.parametrize("log_rate", [LOG_RATE, SMOOTH], ids=["far apart", "close"])
def test_chance_and_its_slopes_are_those_of_the_gamma_distribution(count, log_rate):
    hazard, weight = GammaHazard(np.array([count]), log_rate), bell(len(log_rate))
    truth = stats.gamma(count, scale=np.exp(-log_rate))
    slope = np.linspace(0.5, 2.0, len(log_rate))

    def level(place):
        return np.log(stats.gamma(count).ppf([[0.001], [0.3], [0.999]])) + slope * place

    def chance(place):
        return hazard.chance(level(place), slope, NodeWeights.of(weight))

    found, hour = chance(0.0), np.exp(level(0.0))
    assert found.below == pytest.approx(truth.cdf(hour) @ weight, rel=1e-9, abs=1e-11)
    below, _ = hazard.below(level(0.0), NodeWeights.of(weight))
    assert below == pytest.approx(truth.cdf(hour) @ weight, rel=1e-12)
    # density of the log: times the hazard itself
    density = (truth.pdf(hour) * hour) @ (weight * slope)
    assert found.first == pytest.approx(density, rel=1e-9)
    step = 1e-4
    more, less = chance(step), chance(-step)
    second = (more.first - less.first) / (2 * step)
    assert found.second == pytest.approx(second, rel=1e-4, abs=1e-5)
    third = (more.second - less.second) / (2 * step)
    assert found.third == pytest.approx(third, rel=1e-4, abs=1e-4)
    assert found.coarse.any() == (log_rate is LOG_RATE)


@pytest.mark.parametrize("count", COUNTS)
@pytest.mark.parametrize("apart", [0.05, 0.189, 0.191, 0.35, 0.489, 0.491, 0.7, 0.86])
def test_points_between_shapes_are_as_many_as_the_step_needs(count, apart):
    # Steps in spreads of the hazard, on both sides of every change of the rule.
    log_rate = np.arange(-40, 41) * apart / np.sqrt(count)
    hazard, weight = GammaHazard(np.array([count]), log_rate), NodeWeights.of(bell(81))
    truth = stats.gamma(count)
    level = np.log(truth.ppf([[0.05], [0.5], [0.95]])) + 0.0 * log_rate
    found = hazard.chance(level, np.ones(81), weight)
    exact = truth.cdf(np.exp(level + log_rate)) @ weight.each
    assert found.below == pytest.approx(exact, abs=1e-10, rel=0)


@pytest.mark.parametrize("count", COUNTS)
def test_cumulants_to_begin_with_are_about_those_of_the_log_hazard(count):
    mean, *rest = GammaHazard(np.array([count]), LOG_RATE).moments
    law = stats.loggamma(count)
    exact = [float(moment) for moment in law.stats("vsk")]
    third, fourth = exact[1] * exact[0] ** 1.5, exact[2] * exact[0] ** 2
    assert mean == pytest.approx(law.mean() - LOG_RATE, abs=0.1)
    assert rest[0] == pytest.approx(exact[0], rel=0.15)
    assert [rest[1], rest[2]] == pytest.approx([third, fourth], rel=0.35)


@pytest.mark.parametrize("count", COUNTS)
def test_points_average_polynomials_of_the_hazard_exactly(count):
    log_hazard, weight = GammaHazard(np.array([count]), LOG_RATE).points(4)
    assert weight.sum(axis=1) == pytest.approx(1.0)
    for power in range(1, 8):  # degree 2 * 4 - 1
        law = stats.gamma(count)
        exact = law.moment(power) * np.exp(-power * LOG_RATE)
        assert (weight * np.exp(power * log_hazard)).sum(axis=1) == pytest.approx(exact, rel=1e-8)
