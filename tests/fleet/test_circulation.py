from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from tests.fleet.test_habits import REUSABLE, stint

from headlife.fleet.circulation import ShelfHabit, heads_waiting, possible_rates
from headlife.fleet.habits import handovers, material_changes


def in_turn(*rows, **more):
    table = pd.DataFrame(rows).assign(row=range(len(rows)), **more)
    found = handovers(table, REUSABLE)
    return found.sort_values(["place", "date_in", "date_out", "row"], ignore_index=True)


def waited(rows):
    """Heads that waited, by the row of the log."""
    return dict(zip(rows["row"], heads_waiting(rows).before_each, strict=True))


def chance_of_new(habit, heads):
    """Posterior mean of the chance of a new head where so many wait."""
    weights = np.diff(habit.below, prepend=0.0)
    return float(weights @ np.exp(-possible_rates() * heads))


def gamma(heads, waiting=0.0):
    """Laplace transform of the Gamma density of count 1/2 and rate 2 (any table of transforms)."""
    return (2.0 / (2.0 + heads + waiting)) ** 0.5


NONE = np.zeros(0, dtype=np.int64)


@pytest.mark.parametrize("heads", [1, 3, 10])
def test_without_a_record_the_habit_is_its_prior(heads):
    habit = ShelfHabit.learned(NONE, NONE.astype(bool))
    assert chance_of_new(habit, heads) == pytest.approx(gamma(heads), abs=0.002)


@pytest.mark.parametrize("heads", [1, 3, 10])
def test_new_heads_in_spite_of_some_that_wait_keep_the_habit_a_gamma(heads):
    habit = ShelfHabit.learned(np.array([2, 5]), np.array([True, True]))
    expected = gamma(heads, 7) / gamma(0, 7)
    assert chance_of_new(habit, heads) == pytest.approx(expected, abs=0.002)


@pytest.mark.parametrize("heads", [1, 3, 10])
def test_a_part_used_head_that_was_taken_counts_as_one_of_those_that_waited(heads):
    habit = ShelfHabit.learned(np.array([3, 0]), np.array([False, False]))
    # The likelihood is 1 - exp(-3 rate); where none waited the head came from elsewhere.
    expected = (gamma(heads) - gamma(heads + 3)) / (1.0 - gamma(3))
    assert chance_of_new(habit, heads) == pytest.approx(expected, abs=0.002)


def test_a_habit_on_many_replacements_is_the_true_one():
    rng = np.random.default_rng(3)
    waiting = rng.integers(0, 12, 4000)
    habit = ShelfHabit.learned(waiting, rng.random(4000) < np.exp(-0.25 * waiting))
    assert np.median(habit.draw(2000, rng)) == pytest.approx(0.25, rel=0.06)


def test_no_head_waits_at_first_and_then_those_that_came_out():
    rows = in_turn(
        stint("P", "2026-01-05", "2026-02-02", head="H1"),
        stint("P", "2026-02-02", "2026-03-02", head="H2"),
        stint("P", "2026-03-02", "2026-04-06", head="H1", hours_in=90.0),
        stint("Q", "2026-01-05", "2026-02-16", head="H3"),
        stint("Q", "2026-02-16", "2026-04-06", suspension=None, head="H4"),
    )
    # The head that makes room is no choice; on 16 February only H1 waits, on 2 March H1 and H3.
    assert waited(rows) == {0: 0, 1: 0, 2: 2, 3: 0, 4: 1}


def test_a_head_that_comes_out_in_the_morning_can_go_in_elsewhere_that_day():
    rows = in_turn(
        stint("P", "2026-01-05", "2026-02-02", head="H1"),
        stint("Q", "2026-01-05", "2026-02-02", head="H2"),
        stint("P", "2026-02-02", "2026-03-02", head="H2", hours_in=40.0),
        stint("Q", "2026-02-02", "2026-03-02", head="H3"),
    )
    found = waited(rows)
    assert found[2] == 1
    assert found[3] <= 1


def test_shelves_are_of_a_type_a_role_and_a_site():
    rows = [
        stint("P", "2026-01-05", "2026-02-02", "A", head="H1", site="north"),
        stint("Q", "2026-01-05", "2026-02-09", "B", head="H2", site="south"),
        stint("R", "2026-01-05", "2026-02-09", "A", head="H3", role="support", site="south"),
        stint("T", "2026-01-05", "2026-02-09", "A", head="H6", site="south"),
        stint("S", "2026-01-05", "2026-03-02", "A", head="H4", site="south"),
        stint("S", "2026-03-02", "2026-04-06", "A", head="H5", site="south"),
    ]
    assert waited(in_turn(*rows))[5] == 1
    # Large records hold names as categories.
    table = pd.DataFrame(rows).assign(row=range(6))
    table.loc[0, "site"] = None
    assert handovers(table.astype({"site": "category"}), REUSABLE)["site"].tolist()[0] == ""


def test_a_part_used_head_that_comes_from_before_the_record_waited_all_along():
    rows = in_turn(
        stint("P", "2026-01-05", "2026-02-02", head="H1", hours_in=300.0),
        stint("P", "2026-02-02", "2026-03-02", head="H2"),
        stint("P", "2026-03-02", "2026-04-06", head="H3", hours_in=250.0),
    )
    # H1 stood in the printer when the record began; H3 must have been on the shelf.
    assert waited(rows) == {0: 1, 1: 1, 2: 2}
    found = material_changes(rows)
    # A head of 250 h that nobody saw before is no new one: one new head and one that waited.
    expected = (gamma(4, 1) - gamma(4, 3)) / (gamma(0, 1) - gamma(0, 3))
    assert chance_of_new(found.new_at_change["model"], 4) == pytest.approx(expected, abs=0.002)


def test_a_refurbished_head_is_none_that_waited():
    rows = in_turn(
        stint("P", "2026-01-05", "2026-02-02", head="H1", suspension="worn"),
        stint("P", "2026-02-02", "2026-03-02", head="H2"),
        stint("P", "2026-03-02", "2026-04-06", head="H1", hours_in=0.0),
        refurbished=[False, False, True],
    )
    assert rows["new"].tolist() == [True, True, True]
    assert waited(rows) == {0: 0, 1: 0, 2: 0}


def test_only_the_last_year_counts_where_it_holds_enough():
    days = pd.date_range("2022-01-03", periods=60, freq="28D")
    rows = []
    for number, (begins, ends) in enumerate(zip(days[:-1], days[1:], strict=True)):
        # For three years each change takes a new head, then each takes the one that waits longest.
        old = number > 40
        name = f"H{number - 41 if old else number}"
        rows.append(stint("P", begins, ends, head=name, hours_in=30.0 if old else 0.0))
    found = material_changes(handovers(pd.DataFrame(rows).assign(row=range(len(rows))), REUSABLE))
    assert chance_of_new(found.new_at_change["model"], 40) < 0.02


def test_heads_that_wait_longer_than_those_that_come_back_are_lost():
    days = pd.date_range("2024-01-01", periods=42, freq="14D")
    rows = []
    for number, (begins, ends) in enumerate(zip(days[:-1], days[1:], strict=True)):
        # By turns one of two heads, which come back after a fortnight, and one that never does.
        name = f"H{number % 4}" if number % 2 else f"N{number}"
        rows.append(stint("P", begins, ends, head=name, hours_in=50.0 if number > 3 else 0.0))
    table = in_turn(*rows)
    found = heads_waiting(table)
    # A head is out for six weeks between its turns: one that waits longer counts no more.
    assert found.before_each[-1] <= 4
    assert sum(found.now.values()) <= 4
    # 19 heads were given up after six weeks; 18 came back after as many, one waits that long and
    # two others 4 and 2 weeks.
    assert found.lost_per_week == pytest.approx(19 / (38 * 6 + 4 + 2), rel=1e-3)


def test_a_head_that_goes_back_into_its_place_was_no_change():
    # Taken out to be cleaned, say: nothing took its place, and it never waited.
    rows = [
        stint("P", "2026-01-05", "2026-02-02", head="H1"),
        stint("P", "2026-02-02", "2026-03-02", head="H1", hours_in=90.0),
    ]
    still_in = rows[1] | {"suspension": None, "reason": None}
    assert material_changes(in_turn(rows[0], still_in)).per_week == {}
    followed = stint("P", "2026-03-02", "2026-04-06", head="H2", suspension=None)
    found = material_changes(in_turn(*rows, followed))
    # One change, to H2, in 4 + 4 + 5 weeks; H1 alone waits from then on.
    assert found.per_week == {"model": pytest.approx(1 / 13)}
    assert found.waiting == {("A", "model", ""): 1}
