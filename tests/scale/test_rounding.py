"""How far rounding may have moved a pooled verdict: a range that holds."""

from __future__ import annotations

import datetime

import numpy as np
import pytest
from scipy.special import ndtr, ndtri

from headlife.life.also_possible import also_possible
from headlife.life.evidence import Evidence, pool
from headlife.life.groups import Group, GroupEvidence
from headlife.life.possible import refusals
from headlife.life.posterior import fit_life
from headlife.life.rounded import CLAIM_SHARE, rounded
from headlife.life.site_evidence import SiteEvidence
from headlife.scale.pooling import pool_sites
from headlife.scale.rounding import rounding_range
from headlife.show.sites.values import pooling_values
from headlife.show.words.sites import stratum_notes
from studies.evidence_attack import exact, pooled_moves, shop
from studies.evidence_attack import told as told_by

RATED = 1200.0


def group(evidence):
    return GroupEvidence(Group("A", "model"), RATED, int(evidence.heads), {"wear": evidence})


def site(name, evidence):
    day = datetime.date(2026, 9, 30)
    return SiteEvidence(name, day, "", "wear", "", (group(evidence),))


def chance(evidence):
    return float(fit_life(evidence).probability_reliability_above(CLAIM_SHARE, RATED))


@pytest.mark.parametrize("heads", [10, 14, 30, 100])
def test_other_records_are_possible_and_give_the_chance_and_the_picture_told(heads):
    rng = np.random.default_rng([1, heads])
    alike = total = 0
    for _ in range(12):
        told, picture = rounded(group(exact(*shop(rng, heads))), "wear")
        told = told.modes["wear"]
        others = also_possible(told, picture)
        assert refusals(others) == [None] * len(others)
        for other in others:
            assert (other.heads, other.failures) == (told.heads, told.failures)
            # A rounded score moves a chance by 0.2 of a point at most.
            assert chance(other) == pytest.approx(chance(told), abs=2e-3)
            again = rounded(group(other), "wear")[1]
            alike += (again.spread, again.together) == (picture.spread, picture.together)
            total += 1
    # The extremes lie at the edges of what is told alike, some just beyond (68 % inside with 10
    # heads); from 30 heads on the pictures next to the one told stand for what lies between.
    assert heads >= 30 or alike > 0.5 * total


def test_the_range_holds_the_chance_from_exact_sums_and_no_verdict_is_invented():
    chances = pooled_moves(np.random.default_rng(30), 40)
    exactly, said, low, high = chances.T
    assert np.mean((low <= exactly) & (exactly <= high)) >= 0.95  # measured: 98 to 100 %
    assert ((low <= said) & (said <= high)).all()
    verdicts = (chances >= 0.95).astype(int) - (chances <= 0.05).astype(int)
    sure = verdicts[:, 2] == verdicts[:, 3]
    assert sure.mean() > 0.8  # the range is not so wide that nothing is ever said
    assert (verdicts[sure, 0] == verdicts[sure, 1]).all()


def test_a_verdict_that_rounding_might_decide_is_left_open_and_said():
    rng = np.random.default_rng(5)
    open_, settled = 0, 0
    for _ in range(30):
        sites = [site(f"S{k}", exact(*shop(rng, 14))).shareable() for k in range(4)]
        (stratum,) = pool_sites(sites, each_site=False).strata
        low, high = stratum.rounding
        by_answers = chance(pool([one.strata[0].modes["wear"] for one in sites]))
        assert stratum.verdict.probability == pytest.approx(by_answers, abs=1e-9)
        verdict = stratum.verdict.verdict
        if stratum.unsettled_by_rounding:
            open_ += 1
            assert verdict == "not settled" and not stratum.decided_by
            assert not 0.05 < by_answers < 0.95
            assert any("so this is left open" in note for note in stratum_notes(stratum))
        elif verdict != "not settled":
            settled += 1
            assert low >= 0.95 or high <= 0.05
    assert open_ and settled


def test_sites_that_tell_exact_sums_have_no_range():
    rng = np.random.default_rng(6)
    sites = [site(f"S{k}", exact(*shop(rng, 20))).shareable(exact=True) for k in range(3)]
    found = pool_sites(sites)
    (stratum,) = found.strata
    assert stratum.rounding is None and not stratum.unsettled_by_rounding
    assert not any("rounded" in note for note in stratum_notes(stratum))
    assert pooling_values(found)["strata"][0]["rounding"] is None


def test_one_rounded_site_among_exact_ones_moves_less_than_three():
    rng = np.random.default_rng(7)
    evidence = [exact(*shop(rng, 20)) for _ in range(3)]
    widths = []
    for told in (1, 3):
        sites = [site(f"S{k}", each).shareable(exact=k >= told) for k, each in enumerate(evidence)]
        low, high = pool_sites(sites, each_site=False).strata[0].rounding
        widths.append(high - low)
    assert 0.0 < widths[0] < widths[1]


def test_a_verdict_for_all_costs_little_with_hundreds_of_sites():
    rng = np.random.default_rng(8)
    sites = [site(f"S{k}", exact(*shop(rng, 12))).shareable() for k in range(200)]
    (stratum,) = pool_sites(sites, each_site=False).strata
    low, high = stratum.rounding
    assert low <= stratum.verdict.probability <= high


def test_a_claim_other_than_the_one_told_has_a_range_too():
    rng = np.random.default_rng(9)
    evidence = Evidence.from_lives(0.0, *_lives(rng), reference_hours=RATED)
    one = site("Hall", evidence).shareable()
    width = []
    for share in (0.90, 0.80):
        low, high = pool_sites([one], share=share).strata[0].rounding
        width.append(high - low)
    assert width[0] < 0.01 and width[1] > 0.0


def _lives(rng):
    life = 1500.0 * rng.weibull(2.0, 30)
    return np.minimum(life, RATED), life <= RATED


def test_of_many_sites_some_stand_for_all_in_whatever_order_they_come():
    """No more than 24 are replaced one by one, by size; the range is that of any order."""
    rng = np.random.default_rng(31)
    told = [rounded(group(exact(*shop(rng, int(rng.integers(10, 40))))), "wear") for _ in range(30)]
    parts, pictures = zip(*((one.modes["wear"], ages) for one, ages in told), strict=True)
    asked = []

    def chances(pools):
        asked.append(len(pools))
        # Any chance that depends on nothing but the sums.
        return [1.0 / (1.0 + np.exp(np.sin(40.0 * one.log_curve[9]))) for one in pools]

    ranges = []
    for order in (np.arange(30), np.arange(30)[::-1], rng.permutation(30)):
        ranges.append(
            rounding_range([parts[k] for k in order], [pictures[k] for k in order], chances)
        )
    assert ranges[1] == pytest.approx(ranges[0], abs=1e-6)
    assert ranges[2] == pytest.approx(ranges[0], abs=1e-6)
    most = max(len(also_possible(part, ages)) for part, ages in zip(parts, pictures, strict=True))
    assert max(asked) <= 1 + 24 * most


def by_log_sum(pools):
    """Chances whose normal score is a hundredth of the sum of log ages at failure."""
    return ndtr([0.01 * one.log_sum for one in pools])


def widest_moves(sites):
    """How far the score of each site by itself moves at most, in hundredths."""
    return [
        max(abs(other.log_sum - part.log_sum) for other in also_possible(part, ages))
        for part, ages in sites
    ]


@pytest.fixture(scope="module")
def sites():
    """25 sites, the largest first: more failures, and among equally many more heads."""
    rng = np.random.default_rng(25)
    drawn = [told_by(exact(*shop(rng, int(heads)))) for heads in rng.integers(10, 40, 25)]
    return sorted(drawn, key=lambda one: (-one[0].failures, -one[0].heads, one[0].log_sum))


@pytest.mark.parametrize(("count", "looked_at"), [(3, 1), (24, 1), (25, 2)])
def test_squares_of_what_the_sites_move_add(sites, count, looked_at):
    """With half a step of the chance told; of more than 24 sites every second stands for two."""
    told = sites[:count]
    moves = np.array(widest_moves(told[::looked_at]))
    scale = count / len(moves)
    most = np.sqrt(scale * np.sum((0.01 * moves) ** 2) + 0.005**2)
    middle = 0.01 * sum(part.log_sum for part, _ in told)
    found = rounding_range(*zip(*told[::-1], strict=True), by_log_sum)
    assert ndtri(found) == pytest.approx([middle - most, middle + most], abs=1e-9)


def test_sites_that_tell_exact_sums_move_nothing(sites):
    """They stand in the pool all the same."""
    parts, pictures = zip(*sites[:4], strict=True)
    (moved,) = widest_moves(sites[2:3])
    most = np.hypot(0.01 * moved, 0.005)
    middle = 0.01 * sum(part.log_sum for part in parts)
    found = rounding_range(parts, [None, None, pictures[2], None], by_log_sum)
    assert ndtri(found) == pytest.approx([middle - most, middle + most], abs=1e-9)


@pytest.mark.parametrize("certain", [0.0, 1.0])
def test_a_chance_that_is_certain_has_a_range_of_numbers(sites, certain):
    parts, pictures = zip(*sites[:2], strict=True)
    low, high = rounding_range(parts, pictures, lambda pools: [certain] * len(pools))
    assert certain == pytest.approx(low, abs=1e-9) and certain == pytest.approx(high, abs=1e-9)
    assert 0.0 <= low < high <= 1.0
