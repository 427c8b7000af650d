"""How many heads will the positions need over the coming weeks? A distribution, not a mean.

From the posterior of one life, or of several competing ones, the present age of the head in
every position, its print hours a week and a swap policy. What is not known about the life is in
the answer: a short record gives a wide one. Never decides what to stock.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import reduce
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from headlife.errors import DecisionError
from headlife.futures.distribution import Demand, week_lengths
from headlife.futures.draws import DrawnLife, Floats32, ModeDraws
from headlife.futures.life_uncertainty import Heads
from headlife.futures.paths import SwapCounts, simulate_swaps
from headlife.numbers import Floats, not_negative, not_negative_array
from headlife.shop.policy import Policy

if TYPE_CHECKING:
    from concurrent.futures import Executor

MOST_DRAWS: Final = 1_000_000
# Positions simulated as one piece of work; pieces have streams of random numbers of their own,
# so the answer does not depend on who works on them.
POSITIONS_TOGETHER: Final = 512


@dataclass(frozen=True)
class KnownLife:
    """A Weibull life taken as known: a what-if, or the truth of a simulated shop."""

    shape: float
    """Shape [-]."""
    scale: float
    """Scale [h]."""

    def draw(self, n: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return the same shape [-] and scale [h] `n` times."""
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
    1.8
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
    # A canonical order, so that the answer does not depend on how positions are listed.
    order = np.lexsort((sd, mean, ages))
    ages, mean, sd = ages[order], mean[order], sd[order]
    rng = np.random.default_rng(seed)
    modes = [ModeDraws.of_life(each, draws, rng) for each in lives]
    starts = range(0, ages.size, POSITIONS_TOGETHER)
    streams = [rng, *rng.spawn(len(starts) - 1)]
    pieces = []
    for start, stream in zip(starts, streams, strict=True):
        some = slice(start, start + POSITIONS_TOGETHER)
        pieces.append(
            _Piece(modes, ages[some], mean[some], sd[some], weeks, policy or Policy(), stream)
        )
    done = (map if executor is None else executor.map)(_Piece.simulate, pieces)
    swap_age = (policy or Policy()).comes_out_at
    return Demand.from_counts(_added(done), weeks, [Heads(modes, ages, mean * weeks, swap_age)])


@dataclass(frozen=True)
class _Piece:
    """Some positions of a fleet, ready to be simulated anywhere."""

    modes: Sequence[ModeDraws]
    ages: Floats
    mean: Floats
    sd: Floats
    weeks: float
    policy: Policy
    rng: np.random.Generator

    def simulate(self) -> SwapCounts:
        return simulate_swaps(
            self.modes,
            self.ages,
            self.mean[:, None] * week_lengths(self.weeks),
            self.policy,
            self.rng,
            usage_factors(self.mean, self.sd, self.modes[0].shape.size, self.rng),
        )


def _added(parts: Iterable[SwapCounts]) -> SwapCounts:
    """Add the counts of pieces of a fleet; every count is whole, so the order does not matter."""
    return reduce(lambda a, b: a + b, parts)


def usage_factors(
    mean: Floats, sd: Floats, draws: int, rng: np.random.Generator
) -> Floats32 | None:
    """Draw factors on the print hours of positions, gamma with mean 1.

    Parameters
    ----------
    mean, sd : array of float
        Mean and standard deviation of the average print hours a week [h], one per position.
    draws : int
        Factors for each position [-].
    rng : numpy.random.Generator
        Source of random numbers.

    Returns
    -------
    array of float, or None when nothing spreads
        Positions x draws [-].
    """
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
