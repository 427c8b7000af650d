"""How sure a service level is: against exact distributions under every life, and plain laws."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from headlife.decisions.spares.stock import SURE_ENOUGH, plan_stock
from headlife.futures.convolution import exact_demand
from headlife.futures.demand import KnownLife, forecast_demand
from headlife.futures.distribution import Demand, known_demand
from headlife.futures.draws import ModeDraws
from headlife.futures.life_uncertainty import Doubt, Futures, Heads, _most_served
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life
from headlife.shop.policy import Policy

AGES = np.linspace(50.0, 1300.0, 28)
HOURS, WEEKS = 45.0, 13.0


def record(heads, seed=1):
    """Fit heads of Weibull(2.2, 1800 h), each watched to an age of its own."""
    rng = np.random.default_rng(seed)
    age, until = 1800.0 * rng.weibull(2.2, heads), rng.uniform(200.0, 2000.0, heads)
    return fit_life(
        Evidence.from_lives(0.0, np.minimum(age, until), age <= until, reference_hours=1200.0)
    )


class FewLives:
    """Lives drawn once and used in turn, so that each can be worked out exactly."""

    def __init__(self, life, lives):
        self.shapes, self.scales = life.draw(lives, np.random.default_rng(3))

    def draw(self, n, rng):
        turn = np.arange(n) % self.shapes.size
        return self.shapes[turn], self.scales[turn]


@pytest.mark.parametrize("heads", [12, 60])
def test_doubt_agrees_with_the_exact_demand_under_every_life(heads):
    few = FewLives(record(heads), 60)
    demand = forecast_demand(few, AGES, HOURS, WEEKS, draws=12_000)
    exact = [
        exact_demand(KnownLife(b, c), AGES, HOURS, WEEKS, grid=13)
        for b, c in zip(few.shapes, few.scales, strict=True)
    ]
    means = np.array([each.mean for each in exact])
    found = demand.doubt.expected[: means.size]
    # The regression is a smooth curve; single lives stray from it by less than half a head.
    assert np.abs(found - means).max() < 0.5
    assert np.var(found) == pytest.approx(np.var(means), rel=0.10)
    assert demand.doubt.variance == pytest.approx(np.mean([e.sd**2 for e in exact]), rel=0.10)
    level = int(demand.quantile(0.95))
    sure = demand.doubt.sure(np.arange(level + 4), 0.90)
    for stock in range(level - 2, level + 4):
        served = np.array([each.cdf[min(stock, each.cdf.size - 1)] for each in exact])
        # All lives share one ratio of variance to mean: those within two points of 90 %, and one
        # more, may be told wrong.
        low, high = np.mean(served >= 0.92) - 1 / 60, np.mean(served >= 0.88) + 1 / 60
        assert low - 1e-9 <= sure[stock] <= high + 1e-9


def test_a_known_life_leaves_no_doubt():
    demand = forecast_demand(KnownLife(2.2, 1800.0), AGES, HOURS, WEEKS, draws=4_000)
    assert np.ptp(demand.doubt.expected) == pytest.approx(0.0, abs=1e-9)
    plan = plan_stock(demand)
    assert (plan.added, plan.sure) == (0, 1.0)
    assert plan.stock_level == demand.quantile(0.95)


def test_a_longer_record_is_held_to_it_and_a_short_one_says_so():
    long = forecast_demand(record(60), AGES, HOURS, WEEKS)
    plan = plan_stock(long)
    assert long.doubt.settled
    assert plan.sure >= SURE_ENOUGH
    assert plan.stock_level == long.quantile(0.95) + plan.added
    if plan.added:
        assert long.doubt.sure(plan.stock_level - 1, 0.90) < SURE_ENOUGH
    short = forecast_demand(record(12), AGES, HOURS, WEEKS)
    assert not short.doubt.settled
    assert plan_stock(short).stock_level == short.quantile(0.95)


def test_a_head_is_added_where_the_average_hides_bad_lives():
    rng = np.random.default_rng(5)
    # Two lives in ten foretell three heads more; luck is as large as that.
    lives = np.where(rng.random(40_000) < 0.18, 9.0, 5.0)
    needed = rng.poisson(lives)
    shape = np.where(lives > 5.0, 1.5, 1.0)
    modes = [ModeDraws.from_parameters(shape, np.full(lives.size, 1000.0))]
    heads = Heads(modes, np.full(20, 900.0), np.full(20, 400.0), np.inf)
    demand = Demand(
        np.bincount(needed) / needed.size, 13.0, 6.0, 0.0, np.zeros(13), np.zeros(13),
        futures=(Futures(needed, [heads]),),
    )  # fmt: skip
    assert demand.doubt.settled
    plan = plan_stock(demand)
    # At 9 heads to be expected a stock of 13 is the first to serve 90 %.
    assert stats.poisson(9.0).cdf([12, 13]) == pytest.approx([0.876, 0.926], abs=1e-3)
    assert plan.stock_level == 13
    assert plan.added == 13 - demand.quantile(0.95)
    assert plan.sure == 1.0


@pytest.mark.parametrize(
    ("ratio", "law"),
    [
        (0.6, lambda mean: stats.binom(round(mean / 0.4), 0.4)),
        (1.0, stats.poisson),
        (1.8, lambda mean: stats.nbinom(mean / 0.8, 1 / 1.8)),
    ],
)
def test_the_demand_given_a_life_has_its_mean_and_variance(ratio, law):
    mean = 8.0
    assert law(mean).var() == pytest.approx(ratio * mean)
    for heads in (3, 8, 15):
        # At that service the stock serves this mean and no larger one.
        service = law(mean).cdf(heads)
        assert _most_served(np.array([heads]), service, ratio) == pytest.approx(mean, rel=1e-9)


def test_more_stock_is_surer_and_a_stricter_service_less_sure():
    doubt = Doubt(np.random.default_rng(2).gamma(4.0, 2.0, 3_000), 6.0)
    sure = [doubt.sure(np.arange(41), service) for service in (0.0, 0.5, 0.9, 0.99)]
    assert all((np.diff(one) >= 0).all() for one in sure)
    assert all((a >= b).all() for a, b in zip(sure, sure[1:], strict=False))
    assert (sure[0] == 1.0).all()


def test_doubts_of_independent_groups_add():
    one = forecast_demand(record(60), AGES, HOURS, WEEKS, draws=8_000)
    other = forecast_demand(record(40, seed=2), AGES[:9], HOURS, WEEKS, draws=8_000)
    both, apart = (one + other).doubt, (one.doubt, other.doubt)
    assert both.variance == pytest.approx(sum(each.variance for each in apart))
    assert both.expected.mean() == pytest.approx(sum(each.expected.mean() for each in apart))
    spread = np.var(both.expected)
    assert spread == pytest.approx(sum(np.var(each.expected) for each in apart), rel=0.1)
    assert (Demand.none(WEEKS) + one).doubt.variance == one.doubt.variance


def test_without_its_futures_a_demand_is_planned_as_before():
    poisson = known_demand(stats.poisson(4.0).pmf(np.arange(40)), WEEKS)
    assert poisson.doubt is None
    assert (poisson + forecast_demand(KnownLife(1.0, 900.0), AGES, HOURS, WEEKS)).doubt is None
    plan = plan_stock(poisson)
    assert plan.added == 0
    assert np.isnan(plan.sure)


def test_swaps_by_plan_are_no_luck():
    demand = forecast_demand(KnownLife(9.0, 9000.0), AGES, HOURS, WEEKS, Policy(900.0), draws=500)
    assert demand.doubt.variance == pytest.approx(0.0, abs=1e-6)
    assert plan_stock(demand).stock_level == demand.quantile(0.95)
