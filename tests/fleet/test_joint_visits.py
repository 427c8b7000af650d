"""Heads swapped along with the other head of a printer, found in the installations."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.fleet.joint_visits import joint_visits, visits_with_another


def test_heads_swapped_along_are_learned():
    rng = np.random.default_rng(3)
    ages = rng.uniform(0.0, 950.0, 30)
    found = joint_visits(ages, ages > 600.0, [500.0, 600.0, 700.0])
    assert found.join_from == 600.0
    assert found.chance > 0.99
    assert (found.visits, found.joined) == (30, int((ages > 600.0).sum()))


def test_heads_left_in_are_learned_and_nothing_is_said_of_nothing():
    ages = np.random.default_rng(4).uniform(0.0, 950.0, 30)
    never = joint_visits(ages, np.zeros(30, bool), [500.0, 600.0])
    assert never.join_from == np.inf
    assert never.chance < 0.05
    none = joint_visits([], [], [500.0])
    assert none.join_from == np.inf
    assert none.chance == pytest.approx(0.5)


def test_visits_are_found_with_the_other_head_and_its_age():
    found = visits_with_another(
        printer=["A", "A", "A", "B"],
        position=["left", "right", "left", "left"],
        day_in=[0.0, 0.0, 100.0, 0.0],
        day_out=[100.0, 200.0, 200.0, 100.0],
        hours_in=[0.0, 0.0, 0.0, 0.0],
        hours_out=[1000.0, 900.0, 400.0, 500.0],
        used_up=[True, True, True, True],
        due_hours=[1000.0] * 4,
    )
    # day 100: the right head, 450 h old, stayed; day 200: the left one, 400 h old, came along
    assert [list(each) for each in found] == [[450.0, 400.0], [False, True], [100.0, 200.0]]
