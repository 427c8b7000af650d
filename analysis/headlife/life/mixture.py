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

_QUICK_STEPS: Final = 8  # of the bare search; it needs two or three
_FAR: Final = 3.0  # step, in spreads, at which the bare search gives up
_SAFE: Final = 1e-10  # chance of either side from which bare steps may be trusted
_STEPS: Final = 200  # of the search inside a bracket
_TOLERANCE: Final = 3e-4  # last step, in spreads: the search errs by its cube after it
_SMALLEST: Final = 1e-300
_EXTREME: Final = 1e-15  # chances nearer to 0 or 1 are lost in rounding
_ROOT: Final = float(1.0 / np.sqrt(2.0 * np.pi))  # of the normal density


class Hazard(Protocol):
    """Distribution of the log hazard at each of k shapes."""

    def below(self, log_level: FloatArray) -> FloatArray:
        """Probability below ``log_level`` (k, m).

        Parameters
        ----------
        log_level : array of float
            Log hazards [-] at each of k shapes, (k, m).

        Returns
        -------
        array of float
            Probabilities [-], (k, m).
        """

    def below_and_density(self, log_level: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Probability below ``log_level`` (k, m), density there and its slope.

        Parameters
        ----------
        log_level : array of float
            Log hazards [-] at each of k shapes, (k, m).

        Returns
        -------
        tuple of array of float
            Probability [-] below each, density there and slope of the density, (k, m) each.
        """

    def moments(self) -> tuple[FloatArray, float | FloatArray, float | FloatArray]:
        """Mean (k, 1), variance and third central moment of the log hazard."""

    def points(self, per_shape: int) -> tuple[FloatArray, FloatArray]:
        """Log hazards and weights (k, j) for averaging.

        Parameters
        ----------
        per_shape : int
            Points at each shape.

        Returns
        -------
        tuple of array of float
            Log hazards [-] and weights [-], (k, per_shape) each.
        """


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
        """Posterior quantile of the cumulative hazard [-]; hours [h] and probability broadcast.

        Parameters
        ----------
        hours : float or array of float
            Ages [h].
        probability : float or array of float
            Probability [-] of a smaller hazard.

        Returns
        -------
        array of float
            Hazards [-], of the shape that the arguments broadcast to.
        """
        wanted = np.asarray(probability, float)
        age = np.asarray(hours, float) + np.zeros(wanted.shape)
        flat, chances = age.ravel(), (wanted + np.zeros(age.shape)).ravel()
        value = np.zeros(flat.shape)
        some = flat > 0
        if some.all():
            value = np.exp(self._solve(self.power_of(flat), None, chances))
        elif some.any():
            value[some] = np.exp(self._solve(self.power_of(flat[some]), None, chances[some]))
        return value.reshape(age.shape)

    def life(self, fraction_failed: ArrayLike, probability: ArrayLike) -> FloatArray:
        """Posterior quantile of the age [h] by which a fraction [-] of heads has failed.

        Parameters
        ----------
        fraction_failed : float or array of float
            Fractions [-], between 0 and 1.
        probability : float or array of float
            Probability [-] of a shorter life.

        Returns
        -------
        array of float
            Ages [h], of the shape that the arguments broadcast to.
        """
        wanted = np.asarray(probability, float)
        fraction = np.asarray(fraction_failed, float) + np.zeros(wanted.shape)
        wanted = wanted + np.zeros(fraction.shape)
        log_target = np.log(-np.log1p(-fraction)).ravel()
        # life <= t exactly where the hazard is at least target * (reference/t) ** shape
        place = log_target[None, :]
        minus_log_age = self._solve(place, self.shapes[:, None], 1.0 - wanted.ravel())
        return (self.reference_hours * np.exp(-minus_log_age)).reshape(fraction.shape)

    def probability_hazard_below(self, hours: ArrayLike, level: ArrayLike) -> FloatArray:
        """Posterior probability [-] that the cumulative hazard at ``hours`` is below ``level``.

        Parameters
        ----------
        hours : float or array of float
            Ages [h].
        level : float or array of float
            Cumulative hazards [-].

        Returns
        -------
        array of float
            Probabilities [-], of the shape that the arguments broadcast to.
        """
        age, limit = np.broadcast_arrays(np.asarray(hours, float), np.asarray(level, float))
        log_level = np.log(np.maximum(limit.ravel(), _SMALLEST)) + self.power_of(age.ravel())
        return np.asarray(self.weights @ self.hazard.below(log_level), float).reshape(age.shape)

    def probability_log_hazard_below(self, limits: FloatArray) -> float:
        """Posterior probability [-] that the log hazard lies below a limit given per node.

        Parameters
        ----------
        limits : array of float
            Log hazard [-] at the reference hours for each node, (k,).

        Returns
        -------
        float
            The probability [-].
        """
        return float(self.weights @ self.hazard.below(limits[:, None])[:, 0])

    def nodes(self, per_shape: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Weighted points: shape [-], scale [h], weight [-], each (k * per_shape,).

        Parameters
        ----------
        per_shape : int
            Points at each shape.

        Returns
        -------
        tuple of array of float
            Shapes [-], scales [h] and weights [-], which sum to 1.
        """
        log_hazard, weights = self.hazard.points(per_shape)
        scale = self.reference_hours * np.exp(-log_hazard / self.shapes[:, None])
        weight = self.weights[:, None] * weights
        shape = np.broadcast_to(self.shapes[:, None], scale.shape)
        return shape.ravel().copy(), scale.ravel(), weight.ravel()

    def power_of(self, hours: FloatArray) -> FloatArray:
        """Log of (reference/hours) ** shape, per node and age, (k, m).

        Parameters
        ----------
        hours : array of float
            Ages [h], (m,).

        Returns
        -------
        array of float
            Logarithms, (k, m).
        """
        ages = np.maximum(hours, _SMALLEST) / self.reference_hours
        return np.asarray(-self.shapes[:, None] * np.log(ages), float)

    def _solve(
        self, place: FloatArray, slope: FloatArray | None, probability: FloatArray
    ) -> FloatArray:
        """Find s with mean over nodes of P(log hazard <= place + slope * s) = probability.

        Halley steps on the normal score of the mixture's own distribution function, which is
        nearly a straight line; where they do not settle, again and kept inside a bracket. place
        (k or 1, m), slope (k, 1) or None for one, probability and result (m,).
        """
        guess, spread = self._guess(place, slope, probability)
        search = _Search(self, place, slope, ndtri(probability))
        quick = search.quick(guess, spread)
        return search.careful(guess, spread) if quick is None else quick

    def _guess(
        self, place: FloatArray, slope: FloatArray | None, probability: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Cornish-Fisher start of the search, and the mixture's standard deviation."""
        mean, variance, third = self.hazard.moments()
        centres = mean - place
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


class _Search:
    """One search of `Mixture` for the places (m,) of wanted normal scores (m,)."""

    def __init__(
        self, mixture: Mixture, place: FloatArray, slope: FloatArray | None, wanted: FloatArray
    ) -> None:
        self._hazard, self._weights = mixture.hazard, mixture.weights
        self._place, self._slope, self._wanted = place, slope, wanted
        self._first = self._second = mixture.weights
        if slope is not None:
            self._first = mixture.weights * slope[:, 0]
            self._second = self._first * slope[:, 0]

    def quick(self, guess: FloatArray, spread: FloatArray) -> FloatArray | None:
        """Take bare steps; None where they leave the safe ground or do not settle."""
        for _ in range(_QUICK_STEPS):
            chance, rate, bend = self._look(guess)
            if not (chance.min() > _SAFE and chance.max() < 1.0 - _SAFE):
                return None
            step, _ = self._halley(chance, rate, bend)
            guess = guess - step
            moved = np.abs(step / spread).max()
            if moved <= _TOLERANCE:
                return guess
            if not moved < _FAR:
                return None
        return None

    def careful(self, guess: FloatArray, spread: FloatArray) -> FloatArray:
        """Take the same steps inside a bracket that closes on the answer."""
        low, high = np.full(guess.shape, -np.inf), np.full(guess.shape, np.inf)
        for _ in range(_STEPS):
            chance, rate, bend = self._look(guess)
            chance = np.minimum(np.maximum(chance, _EXTREME), 1.0 - _EXTREME)
            step, error = self._halley(chance, np.maximum(rate, _SMALLEST), bend)
            low, high = np.where(error < 0, guess, low), np.where(error < 0, high, guess)
            # Where the chance is lost in rounding its slope says nothing: walk.
            lost = (chance == _EXTREME) | (chance == 1.0 - _EXTREME)
            step = np.where(lost, np.sign(error) * 2.0 * spread, step)
            following = guess - np.minimum(np.maximum(step, -4.0 * spread), 4.0 * spread)
            outside = (following < low) | (following > high)
            middle = 0.5 * (np.maximum(low, guess - spread) + np.minimum(high, guess + spread))
            following = np.where(outside, middle, following)
            moved = np.abs(following - guess)
            guess = following
            if (moved <= _TOLERANCE * spread).all():
                break
        return guess

    def _look(self, guess: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Chance below the guess, its slope and its curvature, (m,) each."""
        move = guess if self._slope is None else self._slope * guess
        below, density, bend = self._hazard.below_and_density(self._place + move)
        return self._weights @ below, self._first @ density, self._second @ bend

    def _halley(
        self, chance: FloatArray, rate: FloatArray, bend: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        score = ndtri(chance)
        error = score - self._wanted
        normal = np.exp(-0.5 * score * score) * _ROOT
        slope = rate / normal
        newton = error / slope
        curved = 1.0 - 0.5 * newton * (bend / rate + score * slope)
        return newton / np.minimum(np.maximum(curved, 0.5), 2.0), error
