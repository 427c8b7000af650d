"""The attack on evidence at small size: it breaks exact sums, and nothing that sites tell."""

from __future__ import annotations

import datetime

import numpy as np
import pytest

from headlife.life.groups import Group, GroupEvidence
from headlife.life.site_evidence import SiteEvidence
from studies import evidence_attack as attack

HEADS = 10  # the smallest group that is written


@pytest.fixture(scope="module")
def library():
    rng = np.random.default_rng(1)
    return [attack.record(*attack.shop(rng, HEADS)) for _ in range(1500)]


def from_the_file(ages, failed):
    """Evidence as others read it in the file that a site sends."""
    stratum = GroupEvidence(
        Group("A", "model"), attack.RATED, len(ages), {"wear": attack.exact(ages, failed)}
    )
    site = SiteEvidence("Hall", datetime.date(2026, 9, 30), "", "wear", "", (stratum,))
    return SiteEvidence.from_json(site.shareable().to_json()).strata[0].modes["wear"]


def test_least_squares_gives_lives_of_exact_sums_and_none_of_a_file():
    rng = np.random.default_rng(2)
    exact = told = 0
    for _ in range(3):
        ages, failed = attack.shop(rng, HEADS)
        curve = attack.exact(ages, failed).log_curve
        exact += attack.hits(attack.by_least_squares(curve, HEADS, starts=1), ages)
        curve = from_the_file(ages, failed).log_curve
        told += attack.hits(attack.by_least_squares(curve, HEADS, starts=1), ages)
    assert exact >= 0.6 * 3 * HEADS  # as one without a guess at all would find
    assert told <= 0.35 * 3 * HEADS  # ten guesses among ten lives: a fifth hits by luck


def test_who_knows_how_files_are_made_finds_no_more_than_from_the_curve(library):
    rates = attack.know_and_guess(library, np.random.default_rng(3), failures=False)
    lives = sum(one.lives for one in rates.values())
    assert lives > 1000
    file, curve = (
        sum(getattr(one, name) * one.lives for one in rates.values()) / lives
        for name in ("file", "curve")
    )
    # Two shares of as many lives, each hit or missed.
    assert file < curve + 3.0 * np.sqrt(2.0 * curve * (1.0 - curve) / lives)


def test_other_records_give_the_very_same_file(library):
    """Proof on the file: the same bytes, and most lives are others by more than 2 %."""
    one = next(one for one in library if one.failed.sum() == 2)
    other = attack.same_file(np.random.default_rng(4), one)
    first, second = (from_the_file(each.ages, each.failed) for each in (one, other))
    assert first.to_json() == second.to_json()
    assert attack.hits(other.ages, one.ages) <= 5


def test_hits_are_paired_one_to_one():
    assert attack.hits(np.array([100.0, 100.0, 200.0]), np.array([101.0, 190.0, 300.0])) == 1
    assert attack.hits(np.array([100.0, 101.0]), np.array([100.0, 101.0])) == 2
