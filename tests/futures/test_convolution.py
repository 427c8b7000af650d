from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from scipy.special import gamma
from tests.futures.weibull_renewals import renewals_of_series

from headlife.errors import DecisionError
from headlife.futures.convolution import (
    cumulative_hazard,
    exact_demand,
    renewal_function,
    swap_distribution,
)
from headlife.futures.demand import KnownLife, forecast_demand
from headlife.shop.policy import Policy
from validation.cases import load


def renewals(shape, scale, times):
    hazard = cumulative_hazard(KnownLife(shape, scale))
    return [renewal_function(hazard, time) for time in times]


@pytest.mark.parametrize("shape", ["0.5", "0.75", "1", "1.5", "2", "2.5", "3", "4"])
def test_weibull_renewal_function_to_six_digits(shape):
    case = load("renewal_weibull")
    assert case.expected[f"shape_{shape}"].agrees(renewals(float(shape), 1.0, case.data["t"]))


@pytest.mark.parametrize("shape", [2, 3, 4])
def test_renewal_function_of_lives_with_mean_one(shape):
    case = load("renewal_weibull")
    got = renewals(float(shape), 1 / gamma(1 + 1 / shape), case.data["t_mean_one"])
    assert case.expected[f"mean_one_shape_{shape}"].agrees(got)


@pytest.mark.parametrize("shape", [0.5, 0.75, 1.0, 1.005, 1.2, 1.5, 2.2, 3.0, 5.0])
def test_the_mean_of_a_fleet_is_the_renewal_function_to_nine_digits(shape):
    hazard = cumulative_hazard(KnownLife(shape, 1000.0))
    for time in (0.5, 1.0, 2.0):
        exact = renewals_of_series(shape, time)
        assert renewal_function(hazard, 1000.0 * time) == pytest.approx(exact, abs=1e-10)
        # Ten new heads on a fleet of ten printers, over half a year.
        demand = exact_demand(KnownLife(shape, 1000.0), [0.0] * 10, 1000 * time / 26, 26.0)
        assert demand.mean == pytest.approx(10 * exact, abs=1e-9)
        assert demand.failure_mean == pytest.approx(10 * exact, abs=1e-9)


@pytest.mark.parametrize("shape", [1.0, 1.5, 2.2])
def test_the_mean_of_heads_in_service_is_the_delayed_renewal_function(shape):
    # A head of some age fails at s with density h(age + s) R(age + s) / R(age); from then on its
    # successors renew: Cox, Renewal Theory (1962), section 4.
    age, time = 0.7, 1.6

    def failing(s):
        gone = (age + s) ** shape - age**shape
        density = shape * (age + s) ** (shape - 1) * np.exp(-gone)
        return density * (1 + renewals_of_series(shape, time - s))

    places, weights = np.polynomial.legendre.leggauss(40)
    # t = v^3 draws the renewals of the last moment apart, where they are no smooth function.
    v = 0.5 * (places + 1.0)
    left = time * v**3
    exact = sum(0.5 * w * 3 * time * u**2 * failing(time - t)
                for w, u, t in zip(weights, v, left, strict=True))  # fmt: skip
    demand = exact_demand(KnownLife(shape, 1000.0), [1000 * age], 1000 * time / 13, 13.0)
    assert demand.mean == pytest.approx(exact, abs=1e-9)


def test_lives_that_are_not_weibull_have_closed_forms():
    case = load("renewal_closed_forms")

    def erlang(t):  # two phases of rate 2: R = (1 + 2t) exp(-2t)
        return 2 * t - np.log1p(2 * t)

    def uniform(t):  # R = 1 - t up to 1
        return -np.log1p(-np.minimum(t, 1 - 1e-15))

    for name, hazard, time in (
        ("erlang2_rate2_t1", erlang, 1.0),
        ("erlang2_rate2_t3", erlang, 3.0),
        ("uniform_t0_5", uniform, 0.5),
        ("uniform_t1", uniform, 1.0),
    ):
        # Beyond what the method promises (1e-6) nothing is claimed.
        expected = case.expected[name].value
        assert renewal_function(hazard, time) == pytest.approx(expected, abs=1e-9)


def test_circuit_breakers_of_the_guide():
    case = load("renewal_circuit_breaker")
    shape, scale = case.data["shape"], 1 / case.data["rate"]
    got = renewals(shape, scale, case.data["t"])
    assert case.expected["renewals"].agrees(got)
    assert case.expected["renewals_printed"].agrees(got)
    far = renewals(shape, scale, [5000.0])[0]
    assert case.expected["renewals_5000_over_5000"].agrees(far / 5000)
    assert case.expected["mean_life"].agrees(scale * gamma(1 + 1 / shape))


def test_circuit_breakers_under_age_replacement():
    case = load("renewal_circuit_breaker")
    life = KnownLife(case.data["shape"], 1 / case.data["rate"])
    found = [
        exact_demand(life, [0.0], 1.0, years, Policy(case.data["swap_age"]), grid=512)
        for years in case.data["t_age_replacement"]
    ]
    for name in ("failures", "planned"):
        got = [getattr(demand, f"{name[:7].rstrip('s')}_mean") for demand in found]
        assert case.expected[f"{name}_age_replacement"].agrees(got)
        assert case.expected[f"{name}_age_replacement_printed"].agrees(got)


def test_shape_one_is_the_poisson_process():
    demand = exact_demand(KnownLife(1.0, 700.0), [0.0, 300.0, 4000.0], [40.0, 30.0, 20.0], 26.0)
    exact = stats.poisson(90 * 26 / 700).pmf(np.arange(demand.pmf.size))
    assert np.abs(demand.pmf - exact).max() < 1e-6


@pytest.mark.parametrize("swap_age", [np.inf, 1200.0])
@pytest.mark.parametrize("modes", [1, 2])
def test_simulation_and_convolution_agree(swap_age, modes):
    lives = [KnownLife(2.2, 1800.0), KnownLife(1.0, 6000.0)][:modes]
    ages = np.linspace(0.0, 1400.0, 8)
    hours = np.linspace(20.0, 60.0, 8)
    draws = 60_000
    exact = exact_demand(lives, ages, hours, 39.0, Policy(swap_age))
    drawn = forecast_demand(lives, ages, hours, 39.0, Policy(swap_age), draws=draws, seed=11)
    size = drawn.pmf.size
    room = 4 * np.sqrt(exact.pmf[:size] * (1 - exact.pmf[:size]) / draws) + 2e-5
    assert np.all(np.abs(drawn.pmf - exact.pmf[:size]) <= room)
    assert abs(drawn.mean - exact.mean) <= 3 * exact.sd / np.sqrt(draws)
    assert drawn.planned_mean == pytest.approx(exact.planned_mean, abs=0.02)
    week = 4 * np.sqrt(np.maximum(exact.failures_by_week, 1e-3) / draws)
    assert np.all(np.abs(drawn.failures_by_week - exact.failures_by_week) <= week)


def test_the_distribution_is_one_and_its_mean_is_the_renewal_function():
    hazard = cumulative_hazard(KnownLife(3.0, 1000.0))
    found = swap_distribution(hazard, [0.0, 500.0], [3000.0, 2000.0], Policy(900.0))
    assert np.allclose(found.pmf.sum(axis=1), 1.0, atol=1e-12)
    counts = np.arange(found.pmf.shape[1])
    assert np.allclose(found.pmf @ counts, found.swaps[:, -1], atol=1e-9)
    assert np.all(np.diff(found.swaps, axis=1) >= -1e-12)
    assert np.all(found.failures <= found.swaps + 1e-12)


def test_a_printer_that_stands_still_needs_nothing():
    demand = exact_demand(KnownLife(2.0, 900.0), [100.0], 0.0, 13.0)
    assert demand.pmf.tolist() == [1.0]


def test_bad_input_is_one_sentence():
    with pytest.raises(DecisionError, match="horizon cannot be below zero"):
        exact_demand(KnownLife(2.0, 900.0), [1.0], 40.0, -1.0)
    with pytest.raises(DecisionError, match="give a higher age"):
        exact_demand(KnownLife(2.0, 900.0), [1.0], 40.0, 52.0, Policy(1.0))
