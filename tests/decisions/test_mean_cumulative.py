"""The simulated swaps beside the mean cumulative function of the `reliability` library.

`reliability.Repairable_systems.MCF_nonparametric` (0.9) estimates the mean number of repairs per
system by time from repair times of each system; every history here ends at the same time.
"""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from tests.futures.one_printer import lives_of, position

from headlife.futures.convolution import cumulative_hazard, swap_distribution
from headlife.futures.demand import KnownLife
from headlife.futures.visits import FAILED, Printer, count_swaps

SYSTEMS, WEEKS, HOURS = 400, 104, 40.0
LIFE = KnownLife(2.2, 1200.0)


def test_mean_cumulative_function_of_simulated_positions():
    with warnings.catch_warnings():
        # Importing the library touches a deprecated corner of matplotlib and of autograd.
        warnings.simplefilter("ignore")
        from reliability.Repairable_systems import MCF_nonparametric

        printer = Printer((position(lives_of(LIFE, SYSTEMS)),), np.full(WEEKS, HOURS))
        rng = np.random.default_rng(4)
        weekly = count_swaps([printer], SYSTEMS, rng)["A", "model", "here"][FAILED]
        # Each draw is one system: repairs at the ends of their weeks, then the end of watching.
        histories = [
            [*np.repeat(np.arange(1, WEEKS + 1), row).astype(float), WEEKS + 0.5] for row in weekly
        ]
        estimate = MCF_nonparametric(data=histories, print_results=False, show_plot=False)
    ours = weekly.mean(axis=0).cumsum()
    times = np.array(estimate.time, dtype=float)
    theirs = np.array(estimate.MCF, dtype=float)
    for week in (26, 52, 78, 104):
        last = np.flatnonzero(times <= week)[-1]
        assert theirs[last] == pytest.approx(ours[week - 1], abs=1e-9)
    # Both estimate the renewal function, which the convolution knows.
    exact = swap_distribution(cumulative_hazard(LIFE), [0.0], [WEEKS * HOURS], grid=104)
    by_week = exact.swaps[0, 1:]
    error = weekly.cumsum(axis=1).std(axis=0) / np.sqrt(SYSTEMS)
    assert np.all(np.abs(ours - by_week) <= 4 * error + 0.01)
