from __future__ import annotations

import numpy as np
import pytest

from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.policies import (
    PolicyDesk,
    Positions,
    policy_table,
)
from headlife.decisions.policy.replacement import rates_at
from headlife.errors import DecisionError
from headlife.shop.policy import Policy, compared_policies

COSTS = SwapCosts(
    head=320.0,
    visit=25.0,
    scrapped=240.0,
    waiting=27.0,
    holding_per_year=40.0,
    swap_hours=0.3,
    visit_hours=0.95,
    waiting_hours=3.0,
)
LISTED = compared_policies(1200.0, notice_hours=1080.0, proposed=[1500.0], build_hours=96.0)
POSITIONS = Positions(np.array([100.0, 700.0, 1150.0]), np.array([20.0, 25.0, 15.0]), 19.0, 0.95)


@pytest.fixture(scope="module")
def desk():
    from headlife.life.evidence import Evidence
    from headlife.life.posterior import fit_life

    lives = 1500.0 * np.random.default_rng(1).weibull(2.5, 50)
    ends = np.minimum(lives, 1800.0)
    evidence = Evidence.from_lives(0.0, ends, lives <= 1800.0, reference_hours=1200.0)
    return PolicyDesk(fit_life(evidence), 1200.0)


def test_the_rating_is_its_own_yardstick_and_parts_add_up(desk):
    answers = desk.answer(LISTED, COSTS, POSITIONS)
    by_name = {one.policy.name: one for one in answers}
    yardstick = by_name["at the rating"].against_rating
    assert (yardstick.probability_cheaper, yardstick.expected_saving, yardstick.regret) == (0, 0, 0)
    for one in answers:
        parts = one.planned_per_hour + one.unplanned_per_hour + one.holding_per_hour
        assert one.cost_per_hour.expected == pytest.approx(parts)
        for value in (one.cost_per_hour, one.heads_per_quarter, one.downtime_per_quarter):
            assert value.low <= value.expected <= value.high
    # Longer runs use fewer heads and fail more often; running to failure fails every head.
    heads = [by_name[n].heads_per_quarter.expected for n in ("at the notice", "at the rating")]
    heads += [by_name["at 1,500 h"].heads_per_quarter.expected]
    assert heads == sorted(heads, reverse=True)
    failing = by_name["run to failure"]
    assert failing.failed_builds_per_quarter == failing.heads_per_quarter
    assert failing.planned_per_hour == 0


def test_quarterly_numbers_are_rates_times_hours(desk):
    policy = Policy(1500.0)
    (one,) = desk.answer([policy], COSTS, POSITIONS)
    rates = rates_at(desk.life, 1500.0)
    hours = 60.0 * 13.0
    expected = float(rates.weights @ rates.heads) * hours
    assert one.heads_per_quarter.expected == pytest.approx(expected)
    failures = float(rates.weights @ rates.failures) * hours
    # Standstill: 0.3 h to swap and 0.95 h to calibrate each head, 3 h of waiting each failure.
    assert one.downtime_per_quarter.expected == pytest.approx(expected * 1.25 + failures * 3.0)
    assert one.holding_per_hour == pytest.approx(one.spares_level * 40.0 / (4 * hours))


def test_spares_rise_with_the_service_level_and_answers_repeat(desk):
    policy = [Policy(1200.0)]
    levels = [
        desk.answer(
            policy, COSTS, Positions(POSITIONS.ages, POSITIONS.weekly_hours, 19.0, service)
        )[0].spares_level
        for service in (0.5, 0.9, 0.999)
    ]
    assert levels == sorted(levels) and levels[0] < levels[-1]
    again = PolicyDesk(desk.life, 1200.0)
    assert again.answer(policy, COSTS, POSITIONS) == desk.answer(policy, COSTS, POSITIONS)


def test_table_turns_rates_into_money_a_quarter(desk):
    answers = desk.answer(LISTED, COSTS, POSITIONS)
    table = policy_table(answers, POSITIONS.hours_per_quarter)
    assert len(table) == 6 and np.isinf(table["swap_age"].iloc[-1])
    gain = table["cost_per_hour"].iloc[1] - table["cost_per_hour"]
    assert table["saving"].to_numpy() == pytest.approx((gain * 780.0).to_numpy(), abs=1e-9)
    assert (table["regret"] >= 0).all()
    # A policy that is cheaper in every scenario cannot lose.
    assert (table.loc[table["probability_cheaper"] == 1.0, "regret"] == 0).all()


def test_heads_that_print_nothing_have_no_cost_per_hour(desk):
    idle = Positions(np.array([10.0]), np.array([0.0]), 19.0, 0.95)
    with pytest.raises(DecisionError, match="print no hours"):
        desk.answer([Policy(100.0)], COSTS, idle)
