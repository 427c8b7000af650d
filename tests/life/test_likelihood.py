"""Maximum likelihood and likelihood-ratio bounds against brute force and other libraries."""

from __future__ import annotations

import warnings
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.optimize import brentq, minimize
from scipy.special import chdtri
from scipy.stats import CensoredData, chi2, weibull_min

from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life


def log_likelihood(parameters, lives):
    shape, scale = np.exp(parameters)
    exposure = (lives.exit / scale) ** shape - np.where(
        lives.entry > 0, lives.entry / scale, 0.0
    ) ** shape
    ages = lives.exit[lives.failed] / scale
    density = np.log(shape / scale) * len(ages) + (shape - 1) * np.log(ages).sum()
    return density - exposure.sum()


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("n", [15, 60, 2000])
def test_the_estimate_is_the_top_of_the_likelihood(simulate, n, late):
    lives = simulate(n, late=late)
    life = fit_life(lives.evidence())
    found = minimize(
        lambda p: -log_likelihood(p, lives),
        np.log([1.5, 1200.0]),
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000},
    )
    assert (life.shape, life.scale) == pytest.approx(np.exp(found.x), rel=1e-5)
    assert life.estimate.log_likelihood == pytest.approx(-found.fun, abs=1e-7)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("n", [20, 200])
def test_lifelines_agrees(simulate, n, late):
    from lifelines import WeibullFitter

    lives = simulate(n, late=late, seed=8)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # its search warns of steep likelihoods and goes on
        fitter = WeibullFitter().fit(lives.exit, lives.failed, entry=lives.entry if late else None)
    life = fit_life(lives.evidence())
    # lifelines 0.30 stops at about four digits
    assert (life.shape, life.scale) == pytest.approx((fitter.rho_, fitter.lambda_), rel=1e-3)
    assert life.estimate.log_likelihood >= fitter.log_likelihood_ - 1e-6


@pytest.mark.parametrize("late", [False, True])
def test_surpyval_agrees(simulate, late):
    import surpyval

    lives = simulate(80, late=late, seed=9)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        scale, shape = surpyval.Weibull.fit(
            lives.exit, c=(~lives.failed).astype(int), tl=lives.entry if late else None
        ).params
    life = fit_life(lives.evidence())
    assert (life.shape, life.scale) == pytest.approx((shape, scale), rel=1e-4)


def test_scipy_agrees(simulate):
    lives = simulate(80, seed=10)
    data = CensoredData(uncensored=lives.exit[lives.failed], right=lives.exit[~lives.failed])
    shape, _, scale = weibull_min.fit(data, floc=0)
    life = fit_life(lives.evidence())
    assert (life.shape, life.scale) == pytest.approx((shape, scale), rel=1e-3)


def test_reliability_agrees(simulate):
    from reliability.Fitters import Fit_Weibull_2P

    lives = simulate(80, seed=11)
    theirs = Fit_Weibull_2P(
        failures=lives.exit[lives.failed],
        right_censored=lives.exit[~lives.failed],
        show_probability_plot=False,
        print_results=False,
    )
    life = fit_life(lives.evidence())
    assert (life.shape, life.scale) == pytest.approx((theirs.beta, theirs.alpha), rel=1e-3)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize(("n", "until"), [(12, 1500.0), (60, 400.0)])
def test_likelihood_ratio_bounds_are_those_of_a_brute_force_profile(simulate, n, until, late):
    lives = simulate(n, until=until, late=late, seed=4)
    life = fit_life(lives.evidence())
    top, drop = life.estimate.log_likelihood, 0.5 * chdtri(1, 0.1)
    shapes = np.geomspace(0.2, 20.0, 4001)

    def profile(log_b10):
        # with B10 given, the shape alone is free
        scales = np.exp(log_b10) * (-np.log(0.9)) ** (-1.0 / shapes)
        exposure = sum((x / scales) ** shapes for x in lives.exit)
        exposure = exposure - sum((e / scales) ** shapes for e in lives.entry if e > 0)
        ages = np.log(lives.exit[lives.failed])
        height = (
            len(ages) * (np.log(shapes) - shapes * np.log(scales))
            + (shapes - 1) * ages.sum()
            - exposure
        )
        return height.max() - top + drop

    peak = np.log(life.life(0.1))
    low, high = life.likelihood_ratio_life_bounds(0.1, confidence=0.9)
    assert np.log(low) == pytest.approx(brentq(profile, peak - 6, peak), abs=1e-4)
    assert np.log(high) == pytest.approx(brentq(profile, peak, peak + 6), abs=1e-4)
    # and the bound on the reliability at that bound is the same statement
    at_low = life.likelihood_ratio_reliability_bounds(low, confidence=0.9)
    assert at_low[0] == pytest.approx(0.9, abs=1e-6)


@pytest.mark.parametrize(("n", "until"), [(6, 2000.0), (12, 1500.0), (60, 400.0)])
def test_ratio_bounds_on_a_share_and_on_a_life_are_one_statement(simulate, n, until):
    """The share of heads good at the bound of a life is the share that life is of."""
    life = fit_life(simulate(n, until=until, seed=6).evidence())
    for failed in (0.001, 0.1, 0.6, 0.95):
        ages = life.likelihood_ratio_life_bounds(failed)
        for side, age in enumerate(ages):
            shares = life.likelihood_ratio_reliability_bounds(age)
            assert 0.0 <= shares[0] < shares[1] <= 1.0
            assert shares[side] == pytest.approx(1.0 - failed, abs=1e-6)


@pytest.mark.parametrize(
    ("ages", "failed"),
    [
        ([940.0, 871.0, 747.0, 883.0], [True] * 4),  # no steep shape is ruled out
        ([536.0, 536.0, 144.0, 536.0], [False, False, True, False]),  # no flat one is
    ],
)
def test_ratio_bounds_of_a_region_that_meets_an_end_of_the_shapes(ages, failed):
    life = fit_life(Evidence.from_lives(0.0, ages, failed, reference_hours=900.0))
    low, high = life.likelihood_ratio_life_bounds(0.5, confidence=0.95)
    at_low, at_high = (life.likelihood_ratio_reliability_bounds(age, 0.95) for age in (low, high))
    assert (at_low[0], at_high[1]) == pytest.approx((0.5, 0.5), abs=1e-6)


def test_heads_that_fail_at_nearly_one_age_have_an_estimate():
    """Shapes of 15 to 20, next to the end of those looked at: the search ended in a traceback."""
    rng = np.random.default_rng(1)
    found = 0
    for shape in np.repeat([12.0, 15.0, 17.0, 19.0, 22.0], 30):
        ages = 1000.0 * rng.weibull(shape, int(rng.integers(3, 9)))
        life = fit_life(Evidence.from_lives(0.0, ages, True, reference_hours=900.0))
        if life.has_ml:
            found += 1
            slope, steps = life.evidence.failures, np.log(ages / life.scale)
            # At the peak 1 / shape is the mean of log ages by their power, less the plain mean.
            power = np.exp(life.shape * steps)
            wanted = (power @ steps) / power.sum() - steps.mean()
            assert 1.0 / life.shape == pytest.approx(wanted, rel=1e-6)
            assert power.sum() == pytest.approx(slope, rel=1e-6)
    assert found > 30


def test_likelihood_ratio_bounds_hold_the_estimate(simulate):
    life = fit_life(simulate(40).evidence())
    for age in (10.0, 500.0, 900.0, 2000.0):
        low, high = life.likelihood_ratio_reliability_bounds(age)
        assert low < life.reliability(age) < high


@pytest.mark.parametrize("failures", [1, 2])
def test_no_peak_is_no_estimate(failures):
    # failures at the longest age only: the steeper, the more likely
    exit_ = np.array([100.0] * 5 + [60.0] * 5)
    failed = np.arange(10) < failures
    assert not fit_life(Evidence.from_lives(0.0, exit_, failed, reference_hours=100.0)).has_ml


def extremes_by_brute_force(lives, hours, confidence):
    """Least and greatest reliability over the edge of the region, shape by shape."""
    shapes = np.geomspace(0.2, 20.0, 40_001)
    ages, failures = np.log(lives.exit[lives.failed] / hours), lives.failed.sum()
    exposure = sum((x / hours) ** shapes for x in lives.exit)
    exposure = exposure - sum((e / hours) ** shapes for e in lives.entry if e > 0)
    best = np.log(failures) - np.log(exposure)  # log hazard at these hours
    top = failures * (np.log(shapes) + best) + shapes * ages.sum() - failures
    spare = (top - top.max() + 0.5 * chdtri(1, 1.0 - confidence)) / failures
    shapes, best, spare = (one[spare >= 0] for one in (shapes, best, spare))
    # Where x - exp(x) + 1 = -spare, by halving on either side of its top at 0.
    ends = []
    for far in (-60.0, 6.0):
        near, far = np.zeros(len(spare)), np.full(len(spare), far)
        for _ in range(60):
            middle = 0.5 * (near + far)
            inside = middle - np.exp(middle) + 1.0 >= -spare
            near, far = np.where(inside, middle, near), np.where(inside, far, middle)
        ends.append(best + near)
    return np.exp(-np.exp(ends[1].max())), np.exp(-np.exp(ends[0].min()))


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("hours", [1.0, 150.0, 900.0, 1800.0])
def test_bounds_at_any_age_are_the_extremes_over_the_region(simulate, hours, late):
    for n, confidence in ((10, 0.9), (40, 0.99), (40, 0.5)):
        lives = simulate(n, late=late, seed=3)
        life = fit_life(lives.evidence())
        low, high = life.likelihood_ratio_reliability_bounds(hours, confidence)
        by_force = extremes_by_brute_force(lives, hours, confidence)
        # The edge is vertical at its ends, where shapes one by one come near it only.
        found, wanted = (np.log(-np.log(pair)) for pair in ((low, high), by_force))
        assert found == pytest.approx(wanted, abs=2e-3)


@pytest.mark.parametrize("beyond", [-0.2, 0.2, 0.6, 2.0])
def test_a_region_that_passes_the_steepest_shape_ends_there(beyond):
    """Three failures at nearly one age: steeper lives than any fit as well."""
    exit_hours = np.array([700.0, 890.0, 905.0, *[900.0] * 5])
    evidence = Evidence.from_lives(0.0, exit_hours, np.arange(8) < 3, reference_hours=900.0)
    life = fit_life(evidence)
    shapes = np.array([0.2, 20.0])
    exposure = sum((x / 900.0) ** shapes for x in exit_hours)
    height = 3 * np.log(shapes / exposure) + shapes * np.log(exit_hours[:3] / 900.0).sum()
    best = np.log(life.shape)
    own = sum((x / 900.0) ** life.shape for x in exit_hours)
    top = 3 * (best - np.log(own)) + life.shape * np.log(exit_hours[:3] / 900.0).sum()
    # So confident that the steepest shape lies so far inside the edge, or outside.
    drop = top - height[1] + beyond
    confidence = float(chi2.cdf(2.0 * drop, 1))
    assert drop > 0
    lives = SimpleNamespace(exit=exit_hours, entry=np.zeros(8), failed=np.arange(8) < 3)
    for hours in (500.0, 900.0, 1000.0):
        low, high = life.likelihood_ratio_reliability_bounds(hours, confidence)
        by_force = extremes_by_brute_force(lives, hours, confidence)
        # The edge is vertical at its ends, where shapes one by one come near it only.
        found, wanted = (np.log(-np.log(pair)) for pair in ((low, high), by_force))
        assert found == pytest.approx(wanted, abs=2e-3)
