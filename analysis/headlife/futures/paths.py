"""When will each position swap its head? Seeded paths, week by week, from posterior draws.

From drawn Weibull parameters, the present ages of heads, the print hours of each week and a
swap policy. One draw of the parameters is shared by every position, because what is unknown
about the life is unknown for the whole fleet. The failure modes compete, hazards add. Works on
the head's hour clock and books events on the calendar as they are found. Never fits a life.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.errors import DecisionError
from headlife.futures.draws import (
    LEAST_AGE,
    MOST_HAZARD,
    Floats32,
    Index,
    ModeDraws,
    early_failures,
    exponentials,
    share_beyond,
)
from headlife.numbers import Floats
from headlife.shop.policy import Policy

Counts = npt.NDArray[Any]
Flags = npt.NDArray[np.bool_]

# A draw that swaps this many heads in one position is stopped there. Only a posterior that
# allows lives of minutes gets here (one early failure, shape far below 1); a shop that saw it
# would stop the printer, and the simulation must end.
MOST_SWAPS: Final = 400
# Print hours of a week too few to divide by in single precision [h].
LEAST_HOURS: Final = 1e-6
# Positions times draws worked on at once: few calls, and small enough for the processor's cache.
BLOCK: Final = 32_768
# Factor on print hours taken for none [-].
LEAST_FACTOR: Final = np.float32(1e-30)


@dataclass(frozen=True)
class SwapCounts:
    """Heads swapped, summed as they are found."""

    heads: Counts
    """Heads needed over the whole horizon in each draw [heads]."""
    failures_by_week: Counts
    """Heads that failed in each week, all draws together [heads]."""
    planned_by_week: Counts
    """Heads swapped at the policy's age in each week, all draws together [heads]."""

    @classmethod
    def none(cls, draws: int, weeks: int) -> SwapCounts:
        """Start counting."""
        by_week = np.zeros((2, weeks), dtype=np.int64)
        return cls(np.zeros(draws, dtype=np.int32), by_week[0], by_week[1])

    def __add__(self, other: SwapCounts) -> SwapCounts:
        """Count two groups of positions together, draw by draw."""
        return SwapCounts(
            self.heads + other.heads,
            self.failures_by_week + other.failures_by_week,
            self.planned_by_week + other.planned_by_week,
        )


def simulate_swaps(
    modes: Sequence[ModeDraws],
    ages: Floats,
    weekly_hours: Floats,
    policy: Policy,
    rng: np.random.Generator,
    usage_factor: Floats32 | None = None,
) -> SwapCounts:
    """Simulate every position over the weeks given.

    Parameters
    ----------
    modes : sequence of ModeDraws
        One per failure mode, all with the same number of draws.
    ages : array of float
        Present age of the head in each position [h].
    weekly_hours : array of float
        Print hours of each position in each week [h], positions x weeks.
    policy : Policy
        Heads older than its age at the start are swapped at once.
    rng : numpy.random.Generator
        Source of every random number.
    usage_factor : array of float, optional
        Multiplies the hours of a position over the whole horizon [-], positions x draws.

    Returns
    -------
    SwapCounts

    Raises
    ------
    DecisionError
        The swap age is so low that a position would swap hundreds of heads.
    """
    weeks = weekly_hours.shape[1]
    counts = SwapCounts.none(modes[0].shape.size, weeks)
    swap_age = policy.comes_out_at
    busiest = float(weekly_hours.sum(axis=1).max(initial=0.0))
    if busiest > MOST_SWAPS * swap_age:
        raise DecisionError(
            f"Swapping heads at {swap_age:g} h means more than {MOST_SWAPS} swaps of one position "
            f"in {busiest:g} print hours; give a higher age."
        )
    if not weeks:
        return counts
    # A life beyond single precision is an endless one, a hazard of 0 fails at once.
    with np.errstate(over="ignore", divide="ignore"):
        longest = _longest(weekly_hours, usage_factor, swap_age)
        outlast = [share_beyond(mode, longest) for mode in modes]
        for together, clock in _clocks(weekly_hours):
            size = max(BLOCK // together.size, 1)
            for start in range(0, counts.heads.size, size):
                some = slice(start, start + size)
                block = _Block(
                    modes=[mode.part(some) for mode in modes],
                    outlast=[share[some] for share in outlast],
                    ages=ages[together].astype(np.float32)[:, None],
                    clock=clock,
                    swap_age=swap_age,
                    factor=None if usage_factor is None else usage_factor[together, some],
                    rng=rng,
                )
                block.run(counts.heads[some], counts)
    return counts


def _clocks(weekly_hours: Floats) -> Iterator[tuple[Index, Clock]]:
    """Positions that run the same hours and so are worked on together, with their clock."""
    rows, group = np.unique(weekly_hours, axis=0, return_inverse=True)
    for number, row in enumerate(rows):
        yield np.flatnonzero(group.ravel() == number), Clock(row)


class Clock:
    """From print hours since now, at steady usage, to the week they fall in."""

    def __init__(self, weekly_hours: Floats) -> None:
        passed = np.cumsum(weekly_hours)
        first, last = weekly_hours[0], weekly_hours[-1]
        self._passed: Floats32 = passed.astype(np.float32)
        self._weeks = weekly_hours.size
        # The same hours every week is the usual case and needs no search; the last week may be
        # a part of one.
        steady = bool(np.all(weekly_hours[:-1] == first)) and LEAST_HOURS < last <= first
        self._per_hour = np.float32(1.0 / first) if steady else None
        self.horizon = float(self._passed[-1])

    def week(self, hours: Floats32) -> Index:
        """Week (from 0) in which the given print hours are reached."""
        if self._per_hour is None:
            week = np.searchsorted(self._passed, hours, side="left")
        else:
            week = (hours * self._per_hour).astype(np.intp)
        return np.asarray(np.minimum(week, self._weeks - 1), dtype=np.intp)


@dataclass(frozen=True)
class _Block:
    """Positions that share a clock, through some of the draws; places are position by draw."""

    modes: Sequence[ModeDraws]
    outlast: Sequence[Floats32]
    ages: Floats32
    clock: Clock
    swap_age: float
    factor: Floats32 | None
    rng: np.random.Generator

    def run(self, heads: Counts, counts: SwapCounts) -> None:
        """Add the swaps of these positions to `heads`, draw by draw, and to the weeks."""
        place, hours, is_planned = self._first_swaps(heads.size)
        # The draw of every event, and what turns its print hours into those of steady usage.
        who = np.tile(np.arange(heads.size), self.ages.size)[place]
        steady: Floats32 | None = None
        if self.factor is not None:
            # A draw without print hours only has events at hour 0.
            steady = np.reciprocal(np.maximum(self.factor.ravel()[place], LEAST_FACTOR))
        by_plan = np.isfinite(self.swap_age)
        for _ in range(MOST_SWAPS):
            if not who.size:
                return
            heads += np.bincount(who, minlength=heads.size)
            _book(self.clock.week(hours if steady is None else hours * steady), is_planned, counts)
            early, life = early_failures(self.modes, self.outlast, who, self.rng)
            if by_plan:
                lives = np.full(who.size, np.float32(self.swap_age))
                lives[early] = np.minimum(life, np.float32(self.swap_age))
                is_planned = lives >= np.float32(self.swap_age)
                hours = hours + lives
            else:
                who, hours = who[early], hours[early]
                hours += life
                steady = None if steady is None else steady[early]
            passed = hours if steady is None else hours * steady
            inside = np.flatnonzero(passed <= self.clock.horizon)
            who, hours = who[inside], hours[inside]
            steady = None if steady is None else steady[inside]
            is_planned = is_planned[inside] if by_plan else is_planned

    def _first_swaps(self, draws: int) -> tuple[Index, Floats32, Flags]:
        """Places where the present head is swapped, after how many hours, and if by plan.

        Without a swap age nothing is by plan, and there are no flags.
        """
        horizon: Any = np.float32(self.clock.horizon)
        if self.factor is not None:
            horizon = horizon * self.factor
        hours = self._present_heads_fail(draws)
        if not np.isfinite(self.swap_age):
            place = np.flatnonzero(hours < horizon)
            return place, hours.ravel()[place], np.empty(0, dtype=bool)
        wait = np.maximum(np.float32(self.swap_age) - self.ages, np.float32(0))
        is_planned = (hours > wait) | (wait == 0)
        hours = np.minimum(hours, wait)
        # A printer that stands still has swaps that are due already, and no failure.
        place = np.flatnonzero((hours < horizon) | (is_planned & (hours <= horizon)))
        return place, hours.ravel()[place], is_planned.ravel()[place]

    def _present_heads_fail(self, draws: int) -> Floats32:
        """Print hours until the first mode ends each present head, positions by draws [h]."""
        first: Floats32 | None = None
        log_age = np.log(np.maximum(self.ages, LEAST_AGE))
        for mode in self.modes:
            hazard = log_age * mode.shape
            hazard -= mode.offset
            if mode.steepest * (float(log_age.max()) - mode.shortest) > MOST_HAZARD:
                # Held where single precision does not overflow: a head that far into its
                # wear-out fails at once either way.
                np.minimum(hazard, MOST_HAZARD, out=hazard)
            np.exp(hazard, out=hazard)
            # The head fails when its hazard from now on reaches a standard exponential number.
            hazard += exponentials(hazard.size, self.rng).reshape(hazard.shape)
            np.log(hazard, out=hazard)
            hazard *= mode.inverse_shape
            hazard += mode.log_scale
            hours = np.exp(hazard, out=hazard)
            first = hours if first is None else np.minimum(first, hours)
        if first is None:
            return np.full((self.ages.size, draws), np.inf, dtype=np.float32)
        first -= self.ages
        return np.maximum(first, np.float32(0), out=first)


def _longest(weekly_hours: Floats, usage_factor: Floats32 | None, swap_age: float) -> float:
    """Hours that no new head needs to last longer than: the busiest horizon or the swap age."""
    busiest = weekly_hours.sum(axis=1)
    if usage_factor is not None:
        busiest = busiest * usage_factor.max(axis=1)
    return float(min(busiest.max(initial=0.0), swap_age))


def _book(week: Index, is_planned: Flags, counts: SwapCounts) -> None:
    """Count the events of one round in their weeks; nothing is by plan where no flags are."""
    weeks = counts.failures_by_week.size
    everything = np.bincount(week, minlength=weeks)
    if not is_planned.size:
        counts.failures_by_week[:] += everything
        return
    planned = np.bincount(week[is_planned], minlength=weeks)
    counts.planned_by_week[:] += planned
    counts.failures_by_week[:] += everything - planned
