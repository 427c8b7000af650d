"""When will each position swap its head? Seeded paths, week by week, from posterior draws.

From drawn Weibull parameters, the present ages of heads, the print hours of each week and a
swap policy. One draw of the parameters is shared by every position, because what is unknown
about the life is unknown for the whole fleet. The failure modes compete, hazards add. Works on
the head's hour clock and only books events on the calendar. Never fits and never sums up.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.decisions.checks import Floats, positive
from headlife.errors import DecisionError

Floats32 = npt.NDArray[np.float32]
Counts = npt.NDArray[np.int32]
Index = npt.NDArray[np.intp]

# A draw that swaps this many heads in one position is stopped there. Only a posterior that
# allows lives of minutes gets here (one early failure, shape far below 1); a shop that saw it
# would stop the printer, and the simulation must end.
MOST_SWAPS: Final = 400
# Print hours of a week too few to divide by in single precision [h].
LEAST_HOURS: Final = 1e-6


@dataclass(frozen=True)
class Policy:
    """When a head is swapped although it has not failed."""

    swap_at_hours: float | None = None
    """Age at which a head is swapped [h]; None runs every head to failure."""

    def __post_init__(self) -> None:
        if self.swap_at_hours is not None:
            positive("The age at which heads are swapped", self.swap_at_hours, "[h]")


@dataclass(frozen=True)
class ModeDraws:
    """Drawn Weibull parameters of one failure mode, kept as the simulation uses them."""

    log_scale: Floats32
    """Natural logarithm of the scale in hours, one per draw."""
    shape: Floats32
    """Shape [-], one per draw."""
    inverse_shape: Floats32
    """1 / shape [-], one per draw."""

    @classmethod
    def from_parameters(cls, shape: Floats, scale: Floats) -> ModeDraws:
        """Keep shapes [-] and scales [h] in single precision: about 1e-6 of a life."""
        return cls(
            np.log(scale).astype(np.float32),
            shape.astype(np.float32),
            (1.0 / shape).astype(np.float32),
        )


@dataclass(frozen=True)
class SwapPaths:
    """Heads swapped, by draw and week."""

    failures: Counts
    """Heads that failed [heads], draws x weeks."""
    planned: Counts
    """Heads swapped at the policy's age [heads], draws x weeks."""

    @property
    def total(self) -> Counts:
        """Heads needed [heads], draws x weeks."""
        return self.failures + self.planned


def simulate_swaps(
    modes: Sequence[ModeDraws],
    ages: Floats,
    weekly_hours: Floats,
    policy: Policy,
    rng: np.random.Generator,
    usage_factor: Floats32 | None = None,
) -> SwapPaths:
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
    SwapPaths

    Raises
    ------
    DecisionError
        The swap age is so low that a position would swap hundreds of heads.
    """
    draws = modes[0].shape.size
    weeks = weekly_hours.shape[1]
    failures = np.zeros((draws, weeks), dtype=np.int32)
    planned = np.zeros((draws, weeks), dtype=np.int32)
    swap_age = np.inf if policy.swap_at_hours is None else policy.swap_at_hours
    busiest = float(weekly_hours.sum(axis=1).max(initial=0.0))
    if busiest > MOST_SWAPS * swap_age:
        raise DecisionError(
            f"Swapping heads at {swap_age:g} h means more than {MOST_SWAPS} swaps of one position "
            f"in {busiest:g} print hours; give a higher age."
        )
    if weeks:
        for position, age in enumerate(ages):
            factor = None if usage_factor is None else usage_factor[position]
            clock = Clock(weekly_hours[position], factor)
            _run_position(modes, float(age), clock, swap_age, rng, failures, planned)
    return SwapPaths(failures, planned)


class Clock:
    """From print hours since now to the week they fall in, for one position."""

    def __init__(self, weekly_hours: Floats, factor: Floats32 | None) -> None:
        passed = np.cumsum(weekly_hours)
        first, last = weekly_hours[0], weekly_hours[-1]
        self._passed: Floats32 = passed.astype(np.float32)
        self._factor = factor
        self._weeks = weekly_hours.size
        # The same hours every week is the usual case and needs no search; the last week may be
        # a part of one.
        steady = bool(np.all(weekly_hours[:-1] == first)) and LEAST_HOURS < last <= first
        self._per_hour = np.float32(1.0 / first) if steady else None
        self.horizon: Any = passed[-1] if factor is None else self._passed[-1] * factor

    def within(self, who: Index) -> Any:
        """Print hours in the whole horizon [h] for the draws `who`."""
        return self.horizon if self._factor is None else self.horizon[who]

    def week(self, hours: Floats32, who: Index) -> Index:
        """Week (from 0) in which the given print hours are reached, for the draws `who`."""
        mean_hours = hours
        if self._factor is not None:
            # A draw without print hours only has events at hour 0.
            mean_hours = np.divide(hours, np.maximum(self._factor[who], np.float32(1e-30)))
        if self._per_hour is None:
            week = np.searchsorted(self._passed, mean_hours, side="left")
        else:
            week = (mean_hours * self._per_hour).astype(np.intp)
        return np.asarray(np.minimum(week, self._weeks - 1), dtype=np.intp)


def _run_position(
    modes: Sequence[ModeDraws],
    age: float,
    clock: Clock,
    swap_age: float,
    rng: np.random.Generator,
    failures: Counts,
    planned: Counts,
) -> None:
    """Add the swaps of one position, all draws at once, to `failures` and `planned`."""
    who, hours, is_planned = _first_swap(modes, age, clock, swap_age, rng)
    for _ in range(MOST_SWAPS):
        if not who.size:
            return
        # A draw is in `who` once, so plain indexing counts right.
        week = clock.week(hours, who)
        if np.isfinite(swap_age):
            planned[who, week] += is_planned
            failures[who, week] += ~is_planned
        else:
            failures[who, week] += 1
        life = new_lives(modes, who, rng)
        is_planned = life >= swap_age
        hours = hours + np.minimum(life, np.float32(swap_age))
        inside = np.flatnonzero(hours <= clock.within(who))
        who, hours, is_planned = who[inside], hours[inside], is_planned[inside]


def _first_swap(
    modes: Sequence[ModeDraws],
    age: float,
    clock: Clock,
    swap_age: float,
    rng: np.random.Generator,
) -> tuple[Index, Floats32, npt.NDArray[np.bool_]]:
    """Draws in which the present head is swapped, after how many hours, and if by plan."""
    draws = modes[0].shape.size
    wait = swap_age - age
    if wait <= 0:
        everyone = np.arange(draws)
        return everyone, np.zeros(draws, dtype=np.float32), np.ones(draws, dtype=bool)
    hours = _failure_of_present_head(modes, age, np.minimum(clock.horizon, wait), rng)
    is_planned = np.zeros(draws, dtype=bool)
    if np.any(wait <= clock.horizon):
        is_planned = np.isinf(hours) & (wait <= clock.horizon)
        hours[is_planned] = wait
    who = np.flatnonzero(np.isfinite(hours))
    return who, hours[who], is_planned[who]


def _failure_of_present_head(
    modes: Sequence[ModeDraws], age: float, limit: Any, rng: np.random.Generator
) -> Floats32:
    """Hours to the first failure of a head of this age, infinite beyond `limit` [h].

    A mode fails when its hazard from now on reaches a standard exponential number. The hazard
    to the limit is compared first, so that only the few heads that fail need the inverse.
    """
    draws = modes[0].shape.size
    first = np.full(draws, np.inf, dtype=np.float32)
    log_end = _log(np.asarray(age + limit, dtype=np.float32))
    log_start = _log(np.asarray(age, dtype=np.float32))
    for mode in modes:
        # Exponents are held where single precision does not overflow; a head that far into
        # its wear-out fails at once either way.
        start = np.exp(np.minimum(mode.shape * (log_start - mode.log_scale), np.float32(80)))
        end = np.exp(np.minimum(mode.shape * (log_end - mode.log_scale), np.float32(85)))
        needed = rng.standard_exponential(draws, dtype=np.float32)
        who = np.flatnonzero(needed < end - start)
        reached = np.log(start[who] + needed[who]) * mode.inverse_shape[who]
        hours = np.exp(reached + mode.log_scale[who]) - np.float32(age)
        first[who] = np.minimum(first[who], np.maximum(hours, np.float32(0)))
    return first


def new_lives(modes: Sequence[ModeDraws], who: Index, rng: np.random.Generator) -> Floats32:
    """Hours that new heads last, one for each draw in `who`."""
    life = np.full(who.size, np.inf, dtype=np.float32)
    for mode in modes:
        log_hazard = _log(rng.standard_exponential(who.size, dtype=np.float32))
        reached = np.minimum(
            log_hazard * mode.inverse_shape[who] + mode.log_scale[who], np.float32(85)
        )
        life = np.minimum(life, np.exp(reached))
    return life


def _log(values: Floats32) -> Floats32:
    """Natural logarithm, with a finite stand-in for 0 (a hazard of 0 then follows)."""
    return np.log(np.maximum(values, np.float32(1e-30)))
