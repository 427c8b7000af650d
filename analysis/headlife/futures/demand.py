"""How many heads will the positions need over the coming weeks? A distribution, not a mean.

From the posterior of one life, or of several competing ones, the present age of the head in
every position, its print hours a week and a swap policy. What is not known about the life is in
the answer: a short record gives a wide one. Never decides what to stock.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from headlife.errors import DecisionError
from headlife.futures.calendar import Clock, slower, week_lengths
from headlife.futures.distribution import Demand
from headlife.futures.draws import DrawnLife, DrawnLives, Hours, Index, ModeDraws
from headlife.futures.engine import refuse_short_runs, steps
from headlife.futures.life_uncertainty import Heads
from headlife.futures.position import HeadKind, Position
from headlife.futures.position_state import Out
from headlife.numbers import Floats, not_negative, not_negative_array
from headlife.shop.policy import Policy

if TYPE_CHECKING:
    from concurrent.futures import Executor

MOST_DRAWS: Final = 1_000_000
# Positions, or draws where there are fewer of them, simulated as one piece of work; pieces have
# streams of random numbers of their own, so the answer does not depend on who works on them.
POSITIONS_TOGETHER: Final = 512
DRAWS_TOGETHER: Final = 25
# Positions times draws worked on at once: few calls, and small enough for the processor's cache.
BLOCK: Final = 32_768


@dataclass(frozen=True)
class KnownLife:
    """A Weibull life taken as known: a what-if, or the truth of a simulated shop."""

    shape: float
    """Shape [-]."""
    scale: float
    """Scale [h]."""

    def draw(self, n: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """As in `DrawnLife`: the same shape and scale every time."""
        return np.full(n, self.shape), np.full(n, self.scale)


def forecast_demand(
    life: DrawnLife | Sequence[DrawnLife],
    ages: npt.ArrayLike,
    hours_per_week: Any,
    weeks: float,
    policy: Policy | None = None,
    draws: int = 20_000,
    seed: int | np.random.Generator = 1,
    executor: Executor | None = None,
) -> Demand:
    """Forecast the number of heads the positions need.

    Parameters
    ----------
    life : Life or sequence of Life
        Posterior of the life, taken under the prior of forecasts (`Life.to_forecast`); several
        compete, their hazards add.
    ages : array of float
        Present age of the head in every position [h].
    hours_per_week : float, array of float, or (mean, sd)
        Print hours a week, one for all or one per position [h]; a tuple of two gives the mean
        and the standard deviation of a position's average over the horizon (each of them one
        for all or one per position), spread as a gamma distribution.
    weeks : float
        Horizon [weeks].
    policy : Policy, optional
        Swap age; without one every head runs to failure. Heads already past it are swapped in
        the first week.
    draws : int
        Draws from the posterior [-].
    seed : int or numpy.random.Generator
        Same seed, same answer. The order of the positions does not matter.
    executor : concurrent.futures.Executor, optional
        Works on large fleets in pieces; the answer is the same with any, or without.

    Returns
    -------
    Demand
        The demand, as probabilities.

    Raises
    ------
    DecisionError
        Ages, hours or weeks below zero or not numbers, or no draw asked for.

    Examples
    --------
    >>> import headlife as hl
    >>> hours = [210, 340, 480, 500, 500, 500]
    >>> failed = [True, True, True, False, False, False]
    >>> evidence = hl.Evidence.from_lives(0, hours, failed, reference_hours=500)
    >>> life = hl.fit_life(evidence)
    >>> demand = hl.forecast_demand(life, [120, 300], 40, 13, draws=2_000, seed=1)
    >>> round(demand.mean, 1)
    1.7
    """
    lives = list(life) if isinstance(life, Sequence) else [life]
    if not lives:
        raise DecisionError("A forecast needs at least one life; got none.")
    draws = _number_of_draws(draws)
    weeks = not_negative("The horizon", weeks, "[weeks]")
    ages = not_negative_array("Ages of heads", ages, "[h]")
    mean, sd = _usage(hours_per_week, ages.size)
    if not ages.size or not weeks:
        return Demand.none(weeks)
    policy = policy or Policy()
    refuse_short_runs(policy, float(mean.max() * weeks))
    # A canonical order, so that the answer does not depend on how positions are listed.
    order = np.lexsort((sd, mean, ages))
    fleet = Independent(ages[order].astype(np.float32), mean[order], sd[order], weeks, policy)
    rng = np.random.default_rng(seed)
    modes = [ModeDraws.of_life(each, draws, rng) for each in lives]
    in_place = [Heads(modes, ages[order], fleet.mean * weeks, policy.comes_out_at)]
    found = fleet.simulate(DrawnLives(modes), draws, rng, executor)
    failures, planned = found.by_week / draws
    return Demand.from_counts(found.heads, failures, planned, weeks, in_place)


@dataclass(frozen=True)
class Independent:
    """Positions that have nothing to do with each other but the life of their heads."""

    ages: Hours
    """Present ages [h]."""
    mean: Floats
    """Mean print hours a week [h]."""
    sd: Floats
    """Standard deviation of a position's average print hours a week [h]."""
    weeks: float
    """Horizon [weeks]."""
    policy: Policy
    """When heads are swapped."""

    def simulate(
        self,
        lives: DrawnLives,
        draws: int,
        rng: np.random.Generator,
        executor: Executor | None = None,
    ) -> _Counts:
        """Simulate all positions in all draws, the way that is cheapest: see `_pieces`.

        Parameters
        ----------
        lives : DrawnLives
            Where lives come from.
        draws : int
            Futures to simulate.
        rng : numpy.random.Generator
            Source of the random numbers.
        executor : Executor, optional
            Who works beside this process.

        Returns
        -------
        _Counts
            Swaps of each future and each week [heads].
        """
        counts = _Counts.none(draws, self.weeks)
        pieces = self._pieces(lives, draws, rng)
        done = (map if executor is None else executor.map)(_Piece.simulate, pieces)
        # Every count is whole, so the order in which they are added does not matter.
        for piece, part in zip(pieces, done, strict=True):
            counts.heads[piece.draws] += part.heads
            counts.by_week[:] += part.by_week
        return counts

    def _pieces(self, lives: DrawnLives, draws: int, rng: np.random.Generator) -> list[_Piece]:
        """Cut the work: few positions in all draws, or many in a few draws."""
        size, cuts = self.ages.size, []
        if size <= draws:
            for start in range(0, size, POSITIONS_TOGETHER):
                cuts.append((slice(start, start + POSITIONS_TOGETHER), slice(0, draws)))
        else:
            for start in range(0, draws, DRAWS_TOGETHER):
                cuts.append((slice(0, size), slice(start, min(start + DRAWS_TOGETHER, draws))))
        streams = [rng, *rng.spawn(len(cuts) - 1)]
        return [
            _Piece(
                replace(self, ages=self.ages[some], mean=self.mean[some], sd=self.sd[some]),
                lives.part(part),
                part,
                stream,
            )
            for (some, part), stream in zip(cuts, streams, strict=True)
        ]


@dataclass(frozen=True)
class _Counts:
    """Heads swapped, summed as they are found."""

    heads: Any
    """Heads needed over the whole horizon in each draw [heads]."""
    by_week: Any
    """Heads that failed, and that were swapped by plan, in each week of all draws [heads]."""

    @classmethod
    def none(cls, draws: int, weeks: float) -> _Counts:
        """Start counting."""
        by_week = np.zeros((2, math.ceil(weeks)), dtype=np.int64)
        return cls(np.zeros(draws, dtype=np.int32), by_week)


@dataclass(frozen=True)
class _Piece:
    """Some positions in some draws, ready to be simulated anywhere."""

    some: Independent
    lives: DrawnLives
    draws: slice
    rng: np.random.Generator

    def simulate(self) -> _Counts:
        counts = _Counts.none(self.draws.stop - self.draws.start, self.some.weeks)
        for positions, part, clock, pace in self._blocks(counts.heads.size):
            heads = counts.heads[part]
            kind = HeadKind(self.lives.part(part), self.some.policy)
            position = Position(self.some.ages[positions, None], [kind])
            for step in steps([position], heads.size, clock.horizon, self.rng, pace):
                one = heads.size == 1
                heads += step.hours.size if one else np.bincount(step.who, minlength=heads.size)
                _book(clock.week(step.steady_hours), step.out[0], counts.by_week)
        return counts

    def _blocks(self, draws: int) -> Iterator[tuple[Any, slice, Clock, Hours | None]]:
        """Positions and draws that are worked on at once, with their clock and their pace."""
        mean, lengths = self.some.mean, week_lengths(self.some.weeks)
        factors = _usage_factors(mean, self.some.sd, draws, self.rng)
        if mean.size > draws:
            for draw in range(draws):
                # In hours of a position that prints one hour a week.
                hours = mean if factors is None else mean * factors[:, draw]
                pace = slower(hours.astype(np.float32))
                yield slice(None), slice(draw, draw + 1), Clock(lengths), pace
            return
        for hours in np.unique(mean):
            together = np.flatnonzero(mean == hours)
            size = max(BLOCK // together.size, 1)
            for start in range(0, draws, size):
                part = slice(start, min(start + size, draws))
                pace = None if factors is None else slower(factors[together, part].ravel())
                yield together, part, Clock(hours * lengths), pace


def _book(week: Index, out: Out, by_week: Any) -> None:
    """Count the heads of one step in their weeks, failed and planned."""
    everything = np.bincount(week, minlength=by_week.shape[1])
    if out.planned.any():
        planned = np.bincount(week[out.planned], minlength=by_week.shape[1])
        everything -= planned
        by_week[1] += planned
    by_week[0] += everything


def _usage_factors(mean: Floats, sd: Floats, draws: int, rng: np.random.Generator) -> Hours | None:
    """Draw factors (positions, draws) [-] on print hours, gamma of mean 1; None for no spread."""
    spread = (mean > 0) & (sd > 0)
    if not spread.any():
        return None
    factors = np.ones((mean.size, draws), dtype=np.float32)
    for position in np.flatnonzero(spread):
        gamma_shape = (mean[position] / sd[position]) ** 2
        factors[position] = rng.standard_gamma(gamma_shape, draws) / gamma_shape
    return factors


def _number_of_draws(draws: int) -> int:
    if isinstance(draws, bool) or not isinstance(draws, (int, np.integer)):
        raise DecisionError(f"The number of draws must be a whole number; got {draws!r}.")
    if not 1 <= draws <= MOST_DRAWS:
        raise DecisionError(
            f"The number of draws must be from 1 to {MOST_DRAWS:,}; got {draws}; "
            "20000 is a good number."
        )
    return int(draws)


def _usage(hours_per_week: Any, positions: int) -> tuple[Floats, Floats]:
    """Mean and spread of the hours a week, one of each for every position."""
    if isinstance(hours_per_week, tuple):
        if len(hours_per_week) != 2:
            raise DecisionError(
                "Print hours a week given as a tuple are (mean, sd); "
                f"got {len(hours_per_week)} values. Give hours of positions as a list."
            )
        mean, sd = hours_per_week
    else:
        mean, sd = hours_per_week, 0.0
    return (
        _for_each("Print hours a week", mean, positions),
        _for_each("The spread of print hours a week", sd, positions),
    )


def _for_each(name: str, values: Any, positions: int) -> Floats:
    array = not_negative_array(name, values, "[h]")
    if np.ndim(values) == 0:
        return np.full(positions, array[0])
    if array.size != positions:
        raise DecisionError(
            f"{name} must be one number, or one for each of the {positions} positions; "
            f"got {array.size}."
        )
    return array
