"""Our answers to published demonstration plans, exact limits and habits of the trade."""

from __future__ import annotations

from typing import Any

from headlife.life import demonstration as plan
from headlife.life import demonstration_hours as hours_plan
from validation.cases import Case

_TABLE = ((0.90, 0.90), (0.90, 0.95), (0.95, 0.90), (0.95, 0.95), (0.99, 0.90), (0.99, 0.95))


def success_run_plans(case: Case) -> dict[str, Any]:
    """Sizes, longer tests, chances of passing, and both risks."""
    both = plan.plan_both_risks(0.90, 0.95, consumer_risk=0.10, producer_risk=0.20)

    def sizes(share: float, confidence: float) -> list[int]:
        return [plan.heads_needed(share, confidence, failures) for failures in range(4)]

    return {
        "n_r95_c95_f0": plan.heads_needed(0.95, 0.95),
        "n_r95_c95_f1": plan.heads_needed(0.95, 0.95, 1),
        "n_r95_c95_k2_b2": plan.heads_needed(0.95, 0.95, lengths=2.0, shape=2.0),
        "k_r95_c95_n20_b2": plan.lengths_needed(20, 0.95, 0.95, shape=2.0),
        "demonstrated_r_59_c95": plan.share_shown(59, 0, 0.95),
        "pass_r95_n59": plan.chance_of_passing(59, 0, 0.95),
        "pass_r99_n59": plan.chance_of_passing(59, 0, 0.99),
        "pass_r99_n93_f1": plan.chance_of_passing(93, 1, 0.99),
        "pass_r95_n22": plan.chance_of_passing(22, 0, 0.95),
        "plan_r90_good95_c90_pr20": [both.heads, both.failures_allowed],
        "plan_consumer_risk": both.consumer_risk,
        "plan_producer_risk": both.producer_risk,
        "n_table_f0": [plan.heads_needed(share, confidence) for share, confidence in _TABLE],
        "n_r90_c90_f0_to_3": sizes(0.90, 0.90),
        "n_r95_c95_f0_to_3": sizes(0.95, 0.95),
        "n_r90_c95_f0_to_3": sizes(0.90, 0.95),
        "n_r90_c90_twice_rating_b1_1p5_2_3": [
            plan.heads_needed(0.90, 0.90, lengths=2.0, shape=shape) for shape in (1, 1.5, 2, 3)
        ],
    }


def binomial_limits(case: Case) -> dict[str, Any]:
    """Exact limits after few failures."""
    return {
        "upper_0_of_29_one_sided95": plan.failing_share_bound(29, 0, 0.95),
        "upper_0_of_29_two_sided95": plan.failing_share_limits(29, 0, 0.95)[1],
        "ci_2_of_20_two_sided95": plan.failing_share_limits(20, 2, 0.95),
        "n_r90_c95": plan.heads_needed(0.90, 0.95),
        "n_r95_c95": plan.heads_needed(0.95, 0.95),
    }


def mtbf_limits(case: Case) -> dict[str, Any]:
    """Limits on a mean time between failures and the test times that show one."""
    hours, failures = case.data["test_hours"], case.data["failures"]
    low, high = hours_plan.mtbf_limits(hours, failures, case.data["confidence"])

    def factors(failures_allowed: int) -> list[float]:
        confidences = (0.50, 0.60, 0.75, 0.80, 0.90, 0.95)
        return [hours_plan.hours_needed(1.0, each, failures_allowed) for each in confidences]

    return {
        "lower90": low,
        "upper90": high,
        "test_time_mtbf1000_c90_r0": hours_plan.hours_needed(1000.0, 0.90, 0),
        "test_time_mtbf1000_c90_r2": hours_plan.hours_needed(1000.0, 0.90, 2),
        "pass_mtbf3000_t2302": hours_plan.chance_of_passing_hours(2302.6, 0, 3000.0),
        "zero_failure_lower_t800_c90": hours_plan.mtbf_bound(800.0, 0, 0.90),
        "factors_r0": factors(0),
        "factors_r1": factors(1),
        "factors_r2": factors(2),
    }


def mtbf_plans(case: Case) -> dict[str, Any]:
    """Plans of fixed length: the shortest for the nominal risks, and true risks of the table."""
    ratio = dict(zip(case.data["plan"], case.data["ratio"], strict=True))

    def shortest(name: str, risk: float) -> list[float]:
        found = hours_plan.plan_hours_both_risks(1.0, ratio[name], risk, risk)
        return [found.test_hours, found.failures_allowed]

    wanted = hours_plan.plan_hours_both_risks(
        1000.0, 2000.0, consumer_risk=0.10, producer_risk=0.20
    )
    table = list(
        zip(case.data["duration"], case.data["accept_max"], case.data["ratio"], strict=True)
    )
    return {
        "xi_d": shortest("XI-D", 0.20),
        "xv_d": shortest("XV-D", 0.10),
        "xvii_d": shortest("XVII-D", 0.20),
        "plan_1000_2000_c90_pr20": [wanted.test_hours, wanted.failures_allowed],
        "true_consumer_risks": [
            hours_plan.chance_of_passing_hours(hours, allowed, 1.0) for hours, allowed, _ in table
        ],
        "true_producer_risks": [
            1.0 - hours_plan.chance_of_passing_hours(hours, allowed, high)
            for hours, allowed, high in table
        ],
    }


def trade_habits(case: Case) -> dict[str, Any]:
    """Defaults of the shop's settings."""
    from headlife import shop

    head_type = shop.HeadType(rated_hours=case.data["rated_hours"])
    return {
        "notice_hours": head_type.notice_hours,
        "automatic_calibration_minutes": 60.0 * shop.CALIBRATION_HOURS,
        "least_manual_calibrations": shop.MANUAL_CHECKS,
    }
