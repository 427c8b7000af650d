"""Given the shape, how is the cumulative hazard distributed? One Gamma per shape.

The hazard at the reference age is ``Gamma(count, rate S(shape))`` whenever every failure age is
known; `headlife.life.intervals` holds the other case. Both answer the same questions for a row of
shapes at once: the mixture's distribution function with its slopes, moments, points for averaging.
Knows no evidence and no prior.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
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


@dataclass(frozen=True, eq=False)
class Weights:
    """Weights of k shapes, (..., k), and what is left beyond each.

    Attributes
    ----------
    each
        Weight of each shape [-]; they sum to 1.
    """

    each: FloatArray

    @cached_property
    def beyond(self) -> FloatArray:
        """Weight of the shapes past each; before the middle one, minus that of those up to it."""
        beyond = -np.cumsum(self.each, axis=-1)
        beyond[..., beyond.shape[-1] // 2 :] += 1.0
        return beyond

    def at(self, index: Any) -> Weights:
        """Index all but the last axis.

        Parameters
        ----------
        index : object
            As for an array.

        Returns
        -------
        Weights
            Those of the lives taken.
        """
        taken = Weights(self.each[index])
        taken.__dict__["beyond"] = self.beyond[index]
        return taken


class Hazard(Protocol):
    """Distribution of the log hazard at each of k shapes, of one life (k,) or of many (n, k)."""

    def at(self, index: Any) -> Hazard:
        """Index all but the last axis; one life serves any levels as it is."""

    def chance(self, level: FloatArray, slope: FloatArray, weights: Weights) -> Chance:
        """Probability that the log hazard is below a level, averaged over shapes.

        Parameters
        ----------
        level : array of float
            Log hazard at every shape [-], (..., k); rises with the place at rate ``slope``.
        slope : array of float
            Rate at which the level rises at every shape [-], (..., k) or (..., 1).
        weights : Weights
            Those of the shapes, (..., k).

        Returns
        -------
        Chance
            Arrays (...).
        """

    def below(self, level: FloatArray, weights: Weights) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Give the same without slopes: probability below [-], and where nodes are too coarse."""

    @property
    def moments(self) -> tuple[FloatArray, Any, Any, Any]:
        """Cumulants of the log hazard to begin a search with: about, and only the mean by shape."""

    def points(self, per_shape: int) -> tuple[FloatArray, FloatArray]:
        """Log hazards [-] and weights [-], (k, j), for averaging over one life."""


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

    def chance(self, level: FloatArray, slope: FloatArray, weights: Weights) -> Chance:
        """As in `Hazard`."""
        below, coarse, value, density = self._swept(level, weights)
        # Density, slope and curvature at every shape: times weight and powers of the slope.
        terms = np.empty((3, *value.shape))
        np.multiply(density, weights.each * slope, out=terms[0])
        rate = (self.count - value) * slope
        np.multiply(terms[0], rate, out=terms[1])
        np.multiply(terms[1], rate, out=terms[2])
        value = value * (slope * slope)
        value *= terms[0]
        terms[2] -= value
        first, second, third = np.add.reduce(terms, axis=-1)
        return Chance(below, first, second, third, coarse)

    def below(self, level: FloatArray, weights: Weights) -> tuple[FloatArray, NDArray[np.bool_]]:
        """As in `Hazard`."""
        below, coarse, _, _ = self._swept(level, weights)
        return below, coarse

    def _swept(
        self, level: FloatArray, weights: Weights
    ) -> tuple[FloatArray, NDArray[np.bool_], FloatArray, FloatArray]:
        """Probability below, averaged over shapes; whether coarse; value and density at each.

        An incomplete gamma function costs as much as a hundred densities. From one shape to the
        next its argument moves little, so it is taken at one shape and the rest is integrated
        from shape to shape, each rise counted by the weights beyond it; where it moves too far
        for that, it is taken at every shape.
        """
        scaled = np.minimum(
            np.maximum(level + self.log_rate, _SMALLEST_EXPONENT), _LARGEST_EXPONENT
        )
        step = np.zeros(scaled.shape)
        np.subtract(scaled[..., 1:], scaled[..., :-1], out=step[..., :-1])
        # The points' axis first: loops over the shapes are long, those over points would be short.
        points = _PLACES.reshape(6, *[1] * scaled.ndim) * step
        points += scaled
        values = np.exp(points)
        points *= self.count
        points -= values
        points -= self._log_gamma
        np.maximum(points, _SMALLEST_EXPONENT, out=points)
        density = np.exp(points, out=points)
        value, middle = values[0], scaled.shape[-1] // 2
        rise = (_PLACE_WEIGHTS @ density.reshape(6, -1)).reshape(scaled.shape)
        rise *= step
        rise *= weights.beyond
        below = np.add.reduce(rise, axis=-1)
        below += gammainc(self.count[..., 0], value[..., middle])
        step *= step
        step *= self.count
        off = np.exp(_FALL / (step + _OWN_STEP))
        off *= np.abs(rise)
        if step.max() > _LEAP:
            # Five points may miss a bell that lies between two shapes.
            over = np.diff(value > self.count, axis=-1) & (step[..., :-1] > _LEAP)
            off[..., :-1] += over * np.abs(weights.beyond[..., :-1])
        wide = np.add.reduce(off, axis=-1) > _ERROR
        if wide.any():
            each = np.broadcast_to(self.count, (*wide.shape, 1))[wide]
            own = np.broadcast_to(weights.each, value.shape)[wide]
            below[wide] = (gammainc(each, value[wide]) * own).sum(axis=-1)
        return below, wide, value, density[0]

    @cached_property
    def _log_gamma(self) -> FloatArray:
        return np.asarray(gammaln(self.count), float)

    @cached_property
    def moments(self) -> tuple[FloatArray, Any, Any, Any]:
        """As in `Hazard`.

        Digamma and polygamma functions by the first terms of their asymptotic series (DLMF
        5.11.2 and 5.15.8): close enough for any count above a half.
        """
        count: Any = float(self.count[0]) if self.count.ndim == 1 else self.count
        part = 1.0 / count
        mean = (np.log(count) - part * (0.5 + part / 12.0)) - self.log_rate
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
