"""What shops really do, found from their installations: laws and simulated shops."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.errors import DecisionError
from headlife.fleet.practice import practised_policy

RATED = 1000.0
WEEKLY = 40.0
POLICIES = {"at the notice": 900.0, "at the rating": RATED, "to failure": np.inf}


def shop(before=np.inf, after=RATED, weeks=(104, 26), lag=30.0, seed=1, positions=20):
    """Installations of a shop that swapped at one age and from a day on at another."""
    rng = np.random.default_rng(seed)
    change, end = WEEKLY * weeks[0], WEEKLY * sum(weeks)
    rows = []
    for _ in range(positions):
        start = 0.0
        while start < end:
            fails = start + 1300.0 * rng.weibull(2.5)
            swap = start + before + rng.exponential(lag)
            if swap >= change:
                swap = max(start + after, change) + rng.exponential(lag)
            out = min(fails, swap, end)
            rows.append((0.0, out - start, start, out, swap < min(fails, end)))
            start = out
    into, out, day_in, day_out, planned = (np.array(column) for column in zip(*rows, strict=True))
    return into, out, day_in / WEEKLY * 7.0, day_out / WEEKLY * 7.0, planned


@pytest.mark.parametrize("seed", range(4))
def test_a_change_of_policy_is_found_with_its_day_and_its_lag(seed):
    found = practised_policy(*shop(seed=seed), POLICIES, "to failure", RATED)
    assert (found.policy, found.before) == ("at the rating", "to failure")
    assert found.since == pytest.approx(104 * 7, abs=14)
    assert found.lag_hours == pytest.approx(30.0, abs=25.0)
    assert not found.as_stated
    assert found.chance > 0.95


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("age", [900.0, RATED, np.inf])
def test_no_change_is_seen_where_there_is_none(age, seed):
    found = practised_policy(*shop(age, age, seed=seed), POLICIES, "at the rating", RATED)
    assert found.swap_at == age
    assert found.since is None


def test_what_is_stated_is_laid_beside_what_was_done():
    """The sentence of the page: so many of so many heads ran past the rating."""
    found = practised_policy(*shop(after=np.inf), POLICIES, "at the rating", RATED)
    assert found.policy == "to failure"
    assert found.taken_working == 0
    assert 0.7 < found.ran_past / found.reached <= 1.0
    assert found.lag_hours == 0.0


def test_with_little_on_record_the_stated_policy_stands():
    rows = shop(weeks=(0, 15))  # nobody has reached the rating yet
    for stated in POLICIES:
        found = practised_policy(*rows, POLICIES, stated, RATED)
        assert found.as_stated
        assert found.chance < 0.95


def test_unit_of_hours_and_days_and_order_do_not_matter():
    rows = shop()
    order = np.random.default_rng(0).permutation(rows[0].size)
    one = practised_policy(*rows, POLICIES, "to failure", RATED)
    minutes = {name: 60.0 * age for name, age in POLICIES.items()}
    into, out, day_in, day_out, planned = (column[order] for column in rows)
    two = practised_policy(
        60.0 * into, 60.0 * out, day_in + 5000.0, day_out + 5000.0, planned,
        minutes, "to failure", 60.0 * RATED,
    )  # fmt: skip
    assert two.policy == one.policy
    assert two.since - 5000.0 == pytest.approx(one.since)
    assert two.chance == pytest.approx(one.chance)
    assert two.lag_hours == pytest.approx(60.0 * one.lag_hours)


def test_a_policy_that_is_not_offered_and_stints_that_run_backwards():
    with pytest.raises(DecisionError, match="not among those compared"):
        practised_policy(*shop(), POLICIES, "at 700 h", RATED)
    with pytest.raises(DecisionError, match="ends before it begins"):
        practised_policy([5.0], [1.0], [0.0], [9.0], [False], POLICIES, "to failure", RATED)
