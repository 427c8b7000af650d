from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, optimize

from headlife.decisions.policy.best_age import best_age
from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.replacement import (
    compare,
    event_curve,
    rates_at,
    replacement_curve,
    weighted_quantile,
)
from headlife.decisions.policy.run_table import run_table
from headlife.decisions.policy.survival import KnownSurvival
from headlife.errors import DecisionError
from headlife.futures.demand import KnownLife


def closed_form_age(shape, scale, planned, failure):
    """Age where hazard(T) * integral of R to T - F(T) = planned / (failure - planned).

    Barlow & Proschan (1965), section 4.2: the derivative of the cost rate set to zero.
    """

    def condition(age):
        hours = integrate.quad(
            lambda t: np.exp(-((t / scale) ** shape)), 0, age, epsabs=1e-12, epsrel=1e-13
        )[0]
        hazard = shape / scale * (age / scale) ** (shape - 1)
        return (
            hazard * hours - (1 - np.exp(-((age / scale) ** shape))) - planned / (failure - planned)
        )

    return optimize.brentq(condition, 1e-3 * scale, 20 * scale, xtol=1e-10, rtol=1e-14)


@pytest.mark.parametrize(
    ("shape", "scale", "planned", "failure"),
    [
        (1.5, 1000, 1, 4),
        (2.5, 1300, 350, 620),
        (3.0, 900, 1, 12),
        (8.0, 2000, 1, 3),
        (20, 800, 1, 5),
    ],
)
def test_optimum_is_where_the_derivative_vanishes(shape, scale, planned, failure):
    found = best_age(KnownLife(shape, scale), (planned, failure))
    assert found.age == pytest.approx(closed_form_age(shape, scale, planned, failure), rel=1e-6)
    # At the optimum the cost rate is (failure - planned) times the hazard (same source).
    hazard = shape / scale * (found.age / scale) ** (shape - 1)
    assert found.cost_per_hour == pytest.approx((failure - planned) * hazard, rel=1e-5)


@pytest.mark.parametrize(
    ("planned", "failure", "scale", "shape"), [(1, 5, 1000, 2.5), (350, 620, 1300, 3.2)]
)
def test_optimum_agrees_with_the_reliability_library(planned, failure, scale, shape):
    # reliability 0.9.0, optimal_replacement_time(q=0), as good as new. It searches a grid of
    # 10,000 ages up to three scales, so its printed age is that of a grid point.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from reliability.Repairable_systems import optimal_replacement_time

        theirs = optimal_replacement_time(
            cost_PM=planned,
            cost_CM=failure,
            weibull_alpha=scale,
            weibull_beta=shape,
            q=0,
            show_time_plot=False,
            show_ratio_plot=False,
            print_results=False,
        )
    grid = np.linspace(1, 3 * scale, 10_000)
    ours = best_age(KnownLife(shape, scale), (planned, failure))
    assert abs(ours.age - theirs.ORT) <= grid[1] - grid[0]
    assert round(ours.cost_per_hour, 2) == round(theirs.min_cost, 2)
    curve = replacement_curve(KnownLife(shape, scale), grid, (planned, failure))
    at = int(np.argmin(curve["expected"]))
    assert round(float(grid[at]), 2) == round(theirs.ORT, 2)
    assert curve["expected"][at] == pytest.approx(theirs.min_cost, rel=1e-7)


@pytest.mark.parametrize("shape", [0.4, 0.8, 1.0])
def test_no_planned_swap_pays_where_the_risk_does_not_grow(shape):
    found = best_age(KnownLife(shape, 900.0), (1.0, 8.0))
    assert found.age == np.inf
    mean = rates_at(KnownLife(shape, 900.0), np.inf)
    assert found.cost_per_hour == pytest.approx(8.0 * float(mean.failures[0]), rel=1e-12)


def test_exponential_life_costs_planned_swaps_on_top():
    # Closed form: F / integral of R is 1/mean at every age, so the cost is failure/mean plus
    # planned swaps at the rate R / integral of R.
    ages = np.array([100.0, 700.0, 3000.0])
    curve = replacement_curve(KnownLife(1.0, 800.0), ages, (2.0, 10.0))
    share = np.exp(-ages / 800.0)
    assert curve["unplanned"].to_numpy() == pytest.approx(10.0 / 800.0, rel=1e-10)
    assert curve["planned"].to_numpy() == pytest.approx(2.0 * share / (800.0 * (1 - share)))


def test_any_survival_function_serves_as_a_life():
    # Uniform life on 0 to 40,000 km with costs 100 and 200 (Jardine & Tsang 2013, chapter 2,
    # problem 2): the optimum is 40,000 (sqrt(3) - 1), computed.
    life = KnownSurvival(lambda age: np.interp(age, [0.0, 40_000.0], [1.0, 0.0]), 20_000.0)
    found = best_age(life, (100.0, 200.0))
    assert found.age == pytest.approx(40_000.0 * (np.sqrt(3.0) - 1.0), rel=1e-6)


@settings(max_examples=30, deadline=None)
@given(
    shape=st.floats(0.3, 15.0),
    other=st.floats(0.3, 15.0),
    ratio=st.floats(0.2, 5.0),
    age=st.floats(50.0, 4000.0),
)
def test_hours_run_are_the_integral_of_the_reliability(shape, other, ratio, age):
    lives = [KnownLife(shape, 1000.0), KnownLife(other, 1000.0 * ratio)]
    table = run_table(lives, [age / 3, age])

    def share(t):
        return np.exp(-((t / 1000.0) ** shape) - (t / (1000.0 * ratio)) ** other)

    # Substituting t = u**5 tames early failures for the quadrature that checks ours.
    for at, end in enumerate((age / 3, age)):
        wanted = integrate.quad(
            lambda u: share(u**5) * 5 * u**4, 0, end**0.2, epsabs=1e-9, epsrel=1e-10, limit=200
        )[0]
        assert table.hours[0, at] == pytest.approx(wanted, rel=1e-7)


def test_equal_modes_that_compete_are_one_mode_of_their_added_hazard():
    one = KnownLife(2.2, 1500.0)
    both = KnownLife(2.2, 1500.0 / 2 ** (1 / 2.2))
    ages = np.linspace(100, 3000, 7)
    joined = replacement_curve([one, one], ages, (1.0, 4.0))
    single = replacement_curve(both, ages, (1.0, 4.0))
    assert joined["expected"].to_numpy() == pytest.approx(single["expected"].to_numpy(), rel=1e-9)
    assert best_age([one, one], (1.0, 4.0)).age == pytest.approx(
        best_age(both, (1.0, 4.0)).age, rel=1e-6
    )


def test_cost_agrees_with_heads_simulated_one_after_the_other():
    rng = np.random.default_rng(3)
    lives = 1250.0 * rng.weibull(2.6, 200_000)
    age, costs = 1100.0, SwapCosts(head=300.0, visit=40.0, scrapped=250.0)
    failed = lives <= age
    cost = np.where(failed, costs.failure, costs.planned)
    hours = np.minimum(lives, age)
    rate = cost.sum() / hours.sum()
    # Standard error of a ratio of means (delta method).
    error = np.std(cost - rate * hours) / hours.mean() / np.sqrt(lives.size)
    ours = float(rates_at(KnownLife(2.6, 1250.0), age).cost(costs)[0])
    assert abs(ours - rate) < 3 * error


def test_curve_of_a_posterior_is_ordered_adds_up_and_scales(record):
    life = record(60, 2.5, 1500.0, 1400.0, seed=4)
    ages = np.linspace(150, 3000, 40)
    curve = replacement_curve(life, ages, (350.0, 620.0), rated_hours=1400.0)
    assert (curve["low"] <= curve["cost_per_hour"]).all()
    assert (curve["cost_per_hour"] <= curve["high"]).all()
    assert curve["planned"].to_numpy() + curve["unplanned"].to_numpy() == pytest.approx(
        curve["expected"].to_numpy()
    )
    assert curve["reliability"].is_monotonic_decreasing
    assert curve["probability_cheaper"].between(0, 1).all()
    wider = replacement_curve(life, ages, (350.0, 620.0), confidence=0.99)
    assert (wider["low"] <= curve["low"]).all() and (wider["high"] >= curve["high"]).all()
    # Money in another currency leaves the best age where it was.
    dollars = replacement_curve(life, ages, (35.0, 62.0))
    assert dollars["low"].to_numpy() * 10 == pytest.approx(curve["low"].to_numpy())
    same = best_age(life, (35.0, 62.0)).age
    assert same == pytest.approx(best_age(life, (350.0, 620.0)).age, rel=1e-6)


def test_few_ages_are_as_exact_as_many(record):
    life = record(40, 3.0, 1500.0, 1400.0, seed=5)
    many = replacement_curve(life, np.linspace(10, 3000, 300), (1.0, 3.0))
    few = replacement_curve(life, [10.0, 1510.0, 3000.0], (1.0, 3.0))
    for age in (10.0, 3000.0):
        assert float(few.loc[few["age"] == age, "expected"].iloc[0]) == pytest.approx(
            float(many.loc[many["age"] == age, "expected"].iloc[0]), rel=1e-7
        )


def test_events_are_renewals_of_the_table(record):
    life = record(60, 2.5, 1500.0, 1400.0, seed=4)
    table = run_table(life, [600.0, 1400.0])
    events = event_curve(table, 2000.0)
    rates = rates_at(life, 1400.0)
    assert events["heads"].iloc[1] == pytest.approx(2000.0 * float(rates.weights @ rates.heads))
    assert events["failed_builds"].iloc[1] == pytest.approx(
        2000.0 * float(rates.weights @ rates.failures)
    )


def test_a_limit_holds_and_says_so_only_where_it_binds():
    life, costs = KnownLife(3.0, 1500.0), (1.0, 4.0)
    free = best_age(life, costs)
    inside = best_age(life, costs, highest=2.0 * free.age)
    assert inside.age == pytest.approx(free.age, rel=1e-6) and not inside.at_limit
    bound = best_age(life, costs, highest=0.5 * free.age)
    assert bound.age == 0.5 * free.age and bound.at_limit
    assert bound.cost_per_hour > free.cost_per_hour
    assert best_age(KnownLife(0.7, 1000.0), costs, highest=1200.0).age == 1200.0


def test_comparison_counts_what_is_lost_when_wrong():
    weights = np.array([0.5, 0.3, 0.2])
    found = compare(np.array([1.0, 2.0, 5.0]), np.array([2.0, 2.0, 3.0]), weights)
    assert found.probability_cheaper == pytest.approx(0.5)
    assert found.expected_saving == pytest.approx(0.5 * 1.0 - 0.2 * 2.0)
    assert found.regret == pytest.approx(2.0)
    same = compare(np.ones(3), np.ones(3), weights)
    assert (same.probability_cheaper, same.expected_saving, same.regret) == (0.0, 0.0, 0.0)


def scenarios(seed, n=300):
    rng = np.random.default_rng(seed)
    return rng.lognormal(size=n), rng.dirichlet(np.full(n, 0.3))


@pytest.mark.parametrize("q", [0.05, 0.5, 0.95])
def test_a_quantile_is_the_mean_of_those_half_a_point_of_chance_around_it(q):
    values, weights = scenarios(1)
    around = q + np.linspace(-0.005, 0.005, 20_001)
    steps = np.quantile(values, around, weights=weights, method="inverted_cdf")
    assert weighted_quantile(values, weights, q) == pytest.approx(steps.mean(), rel=1e-4)
    parts = np.repeat(values, 2), np.repeat(weights / 2, 2)
    assert weighted_quantile(*parts, q) == pytest.approx(weighted_quantile(values, weights, q))


@pytest.mark.parametrize("seed", range(20))
def test_a_quantile_moves_no_farther_than_the_scenarios_and_never_jumps(seed):
    values, weights = scenarios(seed)
    found = weighted_quantile(values, weights, 0.95)
    shaken = values + np.random.default_rng(seed).uniform(-1e-6, 1e-6, values.size)
    assert abs(weighted_quantile(shaken, weights, 0.95) - found) <= 1e-6
    # At the end of a step the inverse of the distribution function, which it was, jumps the whole
    # way to the next scenario; this one moves by its slope, the window's width over its chance.
    ends = np.sort(values), np.cumsum(weights[np.argsort(values)])
    at = ends[1][np.searchsorted(ends[1], 0.95)]
    first, last = (ends[0][np.searchsorted(ends[1], at + far)] for far in (-0.0051, 0.0051))
    below, above = (weighted_quantile(values, weights, at + d) for d in (-1e-7, 1e-7))
    assert 0 <= above - below <= (last - first) / 0.01 * 2e-7 + 1e-12


def test_the_quantile_of_one_scenario_is_that_scenario():
    assert weighted_quantile(np.array([3.0]), np.ones(1), 0.95) == 3.0
    assert weighted_quantile(np.array([1.0, 3.0]), np.array([0.5, 0.5]), 0.5) == 2.0


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: best_age(KnownLife(2, 1000), (5.0, 3.0)), "cannot be the cheaper one"),
        (lambda: best_age(KnownLife(2, 1000), (0.0, 3.0)), "costs nothing"),
        (lambda: best_age(KnownLife(2, 1000), (0.0, 0.0)), "costs nothing"),
        (lambda: best_age(KnownLife(2, 1000), (-1.0, 3.0)), "cannot be below zero"),
        (lambda: best_age(KnownLife(2, 1000), 3.0), "pair"),
        (lambda: rates_at(KnownLife(2, 1000), 0.0), "age 0 never prints"),
        (lambda: replacement_curve(KnownLife(2, 1000), [0.0, 10.0], (1, 2)), "above zero"),
        (lambda: replacement_curve(KnownLife(2, 1000), [20.0, 10.0], (1, 2)), "ascending"),
        (lambda: replacement_curve(KnownLife(2, 1000), [10.0], (1, 2), confidence=95), "0.95"),
        (lambda: best_age([], (1, 2)), "at least one life"),
        (lambda: best_age("life", (1, 2)), "needs a life"),
        (lambda: best_age(lambda t: 2.0 + 0 * t, (1, 2)), "between 0 and 1"),
    ],
)
def test_bad_input_ends_with_a_sentence(call, says):
    with pytest.raises(DecisionError, match=says):
        call()
