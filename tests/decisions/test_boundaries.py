"""Boundaries for many looks: laws, and error rates by simulated paths.

Published boundaries and constants are held in tests/published (repeated_looks).
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import multivariate_normal, norm

from headlife.decisions.boundaries import (
    boundaries,
    crossing,
    spent_by_power,
    spent_evenly,
    spent_late,
)
from headlife.errors import DecisionError

TWENTY = np.arange(1.0, 21.0)


@pytest.mark.parametrize("spending", [spent_late, spent_evenly, spent_by_power(2.0)])
def test_all_of_the_error_is_spent_at_the_end_and_none_before_the_start(spending):
    spent = spending(np.linspace(0.0, 1.0, 50), 0.05)
    assert spent[0] == pytest.approx(0.0, abs=1e-12)
    assert spent[-1] == pytest.approx(0.05, abs=1e-12)
    assert (np.diff(spent) >= 0).all()
    assert spending(1.5, 0.05) == pytest.approx(0.05)


def test_one_look_is_an_ordinary_test():
    assert boundaries([7.0], [0.05])[0] == pytest.approx(norm.isf(0.05), abs=1e-8)


@settings(max_examples=25, deadline=None)
@given(
    gains=st.lists(st.floats(0.5, 5.0), min_size=2, max_size=8),
    error=st.sampled_from([0.01, 0.05, 0.1]),
)
def test_crossing_gives_back_what_the_boundaries_spend(gains, error):
    information = np.cumsum(gains)
    spent = spent_evenly(information / information[-1], error)
    found = boundaries(information, spent)
    assert crossing(information, found) == pytest.approx(spent, abs=2e-6)
    # only the growth of information matters, not its unit
    assert boundaries(1e3 * information, spent) == pytest.approx(found, abs=1e-7)


def test_two_looks_against_the_bivariate_normal():
    """Independent check: SciPy's multivariate normal distribution function."""
    information, error = np.array([3.0, 10.0]), np.array([0.01, 0.05])
    first, second = boundaries(information, error)
    both = [[1.0, np.sqrt(0.3)], [np.sqrt(0.3), 1.0]]
    inside = multivariate_normal.cdf([first, second], cov=both, abseps=1e-9)
    assert 1.0 - inside == pytest.approx(0.05, abs=1e-6)


def test_paths_cross_as_often_as_was_spent():
    rng = np.random.default_rng(1)
    paths = np.cumsum(rng.normal(size=(100_000, 20)), axis=1) / np.sqrt(TWENTY)
    found = boundaries(TWENTY, spent_late(TWENTY / 20.0, 0.05))
    assert (paths >= found).any(axis=1).mean() == pytest.approx(0.05, abs=4 * 0.0007)
    # looking with an ordinary test twenty times: about one in four (Armitage et al. 1969, table
    # 2, from memory: .248 for both sides of 5 %, here one side of 5 %)
    assert (paths >= norm.isf(0.05)).any(axis=1).mean() > 0.2


def test_a_look_that_adds_nothing_has_no_boundary_and_costs_nothing():
    with_idle = boundaries([5.0, 5.0, 5.02, 10.0], [0.01, 0.02, 0.03, 0.05])
    assert np.isinf(with_idle[[1, 2]]).all()
    assert with_idle[[0, 3]] == pytest.approx(boundaries([5.0, 10.0], [0.01, 0.05]))
    assert np.isinf(boundaries([0.0, 1.0], [0.01, 0.05])[0])


def test_looks_that_make_no_sense():
    with pytest.raises(DecisionError, match="never falls"):
        boundaries([2.0, 1.0], [0.01, 0.05])
    with pytest.raises(DecisionError, match="there are 2 and 1"):
        boundaries([2.0, 1.0], [0.01])
    with pytest.raises(DecisionError, match="error spent on all looks"):
        boundaries([1.0, 2.0], [0.5, 1.5])


def test_what_is_spent_by_a_power():
    # By hand: half of the plan spends a quarter of the error with the square, 1/32 with the fifth.
    assert spent_by_power(2.0)(0.5, 0.04) == pytest.approx(0.01)
    assert spent_by_power(5.0)(0.5, 0.04) == pytest.approx(0.00125)
    assert spent_by_power(2.0)([-0.5, 0.0, 1.0, 1.5], 0.04) == pytest.approx([0, 0, 0.04, 0.04])


def test_a_look_counts_from_one_hundredth_more_information_on():
    counted = np.isfinite(boundaries([100.0, 101.1, 102.0], [0.01, 0.02, 0.03]))
    assert counted.tolist() == [True, True, False]


def test_next_to_no_error_reaches_no_boundary():
    # Eight deviations are left out in 6.2e-16 (SciPy's normal distribution).
    assert norm.sf(8.0) == pytest.approx(6.2e-16, rel=0.01)
    found = boundaries([1.0], [1e-16]), boundaries([1.0], [1e-15])
    assert np.isinf(found[0][0])
    assert found[1][0] == pytest.approx(norm.isf(1e-15), abs=1e-6)


@pytest.mark.parametrize(
    ("information", "spent"),
    [([-1.0, 1.0], [0.01, 0.05]), ([1.0, np.inf], [0.01, 0.05]), ([1.0, 2.0], [np.nan, 0.05])],
)
def test_numbers_out_of_range_are_refused(information, spent):
    with pytest.raises(DecisionError, match="starts at zero or more and never falls"):
        boundaries(information, spent)


def test_an_error_of_one_or_more_is_refused_and_none_at_all_confirms_nothing():
    for whole in (1.0, 1.2):
        with pytest.raises(DecisionError, match="error spent on all looks"):
            boundaries([1.0, 2.0], [0.5, whole])
    assert np.isinf(boundaries([1.0, 2.0], [0.0, 0.0])).all()
    assert boundaries([], []).size == 0
