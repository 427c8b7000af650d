"""Heads needed at many swap ages and over many stretches, with the same luck."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.errors import DecisionError
from headlife.futures.convolution import exact_demand
from headlife.futures.demand import KnownLife
from headlife.futures.draws import DrawnLives, ModeDraws
from headlife.futures.same_lives import heads_needed
from headlife.shop.policy import Policy

AGES = np.array([0.0, 150.0, 410.0, 905.0])
WEEKLY = np.array([20.0, 35.0, 35.0, 50.0])
DRAWS = 40_000


def drawn(shape=2.0, scale=900.0, draws=DRAWS):
    return DrawnLives([ModeDraws.from_parameters(np.full(draws, shape), np.full(draws, scale))])


@pytest.mark.parametrize("swap_age", [400.0, 900.0, np.inf])
def test_counts_are_those_of_renewal_theory(swap_age):
    """Against the exact convolution of a known life, within four standard errors."""
    found = heads_needed(drawn(), AGES, WEEKLY, [swap_age], [4.0, 19.5], seed=3)[0]
    for heads, weeks in zip(found, (4.0, 19.5), strict=True):
        exact = exact_demand(KnownLife(2.0, 900.0), AGES, WEEKLY, weeks, Policy(swap_age))
        chances = np.bincount(heads, minlength=exact.pmf.size)[: exact.pmf.size] / DRAWS
        error = np.sqrt(exact.pmf * (1.0 - exact.pmf) / DRAWS)
        assert (np.abs(chances - exact.pmf) <= 4.0 * error + 1e-3).all()


def test_an_answer_does_not_depend_on_what_else_is_asked():
    lives = drawn(draws=500)
    together = heads_needed(lives, AGES, WEEKLY, [300.0, 700.0, np.inf], [2.0, 9.0, 30.0], 1)
    for place, age in enumerate((300.0, 700.0, np.inf)):
        for at, weeks in enumerate((2.0, 9.0, 30.0)):
            alone = heads_needed(lives, AGES, WEEKLY, [age], [weeks], 1)
            assert (alone[0, 0] == together[place, at]).all(), (age, weeks)
    shuffled = np.array([2, 0, 3, 1])
    assert (
        heads_needed(lives, AGES[shuffled], WEEKLY[shuffled], [700.0], [9.0], 1)
        == together[1:2, 1:2]
    ).all()


def test_in_every_future_a_later_swap_never_needs_more_heads():
    """With the same lives: min(life, age) grows with the age, and so does every sum of them."""
    ages = [250.0, 500.0, 800.0, 1500.0, np.inf]
    needed = heads_needed(drawn(draws=2_000), np.zeros(4), WEEKLY, ages, [10.0, 40.0], 5)
    assert (np.diff(needed, axis=0) <= 0).all() and (np.diff(needed, axis=1) >= 0).all()


def test_many_positions_are_walked_in_blocks_with_luck_of_their_own():
    lives = drawn(draws=30_000)
    needed = heads_needed(lives, np.zeros(12), np.full(12, 30.0), [np.inf], [20.0], 1)[0, 0]
    exact = exact_demand(KnownLife(2.0, 900.0), np.zeros(12), np.full(12, 30.0), 20.0)
    error = exact.sd / np.sqrt(needed.size)
    assert abs(needed.mean() - exact.mean) < 4.0 * error
    assert needed.var() == pytest.approx(exact.sd**2, rel=0.05)


def test_no_positions_and_senseless_ages():
    lives = drawn(draws=10)
    assert not heads_needed(lives, np.zeros(0), np.zeros(0), [500.0], [9.0], 1).any()
    with pytest.raises(DecisionError, match="give a higher age"):
        heads_needed(lives, AGES, WEEKLY, [0.01], [9.0], 1)
