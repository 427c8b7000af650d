"""What a site tells: the same verdict, and no way back to the lives."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence, pool
from headlife.life.groups import Group, GroupEvidence
from headlife.life.possible import refusals
from headlife.life.posterior import fit_life
from headlife.life.rounded import (
    CLAIM_SHARE,
    FEW_AGE_STEP,
    FEW_PICTURES,
    PICTURES,
    AgePicture,
    age_step,
    mean_hours_of,
    rounded,
)
from headlife.life.site_evidence import SiteEvidence
from studies.evidence_attack import exact, shop

RATED = 1200.0
DAY = datetime.date(2026, 9, 30)


def lives(rng, heads, late=False, between=False):
    """Invented heads: entry, exit, failed, last good hours."""
    shape = rng.uniform(0.8, 4.0)
    life = RATED / 0.105 ** (1 / shape) * rng.uniform(0.7, 1.3) * rng.weibull(shape, heads)
    out = np.where(rng.random(heads) < 0.5, RATED, RATED * rng.uniform(0.1, 1.3, heads))
    ages = np.minimum(life, out)
    entry = ages * rng.uniform(0, 0.6, heads) * (rng.random(heads) < 0.3) if late else 0.0
    failed = life <= out
    good = np.where(failed & (rng.random(heads) < 0.5), 0.9 * ages, np.nan) if between else None
    return Evidence.from_lives(entry, ages, failed, reference_hours=RATED, last_good_hours=good)


def group(evidence, **others):
    modes = {"wear": evidence, **others}
    return GroupEvidence(Group("A", "model"), RATED, int(evidence.heads), modes)


def told(evidence):
    return rounded(group(evidence), "wear")[0].modes["wear"]


def chance(evidence):
    return float(fit_life(evidence).probability_reliability_above(CLAIM_SHARE, RATED))


@pytest.mark.parametrize(("late", "between"), [(False, False), (True, False), (False, True)])
def test_a_verdict_moves_by_less_than_half_a_point(late, between):
    rng = np.random.default_rng([7, late, between])
    moved = []
    for heads in (10, 10, 14, 30, 100, 1000) * 8:
        exact = lives(rng, heads, late, between)
        made_up = told(exact)
        assert refusals([made_up]) == [None]
        assert (made_up.heads, made_up.failures) == (exact.heads, exact.all_failures)
        assert not len(made_up.intervals)
        moved.append(abs(chance(exact) - chance(made_up)))
    assert max(moved) < 0.005


@pytest.mark.parametrize("failures", [0, 1, 9, 10])
def test_records_at_the_ends_are_told_too(failures):
    """No failure, one, nearly all, all; heads of one age, and heads of a chance next to 0 or 1."""
    for stretch in (0.05, 1.0, 20.0):
        for ages in (np.full(10, 1000.0), np.linspace(100.0, 1300.0, 10)):
            failed = np.arange(10) < failures
            exact = Evidence.from_lives(0.0, stretch * ages, failed, reference_hours=RATED)
            made_up = told(exact)
            assert refusals([made_up]) == [None]
            assert abs(chance(exact) - chance(made_up)) < 0.005


def test_what_is_told_is_a_matter_of_the_rounded_answers_alone():
    """Told again it is the same file: nothing of the lives was left in it but what it says."""
    rng = np.random.default_rng(8)
    for heads in (10, 12, 30, 100):
        one = SiteEvidence("Hall", DAY, "", "wear", "", (group(lives(rng, heads)),)).shareable()
        assert one.shareable().to_json() == one.to_json()
        assert SiteEvidence.from_json(one.to_json()).to_json() == one.to_json()


def test_small_moves_of_every_life_leave_the_file_as_it_was():
    """A rounding is a cell: most records have neighbours all around with the same bytes."""
    rng = np.random.default_rng(9)
    same = 0
    for _ in range(20):
        shape, heads = rng.uniform(1.0, 3.0), 10
        life = 1500.0 * rng.weibull(shape, heads)
        ages, failed = np.minimum(life, RATED), life <= RATED
        moves = 1.0 + 5e-4 * rng.standard_normal(heads)
        one, other = (
            told(Evidence.from_lives(0.0, a, failed, reference_hours=RATED))
            for a in (ages, ages * moves)
        )
        same += bool(one.log_sum == other.log_sum and (one.log_curve == other.log_curve).all())
    assert same >= 14


def test_few_heads_show_one_of_three_pictures():
    rng = np.random.default_rng(10)
    for heads in (10, 29, 30, 200):
        _, ages = rounded(group(lives(rng, heads)), "wear")
        few = heads < 30
        assert (ages.spread, ages.together) in (FEW_PICTURES if few else PICTURES)
    assert (len(FEW_PICTURES), len(PICTURES)) == (3, 280)


def test_a_group_that_did_not_run_stays_as_it_is():
    none = GroupEvidence(Group("A", "model"), RATED, 12, {})
    assert rounded(none, "wear") == (none, None)


@pytest.mark.parametrize("invented", [lives, lambda rng, heads: exact(*shop(rng, heads))])
def test_pooled_verdicts_move_little(invented):
    """Of five alike sites; 300 pools of each design moved by 0.2 and 0.8 points in the middle."""
    rng = np.random.default_rng(11)
    moved = []
    for _ in range(40):
        parts = [invented(rng, int(rng.choice([10, 14, 30, 100]))) for _ in range(5)]
        moved.append(abs(chance(pool(parts)) - chance(pool([told(one) for one in parts]))))
    assert np.median(moved) < 0.01
    assert np.quantile(moved, 0.9) < 0.04


def test_failures_between_two_readings_count_in_the_middle_of_them():
    # Of one failure among ten heads: known exactly at 500 h, or between 400 h and 600 h.
    ages = np.r_[500.0, np.linspace(200.0, 1300.0, 9)]
    failed = np.arange(10) < 1
    one = Evidence.from_lives(0.0, ages, failed, reference_hours=RATED)
    ages[0], good = 600.0, np.where(failed, 400.0, np.nan)
    other = Evidence.from_lives(0.0, ages, failed, reference_hours=RATED, last_good_hours=good)
    first, second = (np.exp(told(each).log_sum) for each in (one, other))
    assert second == pytest.approx(first, rel=FEW_AGE_STEP / 2)


def test_the_steps_are_those_that_security_md_states():
    """What a file tells is part of its format: told again by a later version it is the same."""
    assert [age_step(heads) for heads in (10, 29, 30, 1000)] == [1 / 4, 1 / 4, 1 / 10, 1 / 10]
    assert FEW_PICTURES == ((0.86, 0.0), (1.27, 0.2), (1.27, 0.6))
    spreads, together = (sorted(set(column)) for column in zip(*PICTURES, strict=True))
    assert (spreads[0], spreads[-1], len(spreads)) == (0.3, 8.0, 14)
    assert np.diff(np.log(spreads)) == pytest.approx(np.log(8.0 / 0.3) / 13, abs=0.03)
    assert together == pytest.approx(np.arange(0.0, 1.0, 0.05))


@pytest.mark.parametrize("heads", [10, 14, 40])
def test_a_chance_is_told_in_hundredths_of_a_normal_score(heads):
    rng = np.random.default_rng([12, heads])
    seen = 0
    for _ in range(12):
        score = ndtri(chance(told(lives(rng, heads))))
        if abs(score) < 4.0:
            assert 100 * score == pytest.approx(round(100 * score), abs=1e-3)
            seen += 1
    assert seen > 6


@pytest.mark.parametrize("stretch", [0.3, 0.5, 1.9, 2.1, 4.0, 20.0])
def test_an_age_that_is_all_but_certain_is_told_in_steps_of_a_hundredth(stretch):
    """Where the chance says nothing more: the age with the normal score of 4, to 1 %."""
    ages = stretch * np.linspace(1000.0, 1300.0, 40)
    exactly = Evidence.from_lives(0.0, ages, np.arange(40) % 2 == 1, reference_hours=RATED)
    life = fit_life(exactly)
    certain, side = 2.0 * float(ndtr(4.0)) - 1.0, int(stretch < 1.0)
    assert (life.life_bounds(1.0 - CLAIM_SHARE, certain)[side] < RATED) == bool(side)
    one, other = (
        np.log(fit_life(each).life_bounds(1.0 - CLAIM_SHARE, certain)[side] / RATED)
        for each in (exactly, told(exactly))
    )
    assert abs(one - other) <= 0.005 + 1e-6
    assert 100 * other == pytest.approx(round(100 * other), abs=1e-3)


@pytest.mark.parametrize("heads", [12, 40])
def test_no_failure_is_told_older_than_the_oldest_head_and_hours_have_seven_digits(heads):
    """Also where the oldest heads are those that failed."""
    failed = np.arange(heads) >= heads - 4
    ages = np.where(failed, 1300.0, np.linspace(50.0, 300.0, heads))
    group_told, picture = rounded(
        group(Evidence.from_lives(0.0, ages, failed, reference_hours=RATED)), "wear"
    )
    mean = mean_hours_of(group_told.modes["wear"])
    assert mean <= picture.up_to_hours
    for hours in (mean, picture.up_to_hours):
        assert hours == float(f"{hours:.7g}")


def test_failures_between_readings_count_by_their_heads_in_the_middle():
    """Ten failures between 300 h and 700 h, in five rows of two, are ten at about 500 h."""
    ages = np.r_[np.full(5, 500.0), np.linspace(200.0, 1300.0, 30)]
    failed, weights = np.arange(35) < 5, np.where(np.arange(35) < 5, 2.0, 1.0)
    one = Evidence.from_lives(0.0, ages, failed, reference_hours=RATED, weights=weights)
    good = np.where(failed, 300.0, np.nan)
    ages = np.where(failed, 700.0, ages)
    other = Evidence.from_lives(
        0.0, ages, failed, reference_hours=RATED, weights=weights, last_good_hours=good
    )
    first, second = (mean_hours_of(told(each)) for each in (one, other))
    # A row counts with the exposure to its later reading, so that the oldest age differs too.
    assert second == pytest.approx(first, rel=0.06)


@pytest.mark.parametrize(
    "numbers",
    [
        *((bad, 1.0, 0.0) for bad in (0.0, -1.0, np.nan, np.inf)),
        *((900.0, bad, 0.0) for bad in (0.0, -1.0, np.nan, np.inf)),
        *((900.0, 1.0, bad) for bad in (-0.1, 1.0, np.nan)),
    ],
)
def test_pictures_that_are_none_are_refused(numbers):
    with pytest.raises(EvidenceError, match="some hours above 0, a spread above 0 and a"):
        AgePicture(*numbers)
