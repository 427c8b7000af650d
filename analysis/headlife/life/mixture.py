"""The posterior as numbers: weighted shapes, each with its own distribution of the hazard.

Quantiles and probabilities of the cumulative hazard at any age, and of any life, are those of
one-dimensional mixtures over the shapes: no sampling, no normal approximation. This module
knows nothing of evidence or priors; `headlife.life.learn` makes the mixture.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri

FloatArray = NDArray[np.float64]

_STEPS: Final = 80  # of the safeguarded search; it needs about three
_TOLERANCE: Final = 2e-5  # last step, in spreads: the search errs by its cube after it
_SMALLEST: Final = 1e-300
_EXTREME: Final = 1e-15  # chances nearer to 0 or 1 are lost in rounding
_ROOT: Final = float(1.0 / np.sqrt(2.0 * np.pi))  # of the normal density


class Hazard(Protocol):
    """Distribution of the log hazard at each of k shapes."""

    def below(self, log_level: FloatArray) -> FloatArray:
        """Probability below ``log_level`` (k, m)."""

    def below_and_density(self, log_level: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Probability below ``log_level`` (k, m), density there and its slope."""

    def moments(self) -> tuple[FloatArray, float | FloatArray, float | FloatArray]:
        """Mean (k,), variance and third central moment of the log hazard."""

    def points(self, per_shape: int) -> tuple[FloatArray, FloatArray]:
        """Log hazards and weights (k, j) for averaging."""


@dataclass(frozen=True, eq=False)
class Mixture:
    """Posterior nodes of one life.

    Attributes
    ----------
    reference_hours
        Age [h] at which the hazard is stated.
    shapes
        Weibull shapes [-] of the nodes, ascending, (k,).
    weights
        Posterior weight of each node [-], summing to 1, (k,).
    hazard
        Distribution of the hazard at each node.
    """

    reference_hours: float
    shapes: FloatArray
    weights: FloatArray
    hazard: Hazard

    def cumulative_hazard(self, hours: ArrayLike, probability: ArrayLike) -> FloatArray:
        """Posterior quantile of the cumulative hazard [-]; hours [h] and probability broadcast."""
        age, wanted = np.broadcast_arrays(np.asarray(hours, float), np.asarray(probability, float))
        flat = age.ravel()
        value = np.zeros(flat.shape)
        some = flat > 0
        if some.any():
            place = self.power_of(flat[some])
            value[some] = np.exp(self._solve(place, None, wanted.ravel()[some]))
        return value.reshape(age.shape)

    def life(self, fraction_failed: ArrayLike, probability: ArrayLike) -> FloatArray:
        """Posterior quantile of the age [h] by which a fraction [-] of heads has failed."""
        fraction, wanted = np.broadcast_arrays(
            np.asarray(fraction_failed, float), np.asarray(probability, float)
        )
        log_target = np.log(-np.log1p(-fraction)).ravel()
        # life <= t exactly where the hazard is at least target * (reference/t) ** shape
        place = np.broadcast_to(log_target, (len(self.shapes), log_target.size))
        minus_log_age = self._solve(place, self.shapes[:, None], 1.0 - wanted.ravel())
        return (self.reference_hours * np.exp(-minus_log_age)).reshape(fraction.shape)

    def probability_hazard_below(self, hours: ArrayLike, level: ArrayLike) -> FloatArray:
        """Posterior probability [-] that the cumulative hazard at ``hours`` is below ``level``."""
        age, limit = np.broadcast_arrays(np.asarray(hours, float), np.asarray(level, float))
        log_level = np.log(np.maximum(limit.ravel(), _SMALLEST)) + self.power_of(age.ravel())
        return np.asarray(self.weights @ self.hazard.below(log_level), float).reshape(age.shape)

    def probability_log_hazard_below(self, limits: FloatArray) -> float:
        """Posterior probability [-] that the log hazard lies below a limit given per node."""
        return float(self.weights @ self.hazard.below(limits[:, None])[:, 0])

    def nodes(self, per_shape: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Weighted points: shape [-], scale [h], weight [-], each (k * per_shape,)."""
        log_hazard, weights = self.hazard.points(per_shape)
        scale = self.reference_hours * np.exp(-log_hazard / self.shapes[:, None])
        weight = self.weights[:, None] * weights
        shape = np.broadcast_to(self.shapes[:, None], scale.shape)
        return shape.ravel().copy(), scale.ravel(), weight.ravel()

    def power_of(self, hours: FloatArray) -> FloatArray:
        """Log of (reference/hours) ** shape, per node and age, (k, m)."""
        ages = np.maximum(hours, _SMALLEST) / self.reference_hours
        return np.asarray(-self.shapes[:, None] * np.log(ages), float)

    def _solve(
        self, place: FloatArray, slope: FloatArray | None, probability: FloatArray
    ) -> FloatArray:
        """Find s with mean over nodes of P(log hazard <= place + slope * s) = probability.

        Halley steps on the normal score of the mixture's own distribution function, which is
        nearly a straight line, kept inside a bracket; place (k, m), slope (k, 1) or None for
        one, probability and result (m,).
        """
        guess, spread = self._guess(place, slope, probability)
        wanted = ndtri(probability)
        low, high = np.full(guess.shape, -np.inf), np.full(guess.shape, np.inf)
        weights = self.weights
        first = weights if slope is None else weights * slope[:, 0]
        second = weights if slope is None else first * slope[:, 0]
        for _ in range(_STEPS):
            level = place + guess if slope is None else place + slope * guess
            below, density, bend = self.hazard.below_and_density(level)
            chance = np.minimum(np.maximum(weights @ below, _EXTREME), 1.0 - _EXTREME)
            score = ndtri(chance)
            error = score - wanted
            low, high = np.where(error < 0, guess, low), np.where(error < 0, high, guess)
            normal = np.exp(-0.5 * score * score) * _ROOT
            rate = np.maximum(first @ density / normal, _SMALLEST)
            newton = error / rate
            curved = 1.0 - 0.5 * newton * ((second @ bend) / (normal * rate) + score * rate)
            step = newton / np.minimum(np.maximum(curved, 0.5), 2.0)
            # Where the chance is lost in rounding its slope says nothing: walk.
            lost = (chance == _EXTREME) | (chance == 1.0 - _EXTREME)
            step = np.where(lost, np.sign(error) * 2.0 * spread, step)
            following = guess - np.minimum(np.maximum(step, -4.0 * spread), 4.0 * spread)
            outside = (following < low) | (following > high)
            if outside.any():
                # both sides are known by now, or the step would not have been stopped there
                middle = 0.5 * (np.maximum(low, guess - spread) + np.minimum(high, guess + spread))
                following = np.where(outside, middle, following)
            moved = np.abs(following - guess)
            guess = following
            if (moved <= _TOLERANCE * spread).all():
                break
        return np.asarray(guess, float)

    def _guess(
        self, place: FloatArray, slope: FloatArray | None, probability: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Cornish-Fisher start of the search, and the mixture's standard deviation."""
        mean, variance, third = self.hazard.moments()
        centres = mean[:, None] - place
        weights = self.weights
        if slope is not None:
            centres = centres / slope
            variance, third = variance / slope**2, third / slope**3
        centre = weights @ centres
        away = centres - centre
        squared = away * away
        spread = np.sqrt(weights @ (variance + squared))
        skew = weights @ (third + away * (3.0 * variance + squared)) / spread**3
        skew = np.minimum(np.maximum(skew, -2.0), 2.0)
        z = ndtri(probability)
        return centre + spread * (z + skew * (z * z - 1.0) / 6.0), spread
