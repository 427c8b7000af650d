"""Other records that a site would have told alike: as its file says, and as different as can be."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.optimize import least_squares

from headlife.life.also_possible import also_possible
from headlife.life.exposure_curve import shape_nodes
from headlife.life.rounded import (
    FEW_PICTURES,
    PICTURES,
    AgePicture,
    ToldChance,
    age_step,
    exposure_when_pooled,
)
from studies.evidence_attack import RATED, exact, shop, told

SIZES = [10, 12, 16, 29, 30, 100]


@cache
def said(heads, sites):
    """What some sites of so many heads tell."""
    rng = np.random.default_rng([21, heads])
    return [told(exact(*shop(rng, heads))) for _ in range(sites)]


def cases(heads, sites=3):
    """The same, and the others found."""
    return [(*one, also_possible(*one)) for one in said(heads, sites)]


def picture_of(evidence):
    """Picture of the ages that evidence was made with, from its curve alone."""
    shapes = shape_nodes(evidence.log_curve.size)
    mean_power = evidence.log_curve - np.log(evidence.heads)

    def off(numbers):
        spread, together = np.exp(numbers[1]), 1.0 / (1.0 + np.exp(-numbers[2]))
        form = np.log(together + (1.0 - together) / (1.0 + shapes / spread))
        return numbers[0] * shapes + form - mean_power

    starts = [(0.0, np.log(spread), odds) for spread in (0.5, 3.0) for odds in (-3.0, 1.0)]
    best = min(
        (least_squares(off, start, xtol=1e-15) for start in starts), key=lambda one: one.cost
    )
    stretch, spread, odds = best.x
    assert np.abs(best.fun).max() < 1e-5
    return RATED * np.exp(stretch), np.exp(spread), 1.0 / (1.0 + np.exp(-odds))


@pytest.mark.parametrize("heads", SIZES)
def test_the_others_have_the_counts_and_the_chance_that_are_told(heads):
    for evidence, _, others in cases(heads):
        answer = ToldChance.of(evidence)
        assert others
        for other in others:
            assert (other.heads, other.failures) == (evidence.heads, evidence.failures)
            again = ToldChance.of(other)
            assert (again.hours, again.score) == pytest.approx((answer.hours, answer.score))


@pytest.mark.parametrize("heads", SIZES)
def test_failures_are_as_young_and_as_old_as_their_rounding_lets_them_be(heads):
    """Half a step either way; all of them at the greatest age at most, where some are told."""
    for evidence, ages in said(heads, 2):
        middle = evidence.log_sum - evidence.failures * np.log(ages.up_to_hours / RATED)
        for moved in (0.0, -middle):  # as it is, and all at the greatest age
            one = ages.evidence(heads, evidence.failures, evidence.log_sum + moved, RATED)
            sums = [
                each.log_sum - each.failures * np.log(picture_of(each)[0] / RATED)
                for each in also_possible(one, ages)
            ]
            half = age_step(heads) / 2
            low, high = (middle + moved - half, min(middle + moved + half, 0.0))
            if not evidence.failures:
                low = high = 0.0
            assert min(sums) == pytest.approx(low, abs=1e-3)
            assert max(sums) == pytest.approx(high, abs=1e-3)


def test_where_no_head_failed_there_is_one_sum_only():
    evidence, ages = told(exact(np.linspace(300.0, 1300.0, 12), np.zeros(12)))
    others = also_possible(evidence, ages)
    assert 2 <= len(others) <= 4
    assert {one.log_sum for one in others} == {0.0}


def level_and_tilt(exposures):
    """How large exposures are and how steeply they rise with the shape, (2, records)."""
    return np.stack([exposures.mean(axis=-1), exposures[..., -1] - exposures[..., 0]])


def of_the_sum_told(evidence, ages, others):
    """Exposures of the others whose failures are neither younger nor older than told."""
    middle = evidence.log_sum - evidence.failures * np.log(ages.up_to_hours / RATED)
    sums = [one.log_sum - one.failures * np.log(picture_of(one)[0] / RATED) for one in others]
    return np.array(
        [
            exposure_when_pooled(one)
            for one, own in zip(others, sums, strict=True)
            if own == pytest.approx(middle, abs=1e-3)
        ]
    )


def solved(evidence, ages, pictures):
    """Exposures of pictures that give the chance told, with the sum told."""
    failures = round(evidence.failures)
    log_sum = evidence.log_sum - failures * np.log(ages.up_to_hours / RATED)
    return ToldChance.of(evidence).solved(
        pictures, evidence.heads, failures, [log_sum] * len(pictures)
    )[1]


def test_among_few_heads_no_record_told_alike_lies_far_beyond_the_others():
    """Of 1,000 pictures at random those count that lie nearest to the picture told."""
    beyond = []
    for heads in (10, 16, 29):
        rng = np.random.default_rng([22, heads])
        spreads = np.exp(rng.uniform(np.log(0.3), np.log(8.0), 1_000))
        pictures = list(zip(spreads.tolist(), rng.uniform(0.0, 0.9, 1_000).tolist(), strict=True))
        for evidence, ages, others in cases(heads):
            exposures, few = (solved(evidence, ages, these) for these in (pictures, FEW_PICTURES))
            nearest = np.square(exposures[:, None] - few[None]).sum(axis=2).argmin(axis=1)
            alike = exposures[nearest == FEW_PICTURES.index((ages.spread, ages.together))]
            assert len(alike) > 20
            random = level_and_tilt(alike)
            found = level_and_tilt(of_the_sum_told(evidence, ages, others))
            past = found.min(axis=1) - random.min(axis=1), random.max(axis=1) - found.max(axis=1)
            beyond.append(np.concatenate(past) / np.tile(np.ptp(random, axis=1), 2))
    # Pictures at random, many more of them, reach a little farther than those in steps.
    assert np.median(beyond) < 0.06
    assert np.quantile(beyond, 0.9) < 0.2


@pytest.mark.parametrize("heads", [30, 100])
def test_from_30_heads_on_the_others_are_the_extremes_of_those_next_to_the_one_told(heads):
    """Of the four pictures whose exposure comes nearest; the one told is among these four."""
    for evidence, ages, others in cases(heads, 9):
        exposures = solved(evidence, ages, PICTURES)
        away = np.square(exposures - exposure_when_pooled(evidence)).sum(axis=1)
        nearest = np.argsort(away, kind="stable")[:4]
        assert PICTURES[nearest[0]] == (ages.spread, ages.together)
        found = level_and_tilt(of_the_sum_told(evidence, ages, others))
        near = level_and_tilt(exposures[nearest])
        assert found.min(axis=1) == pytest.approx(near.min(axis=1), abs=1e-6)
        assert found.max(axis=1) == pytest.approx(near.max(axis=1), abs=1e-6)
        extreme = near == np.stack([near.min(axis=1), near.max(axis=1)])[..., None]
        assert found.shape[1] == extreme.any(axis=(0, 1)).sum()


def test_a_picture_that_no_file_tells_has_others_too():
    """Forged, or of a later version: heads all of nearly one age, which none of the few says."""
    ages = AgePicture(1300.0, 8.0, 0.9)
    evidence = ages.evidence(12, 1, np.log(0.9), RATED)
    others = also_possible(evidence, ages)
    assert others
    for other in others:
        assert ToldChance.of(other).score == pytest.approx(ToldChance.of(evidence).score)
