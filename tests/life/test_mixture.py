"""Quantiles of a mixture of Gamma hazards against the chances SciPy gives below them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from headlife.life.hazard import GammaHazard
from headlife.life.mixture import Mixture

REFERENCE = 900.0
SHAPES = np.array([0.8, 1.7, 2.6, 4.1])
WEIGHTS = np.array([0.1, 0.4, 0.35, 0.15])
RATES = np.array([3.0, 6.0, 9.0, 20.0])


def mixture(count: float) -> Mixture:
    return Mixture(REFERENCE, SHAPES, WEIGHTS, GammaHazard(np.array([count]), np.log(RATES)))


def chance_hazard_below(count: float, hours: float, level: float) -> float:
    at_reference = level * (REFERENCE / hours) ** SHAPES
    return float(WEIGHTS @ stats.gamma(count, scale=1 / RATES).cdf(at_reference))


@pytest.mark.parametrize("count", [0.5, 3.5, 60.5])
@pytest.mark.parametrize("probability", [1e-6, 0.05, 0.5, 0.95, 1 - 1e-6])
def test_quantile_of_the_hazard_has_the_chance_asked_for_below_it(count, probability):
    for hours in (60.0, 900.0, 2500.0):
        found = float(mixture(count).cumulative_hazard(hours, probability))
        assert chance_hazard_below(count, hours, found) == pytest.approx(probability, rel=1e-6)


@pytest.mark.parametrize("count", [0.5, 3.5, 60.5])
@pytest.mark.parametrize("probability", [0.05, 0.5, 0.95])
def test_quantile_of_a_life_is_where_the_hazard_meets_the_fraction(count, probability):
    found = float(mixture(count).life(0.10, probability))
    # A life below t is a hazard at t above the target.
    beyond = 1 - chance_hazard_below(count, found, -np.log1p(-0.10))
    assert beyond == pytest.approx(probability, abs=1e-6)


def test_probability_and_quantile_are_each_others_inverse():
    one = mixture(4.5)
    levels = one.cumulative_hazard(700.0, [0.1, 0.5, 0.9])
    assert one.probability_hazard_below(700.0, levels) == pytest.approx([0.1, 0.5, 0.9], rel=1e-9)
    assert one.cumulative_hazard(0.0, 0.5) == 0.0, "a new head has no hazard behind it"


def test_nodes_carry_the_mixture_whole():
    shape, scale, weight = mixture(4.5).nodes(40)
    assert weight.sum() == pytest.approx(1.0)
    hazard = (700.0 / scale) ** shape
    mean = WEIGHTS @ (4.5 / RATES * (700.0 / REFERENCE) ** SHAPES)  # of each Gamma, averaged
    assert weight @ hazard == pytest.approx(mean, rel=1e-9)
