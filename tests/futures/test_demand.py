from __future__ import annotations

from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from headlife.errors import DecisionError
from headlife.futures.convolution import exact_demand
from headlife.futures.demand import DRAWS_TOGETHER, POSITIONS_TOGETHER, KnownLife, forecast_demand
from headlife.futures.distribution import Demand, known_demand
from headlife.shop.policy import Policy
from validation.cases import load

IMMORTAL = KnownLife(2.0, 1e9)


def standard_error(demand, draws):
    return demand.sd / np.sqrt(draws)


class TwoLives:
    """A posterior that cannot tell whether heads last or not."""

    def draw(self, n, rng):
        scale = np.where(rng.random(n) < 0.5, 1e9, 50.0)
        return np.full(n, 3.0), scale


def test_exponential_life_gives_the_poisson_process():
    # With a known rate, failures and replacements are a Poisson process whatever the ages.
    draws, ages = 40_000, [0.0, 100.0, 2000.0, 5000.0]
    demand = forecast_demand(KnownLife(1.0, 800.0), ages, 30.0, 20.0, draws=draws, seed=3)
    exact = stats.poisson(4 * 30 * 20 / 800.0).pmf(np.arange(demand.pmf.size))
    assert np.all(np.abs(demand.pmf - exact) <= 4 * np.sqrt(exact * (1 - exact) / draws) + 1e-4)
    assert demand.planned_mean == 0


@pytest.mark.parametrize("shape", ["0.5", "0.75", "1", "1.5", "2", "2.5", "3", "4"])
def test_renewals_agree_with_computed_tables(shape):
    case = load("renewal_weibull")
    # One position, a new head, one hour a week: weeks are then times in units of the scale.
    for number in (1, 5, 8):
        time, exact = case.data["t"][number], case.expected[f"shape_{shape}"].value[number]
        demand = forecast_demand(
            KnownLife(float(shape), 1.0), [0.0], 1.0, time, draws=40_000, seed=number
        )
        assert abs(demand.failure_mean - exact) <= 3 * standard_error(demand, 40_000)


def test_age_replacement_agrees_with_the_circuit_breaker_guide():
    case = load("renewal_circuit_breaker")
    life = KnownLife(case.data["shape"], 1 / case.data["rate"])
    policy = Policy(case.data["swap_age"])
    draws = 40_000
    for number, years in enumerate(case.data["t_age_replacement"]):
        demand = forecast_demand(life, [0.0], 1.0, years, policy, draws=draws, seed=number)
        failed = case.expected["failures_age_replacement"].value[number]
        swapped = case.expected["planned_age_replacement"].value[number]
        # Failures of one position in so few cycles are close to Poisson.
        assert abs(demand.failure_mean - failed) <= 3 * np.sqrt(failed / draws)
        assert abs(demand.planned_mean - swapped) <= 3 * np.sqrt(swapped / draws)


def test_a_head_in_service_fails_as_its_conditional_reliability_says():
    life = KnownLife(2.2, 1800.0)
    demand = forecast_demand(life, [900.0], 45.0, 13.0, draws=40_000)
    exact = np.exp((900 / 1800) ** 2.2 - ((900 + 585) / 1800) ** 2.2)
    assert demand.pmf[0] == pytest.approx(exact, abs=3 * np.sqrt(exact * (1 - exact) / 40_000))


def test_hazards_of_competing_modes_add():
    # Two modes of one shape are together a Weibull life of that shape.
    together = KnownLife(2.0, (1000.0**-2 + 1500.0**-2) ** -0.5)
    apart = [KnownLife(2.0, 1000.0), KnownLife(2.0, 1500.0)]
    ages = [0.0, 300.0, 700.0]
    one = forecast_demand(together, ages, 40.0, 30.0, draws=40_000, seed=1)
    two = forecast_demand(apart, ages, 40.0, 30.0, draws=40_000, seed=2)
    error = np.hypot(standard_error(one, 40_000), standard_error(two, 40_000))
    assert abs(one.mean - two.mean) <= 3 * error


def test_what_is_unknown_about_the_life_is_unknown_for_every_position():
    demand = forecast_demand(TwoLives(), [0.0] * 20, 10.0, 10.0, draws=4000)
    # Half the draws: nobody fails. The other half: all twenty do, more than once on average.
    assert demand.pmf[0] == pytest.approx(0.5, abs=0.03)
    assert demand.pmf[1:20].sum() < 0.01


def test_planned_swaps_fall_due_by_the_clock():
    demand = forecast_demand(IMMORTAL, [0.0, 55.0], 10.0, 20.0, Policy(95.0), draws=100)
    expected = np.zeros(20)
    expected[[9, 19]] += 1  # at 95 h and 190 h
    expected[[4, 13]] += 1  # at 40 h and 135 h
    assert demand.planned_by_week.tolist() == expected.tolist()
    assert demand.pmf.tolist() == [0, 0, 0, 0, 1]
    assert demand.failure_mean == 0


def test_heads_past_the_swap_age_are_swapped_in_the_first_week():
    demand = forecast_demand(IMMORTAL, [1300.0, 1200.0, 10.0], 10.0, 4.0, Policy(1200.0), draws=50)
    assert demand.planned_by_week.tolist() == [2, 0, 0, 0]


def test_a_part_of_a_week_counts_as_a_part():
    whole = forecast_demand(KnownLife(1.0, 100.0), [0.0], 10.0, 7.0, draws=40_000)
    part = forecast_demand(KnownLife(1.0, 100.0), [0.0], 10.0, 6.5, draws=40_000)
    assert part.failures_by_week.size == 7
    assert part.mean == pytest.approx(0.65, abs=3 * standard_error(part, 40_000))
    assert whole.mean == pytest.approx(0.70, abs=3 * standard_error(whole, 40_000))
    assert part.failures_by_week[6] == pytest.approx(0.05, abs=0.005)


def test_spread_of_usage_widens_and_keeps_the_mean_of_an_exponential_life():
    life, ages = KnownLife(1.0, 500.0), [0.0] * 10
    steady = forecast_demand(life, ages, 30.0, 20.0, draws=40_000)
    spread = forecast_demand(life, ages, (30.0, 15.0), 20.0, draws=40_000)
    assert spread.mean == pytest.approx(12.0, abs=3 * standard_error(spread, 40_000))
    # Variance of a mixed Poisson count: mean + variance of the mean, ten positions apart.
    assert spread.sd**2 == pytest.approx(12.0 + 10 * (15 * 20 / 500) ** 2, rel=0.05)
    assert steady.sd**2 == pytest.approx(12.0, rel=0.05)


def test_order_of_positions_does_not_matter(record):
    life = record(20, 2.2, 1800.0, 1200.0, seed=1)
    ages, hours = np.array([10.0, 900.0, 400.0, 1100.0]), np.array([30.0, 50.0, 20.0, 45.0])
    other = [2, 0, 3, 1]
    one = forecast_demand(life, ages, hours, 13.0, draws=2000)
    two = forecast_demand(life, ages[other], hours[other], 13.0, draws=2000)
    assert one.pmf.tobytes() == two.pmf.tobytes()
    assert one.failures_by_week.tobytes() == two.failures_by_week.tobytes()


def test_same_seed_same_bytes_and_another_seed_another_sample(record):
    life = record(20, 2.2, 1800.0, 1200.0, seed=1)
    one, two, three = (
        forecast_demand(life, [100.0, 700.0], (40.0, 8.0), 13.0, draws=3000, seed=seed)
        for seed in (5, 5, 6)
    )
    assert one.pmf.tobytes() == two.pmf.tobytes()
    assert one.pmf.tobytes() != three.pmf.tobytes()


@settings(max_examples=25, deadline=None)
@given(
    shape=st.floats(0.3, 15.0),
    scale=st.floats(50.0, 5000.0),
    ages=st.lists(st.floats(0.0, 8000.0), max_size=6),
    hours=st.floats(0.0, 168.0),
    weeks=st.integers(0, 20),
    swap=st.just(np.inf) | st.floats(100.0, 3000.0),
)
def test_a_demand_is_a_distribution(shape, scale, ages, hours, weeks, swap):
    demand = forecast_demand(KnownLife(shape, scale), ages, hours, weeks, Policy(swap), draws=200)
    assert demand.pmf.sum() == pytest.approx(1.0, abs=1e-12)
    assert (demand.pmf >= 0).all()
    assert demand.mean == pytest.approx(demand.failure_mean + demand.planned_mean, abs=1e-9)
    assert demand.failures_by_week.sum() == pytest.approx(demand.failure_mean)
    assert demand.planned_by_week.sum() == pytest.approx(demand.planned_mean)
    assert demand.failures_by_week.size == weeks
    if not ages or not weeks or not hours:
        assert demand.failure_mean == 0
    if swap == np.inf:
        assert demand.planned_mean == 0


def test_longer_horizons_need_more_and_longer_lives_need_less(record):
    life = record(20, 2.2, 1800.0, 1200.0, seed=1)
    means = [forecast_demand(life, [300.0] * 5, 40.0, weeks).mean for weeks in (4, 13, 26, 52)]
    assert means == sorted(means)
    by_life = [
        forecast_demand(KnownLife(2.0, scale), [300.0] * 5, 40.0, 26).mean
        for scale in (500.0, 1000.0, 2000.0)
    ]
    assert by_life == sorted(by_life, reverse=True)


def test_hours_instead_of_weeks_is_only_a_change_of_unit():
    one = forecast_demand(KnownLife(2.0, 1000.0), [200.0], 40.0, 26.0, draws=5000)
    two = forecast_demand(KnownLife(2.0, 10.0), [2.0], 0.4, 26.0, draws=5000)
    # Single precision may move an event over the horizon once in a great while.
    assert np.abs(one.pmf[:3] - two.pmf[:3]).max() <= 2 / 5000


def test_sum_of_independent_demands_is_a_convolution():
    a = known_demand(stats.poisson(2.0).pmf(np.arange(40)), 13.0)
    b = known_demand(stats.poisson(3.5).pmf(np.arange(40)), 13.0)
    both = a + b
    assert np.allclose(both.pmf[:30], stats.poisson(5.5).pmf(np.arange(30)), atol=1e-12)
    assert np.allclose(both.pmf, (b + a).pmf, atol=1e-15)
    assert both.mean == pytest.approx(5.5)
    assert np.allclose((a + Demand.none(13.0)).pmf, a.pmf)
    with pytest.raises(DecisionError, match="different horizons"):
        a + known_demand([1.0], 6.0)


def test_quantiles_are_the_smallest_number_that_suffices():
    demand = known_demand([0.2, 0.3, 0.45, 0.05])
    assert [demand.quantile(q) for q in (0.0, 0.2, 0.21, 0.5, 0.95, 0.951, 1.0)] == [
        0, 0, 1, 1, 2, 3, 3,
    ]  # fmt: skip
    assert demand.quantile([0.2, 0.95]).tolist() == [0, 2]
    # 0 to 2 heads: 95 %; 1 to 2: 75 %, which is nearer to 80 %.
    assert demand.interval(0.80) == (1, 2)
    assert demand.interval(0.90) == (0, 2)
    # 1 to 3 heads: 79.5 %, 0 to 2: 82 %; about equally near, so the wider.
    assert known_demand([0.115, 0.345, 0.36, 0.09, 0.09]).interval(0.80) == (0, 2)
    assert demand.chance_of(1, 2) == pytest.approx(0.75)
    assert known_demand([1.0]).interval(0.80) == (0, 0)
    with pytest.raises(DecisionError, match="from 0 to 1"):
        demand.quantile(95)


def test_intervals_miss_their_probability_by_half_a_head_and_hold_each_other():
    for mean in np.linspace(0.2, 60.0, 300):
        demand = known_demand(stats.poisson(mean).pmf(np.arange(160)))
        narrow, wide = demand.interval(0.80), demand.interval(0.95)
        assert wide[0] <= narrow[0] <= narrow[1] <= wide[1]
        for (low, high), said in ((narrow, 0.80), (wide, 0.95)):
            smallest = min(demand.pmf[low], demand.pmf[high])
            assert abs(demand.chance_of(low, high) - said) <= max(smallest, 0.5 * demand.pmf.max())


def test_demand_is_forecast_under_the_prior_of_forecasts(record):
    life = record(12, 2.0, 900.0, 800.0, seed=1)
    ahead = life.to_forecast
    assert life.prior == "calibrated" and ahead.prior == "forecast"

    class AsItIs:
        """Draws that no prior is chosen for."""

        def __init__(self, life):
            self.draw = life.draw

    told, same, other = (
        forecast_demand(each, [300.0] * 12, 40.0, 13.0, seed=5)
        for each in (life, AsItIs(ahead), AsItIs(life))
    )
    assert told.pmf.tolist() == same.pmf.tolist()
    assert told.pmf.tolist() != other.pmf.tolist()


def test_no_position_no_demand(record):
    demand = forecast_demand(record(5, 2.0, 900.0, 800.0, seed=1), [], 40.0, 13.0)
    assert demand.pmf.tolist() == [1.0]
    assert demand.quantile(0.999) == 0
    assert demand.mean == 0


def test_a_life_of_minutes_ends():
    demand = forecast_demand(KnownLife(0.2, 1e-9), [0.0], 100.0, 10.0, draws=20)
    assert np.isfinite(demand.mean)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"weeks": -1}, "horizon cannot be below zero"),
        ({"weeks": float("nan")}, "horizon must be a finite number"),
        ({"weeks": "13"}, "horizon must be a number"),
        ({"hours_per_week": -3.0}, "Print hours a week"),
        ({"hours_per_week": float("nan")}, "Print hours a week"),
        ({"hours_per_week": [40.0, 30.0, 20.0]}, "one for each of the 2 positions"),
        ({"hours_per_week": (40.0, -1.0)}, "spread of print hours"),
        ({"hours_per_week": (40.0, 1.0, 2.0)}, "as a list"),
        ({"ages": [10.0, -1.0]}, "number 2 of 2 is -1"),
        ({"ages": [10.0, None]}, "number 2 of 2 is nan"),
        ({"draws": 0}, "number of draws"),
        ({"draws": 2.5}, "number of draws"),
        ({"life": []}, "at least one life"),
    ],
)
def test_bad_input_is_one_sentence(changes, words):
    good = {"life": IMMORTAL, "ages": [10.0, 20.0], "hours_per_week": 40.0, "weeks": 13.0}
    with pytest.raises(DecisionError, match=words):
        forecast_demand(**{**good, **changes})


def test_a_swap_age_of_zero_is_refused():
    with pytest.raises(DecisionError, match="age at which heads are swapped"):
        Policy(0.0)


def test_a_swap_age_of_minutes_is_refused():
    with pytest.raises(DecisionError, match="give a higher age"):
        forecast_demand(IMMORTAL, [0.0], 100.0, 52.0, Policy(0.5))


def test_a_large_fleet_gives_the_same_answer_with_any_executor(record):
    life = record(60, 2.0, 1500.0, 1200.0, 5)
    ages = np.random.default_rng(3).uniform(0, 1200, 2 * POSITIONS_TOGETHER + 40)
    usage = np.full(ages.size, 40.0)
    given = (life, ages, (usage, 5.0), 19.5, Policy(1200.0))
    alone = forecast_demand(*given, draws=200, seed=4)
    with ThreadPoolExecutor(2) as threads, ProcessPoolExecutor(2) as processes:
        for executor in (threads, processes):
            shared = forecast_demand(*given, draws=200, seed=4, executor=executor)
            np.testing.assert_array_equal(shared.pmf, alone.pmf)
            np.testing.assert_array_equal(shared.failures_by_week, alone.failures_by_week)


MODES = [KnownLife(2.2, 1900.0), KnownLife(1.1, 6000.0)]


def many(positions, seed=1):
    """A fleet with more positions than draws, which is simulated draw by draw."""
    rng = np.random.default_rng(seed)
    return rng.uniform(0.0, 1300.0, positions), rng.uniform(20.0, 60.0, positions)


@pytest.mark.parametrize(
    ("policy", "weeks"), [(None, 19.5), (Policy(1200.0), 19.0), (Policy(60.0), 4.0)]
)
def test_many_positions_agree_with_renewal_convolution(policy, weeks):
    # Cox, Renewal Theory (1962), as `futures.convolution` computes it: no simulation there.
    ages, usage = many(900)
    draws = 800
    found = forecast_demand(MODES, ages, usage, weeks, policy, draws=draws, seed=2)
    exact = exact_demand(MODES, ages, usage, weeks, policy, grid=64)
    assert abs(found.mean - exact.mean) < 4 * exact.sd / np.sqrt(draws) + 1e-9
    assert abs(found.failure_mean - exact.failure_mean) < 4 * np.sqrt(exact.failure_mean / draws)
    assert found.sd == pytest.approx(exact.sd, rel=4 / np.sqrt(2 * draws) + 1e-3)
    error = np.sqrt(np.maximum(exact.failures_by_week, 1.0) / draws)
    assert np.all(np.abs(found.failures_by_week - exact.failures_by_week) <= 5 * error)


def test_many_positions_spread_with_the_life_as_few_do(record):
    life = record(12, 2.0, 1500.0, 1200.0, 3)
    ages, usage = many(600)
    wide = forecast_demand(life, ages, (usage, 0.3 * usage), 19.0, Policy(1200.0), draws=590)
    few = forecast_demand(life, ages, (usage, 0.3 * usage), 19.0, Policy(1200.0), draws=6_000)
    assert wide.mean == pytest.approx(few.mean, abs=5 * few.sd / np.sqrt(590))
    assert wide.sd == pytest.approx(few.sd, rel=5 / np.sqrt(2 * 590))
    assert wide.doubt.variance == pytest.approx(few.doubt.variance, rel=0.3)


def test_order_of_many_positions_and_executor_change_nothing():
    ages, usage = many(80)
    given = {"draws": 2 * DRAWS_TOGETHER + 7, "seed": 3}
    alone = forecast_demand(MODES, ages, usage, 10.0, **given)
    turned = forecast_demand(MODES, ages[::-1], usage[::-1], 10.0, **given)
    with ThreadPoolExecutor(2) as executor:
        shared = forecast_demand(MODES, ages, usage, 10.0, **given, executor=executor)
    for other in (turned, shared):
        np.testing.assert_array_equal(other.pmf, alone.pmf)
        np.testing.assert_array_equal(other.failures_by_week, alone.failures_by_week)


def test_many_positions_that_stand_still_fail_nowhere():
    ages = np.linspace(0.0, 1500.0, 30)
    still = forecast_demand(MODES, ages, 0.0, 10.0, draws=5)
    assert still.mean == 0
    due = forecast_demand(MODES, ages, 0.0, 10.0, Policy(1200.0), draws=5)
    assert due.planned_by_week[0] == (ages >= 1200.0).sum() == due.mean
