"""Lives that make no sense are named; lives that say little get a wide answer."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.errors import EvidenceError
from headlife.life.asked import fraction, tails
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life


def lives(**change):
    given = {
        "entry_hours": [0.0, 0.0, 0.0],
        "exit_hours": [50.0, 60.0, 70.0],
        "failed": [True, False, True],
        "reference_hours": 100.0,
    }
    return Evidence.from_lives(**(given | change))


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"entry_hours": [0, 60, 0]}, "Life number 2: entry hours must be below its exit"),
        ({"entry_hours": [0, 61, 0]}, "Life number 2: entry hours must be below its exit"),
        ({"entry_hours": [-1, 0, 0]}, "Life number 1: entry hours must be zero or more"),
        ({"exit_hours": [50, 60, 0]}, "Life number 3: exit hours must be a positive number"),
        ({"exit_hours": [50, np.inf, 70]}, "Life number 2: exit hours"),
        ({"exit_hours": [50, np.nan, 70]}, "Life number 2: exit hours"),
        ({"weights": [1, -1, 1]}, "Life number 2: weight must be zero or more; got -1"),
        ({"weights": [1, np.nan, 1]}, "Life number 2: weight"),
        ({"weights": [1, np.inf, 1]}, "Life number 2: weight"),
        ({"last_good_hours": [55, np.nan, 60]}, "Life number 1: last good hours"),
        ({"last_good_hours": [-5, np.nan, 60]}, "Life number 1: last good hours"),
        # The life named is the first that is wrong, whatever small or no hours stand before it.
        ({"exit_hours": [0.5, 60, -1]}, "Life number 3: exit hours"),
        ({"weights": [0, 1, -1]}, "Life number 3: weight"),
        ({"weights": [0.5, 1, np.nan]}, "Life number 3: weight"),
        ({"entry_hours": [0, 0.5, -1]}, "Life number 3: entry hours must be zero or more"),
        ({"last_good_hours": [0, np.nan, 71]}, "Life number 3: last good hours"),
        ({"exit_hours": [[50, 60, 70]]}, "one row of values each; got shape"),
        ({"entry_hours": [0, 0]}, "one value per life; there are 3 exits"),
        ({"reference_hours": 0.0}, "reference hours must be a positive number"),
        ({"reference_hours": np.nan}, "reference hours must be a positive number"),
    ],
)
def test_a_bad_life_is_named(change, says):
    with pytest.raises(EvidenceError, match=says):
        lives(**change)


def same(one, other):
    return one.to_json() == other.to_json()


def test_a_failure_seen_as_it_came_is_exact_and_one_without_failure_has_no_last_good_hours():
    exact = lives()
    assert same(lives(last_good_hours=[np.nan] * 3), exact)
    assert same(lives(last_good_hours=[50.0, np.nan, 70.0]), exact)
    # Heads still in service were good up to now, whatever else is written beside them.
    for written in (5.0, 60.0, 99.0):
        assert same(lives(last_good_hours=[np.nan, written, np.nan]), exact)


@pytest.mark.parametrize("entry", [0, 0.0, np.array(0.0), [0, 0, 0]])
def test_watched_from_new_may_be_written_in_any_way(entry):
    assert same(lives(entry_hours=entry), lives())


def test_one_entry_may_serve_all_and_late_heads_need_not_all_be_late():
    assert same(lives(entry_hours=0.5), lives(entry_hours=[0.5] * 3))
    assert not same(lives(entry_hours=[0, 0.5, 0]), lives())


@pytest.mark.parametrize("asked", [0.0, 1.0, 1.1, -0.1, np.nan])
def test_confidence_and_fractions_lie_strictly_between_0_and_1(asked):
    with pytest.raises(EvidenceError, match="fraction between 0 and 1"):
        tails(asked)
    for value in (asked, [0.5, asked], [asked, 0.5]):
        with pytest.raises(EvidenceError, match="share must lie between 0 and 1"):
            fraction(value, "share")


@pytest.mark.parametrize("inside", [1e-9, 0.2, 1 - 1e-9])
def test_what_lies_between_is_taken_as_it_is(inside):
    assert fraction([inside], "share") == inside
    low, high = tails(inside)
    assert high - low == pytest.approx(inside) and low + high == pytest.approx(1.0)


@pytest.mark.parametrize("stated", [0.19, 20.1, -2.0, np.nan, (2.0, 0.5), (2.0, np.inf)])
def test_a_stated_shape_out_of_range_is_refused(stated):
    with pytest.raises(EvidenceError, match="stated shape"):
        fit_life(lives(), shape_prior=stated)


def test_no_exposure_at_all_is_refused():
    with pytest.raises(EvidenceError, match="no running hours"):
        fit_life(Evidence.from_lives([], [], [], reference_hours=100.0))
    with pytest.raises(EvidenceError, match="no running hours"):
        fit_life(lives(weights=[0, 0, 0]))


def test_confidence_in_per_cent_is_refused():
    life = fit_life(lives())
    with pytest.raises(EvidenceError, match="fraction between 0 and 1"):
        life.reliability_bounds(50.0, confidence=95)
    with pytest.raises(EvidenceError, match="fraction failed must lie between 0 and 1"):
        life.life_bounds(10)


def test_an_unknown_prior_is_refused():
    with pytest.raises(EvidenceError, match='"forecast" or "exact conditional"'):
        fit_life(lives(), prior="flat")


@pytest.mark.parametrize("failures", [0, 1])
def test_exact_conditional_limits_need_two_failures(failures):
    few = lives(failed=np.arange(3) < failures)
    with pytest.raises(EvidenceError, match="at least two failures"):
        fit_life(few, prior="exact conditional")


@pytest.mark.parametrize(
    ("exit_hours", "failed"),
    [
        ([100.0] * 20, [False] * 20),  # all suspended at one hour
        ([100.0] * 20, [True] * 20),  # ties everywhere
        ([100.0] * 20, [True] + [False] * 19),
        ([10.0] + [100.0] * 19, [True] + [False] * 19),
        ([50.0], [False]),
        ([50.0], [True]),
    ],
)
def test_little_said_gives_a_wide_answer(exit_hours, failed):
    life = fit_life(Evidence.from_lives(0.0, exit_hours, failed, reference_hours=100.0))
    for low, high in [life.reliability_bounds(100.0), life.reliability_bounds(40.0)]:
        assert 0.0 <= low < high <= 1.0
    low, high = life.life_bounds(0.1)
    assert 0.0 < low < high < np.inf
    assert 0.0 <= life.reliability(100.0) <= 1.0
    assert life.life(0.1) > 0.0
    assert not life.shape_learned or all(failed)


def test_no_failure_leaves_no_estimate_but_an_answer():
    life = fit_life(Evidence.from_lives(0.0, [100.0] * 20, False, reference_hours=100.0))
    assert not life.has_ml and np.isnan(life.shape) and np.isnan(life.scale)
    assert np.isnan(life.likelihood_ratio_reliability_bounds(100.0)).all()
    assert np.isnan(life.likelihood_ratio_life_bounds(0.1)).all()
    low, high = life.reliability_bounds(100.0)
    assert low < life.reliability(100.0) < high


@pytest.mark.parametrize("hours", [1e-6, 1e6])
def test_very_short_and_very_long_lives_work(hours):
    life = fit_life(
        Evidence.from_lives(0.0, np.array([0.4, 0.7, 1.0]) * hours, True, reference_hours=hours)
    )
    low, high = life.life_bounds(0.1)
    assert 0.0 < low < high < hours
