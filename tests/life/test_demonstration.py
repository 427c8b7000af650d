from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from headlife.errors import HeadlifeError
from headlife.life import demonstration as plan
from headlife.life import demonstration_hours as hours_plan

shares = st.floats(0.5, 0.999)
confidences = st.floats(0.5, 0.99)


@given(shares, confidences, st.integers(0, 6))
def test_the_plan_is_enough_and_one_head_less_is_not(share, confidence, failures):
    heads = plan.heads_needed(share, confidence, failures)
    assert plan.chance_of_passing(heads, failures, share) <= 1 - confidence + 1e-12
    if heads > failures + 1:
        assert plan.chance_of_passing(heads - 1, failures, share) > 1 - confidence - 1e-12
    assert plan.share_shown(heads, failures, confidence) >= share - 1e-9


@given(st.integers(1, 400), confidences, shares, st.floats(0.3, 5.0))
def test_a_longer_test_shows_the_share_exactly(heads, confidence, share, shape):
    lengths = plan.lengths_needed(heads, share, confidence, shape)
    tested = share ** (lengths**shape)
    assert tested == pytest.approx(plan.share_shown(heads, 0, confidence), rel=1e-9)


@given(st.integers(1, 200), st.data(), confidences)
def test_limits_bracket_what_was_seen(heads, data, confidence):
    failures = data.draw(st.integers(0, heads))
    low, high = plan.failing_share_limits(heads, failures, confidence)
    assert 0 <= low <= failures / heads <= high <= 1


def test_limits_cover_at_least_as_often_as_stated():
    # Clopper-Pearson limits are conservative at every true share
    for true in (0.02, 0.1, 0.5):
        chance = stats.binom(30, true).pmf(np.arange(31))
        limits = [plan.failing_share_limits(30, k, 0.90) for k in range(31)]
        covered = sum(
            p for p, (low, high) in zip(chance, limits, strict=True) if low <= true <= high
        )
        assert covered >= 0.90


@given(st.floats(10, 1e5), confidences, st.integers(0, 20))
def test_hours_and_mtbf_are_each_other_s_inverse(mtbf, confidence, failures):
    hours = hours_plan.hours_needed(mtbf, confidence, failures)
    assert hours_plan.mtbf_bound(hours, failures, confidence) == pytest.approx(mtbf, rel=1e-9)
    passing = hours_plan.chance_of_passing_hours(hours, failures, mtbf)
    assert passing == pytest.approx(1 - confidence, abs=1e-9)


def test_both_risks_are_kept_and_no_smaller_plan_keeps_them():
    found = plan.plan_both_risks(0.85, 0.95, 0.1, 0.1)
    assert found.consumer_risk <= 0.1
    assert found.producer_risk <= 0.1
    for failures in range(found.failures_allowed):
        heads = plan.heads_needed(0.85, 0.9, failures)
        assert 1 - plan.chance_of_passing(heads, failures, 0.95) > 0.1


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: plan.heads_needed(1.0, 0.9), "share of heads must lie between"),
        (lambda: plan.heads_needed(0.9, 90), "confidence must lie between"),
        (lambda: plan.heads_needed(0.9, 0.9, -1), "failures allowed must be 0, 1, 2"),
        (lambda: plan.heads_needed(0.9, 0.9, lengths=0), "length of the test must be"),
        (lambda: plan.heads_needed(1 - 1e-9, 0.9), "more than 10,000,000 heads"),
        (lambda: plan.share_shown(3, 4, 0.9), "4 failures among 3 heads"),
        (lambda: plan.lengths_needed(2, 0.9, 0.9, 2.0, 2), "shows nothing"),
        (lambda: plan.plan_both_risks(0.95, 0.9, 0.1, 0.1), "must lie below"),
        (lambda: plan.plan_both_risks(0.9, 0.90001, 0.01, 0.01), "too close|10,000,000"),
        (lambda: hours_plan.mtbf_bound(0.0, 0, 0.9), "test hours must be a positive"),
        (lambda: hours_plan.plan_hours_both_risks(2.0, 1.0, 0.1, 0.1), "must lie below"),
    ],
)
def test_questions_without_sense_are_one_sentence(call, said):
    with pytest.raises(HeadlifeError, match=said):
        call()
