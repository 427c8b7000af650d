"""Answers read both ways: the same without doubt, and never worse for the rating as suspensions."""

from __future__ import annotations

from pathlib import Path

from tests.written_case import case_of

import headlife as hl
from headlife.decisions.two_ways import read_both_ways

DEMO = Path(__file__).parents[2] / "data_demo"


def reviewed(tmp_path, reason_of):
    """Forty heads: most swapped at 500 h, others worn out at scattered ages."""
    settings = """
name = "Small shop"
[reasons.failures]
"worn" = "wear"
[reasons.suspensions]
"swap" = "planned swap"
[head_types."A"]
rated_hours = 500
[spares]
lead_time_weeks = 4
[review]
draws = 500
"""
    lines = []
    for number in range(40):
        hours = 200 + 29 * number if number < 8 else 501 + number / 10
        reason = "worn" if number < 8 else reason_of(number)
        lines.append(f"H{number},A,model,P{number},left,2026-01-05,0,2026-06-01,{hours},{reason}")
    lines.append("H99,A,model,P99,left,2026-05-04,0,2026-06-01,80,")
    case = case_of(tmp_path, settings, lines)
    review = hl.quarterly_review(case.records, case.shop)
    return review, read_both_ways(review, case.records, case.shop)


def test_without_doubt_there_is_one_answer(tmp_path):
    review, both = reviewed(tmp_path, lambda number: "swap")
    assert both.doubtful.empty
    assert both.as_failures is review and both.as_suspensions is review


def test_pile_up_at_the_counter_is_read_both_ways(tmp_path):
    review, both = reviewed(tmp_path, lambda number: "worn" if number % 2 else "swap")
    assert len(both.doubtful) == 16 and both.as_failures is review
    (worse,), (better,) = review.strata, both.as_suspensions.strata
    assert worse.failures["wear"] - better.failures["wear"] == 16
    assert better.verdict.probability > worse.verdict.probability
    assert both.as_suspensions.stock[0].plan.stock_level <= review.stock[0].plan.stock_level


def test_demo_has_nothing_in_doubt():
    # Its generator writes "swap at rating" where the counter took a head out.
    shop = hl.read_shop(DEMO / "shop.toml")
    records = hl.read_records(DEMO / "removals.csv", shop)
    assert read_both_ways(hl.quarterly_review(records, shop), records, shop).doubtful.empty
