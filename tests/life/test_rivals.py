from __future__ import annotations

import warnings

import lifelines
import numpy as np
import pytest
from reliability.Fitters import Fit_Exponential_1P, Fit_Gamma_2P, Fit_Lognormal_2P
from scipy import stats

from headlife.life.diagnostics.rivals import compare_lives
from headlife.life.weibull import reliability
from headlife.show.words.fit import finding


def fitted(found, life):
    return found.table.set_index("life").loc[life]


def test_rivals_are_those_of_the_reliability_library(simulate):
    # reliability 0.9.0, right-censored lives
    lives = simulate(80, seed=9)
    found = compare_lives(*lives, rated_hours=600.0)
    quiet = {"show_probability_plot": False, "print_results": False}
    ages = {"failures": lives.exit[lives.failed], "right_censored": lives.exit[~lives.failed]}
    for name, fitter in (
        ("gamma", Fit_Gamma_2P),
        ("log-normal", Fit_Lognormal_2P),
        ("exponential", Fit_Exponential_1P),
    ):
        theirs = fitter(**ages, **quiet)
        ours = fitted(found, name)
        assert ours["log_likelihood"] == pytest.approx(theirs.loglik, abs=1e-3)
        share = theirs.distribution.SF(600.0)
        assert ours["share_reaching"] == pytest.approx(float(share), abs=2e-3)
        assert ours["median_hours"] == pytest.approx(theirs.distribution.median, rel=5e-3)


def test_rivals_are_those_of_lifelines_with_late_entry(simulate):
    lives = simulate(120, seed=9, late=True)
    found = compare_lives(*lives, rated_hours=600.0)
    for name, fitter in (
        ("weibull", lifelines.WeibullFitter()),
        ("log-normal", lifelines.LogNormalFitter()),
        ("exponential", lifelines.ExponentialFitter()),
    ):
        theirs = fitter.fit(lives.exit, lives.failed, entry=lives.entry)
        ours = fitted(found, name)
        assert ours["log_likelihood"] == pytest.approx(theirs.log_likelihood_, abs=1e-3)
        assert ours["aic"] == pytest.approx(theirs.AIC_, abs=2e-3)
        assert ours["median_hours"] == pytest.approx(theirs.median_survival_time_, rel=2e-3)


def test_gamma_with_late_entry_finds_its_own_life():
    rng = np.random.default_rng(1)
    age = rng.gamma(4.0, 250.0, 4000)
    entry = 1200.0 * rng.random(4000)
    seen = age > entry
    age, entry = age[seen], entry[seen]
    found = compare_lives(entry, np.minimum(age, 1500.0), age <= 1500.0, rated_hours=800.0)
    assert found.table["life"][0] == "gamma"
    # the share of a gamma life of shape 4, scale 250 h that reaches 800 h
    exact = stats.gamma(4.0, scale=250.0).sf(800.0)
    assert fitted(found, "gamma")["share_reaching"] == pytest.approx(exact, abs=0.03)


def test_the_best_comes_first_and_the_true_one_wins():
    rng = np.random.default_rng(2)
    age = np.exp(6.5 + 0.8 * rng.standard_normal(600))
    found = compare_lives(0.0, np.minimum(age, 2000.0), age <= 2000.0, rated_hours=600.0)
    assert found.table["life"][0] == "log-normal"
    assert found.table["aic"].is_monotonic_increasing
    assert found.table["behind"][0] == 0
    assert finding(found).startswith("A log-normal life fits clearly better")


def test_the_sentence_tells_what_hangs_on_it(simulate):
    lives = simulate(400, seed=3, shape=3.0)
    found = compare_lives(*lives, rated_hours=600.0)
    true = float(reliability(600.0, 3.0, 1000.0))
    assert fitted(found, "weibull")["share_reaching"] == pytest.approx(true, abs=0.05)
    assert "600 h instead of" in finding(found)


@pytest.mark.parametrize("seed", range(40))
def test_short_records_neither_crash_nor_warn(seed):
    rng = np.random.default_rng(seed)
    heads = int(rng.integers(2, 40))
    age = 1000 * rng.weibull(rng.choice([0.6, 1.0, 3.0, 8.0]), heads)
    until = rng.choice([200.0, 600.0, 1200.0, 9000.0])
    entry = np.where(rng.random(heads) < 0.3, 0.5 * np.minimum(age, until), 0.0)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = compare_lives(entry, np.minimum(age, until), age <= until, rated_hours=1200.0)
        assert finding(found)
    if found.enough:
        assert ((found.table["share_reaching"] >= 0) & (found.table["share_reaching"] <= 1)).all()
        assert np.isfinite(found.table.drop(columns="life").to_numpy(float)).all()


def test_a_fleet_swapped_at_its_rating():
    # many heads censored at one value: issue 57 of the reliability library
    age = 2600 * np.random.default_rng(1).weibull(2.5, 80)
    found = compare_lives(0.0, np.minimum(age, 1200.0), age <= 1200.0, rated_hours=1200.0)
    assert found.enough
    assert set(found.table["life"]) == {"weibull", "log-normal", "gamma", "exponential"}


def test_too_few_failures_are_said_to_be_too_few():
    found = compare_lives(0.0, [100.0, 200.0, 300.0], [True, True, False], rated_hours=500.0)
    assert not found.enough
    assert finding(found).startswith("2 failures: not enough to tell")
