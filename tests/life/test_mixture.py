"""Quantiles of a mixture of Gamma hazards against the chances SciPy gives below them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import LOG_SHAPE_LIMITS, curve_at
from headlife.life.hazard import GammaHazard
from headlife.life.many import fit_many
from headlife.life.mixture import Mixture
from headlife.life.posterior import fit_life

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


def test_a_new_head_has_no_hazard_behind_it_whatever_the_shape():
    # A share may fail at once: 1e-300 h to the power of a shape of 0.01 is still a tenth of an hour
    flat = Mixture(REFERENCE, np.array([0.01]), np.ones(1), GammaHazard(np.ones(1), np.zeros(1)))
    alone, ages = flat.cumulative_hazard(0.0, 0.9), np.array([0.0, 1e-6, 0.0, 0.5])
    assert alone == 0.0
    levels = flat.cumulative_hazard(ages, [0.5, 0.9])
    assert (levels[[0, 2]] == 0.0).all() and (levels[[1, 3]] > 0.0).all()
    assert levels[3] == pytest.approx(flat.cumulative_hazard(0.5, [0.5, 0.9]))


def record(heads, until):
    ages = 1000.0 * np.random.default_rng(heads).weibull(2.0, heads)
    return Evidence.from_lives(0.0, np.minimum(ages, until), ages <= until, reference_hours=900.0)


def chance_by_summing(life, hours, level):
    """Chance that the cumulative hazard at an age is below a level, on a very fine grid."""
    log_shape = np.linspace(*LOG_SHAPE_LIMITS, 40_001)
    shape, curve = np.exp(log_shape), curve_at(life.evidence.log_curve, log_shape)
    height = life.posterior.density(log_shape, shape, curve)
    weight = np.exp(height - height.max())
    weight[[0, -1]] *= 0.5  # trapezoid
    at_reference = np.log(level) - shape * np.log(hours / REFERENCE)
    below = stats.gamma(life.posterior.count).cdf(np.exp(np.minimum(at_reference + curve, 700.0)))
    return float(weight @ below / weight.sum())


def test_chances_far_from_the_record_are_as_good_as_those_near_it():
    """Where the nodes of the shape lie too far apart for a place, it is asked of more of them."""
    places = [(1.0, 1e-3), (10.0, 1e-3), (100.0, 1e-3), (900.0, 0.1), (1e4, 30.0), (1e5, 300.0)]
    lives = [fit_life(record(*one)) for one in ((5, 300.0), (30, 400.0), (300, 400.0))]
    together = fit_many([life.evidence for life in lives])
    asked_again = 0
    for hours, level in places:
        wanted = [chance_by_summing(life, hours, level) for life in lives]
        alone = [float(life.mixture.probability_hazard_below(hours, level)) for life in lives]
        assert alone == pytest.approx(wanted, rel=1e-7, abs=1e-9)
        many = together.probability_reliability_above(np.exp(-level), hours)
        assert many == pytest.approx(np.array(wanted), rel=1e-7, abs=1e-9)
        # With the first nodes alone some of them are off by far more than that.
        rough = [
            Mixture(REFERENCE, one.shapes, one.weights, one.hazard)
            for one in (life.mixture for life in lives)
        ]
        first = [float(one.probability_hazard_below(hours, level)) for one in rough]
        asked_again += first != alone
    assert asked_again >= 2


@pytest.mark.parametrize("hours", [1.0, 900.0, 1e5])
def test_quantiles_far_from_the_record_have_their_chance_below_them(hours):
    for heads, until in ((5, 300.0), (30, 400.0)):
        life = fit_life(record(heads, until))
        for probability in (0.01, 0.5, 0.99):
            level = float(life.mixture.cumulative_hazard(hours, probability))
            assert chance_by_summing(life, hours, level) == pytest.approx(probability, abs=1e-7)
