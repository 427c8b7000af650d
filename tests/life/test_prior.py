"""What is assumed beforehand: where it comes from a published limit, and how it fades."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import truncnorm

from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life
from headlife.life.prior import prior_powers

# Lieblein & Zelen 1956: 23 ball bearings, millions of revolutions.
BEARINGS = [
    17.88, 28.92, 33.0, 41.52, 42.12, 45.6, 48.4, 51.84, 51.96, 54.12, 55.56, 67.8,
    68.64, 68.64, 68.88, 84.12, 93.12, 98.64, 105.12, 105.84, 127.92, 128.04, 173.4,
]  # fmt: skip


def test_exact_conditional_limits_of_the_ball_bearings():
    life = fit_life(
        Evidence.from_lives(0.0, BEARINGS, True, reference_hours=100.0),
        prior="exact conditional",
    )
    # shape: from memory (Lawless 1982, chapter 4); B10 and median: computed on a grid in R
    assert life.shape_bounds(0.90) == pytest.approx((1.52, 2.59), abs=0.006)
    assert life.life_bounds(0.1, 0.80)[0] == pytest.approx(19.072, abs=0.02)
    assert life.life_bounds(0.1, 0.90)[0] == pytest.approx(16.944, abs=0.02)
    assert life.life_bounds(0.5, 0.90)[0] == pytest.approx(55.093, abs=0.05)


def test_exact_conditional_limits_cover_exactly(simulate):
    # Exact for every complete sample: 5 % within the binomial band of 1,500 records
    wrong = 0
    for seed in range(1500):
        lives = simulate(5, until=1e9, seed=seed)
        life = fit_life(lives.evidence(), prior="exact conditional")
        wrong += life.probability_reliability_above(0.9, 1000.0 * 0.1053605**0.5) > 0.95
    assert wrong / 1500 == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / 1500))


def test_without_failure_the_answer_is_about_a_success_run():
    # 29 heads to the rating without failure show 90 % with 95 % confidence (success run,
    # 0.9 ** 29 = 0.047; the published plan for 90/95)
    life = fit_life(Evidence.from_lives(0.0, [100.0] * 29, False, reference_hours=100.0))
    assert life.probability_reliability_above(0.9, 100.0) == pytest.approx(0.95, abs=0.025)
    few = fit_life(Evidence.from_lives(0.0, [100.0] * 19, False, reference_hours=100.0))
    assert few.probability_reliability_above(0.9, 100.0) < 0.95


def test_the_prior_fades_with_the_failures():
    powers = np.array([prior_powers(r, "calibrated") for r in (0, 1, 5, 20, 100)])
    assert (np.diff(powers[:, 0]) < 0).all() and powers[-1, 0] < 1e-4
    assert powers[0, 1] == 0.0 and abs(powers[-1, 1]) < 0.01


def test_all_priors_agree_on_a_large_record(simulate):
    evidence = simulate(3000).evidence()
    exact = fit_life(evidence, prior="exact conditional")
    for prior in ("calibrated", "forecast"):
        ours = fit_life(evidence, prior=prior)
        assert ours.life_bounds(0.1) == pytest.approx(exact.life_bounds(0.1), rel=1e-3)


def test_a_forecast_starts_with_the_failure_of_a_success_run_and_lets_go_of_it_sooner():
    forecast = np.array([prior_powers(r, "forecast") for r in range(40)])
    calibrated = np.array([prior_powers(r, "calibrated") for r in range(40)])
    assert forecast[0, 0] == 1.0 and (np.diff(forecast[:20, 0]) < 0).all()
    more = forecast[:, 0] > calibrated[:, 0]
    assert more[0] and not more[1:].any()


def test_a_forecast_has_its_own_prior_and_a_verdict_keeps_the_calibrated_one(simulate):
    evidence = simulate(12).evidence()
    life = fit_life(evidence, (2.0, 1.5))
    ahead = life.to_forecast
    assert ahead.prior == "forecast" and ahead.to_forecast is ahead
    assert ahead.evidence is evidence and ahead.shape_prior == life.shape_prior
    assert life.prior == "calibrated"
    exact = fit_life(evidence, prior="exact conditional")
    assert exact.to_forecast is exact


def test_a_few_failures_do_not_make_a_forecast_take_wear_for_chance():
    """Weak heads fail early: three such failures among 28 heads, the others old and good."""
    ages = [60.0, 150.0, 300.0, *np.linspace(200.0, 1400.0, 25)]
    failed = [True] * 3 + [False] * 25
    life = fit_life(Evidence.from_lives(0.0, ages, failed, reference_hours=1500.0))
    alone, ahead = (
        float(np.median(one.draw(4000, np.random.default_rng(1))[0]))
        for one in (life, life.to_forecast)
    )
    # Towards the wear that is assumed, with the records still speaking.
    assert alone < 1.0 and alone + 0.1 < ahead < 1.5


def test_a_shape_that_is_stated_takes_the_place_of_that_of_forecasts(simulate):
    few = simulate(12).evidence()
    stated = fit_life(few, (1.0, 1.2)).to_forecast
    assert stated.shape_bounds(0.90)[1] < 1.3
    none = fit_life(Evidence.from_lives(0.0, [100.0] * 5, False, reference_hours=100.0))
    # Nothing on record: what is assumed, a half-normal 1 / shape that ends at 1/20.
    spread = truncnorm(0.1, np.inf, scale=0.5)
    low, high = none.to_forecast.shape_bounds(0.90)
    assert (1.0 / high, 1.0 / low) == pytest.approx(tuple(spread.ppf([0.05, 0.95])), rel=0.01)
