"""Partial pooling between lots: its two ends, brute force, and error rates."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import logsumexp

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence, pool
from headlife.life.exposure_curve import curve_at
from headlife.life.lot_life import SPREADS
from headlife.life.lots import (
    DEVIATION_BEFORE,
    EQUAL_BEFORE,
    _spread_prior,
    lot_lives,
)
from headlife.life.posterior import fit_life
from headlife.life.prior import prior_powers

RATED = 1000.0


def lot_life(own, others):
    """Give the life of the first of several lots."""
    return lot_lives([own, *others])[0]


def lot(heads, failures=0, age=700.0, until=RATED):
    exits = np.r_[np.linspace(0.7, 1.2, failures) * age, np.full(heads - failures, until)]
    return Evidence.from_lives(0.0, exits, np.arange(heads) < failures, reference_hours=RATED)


@pytest.mark.parametrize(("heads", "failures"), [(40, 0), (40, 1), (60, 6), (300, 40)])
def test_a_lot_alone_is_the_ordinary_posterior(heads, failures):
    one = lot(heads, failures)
    life = fit_life(one)
    alone = lot_life(one, [])
    for share in (0.8, 0.9, 0.95):
        exact = life.probability_reliability_above(share, RATED)
        assert alone.probability_reliability_above(share, RATED) == pytest.approx(exact, abs=0.01)
    assert alone.reliability_bounds(RATED) == pytest.approx(
        life.reliability_bounds(RATED), abs=0.01
    )
    if failures > 5:  # ages other than the rating need a shape that is learned
        for age in (500.0, 1500.0):
            assert alone.reliability_bounds(age) == pytest.approx(
                life.reliability_bounds(age), abs=0.01
            )
        assert alone.life_bounds(0.1) == pytest.approx(life.life_bounds(0.1), rel=0.02)
        assert alone.probability_mean_life_above(1500.0) == pytest.approx(
            life.probability_mean_life_above(1500.0), abs=0.01
        )
    low, high = alone.reliability_bounds(RATED)
    assert low < alone.median_reliability(RATED) < high
    low, high = alone.life_bounds(0.1)
    assert low < alone.median_life(0.1) < high


def test_the_answer_lies_between_the_lot_alone_and_one_life_for_all():
    new, old = lot(20, 0), lot(120, 12)
    chances = [
        fit_life(new).probability_reliability_above(0.9, RATED),
        fit_life(pool([new, old])).probability_reliability_above(0.9, RATED),
    ]
    found = lot_life(new, [old]).probability_reliability_above(0.9, RATED)
    assert min(chances) < found < max(chances)


def test_lots_that_look_alike_count_and_lots_that_differ_hardly_do():
    new = lot(60, 9)
    alike = lot_life(new, [lot(60, 9), lot(60, 10), lot(60, 8), lot(60, 9)])
    apart = lot_life(new, [lot(60, 1), lot(60, 30), lot(60, 3), lot(60, 22)])
    assert alike.spread < 0.15 < apart.spread
    alone = lot_life(new, []).reliability_bounds(RATED)
    assert np.ptp(alike.reliability_bounds(RATED)) < 0.75 * np.ptp(alone)
    assert apart.reliability_bounds(RATED) == pytest.approx(alone, abs=0.02)


def test_order_of_the_others_and_of_the_unit_do_not_matter():
    new, one, two = lot(20, 1), lot(50, 5), lot(80, 4)
    first = lot_life(new, [one, two]).probability_reliability_above(0.9, RATED)
    second = lot_life(new, [two, one]).probability_reliability_above(0.9, RATED)
    assert first == pytest.approx(second, abs=1e-12)


def test_brute_force():
    """The same model by two million draws from the prior instead of grids."""
    new, old = lot(25, 2), lot(70, 5)
    rng = np.random.default_rng(1)
    count = 2_000_000
    log_shape = rng.uniform(np.log(0.3), np.log(12.0), count)
    shape = np.exp(log_shape)
    which = rng.choice(SPREADS.size, count, p=_spread_prior())
    deviation = SPREADS[which] * shape
    centre = rng.uniform(-5.0, 1.0, count)
    log_hazards = [centre + deviation * rng.normal(size=count) for _ in range(2)]
    grid = np.linspace(np.log(0.3), np.log(12.0), 400)
    _, power = prior_powers(7.0, "calibrated")
    weight = power * log_shape
    for part, log_hazard in zip((new, old), log_hazards, strict=True):
        exposure = np.interp(log_shape, grid, curve_at(part.log_curve, grid))
        weight = weight + part.failures * (log_shape + log_hazard) + part.log_sum * shape
        weight = weight - np.exp(np.minimum(log_hazard + exposure, 50.0))
    lend = np.where(deviation > 0, 5.0 / (1.0 + 10.0 * deviation**2), 5.0)
    started = 0.8 * np.exp(-(2.0 + lend) / 7.5)
    own = np.interp(log_shape, grid, curve_at(new.log_curve, grid))
    weight = weight + started * (log_hazards[0] + own - np.log(2.3))
    claim = log_hazards[0] <= np.log(-np.log(0.9))
    expected = np.exp(logsumexp(weight[claim]) - logsumexp(weight))
    found = lot_life(new, [old]).probability_reliability_above(0.9, RATED)
    assert found == pytest.approx(expected, abs=0.012)


def test_prior_of_the_spread():
    prior = _spread_prior()
    assert prior.sum() == pytest.approx(1.0)
    assert prior[0] == EQUAL_BEFORE
    assert SPREADS[1:] @ prior[1:] / prior[1:].sum() == pytest.approx(
        DEVIATION_BEFORE * np.sqrt(2.0 / np.pi), rel=0.1
    )  # mean of a half-normal


def test_too_young_to_judge():
    young = Evidence.from_lives(0.0, [50.0] * 5, [False] * 5, reference_hours=RATED)
    assert lot_life(young, [lot(100, 8)]).too_young(0.9)
    assert not lot_life(lot(60, 0), [lot(100, 8)]).too_young(0.9)
    # a failure speaks, however young the lot
    failed = Evidence.from_lives(0.0, [50.0] * 5, [True] + [False] * 4, reference_hours=RATED)
    assert not lot_life(failed, [lot(100, 8)]).too_young(0.9)


def test_a_lot_without_hours_leans_on_the_others():
    none = Evidence.from_lives([], [], [], reference_hours=RATED)
    found = lot_life(none, [lot(100, 8), lot(100, 6)])
    assert found.too_young(0.9)
    low, high = found.reliability_bounds(RATED)
    known = fit_life(pool([lot(100, 8), lot(100, 6)])).reliability_bounds(RATED)
    assert low < known[0]
    assert high > known[1]
    with pytest.raises(EvidenceError, match="No lot holds"):
        lot_life(none, [])


def test_failures_known_to_an_interval_count_in_its_middle():
    good = np.array([690.0, np.nan])
    between = Evidence.from_lives(
        0.0, [710.0, RATED], [True, False], reference_hours=RATED, last_good_hours=good
    )
    exact = Evidence.from_lives(0.0, [700.0, RATED], [True, False], reference_hours=RATED)
    ours = [
        lot_life(one, [lot(50, 3)]).probability_reliability_above(0.9, RATED)
        for one in (between, exact)
    ]
    assert ours[0] == pytest.approx(ours[1], abs=1e-6)


def test_a_shorter_lot_is_seldom_said_to_hold():
    """The fault: pooled with an older lot that lives 30 % longer, "holds" wrong in 3 of 10."""
    from studies.changing_shops.lots import DESIGNS, lots_shops

    found = lots_shops(DESIGNS[0], "older lives 30 % longer", shops=100, seed=5)
    assert found.pooled_holds > 0.15
    assert found.holds < 0.10 + 3.0 * np.sqrt(0.1 * 0.9 / 100)


def test_the_shape_of_lots_far_apart_is_that_within_them():
    """As of strata that share a shape, each with its own scale (fit_life with companions)."""
    long, short = np.linspace(700.0, 1300.0, 25), np.linspace(200.0, 400.0, 25)
    parts = [
        Evidence.from_lives(0.0, ages, np.ones(25, bool), reference_hours=RATED)
        for ages in (long, short)
    ]
    for prior in ("calibrated", "forecast"):
        for lot, own, other in zip(lot_lives(parts, prior), parts, parts[::-1], strict=True):
            alone = fit_life(own, prior=prior, companions=[other])
            assert lot.median_life(0.5) == pytest.approx(alone.median_life(0.5), rel=0.02)
            assert lot.median_life(0.1) == pytest.approx(alone.median_life(0.1), rel=0.03)
