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
