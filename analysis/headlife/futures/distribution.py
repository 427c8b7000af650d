"""The number of heads needed over a horizon, as a distribution: read, added, taken as known.

Chances, quantiles, intervals of whole heads and the sum of independent groups; with the futures
behind it, where they are kept, what of its spread is doubt about the life. Never forecasts and
never decides what to stock.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.display import shows_itself
from headlife.errors import DecisionError
from headlife.futures.calendar import week_lengths
from headlife.futures.life_uncertainty import Doubt, Futures, Heads, together
from headlife.numbers import Floats, fraction, not_negative, not_negative_array

# Rounding of a sum of probabilities; a quantile must not move because of it.
ROUNDING: Final = 1e-9
# Intervals whose distances from the confidence differ by less than this share of what lies
# outside are equally near.
EQUALLY_NEAR: Final = 0.10


@shows_itself
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
        return together([own.doubt for own in self.futures]) if self.futures else None

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
            raise DecisionError(f"A quantile needs a chance from 0 to 1; got {q!r}.")
        heads = np.searchsorted(np.cumsum(self.pmf), wanted - ROUNDING, side="left")
        heads = np.minimum(heads, self.pmf.size - 1)
        return int(heads) if heads.ndim == 0 else heads

    def interval(self, confidence: float = 0.80) -> tuple[int, int]:
        """Heads between which the demand lies with a probability near `confidence`.

        Whole heads cannot meet a probability exactly. Ends that are each safe make an interval
        that covers several points too much; of it and the three that are a head shorter at
        either end or both, the one nearest to `confidence` is taken. Where two are about equally
        near (for 80 %: within 2 points of one another) it is the wider, since forecasts from
        few failures hold a little less than they say. `chance_of` gives its probability.

        Parameters
        ----------
        confidence : float
            Two-sided: about half of what is left on each side [-].

        Returns
        -------
        tuple of int
            Lowest and highest number [heads].
        """
        tail = (1.0 - fraction("The confidence of a range", confidence)) / 2.0
        low, high = int(self.quantile(tail)), int(self.quantile(1.0 - tail))
        ends = [(low, high), (low + 1, high), (low, high - 1), (low + 1, high - 1)]
        chances = {pair: self.chance_of(*pair) for pair in ends if pair[0] <= pair[1]}
        nearest = min(abs(chance - confidence) for chance in chances.values())
        reach = nearest + EQUALLY_NEAR * (1.0 - confidence) + ROUNDING
        near = (pair for pair in chances if abs(chances[pair] - confidence) <= reach)
        return max(near, key=lambda pair: round(chances[pair], 12))

    def chance_of(self, low: int, high: int) -> float:
        """Probability of a demand from `low` to `high` heads, both included [-].

        Parameters
        ----------
        low, high : int
            Ends, both included [heads].

        Returns
        -------
        float
            The probability [-].
        """
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
        """No positions, no demand: 0 heads for certain.

        Parameters
        ----------
        weeks : float
            The horizon [weeks].

        Returns
        -------
        Demand
            0 heads for certain.
        """
        nothing = np.zeros(math.ceil(weeks))
        return cls(np.ones(1), weeks, 0.0, 0.0, nothing, nothing)

    @classmethod
    def from_counts(
        cls,
        heads: Any,
        failures_by_week: Floats,
        planned_by_week: Floats,
        weeks: float,
        in_place: Sequence[Heads] = (),
    ) -> Demand:
        """Turn simulated swaps into a distribution.

        Parameters
        ----------
        heads : array of int
            Heads needed in every draw [heads].
        failures_by_week, planned_by_week : array of float
            Mean number of heads that fail, and that are swapped otherwise, in each week [heads].
        weeks : float
            Length of the horizon [weeks].
        in_place : sequence of Heads
            The heads they come from, where the doubt about their lives is wanted.

        Returns
        -------
        Demand
            The distribution.
        """
        return cls(
            pmf=np.bincount(heads).astype(np.float64) / max(heads.size, 1),
            weeks=weeks,
            failure_mean=float(failures_by_week.sum()),
            planned_mean=float(planned_by_week.sum()),
            failures_by_week=failures_by_week,
            planned_by_week=planned_by_week,
            futures=(Futures(heads, in_place),) if in_place else (),
        )


def demand_of(failures: Any, planned: Any, weeks: float) -> Demand:
    """Count paths of failures and of other swaps, draws x weeks [heads].

    Parameters
    ----------
    failures : array of int
        Failures, draws x weeks [heads].
    planned : array of int
        Other swaps, draws x weeks [heads].
    weeks : float
        The horizon [weeks].

    Returns
    -------
    Demand
        The demand, as probabilities.
    """
    totals = (failures + planned).sum(axis=1)
    return Demand.from_counts(totals, failures.mean(axis=0), planned.mean(axis=0), weeks)


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
        The demand.

    Raises
    ------
    DecisionError
        A probability below zero, or nothing but zeros.
    """
    weights = not_negative_array("Probabilities", pmf, "[-]")
    weeks = not_negative("The horizon", weeks, "[weeks]")
    if not weights.sum():
        raise DecisionError("The chances of a demand are all zero.")
    weights = weights / weights.sum()
    mean = float(weights @ np.arange(weights.size))
    lengths = week_lengths(weeks)
    share = lengths / lengths.sum() if weeks else lengths
    return Demand(weights, weeks, mean, 0.0, mean * share, np.zeros(lengths.size))
