"""What a site tells: the same verdict, and no way back to the lives."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from headlife.life.evidence import Evidence, pool
from headlife.life.groups import Group, GroupEvidence
from headlife.life.possible import refusals
from headlife.life.posterior import fit_life
from headlife.life.rounded import (
    CLAIM_SHARE,
    FEW_AGE_STEP,
    FEW_PICTURES,
    MANY_HEADS,
    PICTURES,
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
    for heads in (10, MANY_HEADS - 1, MANY_HEADS, 200):
        _, ages = rounded(group(lives(rng, heads)), "wear")
        few = heads < MANY_HEADS
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
