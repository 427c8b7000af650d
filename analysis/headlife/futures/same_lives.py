"""How many heads do positions need at many swap ages and over many stretches, with the same luck?

From drawn parameters of the lives and the positions as they stand: every walk of the engine meets
the same heads, drawn once, and one walk to the longest stretch answers all shorter ones. An answer
does not depend on which other ages and stretches are asked for with it. Never decides what to
stock.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from headlife.futures.calendar import slower
from headlife.futures.draws import DrawnLives, Hours
from headlife.futures.engine import refuse_short_runs, steps
from headlife.futures.position import HeadKind, Position
from headlife.numbers import Floats
from headlife.shop.policy import Policy

# Positions times futures walked at once; their lives are kept meanwhile.
_PATHS_TOGETHER: Final = 131_072


class _KeptLives:
    """Lives of the heads of many paths, drawn when a walk first needs them and then kept."""

    def __init__(self, drawn: DrawnLives, ages: Hours, draws: int, rng: np.random.Generator):
        self._drawn, self._rng = drawn, rng
        self._who = np.tile(np.arange(draws), ages.size)
        self._in_place = drawn.remaining(ages, ..., rng)
        self._heads: list[Hours] = []

    def walk(self) -> _Walk:
        """Begin a walk that meets these heads."""
        return _Walk(self)

    def in_place(self) -> Hours:
        """Hours that the heads in place still run [h], positions x draws."""
        return self._in_place

    def head(self, number: int) -> Hours:
        """Hours that the new head of this number lasts in every path [h]."""
        while len(self._heads) <= number:
            size = self._who.size
            self._heads.append(self._drawn.new(size, self._who, None, self._rng))
        return self._heads[number]


class _Walk:
    """Kept lives as one walk of single positions meets them: a new head at every step."""

    def __init__(self, kept: _KeptLives) -> None:
        self._kept, self._next = kept, 0

    def part(self, draws: slice) -> _Walk:
        """Refuse: the paths are walked whole."""
        raise NotImplementedError("kept lives are walked whole")

    def within(self, hours: float) -> _Walk:
        """As in `Lives`: the same lives."""
        return self

    def remaining(self, ages: Hours, who: Any, rng: np.random.Generator) -> Hours:
        """As in `Lives`, of the heads in place."""
        return self._kept.in_place()

    def new(self, size: int, who: Any, paths: Any, rng: np.random.Generator) -> Hours:
        """As in `Lives`, of the next head of every path."""
        head = self._kept.head(self._next)[paths]
        self._next += 1
        return np.asarray(head)


def heads_needed(
    drawn: DrawnLives,
    ages: Floats,
    hours_per_week: Floats,
    swap_ages: Sequence[float],
    weeks: Sequence[float],
    seed: int,
) -> Any:
    """Count the heads that positions need, at every swap age and over every stretch.

    Parameters
    ----------
    drawn : DrawnLives
        Drawn parameters of the competing modes, one of each per future.
    ages : array of float
        Present age of the head in every position [h], (n,).
    hours_per_week : array of float
        Print hours a week of every position [h], (n,).
    swap_ages : sequence of float
        Ages at which working heads are swapped [h]; infinite for run to failure.
    weeks : sequence of float
        Stretches from now on [weeks], ascending.
    seed : int
        Same seed, same answer.

    Returns
    -------
    array of int
        Heads needed, swap ages x stretches x futures [heads].

    Raises
    ------
    DecisionError
        A swap age so low that a position would swap hundreds of heads.
    """
    draws = int(drawn.modes[0].shape.size)
    needed = np.zeros((len(swap_ages), len(weeks), draws), dtype=np.int64)
    if not ages.size:
        return needed
    busiest = float(hours_per_week.max()) * max(weeks)
    for age in swap_ages:
        refuse_short_runs(Policy(age), busiest)
    # A canonical order, so that the answer does not depend on how positions are listed.
    order = np.lexsort((hours_per_week, ages))
    together = max(_PATHS_TOGETHER // draws, 1)
    blocks = [order[start : start + together] for start in range(0, order.size, together)]
    for block, rng in zip(blocks, np.random.default_rng(seed).spawn(len(blocks)), strict=True):
        own = ages[block, None].astype(np.float32)
        kept = _KeptLives(drawn, own, draws, rng)
        for place, age in enumerate(swap_ages):
            _count(needed[place], kept.walk(), own, hours_per_week[block], age, weeks)
    return needed.cumsum(axis=1)


def _count(
    needed: Any,
    lives: _Walk,
    ages: Hours,
    hours_per_week: Floats,
    swap_age: float,
    weeks: Sequence[float],
) -> None:
    """Walk once to the longest stretch; count each swap in the first stretch that holds it."""
    ends, draws = np.asarray(weeks, dtype=np.float32), needed.shape[1]
    pace = np.repeat(np.asarray(slower(hours_per_week.astype(np.float32))), draws)
    position = Position(ages, [HeadKind(lives, Policy(swap_age))])
    unused = np.random.default_rng(0)  # all luck is in the kept lives
    for step in steps([position], draws, float(ends[-1]), unused, pace, traced=True):
        stretch = np.searchsorted(ends, step.steady_hours, side="left")
        who = step.paths % draws
        needed += np.bincount(stretch * draws + who, minlength=needed.size).reshape(needed.shape)
