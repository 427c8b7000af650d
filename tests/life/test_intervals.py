"""Failures known only to lie between two readings: posterior and likelihood by brute force."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from headlife.life import weibull
from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import SHAPE_RANGE
from headlife.life.posterior import fit_life
from headlife.life.prior import prior_powers


def inspected(lives, every):
    """Failures found at the next inspection."""
    good = np.where(lives.failed, np.floor(lives.exit / every) * every, np.nan)
    found = np.where(lives.failed, np.ceil(lives.exit / every) * every, lives.exit)
    return found, good


def looked_at_once(lives):
    """Each head is looked at once, at an age of its own: failed by then, or not yet."""
    ages = np.linspace(300.0, 1800.0, len(lives.exit))
    failed = lives.exit < ages
    return ages, np.where(failed, 0.0, np.nan), failed


def log_likelihood(shape, scale, found, good, failed):
    hazard_found = (found / scale) ** shape
    hazard_good = (np.where(failed, good, 0.0) / scale) ** shape
    between = np.log(-np.expm1(-(hazard_found - hazard_good)))
    return np.where(failed, between - hazard_good, -hazard_found).sum(axis=-1)


@pytest.fixture(params=["inspected", "one look"])
def case(request, simulate):
    if request.param == "one look":
        data = looked_at_once(simulate(40, until=1e9))
    else:
        lives = simulate(40)
        data = (*inspected(lives, 300.0), lives.failed)
    found, good, failed = data
    evidence = Evidence.from_lives(0.0, found, failed, reference_hours=900.0, last_good_hours=good)
    return evidence, data


def test_the_estimate_is_the_top_of_the_likelihood(case):
    evidence, data = case
    life = fit_life(evidence)
    found = minimize(
        lambda p: -log_likelihood(*np.exp(p), *data),
        np.log([1.5, 1200.0]),
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11, "maxiter": 4000},
    )
    assert life.estimate.log_likelihood == pytest.approx(-found.fun, abs=1e-7)
    assert (life.shape, life.scale) == pytest.approx(np.exp(found.x), rel=1e-4)


def test_bounds_are_those_of_the_summed_up_posterior(case):
    evidence, data = case
    life = fit_life(evidence)
    started, power = prior_powers(evidence.all_failures, "calibrated")
    log_shape = np.linspace(*np.log(SHAPE_RANGE), 301)
    log_hazard = np.linspace(-8.0, 3.0, 401)
    height = np.empty((301, 401))
    for row, shape in enumerate(np.exp(log_shape)):
        scales = 900.0 * np.exp(-log_hazard / shape)
        watched = ((data[0] / 900.0) ** shape).sum()  # the gaps counted
        height[row] = (
            log_likelihood(shape, scales[:, None], *data)
            + started * (log_hazard + np.log(watched))
            + power * np.log(shape)
        )
    weight = np.exp(height - height.max())
    values = log_hazard[None, :] + np.exp(log_shape)[:, None] * np.log(500.0 / 900.0)
    order = np.argsort(values, axis=None)
    below = np.cumsum(weight.ravel()[order])
    expected = np.interp([0.05, 0.95], below / below[-1], values.ravel()[order])
    assert np.log(life.mixture.cumulative_hazard(500.0, [0.05, 0.95])) == pytest.approx(
        expected, abs=0.02
    )


def test_draws_agree_with_bounds(case):
    life = fit_life(case[0])
    shape, scale = life.draw(40_000, np.random.default_rng(5))
    for age in (300.0, 900.0):
        hazard = weibull.cumulative_hazard(age, shape, scale)
        low, high = life.mixture.cumulative_hazard(age, [0.05, 0.95])
        # binomial band of 40 000 draws, five standard deviations
        assert (hazard < low).mean() == pytest.approx(0.05, abs=0.0055)
        assert (hazard > high).mean() == pytest.approx(0.05, abs=0.0055)


def test_nodes_replace_draws(case):
    life = fit_life(case[0])
    shape, scale, weight = life.nodes()
    assert weight.sum() == pytest.approx(1.0, rel=1e-9)
    drawn = weibull.reliability(600.0, *life.draw(40_000, np.random.default_rng(6)))
    mean = weight @ weibull.reliability(600.0, shape, scale)
    assert mean == pytest.approx(drawn.mean(), abs=5 * drawn.std() / 200.0)


def test_quantiles_and_probabilities_are_inverse(case):
    life = fit_life(case[0])
    low, high = life.life_bounds(0.1)
    assert life.probability_reliability_above(0.9, low) == pytest.approx(0.95, abs=1e-7)
    assert life.probability_reliability_above(0.9, high) == pytest.approx(0.05, abs=1e-7)


def test_a_short_gap_is_an_exact_age(simulate):
    lives = simulate(40)
    exact = fit_life(lives.evidence())
    close = fit_life(
        Evidence.from_lives(
            0.0,
            lives.exit * 1.00005,
            lives.failed,
            reference_hours=900.0,
            last_good_hours=lives.exit * 0.99995,
        )
    )
    assert close.shape == pytest.approx(exact.shape, rel=1e-3)
    assert close.life_bounds(0.1) == pytest.approx(exact.life_bounds(0.1), rel=1e-3)
    assert close.reliability_bounds(900.0) == pytest.approx(
        exact.reliability_bounds(900.0), rel=1e-3
    )
    ours = close.likelihood_ratio_life_bounds(0.1)
    assert ours == pytest.approx(exact.likelihood_ratio_life_bounds(0.1), rel=1e-3)


def test_likelihood_ratio_bounds_hold_the_estimate(case):
    life = fit_life(case[0])
    low, high = life.likelihood_ratio_life_bounds(0.1)
    assert low < life.life(0.1) < high
    at_low = life.likelihood_ratio_reliability_bounds(low)
    assert at_low[0] == pytest.approx(0.9, abs=1e-5)


def test_moving_the_reference_changes_no_answer(case):
    life, moved = fit_life(case[0]), fit_life(case[0].rereference(77.0))
    assert moved.reliability_bounds(500.0) == pytest.approx(
        life.reliability_bounds(500.0), rel=1e-7
    )


def test_rows_of_two_evidences_pool(case, simulate):
    evidence, _ = case
    twice = fit_life(evidence + evidence)
    heavy = Evidence(
        evidence.reference_hours,
        2 * evidence.failures,
        2 * evidence.log_sum,
        evidence.log_curve + np.log(2.0),
        2 * evidence.heads,
        evidence.intervals * [1.0, 1.0, 2.0],
    )
    assert twice.life_bounds(0.1) == pytest.approx(fit_life(heavy).life_bounds(0.1), rel=1e-8)


def test_exact_and_interval_failures_together(simulate):
    lives = simulate(40)
    found, good = inspected(lives, 300.0)
    half = np.arange(40) % 2 == 0
    life = fit_life(
        Evidence.from_lives(
            0.0,
            np.where(half, found, lives.exit),
            lives.failed,
            reference_hours=900.0,
            last_good_hours=np.where(half, good, np.nan),
        )
    )
    exact = fit_life(lives.evidence())
    # the same heads, half of them told less precisely: near, and no narrower by much
    assert life.life(0.1) == pytest.approx(exact.life(0.1), rel=0.2)


def test_one_failure_found_at_the_first_look():
    life = fit_life(
        Evidence.from_lives(
            0.0,
            [100.0] * 10,
            [True] + [False] * 9,
            reference_hours=100.0,
            last_good_hours=[0.0] + [np.nan] * 9,
        )
    )
    low, high = life.reliability_bounds(100.0)
    # one of ten, only whether failed: near the limits of Clopper & Pearson 1934 for 1 of 10,
    # 0.606 and 0.995 (one-sided 95 %, computed with scipy.stats.binomtest)
    assert 0.60 < low < 0.75 and 0.97 < high < 0.9999
    assert not life.has_ml  # any shape will do


def test_many_rows(simulate):
    lives = simulate(800, seed=2)
    life = fit_life(
        Evidence.from_lives(
            0.0,
            lives.exit * np.where(lives.failed, 1.1, 1.0),
            lives.failed,
            reference_hours=900.0,
            last_good_hours=lives.exit * 0.9,
        )
    )
    assert life.shape == pytest.approx(2.0, rel=0.25)
    low, high = life.life_bounds(0.1)
    assert low < life.life(0.1) < high


def test_a_companion_read_at_short_intervals_lends_the_shape_of_exact_ages(simulate):
    """Strata that share a shape: what the other one says of it hangs on lives, not on reading."""
    own, other = simulate(12, seed=2).evidence(), simulate(60, shape=3.0, seed=3)
    good = np.where(other.failed, 0.999 * other.exit, np.nan)
    alone, exact, read, coarse = (
        fit_life(own, companions=companions)
        for companions in (
            [],
            [other.evidence()],
            [other.evidence(last_good_hours=good)],
            [other.evidence(last_good_hours=0.3 * good)],
        )
    )
    assert read.shape_bounds() == pytest.approx(exact.shape_bounds(), rel=2e-3)
    assert read.life_bounds(0.1) == pytest.approx(exact.life_bounds(0.1), rel=2e-3)
    widths = [np.log(np.divide(*one.shape_bounds()[::-1])) for one in (exact, coarse, alone)]
    assert widths[0] < widths[1] < widths[2], "the less is known, the wider"


def test_draws_of_lives_read_at_intervals_follow_their_posterior(case):
    evidence, _ = case
    life = fit_life(evidence)
    shape, scale = life.draw(40_000, np.random.default_rng(5))
    hazard = weibull.cumulative_hazard(700.0, shape, scale)
    for probability in (0.05, 0.5, 0.95):
        level = life.mixture.cumulative_hazard(700.0, probability)
        assert (hazard < level).mean() == pytest.approx(probability, abs=0.0125)
