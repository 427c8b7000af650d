"""How many heads will thousands of positions need? The same question as `demand`, fleet-wide.

From drawn lives, present ages, print hours a week and a swap policy, one draw of the lives at a
time and all positions at once, where `demand` takes one position at a time and all draws at
once: with more positions than draws this is several times faster. Same model, same answer within
the error of the draws; a test holds them together. Never fits and never decides what to stock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.errors import DecisionError
from headlife.futures.distribution import Demand, demand_of, week_lengths
from headlife.futures.draws import DrawnLife, ModeDraws
from headlife.futures.paths import MOST_SWAPS, Counts
from headlife.numbers import Floats, not_negative, not_negative_array
from headlife.shop.policy import Policy

if TYPE_CHECKING:
    from concurrent.futures import Executor

# Draws simulated as one piece of work; pieces have streams of random numbers of their own, so
# the answer does not depend on who works on them.
DRAWS_TOGETHER: Final = 25
# Exponents are held below it: a head so worn fails at once either way.
_OVERFLOW: Final = np.float32(80.0)
_LEAST: Final = np.float32(1e-30)  # stands for an age of 0 where a logarithm is taken


def forecast_many(
    lives: Sequence[DrawnLife],
    ages: Any,
    hours_per_week: Any,
    weeks: float,
    policy: Policy | None = None,
    draws: int = 1_000,
    seed: int | np.random.Generator = 1,
    executor: Executor | None = None,
) -> Demand:
    """Forecast the number of heads that many positions need.

    Parameters
    ----------
    lives : sequence of Life
        Posteriors of the competing modes.
    ages, hours_per_week : array of float
        Present age of the head in every position [h] and its print hours a week [h].
    weeks : float
        Horizon [weeks].
    policy : Policy, optional
        Swap age; without one every head runs to failure.
    draws : int
        Draws from the posteriors [-].
    seed : int or numpy.random.Generator
        Same seed, same answer, in whatever order positions are listed.
    executor : concurrent.futures.Executor, optional
        Works on pieces; the answer is the same with any, or without.

    Returns
    -------
    Demand

    Raises
    ------
    DecisionError
        No life, ages, hours or weeks below zero or not numbers, or a swap age so low that a
        position would swap hundreds of heads.
    """
    if not lives:
        raise DecisionError("A forecast needs at least one life; got none.")
    rng = np.random.default_rng(seed)
    drawn = [ModeDraws.of_life(life, draws, rng) for life in lives]
    failed, planned = swaps_of_many(drawn, ages, hours_per_week, weeks, policy, rng, executor)
    if not failed.size:
        return Demand.none(weeks)
    return demand_of(failed, planned, weeks)


def swaps_of_many(
    drawn: Sequence[ModeDraws],
    ages: Any,
    hours_per_week: Any,
    weeks: float,
    policy: Policy | None,
    rng: np.random.Generator,
    executor: Executor | None = None,
) -> tuple[Counts, Counts]:
    """Simulate the swaps of many positions under drawn lives.

    Parameters
    ----------
    drawn : sequence of ModeDraws
        Parameters of every competing mode, one of each per draw.
    ages, hours_per_week, weeks, policy, executor
        As for `forecast_many`.
    rng : numpy.random.Generator
        Source of every random number.

    Returns
    -------
    failed, planned : array of int
        Heads that failed and heads swapped at the policy's age, draws x weeks [heads].

    Raises
    ------
    DecisionError
        As for `forecast_many`.
    """
    draws = drawn[0].shape.size
    ages = not_negative_array("Ages of heads", ages, "[h]")
    usage = not_negative_array("Print hours a week", hours_per_week, "[h]")
    weeks = not_negative("The horizon", weeks, "[weeks]")
    length = week_lengths(weeks).size
    if not ages.size or not weeks:
        return np.zeros((0, length), np.int32), np.zeros((0, length), np.int32)
    order = np.lexsort((usage, ages))
    swap_age = (policy or Policy()).comes_out_at
    if usage.max() * weeks > MOST_SWAPS * swap_age:
        raise DecisionError(
            f"Swapping heads at {swap_age:g} h means more than {MOST_SWAPS} swaps of one position; "
            "give a higher age."
        )
    starts = range(0, draws, DRAWS_TOGETHER)
    fleet = _Fleet(ages[order], usage[order], weeks, swap_age)
    pieces = [
        _Piece(fleet, [mode.part(slice(s, s + DRAWS_TOGETHER)) for mode in drawn], r)
        for s, r in zip(starts, rng.spawn(len(starts)), strict=True)
    ]
    done = (map if executor is None else executor.map)(_Piece.simulate, pieces)
    events = np.concatenate(list(done)).reshape(draws, 2, length)
    return events[:, 0], events[:, 1]


class _Fleet:
    """Positions in a canonical order, with what every draw needs of them."""

    def __init__(self, ages: Floats, usage: Floats, weeks: float, swap_age: float) -> None:
        self.ages = ages.astype(np.float32)
        self.per_hour = np.divide(1.0, usage, out=np.zeros_like(usage), where=usage > 0)
        self.per_hour = self.per_hour.astype(np.float32)
        self.horizon = (usage * weeks).astype(np.float32)
        self.weeks = week_lengths(weeks).size
        self.swap_age = np.float32(swap_age)
        self.wait = np.maximum(self.swap_age - self.ages, np.float32(0))
        self.due = self.wait <= self.horizon
        limit = np.minimum(self.horizon, self.wait)
        self.log_start = np.log(np.maximum(self.ages, _LEAST))
        self.log_end = np.log(np.maximum(self.ages + limit, _LEAST))


@dataclass(frozen=True)
class _Piece:
    """Some draws of the lives, ready to be simulated anywhere."""

    fleet: _Fleet
    drawn: list[ModeDraws]
    rng: np.random.Generator

    def simulate(self) -> Counts:
        """Heads swapped in each draw by week, the failed ones and then the planned ones."""
        futures = []
        for one in range(self.drawn[0].shape.size):
            modes = [(mode.shape[one], mode.log_scale[one]) for mode in self.drawn]
            futures.append(self._future(modes))
        return np.array(futures, dtype=np.int32)

    def _future(self, modes: list[tuple[Any, Any]]) -> Any:
        """Simulate one future: swaps by week, the failed ones and then the planned ones."""
        fleet = self.fleet
        events = np.zeros(2 * fleet.weeks, dtype=np.int64)
        hours = self._present_heads_fail(modes)
        planned = np.isinf(hours) & fleet.due
        hours[planned] = fleet.wait[planned]
        who = np.flatnonzero(np.isfinite(hours))
        hours, planned = hours[who], planned[who]
        for _ in range(MOST_SWAPS):
            if not who.size:
                break
            week = np.minimum((hours * fleet.per_hour[who]).astype(np.intp), fleet.weeks - 1)
            events += np.bincount(week + fleet.weeks * planned, minlength=events.size)
            life = self._new_heads_fail(modes, who.size)
            hours += np.minimum(life, fleet.swap_age)
            inside = np.flatnonzero(hours <= fleet.horizon[who])
            planned = life[inside] >= fleet.swap_age
            who, hours = who[inside], hours[inside]
        return events

    def _present_heads_fail(self, modes: list[tuple[Any, Any]]) -> Any:
        """Hours until present heads fail; infinite beyond the horizon or the swap age."""
        fleet = self.fleet
        first = np.full(fleet.ages.size, np.inf, dtype=np.float32)
        for shape, log_scale in modes:
            start = np.exp(np.minimum(shape * (fleet.log_start - log_scale), _OVERFLOW))
            end = np.exp(np.minimum(shape * (fleet.log_end - log_scale), _OVERFLOW + 5))
            needed = self.rng.standard_exponential(first.size, dtype=np.float32)
            who = np.flatnonzero(needed < end - start)
            reached = np.log(start[who] + needed[who]) / shape + log_scale
            hours = np.maximum(np.exp(reached) - fleet.ages[who], np.float32(0))
            first[who] = np.minimum(first[who], hours)
        return first

    def _new_heads_fail(self, modes: list[tuple[Any, Any]], size: int) -> Any:
        """Hours that new heads last."""
        log_life = np.full(size, _OVERFLOW, dtype=np.float32)
        for shape, log_scale in modes:
            needed = self.rng.standard_exponential(size, dtype=np.float32)
            log_needed = np.log(np.maximum(needed, _LEAST))
            log_life = np.minimum(log_life, log_needed / shape + log_scale)
        return np.exp(log_life)
