"""Lives that make no sense are named; lives that say little get a wide answer."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.errors import EvidenceError
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
        ({"entry_hours": [0, 0]}, "one value per life; there are 3 exits"),
        ({"reference_hours": 0.0}, "reference hours must be a positive number"),
        ({"reference_hours": np.nan}, "reference hours must be a positive number"),
    ],
)
def test_a_bad_life_is_named(change, says):
    with pytest.raises(EvidenceError, match=says):
        lives(**change)


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
