"""How many heads will the positions need over the coming weeks? A distribution, not a mean.

From the posterior of one life, or of several competing ones, the present age of the head in
every position, its print hours a week and a swap policy. What is not known about the life is in
the answer: a short record gives a wide one. Never decides what to stock.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import reduce
from typing import TYPE_CHECKING, Any, Final, Protocol

import numpy as np
import numpy.typing as npt

from headlife.decisions.checks import Floats, fraction, not_negative, not_negative_array
from headlife.decisions.spares.doubt import Doubt, Futures, Heads
from headlife.decisions.spares.drawn import Floats32, ModeDraws
from headlife.decisions.spares.paths import Policy, SwapCounts, simulate_swaps
from headlife.errors import DecisionError

if TYPE_CHECKING:
    from concurrent.futures import Executor

__all__ = ["Demand", "DrawnLife", "KnownLife", "Policy", "forecast_demand", "known_demand"]

# Rounding of a sum of probabilities; a quantile must not move because of it.
ROUNDING: Final = 1e-9
MOST_DRAWS: Final = 1_000_000
# Positions simulated as one piece of work; pieces have streams of random numbers of their own,
# so the answer does not depend on who works on them.
POSITIONS_TOGETHER: Final = 512


class DrawnLife(Protocol):
    """A life that gives draws of its Weibull parameters; `Life` is one."""

    def draw(self, n: int, rng: np.random.Generator) -> tuple[Floats, Floats]:
        """Return `n` shapes [-] and scales [h]."""


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


@dataclass(frozen=True)
class Demand:
    """Distribution of the number of heads needed over a horizon."""

    pmf: Floats
    """Probability that exactly k heads are needed, k = 0, 1, ... [-]."""
    weeks: float
    """Length of the horizon [weeks]."""
    failure_mean: float
    """Mean number of heads that fail [heads]."""
    planned_mean: float
    """Mean number of heads swapped at the policy's age [heads]."""
    failures_by_week: Floats
    """Mean number of heads that fail in each week [heads]."""
    planned_by_week: Floats
    """Mean number of heads swapped by plan in each week [heads]."""
    futures: tuple[Futures, ...] = field(default=(), repr=False, compare=False)
    """The futures behind it, by independent group of positions; empty where they are not kept."""

    @property
    def doubt(self) -> Doubt | None:
        """What of the spread is doubt about the life; None where the futures are not kept."""
        if not self.futures:
            return None
        return reduce(lambda a, b: a + b, (own.doubt for own in self.futures))

    @property
    def mean(self) -> float:
        """Mean number of heads needed [heads]."""
        return float(self.pmf @ np.arange(self.pmf.size))

    @property
    def sd(self) -> float:
        """Standard deviation of the number of heads needed [heads]."""
        square = float(self.pmf @ np.square(np.arange(self.pmf.size, dtype=np.float64)))
        return math.sqrt(max(square - self.mean**2, 0.0))

    @property
    def cdf(self) -> Floats:
        """Probability that at most k heads are needed, k = 0, 1, ... [-]."""
        return np.minimum(np.cumsum(self.pmf), 1.0)

    def quantile(self, q: Any) -> Any:
        """Smallest number of heads that suffices with probability `q`.

        Parameters
        ----------
        q : float or array of float
            Probability [-].

        Returns
        -------
        int or array of int
            [heads]

        Raises
        ------
        DecisionError
            A probability outside 0 to 1.
        """
        wanted = np.asarray(q, dtype=np.float64)
        if not np.all((wanted >= 0) & (wanted <= 1)):
            raise DecisionError(f"A quantile needs a probability from 0 to 1; got {q!r}.")
        heads = np.searchsorted(np.cumsum(self.pmf), wanted - ROUNDING, side="left")
        heads = np.minimum(heads, self.pmf.size - 1)
        return int(heads) if heads.ndim == 0 else heads

    def interval(self, confidence: float = 0.80) -> tuple[int, int]:
        """Heads between which the demand lies with a probability near `confidence`.

        Whole heads cannot meet a probability exactly. Ends that are each safe make an interval
        that covers several points too much; of it and the three that are a head shorter at
        either end or both, the one nearest to `confidence` is taken. `chance_of` gives its
        probability.

        Parameters
        ----------
        confidence : float
            Two-sided: about half of what is left on each side [-].

        Returns
        -------
        tuple of int
            Lowest and highest number [heads].
        """
        tail = (1.0 - fraction("The confidence of an interval", confidence)) / 2.0
        low, high = int(self.quantile(tail)), int(self.quantile(1.0 - tail))
        ends = [(low, high), (low + 1, high), (low, high - 1), (low + 1, high - 1)]
        return min(
            (pair for pair in ends if pair[0] <= pair[1]),
            key=lambda pair: round(abs(self.chance_of(*pair) - confidence), 12),
        )

    def chance_of(self, low: int, high: int) -> float:
        """Probability of a demand from `low` to `high` heads, both included [-]."""
        return float(self.pmf[max(low, 0) : high + 1].sum())

    def __add__(self, other: Demand) -> Demand:
        """Demand of two independent groups of positions together, by convolution."""
        if self.weeks != other.weeks:
            raise DecisionError(
                f"Demands over different horizons do not add: {self.weeks:g} weeks and "
                f"{other.weeks:g} weeks; forecast both over the same weeks."
            )
        kept = all(own.futures or own.pmf.size == 1 for own in (self, other))
        return Demand(
            pmf=np.convolve(self.pmf, other.pmf),
            weeks=self.weeks,
            failure_mean=self.failure_mean + other.failure_mean,
            planned_mean=self.planned_mean + other.planned_mean,
            failures_by_week=self.failures_by_week + other.failures_by_week,
            planned_by_week=self.planned_by_week + other.planned_by_week,
            futures=self.futures + other.futures if kept else (),
        )

    @classmethod
    def none(cls, weeks: float) -> Demand:
        """No positions, no demand: 0 heads for certain."""
        nothing = np.zeros(math.ceil(weeks))
        return cls(np.ones(1), weeks, 0.0, 0.0, nothing, nothing)

    @classmethod
    def from_counts(
        cls, counts: SwapCounts, weeks: float, in_place: Sequence[Heads] = ()
    ) -> Demand:
        """Turn counts of simulated swaps into a distribution, with the heads they come from."""
        draws = counts.heads.size
        failures = counts.failures_by_week / draws
        planned = counts.planned_by_week / draws
        return cls(
            pmf=np.bincount(counts.heads).astype(np.float64) / draws,
            weeks=weeks,
            failure_mean=float(failures.sum()),
            planned_mean=float(planned.sum()),
            failures_by_week=failures,
            planned_by_week=planned,
            futures=(Futures(counts.heads, in_place),) if in_place else (),
        )


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
        Posterior of the life; several compete, their hazards add.
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
    modes = [ModeDraws.from_parameters(*each.draw(draws, rng)) for each in lives]
    starts = range(0, ages.size, POSITIONS_TOGETHER)
    streams = [rng, *rng.spawn(len(starts) - 1)]
    pieces = []
    for start, stream in zip(starts, streams, strict=True):
        some = slice(start, start + POSITIONS_TOGETHER)
        pieces.append(
            _Piece(modes, ages[some], mean[some], sd[some], weeks, policy or Policy(), stream)
        )
    done = (map if executor is None else executor.map)(_Piece.simulate, pieces)
    swap_age = policy.swap_at_hours if policy and policy.swap_at_hours else math.inf
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


def known_demand(pmf: npt.ArrayLike, weeks: float = 1.0) -> Demand:
    """Wrap a distribution of failures that is known, for example a Poisson one.

    Parameters
    ----------
    pmf : array of float
        Probability of 0, 1, 2, ... heads [-]; made to sum to 1.
    weeks : float
        Horizon it stands for [weeks].

    Returns
    -------
    Demand

    Raises
    ------
    DecisionError
        A probability below zero, or nothing but zeros.
    """
    weights = not_negative_array("Probabilities", pmf, "[-]")
    weeks = not_negative("The horizon", weeks, "[weeks]")
    if not weights.sum():
        raise DecisionError("The probabilities of a demand are all zero.")
    weights = weights / weights.sum()
    mean = float(weights @ np.arange(weights.size))
    lengths = week_lengths(weeks)
    share = lengths / lengths.sum() if weeks else lengths
    return Demand(weights, weeks, mean, 0.0, mean * share, np.zeros(lengths.size))


def week_lengths(weeks: float) -> Floats:
    """Lengths of the weeks of a horizon; the last may be a part of one [weeks]."""
    lengths = np.ones(math.ceil(weeks))
    if lengths.size:
        lengths[-1] = weeks - (lengths.size - 1)
    return lengths


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
