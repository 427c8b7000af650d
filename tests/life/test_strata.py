"""Strata: false alarms where there is no difference, alarms where there is, and shared shapes."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import minimize

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence, pool
from headlife.life.posterior import fit_life
from headlife.life.strata import compare_strata, fit_strata
from headlife.show.words.fit import finding

RECORDS = 300


def stratum(rng, n, shape=2.0, scale=1000.0, share=0.6):
    until = 1000.0 * (-np.log(1.0 - share)) ** (1.0 / shape)
    age = scale * rng.weibull(shape, n)
    return Evidence.from_lives(0.0, np.minimum(age, until), age <= until, reference_hours=900.0)


@pytest.mark.parametrize(("n", "strata", "share"), [(12, 2, 0.9), (30, 2, 0.2), (15, 3, 0.6)])
def test_false_alarms_are_as_stated(n, strata, share):
    rng = np.random.default_rng(1)
    alarms = sum(
        compare_strata({str(k): stratum(rng, n, share=share) for k in range(strata)}).advice
        != "pool"
        for _ in range(RECORDS)
    )
    # 5 % stated; the binomial band of the run, four deviations
    assert alarms / RECORDS == pytest.approx(0.05, abs=4 * np.sqrt(0.05 * 0.95 / RECORDS))


def test_different_shapes_are_kept_apart():
    rng = np.random.default_rng(2)
    found = compare_strata({"a": stratum(rng, 150, 1.0), "b": stratum(rng, 150, 3.0)})
    assert found.advice == "keep apart" and found.same_shape < 0.001
    assert "different ways" in finding(found)


def test_different_scales_share_the_shape():
    rng = np.random.default_rng(3)
    found = compare_strata({"a": stratum(rng, 100), "b": stratum(rng, 100, scale=600.0)})
    assert found.advice == "share the shape"
    assert found.same_scale < 0.001 < found.same_shape


def test_no_difference_seen_among_few_failures_is_said_to_prove_nothing():
    rng = np.random.default_rng(4)
    found = compare_strata({"new": stratum(rng, 5, share=0.1), "old": stratum(rng, 60)})
    assert found.advice == "pool"
    assert finding(found).endswith("but with so few failures (new) none could be seen.")


def test_strata_without_failures_raise_no_alarm():
    evidence = Evidence.from_lives(0.0, [100.0] * 9, False, reference_hours=100.0)
    found = compare_strata({"a": evidence, "b": evidence})
    assert (found.advice, found.same_shape, found.same_scale) == ("pool", 1.0, 1.0)


def test_the_reference_of_a_stratum_does_not_matter():
    rng = np.random.default_rng(5)
    a, b = stratum(rng, 40), stratum(rng, 40, scale=800.0)
    one, other = compare_strata({"a": a, "b": b}), compare_strata({"a": a, "b": b.rereference(50)})
    assert one.same_shape == pytest.approx(other.same_shape, rel=1e-6)
    assert one.same_scale == pytest.approx(other.same_scale, rel=1e-6)


def test_pooled_strata_are_one_record():
    rng = np.random.default_rng(6)
    strata = {"a": stratum(rng, 40), "b": stratum(rng, 40)}
    lives = fit_strata(strata, "pool")
    whole = fit_life(pool(list(strata.values())))
    assert lives["a"] is lives["b"]
    assert lives["a"].life_bounds(0.1) == pytest.approx(whole.life_bounds(0.1))


def test_strata_kept_apart_are_fits_of_their_own():
    rng = np.random.default_rng(7)
    strata = {"a": stratum(rng, 40), "b": stratum(rng, 40)}
    lives = fit_strata(strata, "keep apart")
    assert lives["b"].life_bounds(0.1) == fit_life(strata["b"]).life_bounds(0.1)


class TestSharedShape:
    @pytest.fixture
    def strata(self):
        rng = np.random.default_rng(8)
        return {"a": stratum(rng, 25), "b": stratum(rng, 60, scale=700.0), "c": stratum(rng, 12)}

    def test_one_shape_and_a_scale_each_at_the_top_of_the_likelihood(self, strata):
        lives = fit_strata(strata, "share the shape")
        shapes = [life.shape for life in lives.values()]
        assert shapes == pytest.approx([shapes[0]] * 3, rel=1e-7)

        def minus(parameters):
            shape = np.exp(parameters[0])
            total = 0.0
            for (name, evidence), log_scale in zip(strata.items(), parameters[1:], strict=True):
                del name
                curve = np.interp(parameters[0], grid, fine[evidence.heads])
                log_hazard = shape * (np.log(900.0) - log_scale)
                total += evidence.failures * (log_hazard + parameters[0])
                total += shape * evidence.log_sum - np.exp(log_hazard + curve)
            return -total

        from headlife.life.exposure_curve import curve_at

        grid = np.linspace(np.log(0.5), np.log(5.0), 20_001)
        fine = {e.heads: curve_at(e.log_curve, grid) for e in strata.values()}
        start = [np.log(2.0), *[np.log(900.0)] * 3]
        found = minimize(
            minus,
            start,
            method="Nelder-Mead",
            options={"xatol": 1e-8, "maxiter": 9000, "fatol": 1e-10},
        )
        assert shapes[0] == pytest.approx(np.exp(found.x[0]), rel=1e-4)
        scales = [life.scale for life in lives.values()]
        assert scales == pytest.approx(np.exp(found.x[1:]), rel=1e-4)

    def test_all_strata_have_one_posterior_of_the_shape(self, strata):
        bounds = [life.shape_bounds() for life in fit_strata(strata, "share the shape").values()]
        assert bounds[1] == pytest.approx(bounds[0], rel=1e-6)
        assert bounds[2] == pytest.approx(bounds[0], rel=1e-6)

    def test_a_small_stratum_learns_from_the_others(self, strata):
        alone, shared = (
            fit_strata(strata, advice)["c"] for advice in ("keep apart", "share the shape")
        )
        width = [np.log(b / a) for a, b in (alone.life_bounds(0.1), shared.life_bounds(0.1))]
        assert width[1] < width[0]
        low, high = shared.likelihood_ratio_life_bounds(0.1)
        assert low < shared.life(0.1) < high

    def test_a_shape_stated_exactly_makes_sharing_idle(self, strata):
        shared = fit_strata(strata, "share the shape", shape_prior=2.0)["a"]
        alone = fit_life(strata["a"], shape_prior=2.0)
        assert shared.life_bounds(0.1) == pytest.approx(alone.life_bounds(0.1))

    def test_draws_agree_with_bounds(self, strata):
        life = fit_strata(strata, "share the shape")["c"]
        shape, scale = life.draw(40_000, np.random.default_rng(1))
        b10 = scale * (-np.log(0.9)) ** (1.0 / shape)
        low, high = life.life_bounds(0.1)
        assert (b10 < low).mean() == pytest.approx(0.05, abs=0.0055)
        assert (b10 > high).mean() == pytest.approx(0.05, abs=0.0055)

    def test_interval_failures_may_share_too(self, strata):
        looked = Evidence.from_lives(
            0.0,
            [400.0, 800.0, 900.0, 900.0, 900.0],
            [True, True, True, False, False],
            reference_hours=900.0,
            last_good_hours=[200.0, 600.0, 700.0, np.nan, np.nan],
        )
        lives = fit_strata({**strata, "d": looked}, "share the shape")
        shapes = [life.shape for life in lives.values()]
        assert shapes == pytest.approx([shapes[0]] * 4, rel=1e-5)
        low, high = lives["d"].life_bounds(0.1)
        assert low < lives["d"].life(0.1) < high


def test_questions_out_of_range_are_named():
    evidence = Evidence.from_lives(0.0, [1.0, 2.0], True, reference_hours=1.0)
    with pytest.raises(EvidenceError, match="at least two strata"):
        compare_strata({"a": evidence})
    with pytest.raises(EvidenceError, match="false-alarm rate is a fraction"):
        compare_strata({"a": evidence, "b": evidence}, false_alarm=5)
    empty = Evidence.from_lives([], [], [], reference_hours=1.0)
    with pytest.raises(EvidenceError, match='Stratum "b" holds no running hours'):
        compare_strata({"a": evidence, "b": empty})


def test_whether_heads_were_watched_from_new_is_asked_of_all_that_share_the_shape():
    """Late heads alone leave low shapes open; companions from new close them, late ones do not."""
    rng = np.random.default_rng(4)

    def heads(entry):
        ages = entry + 400.0 * rng.weibull(2.0, 20)
        return Evidence.from_lives(entry, np.minimum(ages, 1000.0), False, reference_hours=900.0)

    late, other_late, new = heads(700.0), heads(650.0), heads(0.0)
    low = [
        fit_life(late, companions=companions).shape_bounds()[0]
        for companions in ([], [other_late], [other_late, new])
    ]
    assert low[0] == pytest.approx(low[1], rel=0.02)
    assert low[2] < low[1], "the prior turns to low shapes less where none is known from new"
    # A forecast's prior asks nothing of the kind.
    forecasts = [
        fit_life(late, prior="forecast", companions=companions).shape_bounds()
        for companions in ([], [new])
    ]
    assert forecasts[0] == pytest.approx(forecasts[1], rel=1e-9)


@pytest.mark.parametrize("between", [False, True])
@pytest.mark.parametrize("prior", ["calibrated", "forecast"])
def test_two_strata_that_share_a_shape_learn_the_same_one(prior, between):
    """Whoever is called the companion of whom; with failures between two readings too."""
    rng = np.random.default_rng(21)

    def some(ages, failures):
        failed = np.arange(len(ages)) < failures
        good = np.where(failed, 0.5 * ages, np.nan) if between else None
        return Evidence.from_lives(0.0, ages, failed, reference_hours=900.0, last_good_hours=good)

    for heads, failures in ((20, 2), (12, 9)):
        one = some(rng.uniform(300.0, 1000.0, heads), failures)
        other = some(rng.uniform(100.0, 600.0, 40), 5)
        found = fit_life(one, prior=prior, companions=[other]).shape_bounds()
        mirrored = fit_life(other, prior=prior, companions=[one]).shape_bounds()
        assert found == pytest.approx(mirrored, rel=1e-5)
