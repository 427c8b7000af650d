"""The life of one lot, as partial pooling between lots leaves it: bounds and chances.

Weighted nodes over the spread between lots and the shape, each with its own distribution of the
lot's hazard; `headlife.life.lots` makes them. It answers the questions that `Life` answers about
one rating, so that a lot is judged as any group of heads is. Never learns and never judges.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq
from scipy.special import gammaln, ndtr

from headlife.life.asked import fraction, tails

FloatArray = NDArray[np.float64]

# Spread of the log lives of lots [-]: 0.2 is lots that typically differ by a fifth.
SPREADS: Final[FloatArray] = np.array([0.0, 0.05, 0.10, 0.20, 0.30, 0.45, 0.65, 0.90])
# Failures to be expected of the lot itself, were the truth at the claim's edge, below which its
# own records say next to nothing.
TOO_YOUNG: Final = 0.5


@dataclass(frozen=True, eq=False)
class LotLife:
    """The life of one lot, the others counting as far as they are alike.

    It answers the questions that `Life` answers about one rating, so that it can be judged alike.

    Attributes
    ----------
    reference_hours
        Age at which the hazards are stated [h]: that of the evidence, usually the rating.
    shapes
        Weibull shape of every node, over spreads and shapes, (nodes,) [-].
    log_hazards
        Log cumulative hazard at the reference age, a grid for every node, (nodes, m) [-].
    below
        Probability below each of them at that node, (nodes, m) [-].
    weights
        Posterior weight of each node, (nodes,) [-].
    spread_weights
        Posterior weight of each of `SPREADS` [-].
    failures
        Failures of the lot itself [heads].
    others
        Failures of the other lots [heads].
    exposure
        Failures to be expected of the lot itself for each unit of cumulative hazard at the
        reference age [heads].
    in_common
        Share of the doubt about its log hazard that all lots have in common, (nodes,) [-]; 1 where
        lots do not differ.
    """

    reference_hours: float
    shapes: FloatArray
    log_hazards: FloatArray
    below: FloatArray
    weights: FloatArray
    spread_weights: FloatArray
    failures: float
    others: float
    exposure: float
    in_common: FloatArray

    @property
    def spread(self) -> float:
        """Mean spread of the log lives of lots [-]; 0.2: they typically differ by a fifth."""
        return float(self.spread_weights @ SPREADS)

    def too_young(self, share: float) -> bool:
        """Whether the lot itself has run too little to say anything of a claimed share [-].

        Parameters
        ----------
        share : float
            Share of heads that should reach the reference age [-].

        Returns
        -------
        bool
            True also where its answer is decisive: that is the other lots speaking.
        """
        return -float(np.log(share)) * self.exposure < TOO_YOUNG and self.failures == 0

    def probability_reliability_above(self, share: float, hours: float) -> float:
        """As in `Life`."""
        return self._below(np.log(-np.log(fraction(share, "share"))) - self._power(hours))

    def probability_mean_life_above(self, hours: float) -> float:
        """As in `Life`."""
        return self._below(self.shapes * gammaln(1.0 + 1.0 / self.shapes) - self._power(hours))

    def median_reliability(self, hours: float) -> float:
        """As in `Life`."""
        return self._reliability_quantile(hours, 0.5)

    def reliability_bounds(self, hours: float, confidence: float = 0.90) -> tuple[float, float]:
        """As in `Life`."""
        low, high = (self._reliability_quantile(hours, p) for p in tails(confidence))
        return low, high

    def median_life(self, fraction_failed: float) -> float:
        """As in `Life`."""
        return self._life_quantile(fraction_failed, 0.5)

    def life_bounds(self, fraction_failed: float, confidence: float = 0.90) -> tuple[float, float]:
        """As in `Life`."""
        low, high = (self._life_quantile(fraction_failed, p) for p in tails(confidence))
        return low, high

    def share_and_life(
        self, hours: float, fraction_failed: float, probability: ArrayLike
    ) -> tuple[FloatArray, FloatArray]:
        """As in `Life`, one search for each quantile."""
        wanted = np.asarray(probability, float).tolist()
        shares = [self._reliability_quantile(hours, each) for each in wanted]
        ages = [self._life_quantile(fraction_failed, each) for each in wanted]
        return np.array(shares), np.array(ages)

    def at(
        self, node: FloatArray, shared: FloatArray, own: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Give shapes and scales at places of the posterior.

        Lots drawn at the same nodes and shared numbers, each with numbers of its own, vary
        together as far as the records leave their lives in doubt together.

        Parameters
        ----------
        node : array of float
            Which node, by the weight up to it, between 0 and 1, (n,) [-].
        shared : array of float
            Standard normal numbers that all lots share, (n,) [-].
        own : array of float
            Standard normal numbers of this lot, (n,) [-].

        Returns
        -------
        tuple of array of float
            Shapes [-] and scales [h], (n,) each.
        """
        reached = np.cumsum(self.weights)
        which = np.minimum(np.searchsorted(reached, node * reached[-1]), reached.size - 1)
        part = self.in_common[which]
        chance = ndtr(np.sqrt(part) * shared + np.sqrt(1.0 - part) * own)
        log_hazards = np.empty(node.size)
        for each in np.unique(which).tolist():
            mine = which == each
            log_hazards[mine] = np.interp(chance[mine], self.below[each], self.log_hazards[each])
        shapes = self.shapes[which]
        return shapes, self.reference_hours * np.exp(-log_hazards / shapes)

    def draw(self, n: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Draw shapes [-] and scales [h] of this lot alone, as `Life.draw` does.

        Parameters
        ----------
        n : int
            How many.
        rng : numpy.random.Generator
            Source of random numbers.

        Returns
        -------
        tuple of array of float
            Shapes [-] and scales [h], (n,) each.
        """
        return self.at(rng.random(n), rng.standard_normal(n), rng.standard_normal(n))

    def nodes(self, per_shape: int = 16) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Posterior as weighted points: shape [-], scale [h], weight [-], as `Life.nodes` does.

        Parameters
        ----------
        per_shape : int, optional
            Points at each node, by Gauss's rule over its chance.

        Returns
        -------
        tuple of array of float
            Shapes [-], scales [h] and weights [-], which sum to 1, (m,) each.
        """
        places, share = np.polynomial.legendre.leggauss(per_shape)
        log_hazards = np.array(
            [
                np.interp(0.5 * (places + 1.0), below, grid)
                for below, grid in zip(self.below, self.log_hazards, strict=True)
            ]
        )
        scales = self.reference_hours * np.exp(-log_hazards / self.shapes[:, None])
        weights = (self.weights / self.weights.sum())[:, None] * (0.5 * share)
        return np.repeat(self.shapes, per_shape), scales.ravel(), weights.ravel()

    def _power(self, hours: float) -> FloatArray:
        return self.shapes * float(np.log(hours / self.reference_hours))

    def _below(self, limits: FloatArray) -> float:
        """Probability that the log hazard lies below a limit given per node."""
        under = [
            np.interp(limit, grid, row, left=0.0, right=1.0)
            for limit, grid, row in zip(limits, self.log_hazards, self.below, strict=True)
        ]
        return float(self.weights @ under)

    def _reliability_quantile(self, hours: float, probability: float) -> float:
        power = self._power(hours)
        ends = self.log_hazards + power[:, None]
        found = brentq(
            lambda u: self._below(u - power) - (1.0 - probability), ends.min(), ends.max()
        )
        return float(np.exp(-np.exp(found)))

    def _life_quantile(self, fraction_failed: float, probability: float) -> float:
        target = float(np.log(-np.log1p(-fraction(fraction_failed, "fraction failed"))))
        ends = (target - self.log_hazards) / self.shapes[:, None]

        def shorter(log_age: float) -> float:
            return 1.0 - self._below(target - self.shapes * log_age) - probability

        return self.reference_hours * float(np.exp(brentq(shorter, ends.min(), ends.max())))


@dataclass(frozen=True, eq=False)
class OneOfLots:
    """The life of a head of which it is not known which of several lots it is of."""

    lives: Sequence[LotLife]
    """The life of each lot."""
    shares: Sequence[float]
    """Chance that the head is of it [-], summing to 1."""

    def draw(self, n: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """As `LotLife.draw`, the lot drawn too.

        Parameters
        ----------
        n : int
            How many.
        rng : numpy.random.Generator
            Source of random numbers.

        Returns
        -------
        tuple of array of float
            Shapes [-] and scales [h], (n,) each.
        """
        drawn = np.array([life.draw(n, rng) for life in self.lives])
        which = rng.choice(len(self.lives), n, p=np.array(self.shares) / sum(self.shares))
        shapes, scales = drawn[which, :, np.arange(n)].T
        return shapes, scales

    def nodes(self, per_shape: int = 16) -> tuple[FloatArray, FloatArray, FloatArray]:
        """As `LotLife.nodes`, those of all lots.

        Parameters
        ----------
        per_shape : int, optional
            Points at each node.

        Returns
        -------
        tuple of array of float
            Shapes [-], scales [h] and weights [-], which sum to 1, (m,) each.
        """
        every = [life.nodes(per_shape) for life in self.lives]
        weights = [share * own[2] for share, own in zip(self.shares, every, strict=True)]
        return (
            np.concatenate([own[0] for own in every]),
            np.concatenate([own[1] for own in every]),
            np.concatenate(weights),
        )
