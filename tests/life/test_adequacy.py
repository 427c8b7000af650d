from __future__ import annotations

import warnings

import numpy as np
import pytest
from scipy import integrate, stats

from headlife.errors import EvidenceError
from headlife.life.diagnostics.adequacy import FEWEST_FAILURES, anderson_darling, check_weibull
from headlife.life.diagnostics.replicas import MOST_LIVES, Ages, ages_of, batch_fits, replicate
from headlife.life.nonparametric import product_limit
from headlife.show.words.fit import finding


@pytest.fixture
def rated_fleet():
    """A fleet swapped at its rating: many heads censored at one value, few failures before."""

    def draw(heads=60, shape=2.5, scale=2600.0, rated=1200.0, seed=1):
        age = scale * np.random.default_rng(seed).weibull(shape, heads)
        return np.zeros(heads), np.minimum(age, rated), age <= rated

    return draw


def test_anderson_darling_of_a_complete_sample_is_the_usual_one():
    # scipy.stats.goodness_of_fit's statistic, n times ours
    rng = np.random.default_rng(3)
    ages = Ages(np.zeros(25), 800 * rng.weibull(1.7, 25), np.ones(25, bool))
    hours, share = product_limit(ages.entry, ages.exit, ages.failed)
    fitted = 1 - np.exp(-((hours / 800) ** 1.7))
    usual = stats.goodness_of_fit(
        stats.weibull_min,
        ages.exit,
        known_params={"c": 1.7, "loc": 0, "scale": 800},
        statistic="ad",
        n_mc_samples=1,
        rng=rng,
    ).statistic
    assert 25 * anderson_darling(fitted, share, 1.0) == pytest.approx(usual, rel=1e-6)


def test_anderson_darling_of_censored_steps_is_the_integral():
    fitted, share, last = np.array([0.1, 0.25, 0.3]), np.array([0.15, 0.2, 0.4]), 0.45

    def integrand(u):
        k = np.concatenate([[0.0], share])[np.searchsorted(fitted, u, side="right")]
        return (k - u) ** 2 / (u * (1 - u))

    exact = integrate.quad(integrand, 1e-12, last, points=list(fitted), limit=200)[0]
    assert anderson_darling(fitted, share, last) == pytest.approx(exact, abs=1e-7)


def test_many_fits_at_once_are_the_single_ones(simulate):
    from headlife.life.posterior import fit_life

    lives = simulate(60, late=True, seed=2)
    fits = batch_fits(lives.entry, lives.exit[None, :], lives.failed[None, :])
    single = fit_life(lives.evidence())
    assert fits.weibull == pytest.approx((single.shape, single.scale), rel=1e-4)


def test_replicas_keep_entries_and_ways_out(rated_fleet):
    ages = ages_of(*rated_fleet())
    twins = replicate(ages, 2.5, 2600.0, 500, np.random.default_rng(1))
    assert twins.exit.max() == 1200.0
    assert (twins.exit[~twins.failed] == 1200.0).all()
    # failures occur as often as the life says
    expected = 60 * (1 - np.exp(-((1200 / 2600) ** 2.5)))
    error = np.sqrt(expected / 500)
    assert twins.failed.sum(axis=1).mean() == pytest.approx(expected, abs=4 * error)


@pytest.mark.parametrize("late", [False, True])
def test_false_alarms_are_as_rare_as_stated(simulate, late):
    # 90 fleets of true Weibull lives: p-values are uniform, the band holds 90 % of fleets
    found = [
        check_weibull(*simulate(50, seed=seed, late=late), seed=seed, records=150)
        for seed in range(90)
    ]
    alarms = sum(check.p_value <= 0.10 for check in found)
    outside = sum(check.outside > 0 for check in found)
    assert stats.binomtest(alarms, len(found), 0.10).pvalue > 0.002
    assert stats.binomtest(outside, len(found), 0.10).pvalue > 0.002
    assert stats.kstest([check.p_value for check in found], "uniform").pvalue > 0.002


def test_two_kinds_of_heads_mixed_are_found_out():
    rng = np.random.default_rng(0)
    age = np.concatenate([60 * rng.weibull(3, 40), 1000 * rng.weibull(4, 80)])
    check = check_weibull(0.0, age, True)
    assert check.p_value < 0.01
    assert check.outside > 0
    assert "stray from a Weibull life" in finding(check)


def test_the_band_is_around_the_line_and_repeatable(simulate):
    lives = simulate(60, seed=6)
    check = check_weibull(*lives)
    band = check.band
    assert ((band["low"] <= band["share_failed"]) & (band["share_failed"] <= band["high"])).all()
    assert band["hours"].is_monotonic_increasing
    assert band.equals(check_weibull(*lives).band)
    assert len(check.points) == check.failures


def test_a_unit_change_leaves_the_answer(simulate):
    lives = simulate(60, seed=6)
    one, other = check_weibull(*lives), check_weibull(lives.entry, 3600 * lives.exit, lives.failed)
    assert other.p_value == one.p_value
    assert other.statistic == pytest.approx(one.statistic, rel=1e-9)


@pytest.mark.parametrize(
    ("exit_", "failed"),
    [
        ([100.0], [True]),
        ([100.0] * 20, [True] * 20),
        ([100.0] * 20, [False] * 20),
        ([100.0, 200.0, 300.0, 400.0], [True] * 4),
        ([1200.0] * 9 + [500.0], [False] * 9 + [True]),
    ],
)
def test_too_little_is_said_to_be_too_little(exit_, failed):
    check = check_weibull(0.0, exit_, failed)
    assert not check.enough
    assert check.band.empty
    assert "not enough to tell" in finding(check)
    assert str(FEWEST_FAILURES) in finding(check)


def test_a_fleet_swapped_at_its_rating_is_judged_without_a_warning(rated_fleet):
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        check = check_weibull(*rated_fleet())
    assert check.enough
    assert check.band["hours"].max() <= 1200.0 * (1 + 1e-9)


def test_of_very_many_lives_a_seeded_sample_is_looked_at(simulate):
    lives = simulate(3 * MOST_LIVES, seed=8)
    check = check_weibull(*lives, records=40)
    assert check.failures < lives.failed.sum()
    assert check.shape == pytest.approx(2.0, rel=0.06)
    assert check.p_value == check_weibull(*lives, records=40).p_value
    assert check.p_value > 0.01


def test_ages_that_make_no_sense_are_named():
    with pytest.raises(EvidenceError, match=r"Life 2 runs from 50 h to 40 h"):
        check_weibull([0.0, 50.0], [40.0, 40.0], [True, True])
