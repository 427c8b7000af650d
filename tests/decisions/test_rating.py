from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from headlife.decisions.rating import judge_rating, judge_ratings, verdict_of
from headlife.errors import DecisionError
from headlife.life.evidence import Evidence
from headlife.life.many import fit_many
from headlife.life.posterior import fit_life


def test_the_three_verdicts_when_much_is_known(record):
    life = record(3000, 2.0, 2000.0, 1800.0, seed=1)
    # True share reaching 500 h is .939, reaching 1000 h is .779.
    assert judge_rating(life, 500.0).verdict == "holds"
    assert judge_rating(life, 1000.0).verdict == "falls short"
    at_b10 = judge_rating(life, float(life.life(0.10)))
    assert at_b10.verdict == "not settled"
    assert 0.05 < at_b10.probability < 0.95


def test_little_is_known_is_not_settled(record):
    assert judge_rating(record(5, 2.0, 3000.0, 1200.0, seed=2), 1200.0).verdict == "not settled"


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    heads=st.integers(1, 60),
    rated=st.floats(200.0, 3000.0),
    share=st.floats(0.3, 0.97),
    confidence=st.sampled_from([0.6, 0.8, 0.9, 0.95, 0.99]),
)
def test_verdict_is_what_the_one_sided_bound_says(seed, heads, rated, share, confidence):
    age = 1500.0 * np.random.default_rng(seed).weibull(1.8, heads)
    life = fit_life(
        Evidence.from_lives(0.0, np.minimum(age, 1400.0), age <= 1400.0, reference_hours=1200.0)
    )
    answer = judge_rating(life, rated, share, confidence)
    low, high = answer.bounds
    # The claim has probability `confidence` exactly where the one-sided bound meets the share.
    edge = 1e-6
    if answer.verdict == "holds":
        assert low >= share - edge
    elif answer.verdict == "falls short":
        assert high <= share + edge
    else:
        assert low - edge <= share <= high + edge
    # The same claim, asked in hours.
    life_low, life_high = answer.life_at_share_bounds
    if answer.verdict == "holds":
        assert life_low >= rated * (1 - edge)
    elif answer.verdict == "falls short":
        assert life_high <= rated * (1 + edge)


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    heads=st.integers(1, 80),
    shape=st.floats(0.7, 4.0),
    rated=st.floats(100.0, 3000.0),
    quantile=st.floats(0.3, 0.7),
)
def test_the_estimate_meets_the_claim_where_the_claim_is_as_likely_as_not(
    seed, heads, shape, rated, quantile
):
    age = 1500.0 * np.random.default_rng(seed).weibull(shape, heads)
    life = fit_life(
        Evidence.from_lives(0.0, np.minimum(age, 1400.0), age <= 1400.0, reference_hours=1200.0)
    )
    # A claim whose chance is near one half, on either side.
    share = float(np.exp(-life.mixture.cumulative_hazard(rated, quantile)))
    assume(1e-6 < share < 1 - 1e-6)
    answer = judge_rating(life, rated, share)
    if abs(answer.probability - 0.5) > 1e-6:
        assert (answer.share_reaching >= share) == (answer.probability >= 0.5)
        assert (answer.life_at_share >= rated) == (answer.probability >= 0.5)
    assert answer.bounds[0] < answer.share_reaching < answer.bounds[1]
    assert answer.life_at_share_bounds[0] < answer.life_at_share < answer.life_at_share_bounds[1]


def test_of_many_records_the_true_share_lies_above_the_estimate_in_half():
    # A posterior median is calibrated in the middle as its bounds are at the ends: of records
    # drawn from one life, half of the estimates lie above the truth and half below, within the
    # binomial error of 400 records (three standard errors: 7.5 points) and what the prior costs.
    truth = float(np.exp(-((900.0 / 1500.0) ** 2.0)))
    rng = np.random.default_rng(11)
    above = 0
    for _ in range(400):
        age = 1500.0 * rng.weibull(2.0, 20)
        evidence = Evidence.from_lives(
            0.0, np.minimum(age, 1400.0), age <= 1400.0, reference_hours=900.0
        )
        above += judge_rating(fit_life(evidence), 900.0).share_reaching > truth
    assert abs(above / 400 - 0.5) < 0.075 + 0.02


def test_probability_falls_with_the_rating_and_with_the_share(record):
    life = record(25, 2.0, 2000.0, 1500.0, seed=3)
    by_hours = [judge_rating(life, hours).probability for hours in (300, 600, 900, 1200)]
    by_share = [judge_rating(life, 800, share).probability for share in (0.7, 0.8, 0.9, 0.95)]
    assert by_hours == sorted(by_hours, reverse=True)
    assert by_share == sorted(by_share, reverse=True)


def test_probability_agrees_with_draws(record):
    life = record(25, 2.0, 2000.0, 1500.0, seed=4)
    shape, scale = life.draw(40_000, np.random.default_rng(5))
    share = float(np.mean(np.exp(-((900.0 / scale) ** shape)) >= 0.85))
    error = 3 * np.sqrt(share * (1 - share) / 40_000)
    assert judge_rating(life, 900.0, 0.85).probability == pytest.approx(share, abs=error + 1e-3)


def test_the_rating_is_a_b_life_of_the_shop(record):
    life = record(40, 2.5, 1800.0, 1500.0, seed=6)
    rating = float(life.mixture.life(0.23, 0.5))
    answer = judge_rating(life, rating)
    assert answer.b_life == pytest.approx(23.0, abs=1e-6)
    assert answer.share_reaching == pytest.approx(0.77, abs=1e-8)
    assert answer.b_life_bounds[0] < 23.0 < answer.b_life_bounds[1]
    hazard = float(life.mixture.cumulative_hazard(answer.life_at_share, 0.5))
    assert np.exp(-hazard) == pytest.approx(0.90, abs=1e-9)


def test_units_do_not_matter():
    age = np.array([300.0, 700.0, 1100.0, 1200.0, 1200.0, 1200.0])
    failed = np.array([True, True, True, False, False, False])
    hours = fit_life(Evidence.from_lives(0.0, age, failed, reference_hours=1200.0))
    days = fit_life(Evidence.from_lives(0.0, age / 24, failed, reference_hours=50.0))
    a, b = judge_rating(hours, 600.0), judge_rating(days, 25.0)
    assert a.probability == pytest.approx(b.probability, abs=1e-9)
    assert np.allclose(a.life_at_share_bounds, 24 * np.array(b.life_at_share_bounds))


def test_claim_on_the_mean_of_an_exponential_life_is_a_gamma_probability():
    # Shape fixed at 1 and no prior failures: the rate is Gamma(failures, total hours), which is
    # the chi-squared limit of the mean life with 2 x failures degrees of freedom (NIST/SEMATECH
    # e-Handbook, section 8.4.5.1, failure-censored tests).
    age = np.array([200.0, 450.0, 800.0, 1000.0, 1000.0])
    failed = age < 1000.0
    life = fit_life(
        Evidence.from_lives(0.0, age, failed, reference_hours=1000.0),
        shape_prior=1.0,
        prior="exact conditional",
    )
    for mean in (500.0, 1200.0, 3000.0):
        exact = stats.chi2(2 * 3).cdf(2 * age.sum() / mean)
        answer = judge_rating(life, mean, claim="mean")
        assert answer.probability == pytest.approx(exact, abs=1e-9)
        assert answer.claim == "mean"


def test_nothing_failed_yet_and_everything_failed(record):
    none = judge_rating(record(8, 3.0, 1e5, 1000.0, seed=7), 1000.0)
    assert none.verdict == "not settled"
    assert none.bounds[0] < 0.9 < none.bounds[1] <= 1.0
    assert np.isfinite([none.probability, *none.bounds, *none.life_at_share_bounds]).all()
    every = judge_rating(record(30, 3.0, 600.0, 5000.0, seed=8), 1200.0)
    assert every.verdict == "falls short"


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"rated_hours": 0}, "rating must be above zero"),
        ({"rated_hours": -5.0}, "rating must be above zero"),
        ({"rated_hours": float("nan")}, "rating must be a finite number"),
        ({"rated_hours": "1200"}, "rating must be a number"),
        ({"share": 90}, r"share of heads .* write 0\.9"),
        ({"share": 0.0}, "share of heads .* between 0 and 1"),
        ({"confidence": 95}, r"confidence .* write 0\.95"),
        ({"confidence": 0.5}, r"between 0\.5 and 1"),
        ({"confidence": 1.0}, "both excluded"),
        ({"claim": "median"}, "'share' or the 'mean'"),
    ],
)
def test_bad_input_is_one_sentence(record, changes, words):
    with pytest.raises(DecisionError, match=words):
        judge_rating(record(10, 2.0, 1500.0, 1200.0, seed=9), **{"rated_hours": 1200.0, **changes})


def test_a_probability_just_at_the_confidence_settles_the_claim():
    assert [verdict_of(p, 0.95) for p in (0.95, np.nextafter(0.95, 0), 0.0501)] == [
        *("holds", "not settled", "not settled")
    ]
    assert verdict_of(1.0 - 0.95, 0.95) == "falls short"


def test_the_bounds_of_the_b_life_are_those_of_the_share_turned_round(record):
    answer = judge_rating(record(40, 2.5, 1800.0, 1500.0, seed=6), 1000.0)
    low, high = answer.bounds
    assert answer.b_life_bounds == pytest.approx((100.0 - 100.0 * high, 100.0 - 100.0 * low))


def test_many_are_asked_what_one_is_asked_by_default(record):
    life = record(25, 2.0, 2000.0, 1500.0, seed=3)
    (many,) = judge_ratings(fit_many([life.evidence]), 800.0)
    one = judge_rating(life, 800.0)
    assert (many.share, many.confidence, many.claim) == (one.share, one.confidence, one.claim)
    assert many.probability == pytest.approx(one.probability, abs=1e-9)
