"""Many groups at once give the answers that each gives alone."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.decisions.rating import judge_rating, judge_ratings
from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence
from headlife.life.many import fit_many
from headlife.life.posterior import fit_life
from headlife.life.prior import ShapePrior
from headlife.life.stacked import StackedEvidence

QUANTILES = [0.05, 0.5, 0.95]


def records(seed=1):
    """Lives of groups of every kind: no failure, one, all at one hour, few, many, late, bent."""
    rng = np.random.default_rng(seed)
    kinds = []
    for heads, shape, until in (
        (1, 2.0, 50.0),
        (3, 2.0, 900.0),
        (12, 0.8, 400.0),
        (30, 2.0, 900.0),
    ):
        for _ in range(4):
            age = 1000 * rng.weibull(shape, heads)
            kinds.append((np.zeros(heads), np.minimum(age, until), age <= until))
    kinds.append((np.zeros(6), np.full(6, 500.0), np.ones(6, bool)))
    kinds.append((np.zeros(400), np.append(np.full(399, 100.0), 2000.0), np.arange(400) < 3))
    age = 1000 * rng.weibull(3.0, 900)
    kinds.append((0.5 * age * (rng.random(900) < 0.5), age, rng.random(900) < 0.8))
    return kinds


def each(**more):
    return [Evidence.from_lives(*one, reference_hours=800.0, **more) for one in records()]


def test_groups_of_lives_give_the_evidence_of_each():
    kinds = records()
    names = np.repeat([f"g{k:02d}" for k in range(len(kinds))], [len(one[1]) for one in kinds])
    entry, leave, failed = (np.concatenate(rows) for rows in zip(*kinds, strict=True))
    mixed = np.random.default_rng(2).permutation(len(names))
    groups, stack = StackedEvidence.from_lives(
        names[mixed], entry[mixed], leave[mixed], failed[mixed], reference_hours=800.0
    )
    assert groups == sorted(set(names.tolist()))
    whole = StackedEvidence.of(each())
    assert stack.failures == pytest.approx(whole.failures)
    assert stack.heads == pytest.approx(whole.heads)
    assert stack.log_sum == pytest.approx(whole.log_sum, abs=1e-9)
    assert stack.log_curve == pytest.approx(whole.log_curve, abs=1e-9)


@pytest.mark.parametrize(
    "shape_prior",
    [None, 2.0, (2.0, 1.4), "mixed"],
    ids=["free", "fixed", "stated", "one of each"],
)
@pytest.mark.parametrize("prior", ["calibrated", "forecast"])
def test_each_life_is_that_of_its_own_fit(shape_prior, prior):
    evidence = each()
    own = [shape_prior] * len(evidence)
    if shape_prior == "mixed":
        own = [(None, 2.0, ShapePrior(1.5, 1.3))[k % 3] for k in range(len(evidence))]
    lives = fit_many(evidence, own, prior)
    alone = [fit_life(one, stated, prior) for one, stated in zip(evidence, own, strict=True)]
    shares, ages = lives.share_and_life(700.0, 0.1, QUANTILES)
    hazard = np.array([one.mixture.cumulative_hazard(700.0, QUANTILES) for one in alone])
    assert shares == pytest.approx(np.exp(-hazard[:, ::-1]), rel=1e-6, abs=1e-9)
    single = np.array([one.mixture.life(0.1, QUANTILES) for one in alone])
    assert ages == pytest.approx(single, rel=1e-6)
    for many, one in (
        (lives.probability_reliability_above(0.9, 700.0), "probability_reliability_above"),
        (lives.probability_mean_life_above(700.0), "probability_mean_life_above"),
    ):
        arguments = (0.9, 700.0) if "reliability" in one else (700.0,)
        known = [getattr(life, one)(*arguments) for life in alone]
        assert many == pytest.approx(np.array(known), abs=1e-8)
    low, high = lives.reliability_bounds([300.0, 700.0])
    assert low.shape == high.shape == (len(evidence), 2)
    assert (low <= high).all() and lives.reliability(700.0) == pytest.approx(shares[:, 1])
    low, high = lives.life_bounds(0.1)
    assert (low < lives.life(0.1)).all() and (lives.life(0.1) < high).all()


def test_failures_between_readings_and_shared_shapes_go_along():
    evidence = each()
    looked = Evidence.from_lives(
        0.0,
        [300.0, 420.0, 500.0],
        [True, True, False],
        reference_hours=800.0,
        last_good_hours=[250.0, 400.0, np.nan],
    )
    companions = (evidence[12],)
    lives = fit_many([*evidence[:3], looked, evidence[5]], companions=companions)
    for at, one in enumerate([*evidence[:3], looked, evidence[5]]):
        alone = fit_life(one, companions=companions)
        low, high = lives.life_bounds(0.1)
        assert (low[at], high[at]) == pytest.approx(alone.life_bounds(0.1), rel=1e-6)


def test_verdicts_on_many_are_those_on_each():
    evidence = each()
    for claim in ("share", "mean"):
        many = judge_ratings(fit_many(evidence), 700.0, 0.9, 0.95, claim)
        for found, one in zip(many, evidence, strict=True):
            alone = judge_rating(fit_life(one), 700.0, 0.9, 0.95, claim)
            assert found.verdict == alone.verdict
            assert found.probability == pytest.approx(alone.probability, abs=1e-8)
            assert found.bounds == pytest.approx(alone.bounds, rel=1e-6, abs=1e-9)
            assert found.life_at_share_bounds == pytest.approx(alone.life_at_share_bounds, rel=1e-6)


def test_groups_in_any_order_and_blocks_of_any_size_give_the_same(monkeypatch):
    from headlife.life import many

    evidence = each()
    whole = fit_many(evidence).life(0.1)
    order = np.random.default_rng(4).permutation(len(evidence))
    assert fit_many([evidence[k] for k in order]).life(0.1) == pytest.approx(whole[order], rel=1e-6)
    monkeypatch.setattr(many, "_TOGETHER", 3)
    assert fit_many(evidence).life(0.1) == pytest.approx(whole, rel=1e-6)


def test_what_cannot_be_fitted_is_named():
    nothing = Evidence.from_lives([], [], [], reference_hours=800.0)
    with pytest.raises(EvidenceError, match="Group number 2 holds no running hours"):
        fit_many([each()[0], nothing])
    with pytest.raises(EvidenceError, match="1 groups but 2 stated shapes"):
        fit_many([each()[0]], [2.0, 3.0])
    with pytest.raises(EvidenceError, match="at least one group"):
        StackedEvidence.from_lives([], 0.0, [], [], reference_hours=1.0)
    with pytest.raises(EvidenceError, match="2 lives but 1 groups"):
        StackedEvidence.from_lives(["a"], 0.0, [1.0, 2.0], [True, True], reference_hours=1.0)


def test_moving_the_reference_of_many_changes_no_answer():
    _, stack = StackedEvidence.from_lives(
        np.repeat(["a", "b"], 5),
        0.0,
        [100, 300, 500, 700, 900, 200, 300, 400, 500, 600],
        np.arange(10) % 2 == 0,
        reference_hours=800.0,
    )
    moved = fit_many(stack.rereference(123.0))
    assert moved.life(0.1) == pytest.approx(fit_many(stack).life(0.1), rel=1e-7)


def test_one_alone_with_a_stated_shape_is_that_of_its_own_fit():
    one = Evidence.from_lives(0.0, [300.0, 700.0], [True, False], reference_hours=900.0)
    for stated in (2.0, ShapePrior(2.0, 1.3)):
        many = fit_many([one], shape_prior=stated).life_bounds(0.1, 0.9)
        own = fit_life(one, shape_prior=stated).life_bounds(0.1, 0.9)
        assert np.ravel(many) == pytest.approx(np.ravel(own), rel=1e-9)
