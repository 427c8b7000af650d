"""The posterior as numbers: weighted shapes, each with its own distribution of the hazard.

Quantiles and probabilities of the cumulative hazard at any age, and of any life, are those of
one-dimensional mixtures over the shapes: no sampling, no normal approximation. One life or many
at once. Knows nothing of evidence or priors; `headlife.life.shape_posterior` makes the mixture.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import gammaln, ndtri

from headlife.life.hazard import Hazard, NodeWeights
from headlife.life.places import find_places

FloatArray = NDArray[np.float64]

_SMALLEST: Final = 1e-300


@dataclass(frozen=True, eq=False)
class Mixture:
    """Posterior nodes of one life (k,), or of n lives (n, k).

    Attributes
    ----------
    reference_hours
        Age [h] at which the hazard is stated.
    shapes
        Weibull shapes [-] of the nodes, ascending, (k,) or (n, k).
    weights
        Posterior weight of each node [-], summing to 1 over them, (k,) or (n, k).
    hazard
        Distribution of the hazard at each node.
    finer
        Makes the mixture, of some of many lives or of the one (None), at twice the nodes; None
        where these are all there are.
    """

    reference_hours: float
    shapes: FloatArray
    weights: FloatArray
    hazard: Hazard
    finer: Callable[[Any], Mixture] | None = None

    def cumulative_hazard(self, hours: ArrayLike, probability: ArrayLike) -> FloatArray:
        """Posterior quantiles of the cumulative hazard.

        Parameters
        ----------
        hours : float or array of float
            Ages [h], not negative.
        probability : float or array of float
            Probabilities below [-].

        Returns
        -------
        array of float
            Cumulative hazards [-], one axis for the lives if they are many, then those of
            ``hours`` and of ``probability``.
        """
        age, wanted = np.asarray(hours, float), np.asarray(probability, float)
        flat = age.ravel()
        value = np.exp(self.places(self._of_hazard(flat, ndtri(wanted.ravel()))))
        value = value.reshape(self.shapes.shape[:-1] + age.shape + wanted.shape)
        if not flat.all():
            value = np.where((age > 0).reshape(age.shape + (1,) * wanted.ndim), value, 0.0)
        return np.asarray(value, float)

    def life(self, fraction_failed: ArrayLike, probability: ArrayLike) -> FloatArray:
        """Posterior quantiles of the age by which a fraction of heads has failed.

        Parameters
        ----------
        fraction_failed : float or array of float
            Fractions [-], above 0 and below 1.
        probability : float or array of float
            Probabilities below [-].

        Returns
        -------
        array of float
            Ages [h], one axis for the lives if they are many, then those of ``fraction_failed``
            and of ``probability``.
        """
        fraction, wanted = np.asarray(fraction_failed, float), np.asarray(probability, float)
        asked = _of_life(fraction.ravel(), ndtri(wanted.ravel()))
        value = self.reference_hours * np.exp(-self.places(asked))
        return value.reshape(self.shapes.shape[:-1] + fraction.shape + wanted.shape)

    def probability_hazard_below(self, hours: ArrayLike, level: ArrayLike) -> FloatArray:
        """Posterior probability that the cumulative hazard at some ages is below some levels.

        Parameters
        ----------
        hours, level : float or array of float
            Ages [h] and cumulative hazards [-]; they broadcast.

        Returns
        -------
        array of float
            Probabilities [-], one axis for the lives if they are many, then those of the two.
        """
        age, limit = np.broadcast_arrays(np.asarray(hours, float), np.asarray(level, float))
        log_age = self._log_age(age.ravel())[:, None]
        place = np.log(np.maximum(limit.ravel(), _SMALLEST))[:, None]
        found = self._below(lambda shapes: place - shapes * log_age)
        return np.asarray(found.reshape(found.shape[:-1] + age.shape), float)

    def probability_mean_life_above(self, hours: float) -> FloatArray:
        """Posterior probability that the mean life is at least some hours.

        Parameters
        ----------
        hours : float
            Mean life asked about [h].

        Returns
        -------
        array of float
            One probability [-], or (n,) for many lives.
        """
        # mean = reference * Gamma(1 + 1/shape) * hazard ** (-1/shape), so the condition bounds
        # the hazard at every shape.
        log_ratio = math.log(hours / self.reference_hours)
        return self._below(lambda shapes: shapes * (gammaln(1.0 + 1.0 / shapes) - log_ratio))[
            ..., 0
        ]

    def nodes(self, per_shape: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Weighted points of one life, for averaging.

        Parameters
        ----------
        per_shape : int
            Points of the hazard at every shape [-], where it is Gamma distributed.

        Returns
        -------
        tuple of array of float
            Shapes [-], scales [h] and weights [-], (points,) each.
        """
        log_hazard, weights = self.hazard.points(per_shape)
        scale = self.reference_hours * np.exp(-log_hazard / self.shapes[:, None])
        weight = self.weights[:, None] * weights
        shape = np.broadcast_to(self.shapes[:, None], scale.shape)
        return shape.ravel().copy(), scale.ravel(), weight.ravel()

    def _below(self, levels: Callable[[FloatArray], FloatArray]) -> FloatArray:
        """Probability below levels that shapes (..., 1, k) make (..., c, k)."""
        hazard, weights, shapes = self._for_places
        below, coarse = hazard.below(levels(np.atleast_2d(shapes)), weights)
        for finer, some in self._finer(coarse):
            below[some] = finer._below(levels)
        return below

    def _finer(self, coarse: NDArray[np.bool_]) -> Iterator[tuple[Mixture, Any]]:
        """Give the lives that need more nodes, of places (..., c) where they are too few."""
        if self.finer is None or not np.count_nonzero(coarse):
            return
        if self.shapes.ndim == 1:
            yield self._finer_one, ...
        else:
            which = np.flatnonzero(coarse.any(axis=-1))
            yield self.finer(which), which

    @cached_property
    def _finer_one(self) -> Mixture:
        assert self.finer is not None
        return self.finer(None)

    def _log_age(self, hours: FloatArray) -> FloatArray:
        return np.asarray(np.log(np.maximum(hours, _SMALLEST) / self.reference_hours), float)

    def _of_hazard(self, hours: FloatArray, scores: FloatArray) -> FloatArray:
        # log hazard at an age = log hazard at the reference + shape * log age
        return _asked((0.0, -self._log_age(hours), 1.0, 0.0), scores)

    def places(
        self, asked: FloatArray, begun: tuple[FloatArray, FloatArray] | None = None
    ) -> FloatArray:
        """Find where the distribution function has the scores asked for, with nodes enough.

        Parameters
        ----------
        asked : array of float
            As for `places.find_places`, (5, c).
        begun : tuple of array of float, optional
            Places and spreads to begin with, (c,) or (n, c) each.

        Returns
        -------
        array of float
            Places [-], (c,) or (n, c) for many lives.
        """
        found, spread, coarse = find_places(self._for_places, self._moments, asked, begun)
        for finer, some in self._finer(coarse):
            found[some] = finer.places(asked, (found[some], spread[some]))
        return found

    @property
    def _for_places(self) -> tuple[Hazard, NodeWeights, FloatArray]:
        """Hazard, weights and shapes with an axis more, before theirs, where the lives are many."""
        if self.shapes.ndim == 1:
            return self.hazard, NodeWeights.of(self.weights), self.shapes
        more = (slice(None), None)
        return self.hazard.at(more), NodeWeights.of(self.weights[more]), self.shapes[more]

    @cached_property
    def _moments(self) -> tuple[Any, ...]:
        """Means of the log hazard and the shape, their moments, and the hazard's at a node.

        Central moments over nodes, by how often the shape is in them: second, third and fourth.
        """
        mean, *within = self.hazard.moments
        pair, weights = (mean, self.shapes), self.weights
        one = weights.ndim == 1
        centre: list[Any] = [
            float(each.dot(weights))
            if one
            else np.add.reduce(each * weights, axis=-1, keepdims=True)
            for each in pair
        ]
        # One, the pair away from its means, and their three products.
        terms = np.empty((*mean.shape[:-1], 6, mean.shape[-1]))
        terms[..., 0, :] = 1.0
        for row in range(2):
            np.subtract(pair[row], centre[row], out=terms[..., row + 1, :])
        np.multiply(terms[..., 1:2, :], terms[..., 1:3, :], out=terms[..., 3:5, :])
        np.multiply(terms[..., 2, :], terms[..., 2, :], out=terms[..., 5, :])
        weighted = terms[..., 3:, :] * weights[..., None, :]
        if one:
            flat = weighted.dot(terms.T).ravel().tolist()
            return (*centre, *[flat[at] for at in _MOMENTS], *within)
        moments = weighted @ terms.swapaxes(-1, -2)
        many = np.moveaxis(moments.reshape(-1, 18), -1, 0)[..., None]
        return (*centre, *[many[at] for at in _MOMENTS], *within)


# Where the moments are among the products of (aa, ab, bb) with (1, a, b, aa, ab, bb).
_MOMENTS: Final = (0, 6, 12, 1, 2, 8, 14, 3, 4, 10, 11, 17)


def _of_life(fraction_failed: FloatArray, scores: FloatArray) -> FloatArray:
    # life <= t exactly where the hazard is at least target * (reference/t) ** shape; the place is
    # minus the log of t over the reference, so its scores are the other way round
    return _asked((np.log(-np.log1p(-fraction_failed)), 0.0, 0.0, 1.0), -scores)


def _asked(line: tuple[FloatArray | float, ...], scores: FloatArray) -> FloatArray:
    """Every line (q,) at every score (m,), (5, q * m)."""
    lines = max(np.size(value) for value in line)
    asked = np.empty((5, lines, scores.size))
    for row, value in zip(asked, line, strict=False):
        row[:] = value if isinstance(value, float) else value[:, None]
    asked[4] = scores
    return asked.reshape(5, -1)


def share_and_life(
    mixture: Mixture, hours: float, fraction_failed: float, probability: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Posterior quantiles of a share of heads and of a life, in one search for both.

    Parameters
    ----------
    mixture : Mixture
        Posterior of one life, or of n.
    hours : float
        Age [h], above 0.
    fraction_failed : float
        Fraction [-], above 0 and below 1.
    probability : array of float
        Probabilities below [-], (m,).

    Returns
    -------
    tuple of array of float
        Shares still good at ``hours`` [-] and ages by which ``fraction_failed`` has failed [h],
        (m,) each, or (n, m) for many lives.
    """
    many = len(probability)
    # The share falls as the hazard rises, and the place of a life is minus its logarithm.
    scores = (-ndtri(probability)).tolist()
    share = [0.0, -math.log(hours / mixture.reference_hours), 1.0, 0.0]
    life = [math.log(-math.log1p(-fraction_failed)), 0.0, 0.0, 1.0]
    asked = [[one] * many + [other] * many for one, other in zip(share, life, strict=True)]
    found = np.exp(mixture.places(np.array([*asked, scores + scores])))
    return np.exp(-found[..., :many]), mixture.reference_hours / found[..., many:]
