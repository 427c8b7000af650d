"""Given the shape, how is the cumulative hazard distributed? One Gamma per shape.

The hazard at the reference age is ``Gamma(count, rate S(shape))`` whenever every failure age is
known; `headlife.life.intervals` holds the other case. Both answer the same questions for a row of
shapes at once: the mixture's distribution function with its slopes, moments, points for averaging.
Knows no evidence and no prior.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainc, gammaln

FloatArray = NDArray[np.float64]

_LARGEST_EXPONENT: Final = 300.0  # past it all is below; exp of twice as much would not overflow
_SMALLEST_EXPONENT: Final = -700.0  # exp of less has fewer digits, and takes twenty times as long
# Five Gauss-Legendre points between two nodes, and the node itself, which the integral leaves out.
_POINTS, _POINT_WEIGHTS = np.polynomial.legendre.leggauss(5)
_PLACES: Final = np.append(0.0, 0.5 * (_POINTS + 1.0))
_PLACE_WEIGHTS: Final = np.append(0.0, 0.5 * _POINT_WEIGHTS)
# A sum over equal steps j of a bell of spread 1 errs by exp(-2 (pi / j) ** 2) (Trefethen and
# Weideman, SIAM Review 56, 2014, section 5); here the bells of the hazard and of the shape.
_FALL: Final = -2.0 * np.pi**2
_OWN_STEP: Final = 0.1  # squared, of the nodes in spreads of the shape's own bell
_ERROR: Final = 1e-10  # of a probability, that nodes too far apart may make
_DENSE: Final = _FALL / math.log(_ERROR) - _OWN_STEP  # squared step that errs by less anywhere
_LEAP: Final = 9.0  # squared step, in spreads of the hazard


class Chance(NamedTuple):
    """A distribution function of the mixture at some places, and its three slopes there."""

    below: FloatArray
    """Probability below [-]."""
    first: FloatArray
    """Density."""
    second: FloatArray
    """Slope of the density."""
    third: FloatArray
    """Curvature of the density."""
    coarse: NDArray[np.bool_]
    """Whether the nodes are too far apart for sums over them to be good to ten digits."""


class Hazard(Protocol):
    """Distribution of the log hazard at each of k shapes, of one life (k,) or of many (n, k)."""

    def at(self, index: Any) -> Hazard:
        """Index all but the last axis; one life serves any levels as it is.

        Parameters
        ----------
        index : index
            Which lives.

        Returns
        -------
        Hazard
            Those lives.
        """

    def chance(self, level: FloatArray, slope: FloatArray, weights: FloatArray) -> Chance:
        """Probability that the log hazard is below a level, averaged over shapes.

        Parameters
        ----------
        level : array of float
            Log hazard at every shape [-], (..., k); rises with the place at rate ``slope``.
        slope : array of float
            Rate at which the level rises at every shape [-], (..., k) or (..., 1).
        weights : array of float
            Those of the shapes [-], summing to 1, (..., k).

        Returns
        -------
        Chance
            Arrays (...).
        """

    def below(self, level: FloatArray, weights: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Give the same without slopes: probability below [-], and where nodes are too coarse.

        Parameters
        ----------
        level : array of float
            Log hazards [-].
        weights : array of float
            Weight of each node [-], summing to 1, (..., k).

        Returns
        -------
        tuple of arrays
            Probabilities [-], and true where nodes are too coarse.
        """

    @property
    def moments(self) -> tuple[FloatArray, Any, Any, Any]:
        """Cumulants of the log hazard to begin a search with: about, and only the mean by shape."""

    def points(self, per_shape: int) -> tuple[FloatArray, FloatArray]:
        """Log hazards [-] and weights [-], (k, j), for averaging over one life.

        Parameters
        ----------
        per_shape : int
            Points at each shape.

        Returns
        -------
        tuple of arrays of float
            Log hazards and weights, (k, j) each.
        """


@dataclass(frozen=True, eq=False)
class GammaHazard:
    """Gamma distributed hazard at each of k shapes.

    Attributes
    ----------
    count
        Shape [-] of the Gamma: failures plus started failures, (..., 1), the same at every node.
    log_rate
        Log rate of the Gamma at each node [-], (..., k).
    """

    count: FloatArray
    log_rate: FloatArray

    def at(self, index: Any) -> GammaHazard:
        """As in `Hazard`."""
        if self.log_rate.ndim == 1:
            return self
        return GammaHazard(self.count[index], self.log_rate[index])

    def chance(self, level: FloatArray, slope: FloatArray, weights: FloatArray) -> Chance:
        """As in `Hazard`.

        An incomplete gamma function costs as much as a hundred densities. From one shape to the
        next its argument moves little, so it is taken at the middle shape and the rest is
        integrated from shape to shape, each rise counted by the weights beyond it; where it moves
        too far for that, it is taken at every shape.
        """
        scaled = level + self.log_rate
        np.minimum(scaled, _LARGEST_EXPONENT, out=scaled)
        step = np.zeros(scaled.shape)
        np.subtract(scaled[..., 1:], scaled[..., :-1], out=step[..., :-1])
        # At every shape and at the points up to the next one, (6, ..., k): the points' axis first,
        # so that loops over the shapes are long and those over the points are not short.
        points = _PLACES.reshape(6, *[1] * scaled.ndim) * step
        points += scaled
        values = np.exp(points)
        points *= self.count
        points -= values
        points -= gammaln(self.count)
        np.maximum(points, _SMALLEST_EXPONENT, out=points)
        density = np.exp(points, out=points)
        value, beyond = values[0], _beyond(weights)
        rise = (_PLACE_WEIGHTS @ density.reshape(6, -1)).reshape(scaled.shape)
        rise *= step
        rise *= beyond
        below = np.add.reduce(rise, axis=-1)
        below += gammainc(self.count[..., 0], value[..., value.shape[-1] // 2])
        np.abs(rise, out=rise)
        coarse = self._coarse(step, rise, value, beyond)
        if np.count_nonzero(coarse):
            count = np.broadcast_to(self.count, (*coarse.shape, 1))[coarse]
            own = np.broadcast_to(weights, value.shape)[coarse]
            below[coarse] = (gammainc(count, value[coarse]) * own).sum(axis=-1)
        first, second, third = self._slopes(density[0], value, slope, weights)
        return Chance(below, first, second, third, coarse)

    def _slopes(
        self, density: FloatArray, value: FloatArray, slope: FloatArray, weights: FloatArray
    ) -> FloatArray:
        """Density, its slope and its curvature, averaged over shapes, (3, ...)."""
        terms = np.empty((3, *value.shape))
        np.multiply(density, slope * weights, out=terms[0])
        rate = self.count - value
        rate *= slope
        np.multiply(terms[0], rate, out=terms[1])
        bend = value * slope
        bend *= slope
        rate *= rate
        rate -= bend
        np.multiply(terms[0], rate, out=terms[2])
        return np.asarray(np.add.reduce(terms, axis=-1), float)

    def below(self, level: FloatArray, weights: FloatArray) -> tuple[FloatArray, NDArray[np.bool_]]:
        """As in `Hazard`."""
        scaled = np.minimum(level + self.log_rate, _LARGEST_EXPONENT)
        value = np.exp(scaled)
        each, step = gammainc(self.count, value), np.zeros(scaled.shape)
        rise, beyond = np.zeros(scaled.shape), _beyond(weights)
        np.subtract(scaled[..., 1:], scaled[..., :-1], out=step[..., :-1])
        np.subtract(each[..., 1:], each[..., :-1], out=rise[..., :-1])
        rise *= beyond
        each *= weights
        return np.add.reduce(each, axis=-1), self._coarse(step, np.abs(rise), value, beyond)

    def _coarse(
        self, step: FloatArray, rise: FloatArray, value: FloatArray, beyond: FloatArray
    ) -> NDArray[np.bool_]:
        """Whether the nodes are too far apart for sums over them, (...)."""
        step = step * step
        step *= self.count
        if not np.count_nonzero(step > _DENSE):
            return np.zeros(step.shape[:-1], bool)
        if np.maximum.reduce(step, axis=None) > _LEAP:
            # Five points may miss a bell that lies between two shapes.
            past = value > self.count
            over = (past[..., 1:] != past[..., :-1]) & (step[..., :-1] > _LEAP)
            if np.count_nonzero(over):
                rise[..., :-1] += over * np.abs(beyond[..., :-1])
        step += _OWN_STEP
        np.divide(_FALL, step, out=step)
        np.exp(step, out=step)
        step *= rise
        return np.asarray(np.add.reduce(step, axis=-1) > _ERROR)

    @property
    def moments(self) -> tuple[FloatArray, Any, Any, Any]:
        """As in `Hazard`.

        Digamma and polygamma functions by the first terms of their asymptotic series (DLMF
        5.11.2 and 5.15.8): close enough for any count above a half.
        """
        one = self.count.ndim == 1
        count: Any = float(self.count[0]) if one else self.count
        part, log = 1.0 / count, math.log if one else np.log
        mean = (log(count) - part * (0.5 + part / 12.0)) - self.log_rate
        square = part * part
        variance = part * (1.0 + part * (0.5 + part / 6.0))
        return mean, variance, -square * (1.0 + part), square * part * (2.0 + 3.0 * part)

    def points(self, per_shape: int) -> tuple[FloatArray, FloatArray]:
        """As in `Hazard`.

        Gauss-Laguerre points of the Gamma density by its Jacobi matrix (Golub & Welsch, Math.
        Comp. 23, 1969): exact for polynomials in the hazard up to degree 2 per_shape - 1.
        """
        order = np.arange(per_shape)
        side = np.sqrt(order[1:] * (order[1:] + self.count - 1.0))
        jacobi = np.diag(2.0 * order + self.count) + np.diag(side, 1) + np.diag(side, -1)
        places, vectors = np.linalg.eigh(jacobi)
        log_hazard = np.log(places)[None, :] - self.log_rate[:, None]
        return log_hazard, np.broadcast_to(vectors[0] ** 2, log_hazard.shape)


def _beyond(weights: FloatArray) -> FloatArray:
    """Weight of the shapes past each; before the middle one, minus that of those up to it."""
    beyond = np.negative(np.add.accumulate(weights, axis=-1))
    beyond[..., beyond.shape[-1] // 2 :] += 1.0
    return beyond
