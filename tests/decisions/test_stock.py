from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from headlife.decisions.spares.stock import (
    SURE_ENOUGH,
    doubled_risk,
    expected_shortfall,
    plan_stock,
    stock_levels,
    stock_table,
)
from headlife.errors import DecisionError
from headlife.futures.demand import KnownLife, forecast_demand
from headlife.futures.distribution import ROUNDING, Demand, known_demand
from headlife.futures.life_uncertainty import Doubt
from validation.cases import load


def poisson(mean):
    return known_demand(stats.poisson(mean).pmf(np.arange(60)))


def test_two_spare_lamps():
    case = load("spares_lamps")
    mean = case.data["failures_per_hour"] * case.data["hours"]
    assert case.expected["mean"].agrees(mean)
    # Two spares last when at most two lamps fail: P(N <= 2), not P(N < 2).
    reached = stock_table(poisson(mean), 5)["service"][case.data["spares"]]
    assert case.expected["probability_spares_last"].agrees(reached)
    assert case.expected["probability_exact"].agrees(reached)


def test_two_spare_lamps_by_simulation():
    case = load("spares_lamps")
    draws = 40_000
    lamp = KnownLife(1.0, 1 / case.data["failures_per_hour"])
    demand = forecast_demand(lamp, [0.0], case.data["hours"] / 5, 5.0, draws=draws)
    exact = case.expected["probability_exact"].value
    error = 3 * np.sqrt(exact * (1 - exact) / draws)
    assert plan_stock(demand, 0.98).service == pytest.approx(exact, abs=error)


def test_weekly_base_stock_of_the_lecture():
    case = load("spares_base_stock")
    demand = poisson(case.data["mean"])
    assert case.expected["pmf"].agrees(demand.pmf[:3])
    assert case.expected["cdf_from_1"].agrees(demand.cdf[1:5])
    assert case.expected["shortfall"].agrees(expected_shortfall(demand, 3))
    assert case.expected["shortfall_exact"].agrees(expected_shortfall(demand, 4))
    plan = plan_stock(demand, case.data["fill_rate"])
    assert case.expected["stock_level"].agrees(plan.stock_level)
    assert plan.fill_rate >= case.data["fill_rate"]
    assert plan.table["fill_rate"][plan.stock_level - 1] < case.data["fill_rate"]


def test_the_fill_rate_is_the_share_of_heads_needed_that_come_from_stock():
    # Counted the other way round: the heads served are min(demand, stock).
    for mean in (0.3, 0.8, 7.5):
        demand = poisson(mean)
        heads = np.arange(demand.pmf.size)
        table = stock_table(demand, 12)
        for level, fill in zip(table["stock_level"], table["fill_rate"], strict=True):
            served = np.minimum(heads, level) @ demand.pmf
            # Chances of a shortage below the stated rounding count as none.
            assert fill == pytest.approx(served / (heads @ demand.pmf), abs=ROUNDING)


def test_expected_backorders_of_one_item():
    case = load("spares_backorders")
    table = stock_table(poisson(case.data["pipeline_mean"]), 5)
    assert case.expected["backorders"].agrees(table["expected_shortfall"])
    assert case.expected["backorders_exact"].agrees(table["expected_shortfall"])
    # That table's fill rate is the chance that the shelf is not empty, P(N <= S - 1).
    assert case.expected["ready_rate"].agrees(table["ready_rate"])


def test_the_level_is_the_smallest_that_serves():
    for mean in (0.3, 2.0, 7.5):
        for level in (0.5, 0.9, 0.95, 0.999):
            plan = plan_stock(poisson(mean), level)
            assert plan.stock_level == stats.poisson(mean).ppf(level)
            assert plan.service >= level
            if plan.stock_level:
                assert plan.table["service"][plan.stock_level - 1] < level


def test_more_stock_never_serves_worse():
    table = stock_table(poisson(4.0), 20)
    for column in ("service", "ready_rate", "fill_rate"):
        assert table[column].is_monotonic_increasing
        assert table[column].between(0, 1).all()
    assert table["expected_shortfall"].is_monotonic_decreasing
    assert table["expected_shortfall"][0] == pytest.approx(4.0)
    assert (table["ready_rate"] <= table["service"]).all()


def test_what_is_on_hand_and_on_order_is_not_ordered_again():
    level = plan_stock(poisson(5.0)).stock_level
    assert plan_stock(poisson(5.0), on_hand=3, on_order=2).order_now == level - 5
    assert plan_stock(poisson(5.0), on_hand=30).order_now == 0
    # The table still reaches what is on the shelf.
    assert plan_stock(poisson(5.0), on_hand=30).table["stock_level"].max() >= 30


def test_no_demand_needs_no_stock():
    plan = plan_stock(Demand.none(13.0), on_hand=1)
    assert (plan.stock_level, plan.order_now, plan.service, plan.fill_rate) == (0, 0, 1.0, 1.0)


@pytest.mark.parametrize("level", [0, 1, 95, "95", "0.95", -0.1, float("nan"), True, None])
def test_a_service_level_is_a_fraction(level):
    with pytest.raises(DecisionError, match="service level"):
        plan_stock(poisson(2.0), level)


def test_a_percentage_is_recognised():
    with pytest.raises(DecisionError, match=r"for 95 % write 0\.95"):
        plan_stock(poisson(2.0), 95)


@pytest.mark.parametrize(
    ("stock", "words"),
    [
        ({"on_hand": -1}, "Heads on hand cannot be below zero"),
        ({"on_order": -2}, "Heads on order cannot be below zero"),
        ({"on_hand": 1.5}, "whole number of heads"),
        ({"on_hand": "two"}, "must be a number"),
    ],
)
def test_stock_is_a_whole_number_of_heads(stock, words):
    with pytest.raises(DecisionError, match=words):
        plan_stock(poisson(2.0), **stock)


@pytest.mark.parametrize("mean", [0.3, 4.0, 20.0])
def test_the_shortfall_of_a_poisson_demand_is_exact_far_out_too(mean):
    # E(D - S)+ is the sum of P(D > k) over k >= S; scipy sums the tail of the Poisson law.
    levels = np.arange(60)
    demand = known_demand(stats.poisson(mean).pmf(np.arange(120)))
    exact = np.array([stats.poisson(mean).sf(np.arange(level, 200)).sum() for level in levels])
    found = expected_shortfall(demand, 59)
    assert np.abs(found - exact).max() < 1e-12
    # Tails are kept, not cut: at twenty times the mean a head is still missed now and then.
    assert found[exact > 1e-100] == pytest.approx(exact[exact > 1e-100], rel=1e-6)


def test_a_level_beyond_any_demand_leaves_no_shortfall():
    assert expected_shortfall(known_demand([0.5, 0.5]), 4).tolist() == [0.5, 0.0, 0.0, 0.0, 0.0]


class Doubted:
    """A demand with a doubt about the life that is stated, not simulated."""

    def __init__(self, pmf, doubt):
        known = known_demand(pmf)
        self.pmf, self.cdf, self.mean, self.quantile = (
            known.pmf,
            known.cdf,
            known.mean,
            known.quantile,
        )
        self.doubt = doubt


def two_lives(share, few, many, variance):
    """Lives that foretell few heads, and a share of them that foretells many."""
    return Doubt(np.where(np.arange(1_000) < 1_000 * share, many, few), variance)


def test_an_order_is_a_whole_number_of_multiples():
    # Demand of 7 heads for certain: 7 - 1 = 6 are missing, which are two boxes of five.
    certain = known_demand([0.0] * 7 + [1.0])
    for multiple, order in [(1, 6), (2, 6), (4, 8), (5, 10), (6, 6), (7, 7)]:
        assert plan_stock(certain, on_hand=1, order_multiple=multiple).order_now == order
    plan = plan_stock(certain)
    assert (plan.order_now, plan.on_hand, plan.on_order) == (7, 0, 0)
    assert plan_stock(certain, on_hand=4, on_order=3).order_now == 0


def test_the_table_ends_three_heads_above_the_level_or_at_the_stock_there_is():
    certain = known_demand([0.0, 0.0, 1.0])
    assert plan_stock(certain).table["stock_level"].iloc[-1] == 5
    assert plan_stock(certain, on_hand=4, on_order=5).table["stock_level"].iloc[-1] == 9
    assert plan_stock(poisson(2.0), 0.5).table["stock_level"].iloc[-1] == stats.poisson(2.0).ppf(
        0.9999
    )


def test_twice_the_risk_of_a_service_level():
    # 95 % risks 5 %; twice that is 10 %. Of 40 % the doubled risk would be 120 %.
    assert doubled_risk(0.95) == pytest.approx(0.90)
    assert doubled_risk(0.75) == pytest.approx(0.50)
    assert doubled_risk(0.40) == 0.0
    assert plan_stock(poisson(2.0), 0.9).at_least == pytest.approx(0.80)


def test_a_head_is_added_until_nine_lives_in_ten_are_served():
    # Luck of a Poisson demand, as large as the doubt: 14 % of lives foretell 8 heads, the others 4.
    doubt = two_lives(0.14, 4.0, 8.0, 4.56)
    assert doubt.settled
    demand = Doubted(stats.poisson(4.0).pmf(np.arange(40)), doubt)
    level = int(demand.quantile(0.95))
    plan = plan_stock(demand)
    # By hand: the first stock that serves a mean of 8 at 90 %, with the variance over the mean of
    # all lives (4.56 over 4.56: Poisson), is 12.
    assert stats.poisson(8.0).cdf([11, 12]) == pytest.approx([0.888, 0.936], abs=1e-3)
    assert (plan.stock_level, plan.added) == (12, 12 - level)
    assert (plan.sure, plan.in_doubt) == (1.0, False)
    assert stock_levels(demand, [0.95, 0.5]) == [12, plan_stock(demand, 0.5).stock_level]


def test_exactly_nine_lives_in_ten_are_enough():
    doubt = two_lives(0.10, 4.0, 8.0, 4.4)
    demand = Doubted(stats.poisson(4.0).pmf(np.arange(40)), doubt)
    plan = plan_stock(demand)
    assert plan.sure == pytest.approx(SURE_ENOUGH)
    assert (plan.added, plan.in_doubt) == (0, False)


def test_where_doubt_outweighs_luck_no_head_is_added_and_the_plan_says_so():
    doubt = two_lives(0.3, 2.0, 30.0, 1.0)
    assert not doubt.settled
    demand = Doubted(stats.poisson(4.0).pmf(np.arange(40)), doubt)
    plan = plan_stock(demand)
    assert (plan.stock_level, plan.added) == (demand.quantile(0.95), 0)
    assert plan.sure == pytest.approx(0.7)
    assert plan.in_doubt
    assert stock_levels(demand, [0.95]) == [plan.stock_level]
    assert stock_levels(known_demand([0.5, 0.5]), [0.3, 0.95]) == [0, 1]


def test_no_more_is_held_than_one_head_above_any_demand_that_was_seen():
    # The doubt would never be served: 30 % of lives foretell 40 heads, and luck is larger still.
    doubt = two_lives(0.3, 2.0, 40.0, 2_000.0)
    assert doubt.settled
    plan = plan_stock(Doubted([0.5, 0.3, 0.2], doubt))
    assert plan.stock_level == 3
    assert plan.in_doubt
