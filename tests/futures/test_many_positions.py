"""All positions at once against one position at a time and against renewal convolution."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np
import pytest

from headlife.errors import DecisionError
from headlife.futures.convolution import exact_demand
from headlife.futures.demand import KnownLife, forecast_demand
from headlife.futures.many_positions import DRAWS_TOGETHER, forecast_many
from headlife.shop.policy import Policy

MODES = [KnownLife(2.2, 1900.0), KnownLife(1.1, 6000.0)]


def fleet(positions, seed=1):
    rng = np.random.default_rng(seed)
    return rng.uniform(0.0, 1300.0, positions), rng.uniform(20.0, 60.0, positions)


@pytest.mark.parametrize(
    ("policy", "weeks"), [(None, 19.5), (Policy(1200.0), 19.0), (Policy(60.0), 4.0)]
)
def test_agrees_with_renewal_convolution(policy, weeks):
    # Cox, Renewal Theory (1962), as `decisions.convolution` computes it: no simulation there.
    ages, usage = fleet(40)
    draws = 4_000
    found = forecast_many(MODES, ages, usage, weeks, policy, draws=draws, seed=2)
    exact = exact_demand(MODES, ages, usage, weeks, policy)
    error = exact.sd / np.sqrt(draws) + 1e-9
    assert abs(found.mean - exact.mean) < 4 * error
    assert abs(found.failure_mean - exact.failure_mean) < 4 * np.sqrt(exact.failure_mean / draws)
    assert found.sd == pytest.approx(exact.sd, rel=4 / np.sqrt(2 * draws) + 1e-3)
    np.testing.assert_allclose(
        found.failures_by_week, exact.failures_by_week, atol=5 * np.sqrt(2.0 / draws)
    )


def test_an_unknown_life_spreads_it_as_position_by_position(record):
    life = record(12, 2.0, 1500.0, 1200.0, 3)
    ages, usage = fleet(60)
    given = ([life], ages, usage, 19.0, Policy(1200.0))
    many = forecast_many(*given, draws=4_000, seed=5)
    single = forecast_demand(*given, draws=4_000, seed=6)
    assert many.mean == pytest.approx(single.mean, abs=5 * single.sd / np.sqrt(4_000))
    assert many.sd == pytest.approx(single.sd, rel=0.06)


def test_order_of_positions_and_executor_change_nothing():
    ages, usage = fleet(50)
    draws = 2 * DRAWS_TOGETHER + 7
    alone = forecast_many(MODES, ages, usage, 10.0, draws=draws, seed=3)
    turned = forecast_many(MODES, ages[::-1], usage[::-1], 10.0, draws=draws, seed=3)
    with ThreadPoolExecutor(2) as executor:
        shared = forecast_many(MODES, ages, usage, 10.0, draws=draws, seed=3, executor=executor)
    for other in (turned, shared):
        np.testing.assert_array_equal(other.pmf, alone.pmf)
        np.testing.assert_array_equal(other.failures_by_week, alone.failures_by_week)


def test_no_positions_no_hours_and_bad_questions():
    assert forecast_many(MODES, [], [], 10.0).mean == 0
    assert forecast_many(MODES, [100.0], [0.0], 10.0, draws=5).mean == 0
    with pytest.raises(DecisionError, match="at least one life"):
        forecast_many([], [1.0], [1.0], 1.0)
    with pytest.raises(DecisionError, match="more than 400 swaps"):
        forecast_many(MODES, [1.0], [100.0], 10.0, Policy(0.5))
