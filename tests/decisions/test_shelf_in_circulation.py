"""New heads where part-used ones circulate: the shelf fills and empties as the futures go."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.decisions.spares.shelf import _Shelf, _Taken, _week_by_week
from studies.changing_shops import circulating

DRAWS, WEEKS = 20_000, 12


def weekly(heads):
    return np.full((DRAWS, WEEKS), heads, dtype=np.int32)


def taken(failed, planned, changed, waiting, at_change, after_use, lost=0.0):
    wanted = _Taken(*(weekly(heads) for heads in (failed, planned, changed)))
    shelf = _Shelf(waiting, lost, np.full(DRAWS, at_change), np.full(DRAWS, after_use))
    return _week_by_week(wanted, shelf, np.random.default_rng(5))


def test_a_shelf_that_fills_takes_fewer_and_fewer_new_heads():
    found = taken(0, 0, 1, 0, 0.3, 0.0)
    assert not found.failed.any()
    assert not found.planned.any()
    # Exactly: with n heads waiting one more is taken, and waits from then on, by exp(-0.3 n).
    full, expected = np.zeros(WEEKS + 1), []
    full[0] = 1.0
    chance = np.exp(-0.3 * np.arange(WEEKS + 1))
    for _ in range(WEEKS):
        expected.append(full @ chance)
        full = full * (1.0 - chance) + np.r_[0.0, (full * chance)[:-1]]
    error = 4.0 * np.sqrt(0.25 / DRAWS)
    np.testing.assert_allclose(found.changed.mean(axis=0), expected, atol=error)


def test_a_shelf_gives_what_it_has_and_no_more():
    # Every part-used head serves: three failures and one swap a week use up ten in three weeks.
    found = taken(3, 1, 0, 10, 50.0, 50.0)
    assert (found.failed + found.planned).sum(axis=1).tolist() == [4 * WEEKS - 10] * DRAWS
    assert found.failed[0].tolist()[:4] == [0, 0, 1, 3]
    assert found.planned[0].tolist()[:4] == [0, 0, 1, 1]


def test_where_no_head_waits_or_none_is_taken_every_head_is_new():
    assert (taken(1, 1, 0, 0, 50.0, 50.0).failed == 1).all()
    never = taken(1, 1, 1, 30, 0.0, 0.0)
    assert (never.failed + never.planned + never.changed == 3).all()


def test_heads_that_wait_after_changes_replace_those_used_up():
    # A change a week fills the shelf by one in the first week; it empties by the use in that week.
    found = taken(1, 0, 1, 0, 50.0, 50.0)
    assert found.changed[0].tolist() == [1] * WEEKS
    assert not found.failed.any()


def test_heads_that_are_lost_serve_nobody():
    # Of eight that wait all are gone after the first week; two serve in it.
    found = taken(2, 0, 0, 8, 0.0, 50.0, lost=1.0)
    assert found.failed[0].tolist() == [0] + [2] * (WEEKS - 1)


@pytest.mark.parametrize("name", ["a quarter on record", "four years"])
def test_what_is_expected_is_about_what_is_true_in_the_first_quarter_and_later(name):
    found = circulating.serve(circulating.DESIGNS[name], 6, 3)
    # Shares of what is on record expect four times the truth in the first quarter.
    assert found["mean"].mean() < 2.5 * found["true"].mean()
    assert found["mean"].mean() > 0.6 * found["true"].mean()
    assert found["service"].mean() > 0.9
