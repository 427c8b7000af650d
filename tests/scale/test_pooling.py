"""Pooling sites: nothing added that must not be, and the verdict of the union."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from headlife.decisions.rating import judge_rating
from headlife.errors import DecisionError, EvidenceError
from headlife.life.evidence import Evidence, pool
from headlife.life.groups import Group, GroupEvidence
from headlife.life.posterior import fit_life
from headlife.life.site_evidence import SiteEvidence
from headlife.scale.differences import compare_sites, shape_from_others
from headlife.scale.pooling import pool_sites
from headlife.show.words.sites import pooling_notes, stratum_notes


def lives(heads, seed, shape=2.0, scale=1500.0, until=1200.0):
    age = scale * np.random.default_rng(seed).weibull(shape, heads)
    return np.minimum(age, until), age <= until


def site(name, seed, heads=40, reference=1200.0, rated=1200.0, mode="wear", **life):
    import datetime

    ages, failed = lives(heads, seed, **life)
    evidence = Evidence.from_lives(0.0, ages, failed, reference_hours=reference)
    stratum = GroupEvidence(Group("A", "model"), rated, heads, {mode: evidence})
    return SiteEvidence(name, datetime.date(2026, 9, 30), "", mode, "0.1.0", (stratum,))


def test_the_verdict_for_all_is_that_of_all_lives_together():
    found = pool_sites([site(f"S{i}", i) for i in range(6)]).strata[0]
    ages, failed = map(np.concatenate, zip(*(lives(40, i) for i in range(6)), strict=True))
    together = fit_life(Evidence.from_lives(0.0, ages, failed, reference_hours=1200.0))
    assert found.verdict.probability == pytest.approx(
        judge_rating(together, 1200.0).probability, abs=1e-9
    )
    assert found.heads == 240
    assert found.failures == failed.sum()
    alone = judge_rating(
        fit_life(Evidence.from_lives(0.0, *lives(40, 3), reference_hours=1200.0)), 1200.0
    )
    assert found.sites[3].verdict.probability == pytest.approx(alone.probability, abs=1e-12)


def test_the_order_of_sites_changes_no_digit():
    sites = [site(f"S{i}", i) for i in range(9)]
    one, other = (pool_sites(s, each_site=False).strata[0] for s in (sites, sites[::-1]))
    assert one.life.evidence.log_curve.tobytes() == other.life.evidence.log_curve.tobytes()
    assert one.verdict == other.verdict


def test_a_site_sent_twice_is_refused():
    with pytest.raises(EvidenceError, match="'harbour ' was sent twice"):
        pool_sites([site("Harbour", 1), site("harbour ", 2)])


def test_a_copy_under_another_name_is_refused():
    with pytest.raises(EvidenceError, match="'North' and 'South' sent the same evidence for A"):
        pool_sites([site("North", 1), site("South", 1)])


def test_other_ratings_or_modes_are_refused_by_name():
    with pytest.raises(EvidenceError, match="1200 h at the site 'N' and 900 h at the site 'S'"):
        pool_sites([site("N", 1), site("S", 2, rated=900.0)])
    with pytest.raises(EvidenceError, match="'N' judges its ratings by the mode 'wear'.*'worn'"):
        pool_sites([site("N", 1), site("S", 2, mode="worn")])
    with pytest.raises(EvidenceError, match="No site has heads of the type 'B'"):
        pool_sites([site("N", 1)], rated_hours={"B": 100.0})
    with pytest.raises(DecisionError, match="above zero"):
        pool_sites([site("N", 1)], rated_hours={"A": 0.0})
    with pytest.raises(EvidenceError, match="at least one"):
        pool_sites([])


def test_another_reference_is_moved_and_said():
    there = [site("N", 1), site("S", 2, reference=700.0)]
    found = pool_sites(there).strata[0]
    same = pool_sites([site("N", 1), site("S", 2)]).strata[0]
    assert found.verdict.probability == pytest.approx(same.verdict.probability, abs=1e-9)
    assert any("Evidence of S was stated at another age" in note for note in stratum_notes(found))


def test_a_stated_rating_settles_a_disagreement():
    sites = [site("N", 1), site("S", 2, rated=900.0)]
    found = pool_sites(sites, rated_hours={"A": 1000.0}).strata[0]
    assert found.verdict.rated_hours == 1000.0


def test_missing_and_withheld_strata_are_named():
    small = site("Small", 3, heads=4).shareable()
    bare = dataclasses.replace(site("Bare", 4), strata=())
    found = pool_sites([site("N", 1), site("S", 2), small, bare])
    notes = stratum_notes(found.strata[0])
    assert "No such heads at Bare." in notes
    assert "Withheld by Small: not in any number here." in notes
    assert found.strata[0].heads == 80
    assert any("Nothing to add from Small, Bare" in note for note in pooling_notes(found))
    with pytest.raises(EvidenceError, match="nothing to pool"):
        pool_sites([small, bare])


def test_days_that_differ_are_said():
    import datetime

    early = dataclasses.replace(site("Early", 2), as_of=datetime.date(2026, 6, 30))
    (note,) = pooling_notes(pool_sites([site("N", 1), early]))
    assert "30 June 2026 (Early)" in note


@pytest.mark.slow
@pytest.mark.parametrize(
    ("sites", "heads", "until"), [(3, 30, 0.6), (8, 20, 0.32), (12, 15, 1.1), (40, 6, 0.5)]
)
def test_sites_that_are_alike_are_called_different_one_time_in_twenty(sites, heads, until):
    # Level 5 %; the band is three standard errors of a binomial with 200 trials, and half a
    # point for the approximation (stated in the module).
    rng, trials, wrong = np.random.default_rng(sites), 200, 0
    for _ in range(trials):
        parts = []
        for _ in range(sites):
            age = rng.weibull(2.0, heads)
            parts.append(
                Evidence.from_lives(0.0, np.minimum(age, until), age <= until, reference_hours=1.0)
            )
        wrong += not compare_sites(parts, rng).alike
    assert wrong / trials < 0.05 + 3 * np.sqrt(0.05 * 0.95 / trials) + 0.005


def test_sites_that_differ_are_found_out():
    rng = np.random.default_rng(1)
    sites = [site(f"S{i}", i, heads=60, scale=900.0 if i % 2 else 2600.0) for i in range(8)]
    risk = pool_sites(sites, each_site=False).strata[0].difference
    assert not risk.alike
    assert risk.risk_probability < 0.005
    # Hazards in the ratio (2600/900)^2 = 8.3 to 1: spread about (8.3 - 1) / (8.3 + 1) = 0.79.
    assert risk.risk_spread == pytest.approx(0.79, abs=0.3)
    parts = []
    for i in range(8):
        ages, failed = lives(80, i, shape=1.0 if i % 2 else 4.0, scale=1000.0)
        parts.append(Evidence.from_lives(0.0, ages, failed, reference_hours=1200.0))
    assert compare_sites(parts, rng).shape_probability < 0.001


def test_sites_without_failures_are_compared_without_fuss():
    parts = [
        Evidence.from_lives(0.0, [100.0, 200.0], [False, False], reference_hours=1200.0)
        for _ in range(3)
    ]
    found = compare_sites(parts, np.random.default_rng(1))
    assert found.alike
    assert np.isnan(found.shape_probability)
    assert shape_from_others(parts) == [None, None, None]


def test_a_shared_shape_comes_from_the_other_sites_only():
    parts = [
        Evidence.from_lives(0.0, *lives(200, i, shape=3.0), reference_hours=1200.0)
        for i in range(5)
    ]
    odd = Evidence.from_lives(0.0, *lives(200, 9, shape=0.8), reference_hours=1200.0)
    priors = shape_from_others([*parts, odd])
    others = fit_life(pool(parts))
    # The odd site does not speak in the prior it is given; the others all do.
    assert priors[-1].median == pytest.approx(others.shape, rel=0.03)
    assert priors[0].median < priors[-1].median


def test_a_small_site_gains_from_a_shared_shape():
    sites = [site(f"S{i}", i, heads=150) for i in range(5)] + [site("Small", 11, heads=12)]
    own, shared = (
        pool_sites(sites, shared_shape=on).strata[0].sites[-1].life.shape_bounds()
        for on in (False, True)
    )
    assert shared[1] / shared[0] < 0.5 * own[1] / own[0]
