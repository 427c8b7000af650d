"""Given the shape, how is the cumulative hazard distributed? One Gamma per shape.

The hazard at the reference age is ``Gamma(count, rate S(shape))`` whenever every failure age is
known; `headlife.life.intervals` holds the other case. Both answer the same questions for a row of
shapes at once: the mixture's distribution function with its slopes, moments, points for averaging.
Knows no evidence and no prior.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Any, Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammainc, gammaln

FloatArray = NDArray[np.float64]

_LARGEST_EXPONENT: Final = 300.0  # past it all is below; exp of twice as much would not overflow
# What exp gives for less has fewer digits once it is multiplied by weights, and takes ten times as
# long.
_SMALLEST_EXPONENT: Final = -650.0
# From node to node a density is integrated by Gauss-Lobatto's rule: both nodes, and 2, 3 or 4
# points between them (Abramowitz & Stegun, eq. 25.4.32). So many are good to ten digits up to
# these squared steps, in spreads of the hazard.
_POINTS_UP_TO: Final = ((0.19**2, 2), (0.49**2, 3))
_MOST_POINTS: Final = 4
# The log hazard varies over about one over the square root of its count. Where that is small it
# falls off more steeply upwards, as if the count were so much larger.
_STEEPER: Final = 0.8
# A sum over equal steps j of a bell of spread 1 errs by exp(-2 (pi / j) ** 2) (Trefethen and
# Weideman, SIAM Review 56, 2014, section 5); here the bells of the hazard and of the shape.
_FALL: Final = -2.0 * np.pi**2
_OWN_STEP: Final = 0.1  # squared, of the nodes in spreads of the shape's own bell
_ERROR: Final = 1e-10  # of a probability, that nodes too far apart may make
_DENSE: Final = _FALL / math.log(_ERROR) - _OWN_STEP  # squared step that errs by less anywhere
_NOTHING: Final = (
    1e-30  # added to probabilities, whose products then keep their digits and are quick
)
_LEAP: Final = 100.0  # squared step, in spreads of the hazard, that points may leap over


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


class NodeWeights(NamedTuple):
    """Weights of k shapes, of one life (k,) or of many (n, k)."""

    each: FloatArray
    """Weight of each shape [-], summing to 1."""
    beyond: FloatArray
    """Weight of the shapes past each; before the middle one, minus that of those up to it."""

    @classmethod
    def of(cls, weights: FloatArray) -> NodeWeights:
        """Add up weights.

        Parameters
        ----------
        weights : array of float
            Weight of each shape [-], (..., k).

        Returns
        -------
        NodeWeights
            Them and their sums.
        """
        beyond = np.negative(np.add.accumulate(weights, axis=-1))
        beyond[..., beyond.shape[-1] // 2 :] += 1.0
        return cls(weights, beyond)


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

    def chance(self, level: FloatArray, slope: FloatArray, weights: NodeWeights) -> Chance:
        """Probability that the log hazard is below a level, averaged over shapes.

        Parameters
        ----------
        level : array of float
            Log hazard at every shape [-], (..., k); rises with the place at rate ``slope``.
        slope : array of float
            Rate at which the level rises at every shape [-], (..., k) or (..., 1).
        weights : NodeWeights
            Those of the shapes, (..., k).

        Returns
        -------
        Chance
            Arrays (...).
        """

    def below(
        self, level: FloatArray, weights: NodeWeights
    ) -> tuple[FloatArray, NDArray[np.bool_]]:
        """Give the same without slopes: probability below [-], and where nodes are too coarse.

        Parameters
        ----------
        level : array of float
            Log hazards [-].
        weights : NodeWeights
            Those of the shapes, (..., k).

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

    def _at_nodes(self) -> tuple[Any, Any, Any]:
        """Give the count, its log gamma function, and one over a squared spread of the hazard.

        Numbers, or of many lives at every node, (n, k).
        """
        if self.log_rate.ndim > 1:
            return self._of_many
        count = float(self.count[0])
        return count, math.lgamma(count), count + _STEEPER

    @cached_property
    def _of_many(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        # NumPy walks arrays of one shape in one go, others row by row.
        stretch = np.ones(self.log_rate.shape[-1])
        count = self.count * stretch
        return count, gammaln(self.count) * stretch, count + _STEEPER

    def chance(self, level: FloatArray, slope: FloatArray, weights: NodeWeights) -> Chance:
        """As in `Hazard`.

        An incomplete gamma function costs as much as a hundred densities. From one shape to the
        next its argument moves little, so it is taken at the middle shape and the rest is
        integrated from shape to shape, each rise counted by the weights beyond it; where it moves
        too far for that, it is taken at every shape.
        """
        scaled = level + self.log_rate
        np.minimum(scaled, _LARGEST_EXPONENT, out=scaled)
        count, log_gamma, steep = self._at_nodes()
        step = _steps(scaled)
        square = step * step
        square *= steep
        widest = square.item(square.argmax())
        # At every shape and at the points up to the next one, (1 + between, ..., k). A product of a
        # column and a row is quicker than NumPy's multiplication.
        places, sizes, end = _rule(widest)
        points = np.dot(places, step.reshape(1, -1)).reshape(-1, *scaled.shape)
        points += scaled
        values = np.exp(points)
        points *= count
        points -= values
        points -= log_gamma
        np.maximum(points, _SMALLEST_EXPONENT, out=points)
        density = np.exp(points, out=points).reshape(sizes.size, -1)
        rise = sizes.dot(density)
        rise[:-1] += end * density[0, 1:]
        rise = rise.reshape(scaled.shape)
        rise *= step
        value, middle = values[0], scaled.shape[-1] // 2
        below = _summed(rise, weights.beyond)
        below += gammainc(
            count if isinstance(count, float) else count[..., middle], value[..., middle]
        )
        coarse = self._coarse(square, widest, rise, value, weights.beyond)
        if np.count_nonzero(coarse):
            each = np.broadcast_to(self.count, (*coarse.shape, 1))[coarse]
            own = np.broadcast_to(weights.each, value.shape)[coarse]
            below[coarse] = (gammainc(each, value[coarse]) * own).sum(axis=-1)
        # Density, its slope and its curvature, averaged over shapes.
        terms = np.empty((3, *value.shape))
        np.multiply(density[0].reshape(value.shape), slope, out=terms[0])
        rate = count - value
        rate *= slope
        np.multiply(terms[0], rate, out=terms[1])
        rate *= rate
        value *= slope
        value *= slope
        rate -= value
        np.multiply(terms[0], rate, out=terms[2])
        first, second, third = _summed(terms, weights.each)
        return Chance(below, first, second, third, coarse)

    def below(
        self, level: FloatArray, weights: NodeWeights
    ) -> tuple[FloatArray, NDArray[np.bool_]]:
        """As in `Hazard`."""
        scaled = np.minimum(level + self.log_rate, _LARGEST_EXPONENT)
        value = np.exp(scaled)
        each, square = gammainc(self.count, value), _steps(scaled)
        square *= square
        square *= self.count + _STEEPER
        widest = square.item(square.argmax())
        coarse = self._coarse(square, widest, _steps(each), value, weights.beyond)
        each *= weights.each
        return np.add.reduce(each, axis=-1), coarse

    def _coarse(
        self,
        square: FloatArray,
        widest: float,
        rise: FloatArray,
        value: FloatArray,
        beyond: FloatArray,
    ) -> NDArray[np.bool_]:
        """Whether the nodes are too far apart for sums over them, (...).

        ``square`` is the squared step in spreads of the hazard, ``rise`` that of the probability
        over it; both are used up.
        """
        if widest <= _DENSE:
            return np.zeros(square.shape[:-1], bool)
        rise *= beyond
        np.abs(rise, out=rise)
        rise += _NOTHING
        if widest > _LEAP:
            # The points may miss a bell that lies between two shapes.
            past = value > self.count
            over = (past[..., 1:] != past[..., :-1]) & (square[..., :-1] > _LEAP)
            if np.count_nonzero(over):
                rise[..., :-1] += over * np.abs(beyond[..., :-1])
        square += _OWN_STEP
        np.divide(_FALL, square, out=square)
        np.exp(square, out=square)
        square *= rise
        return np.asarray(np.add.reduce(square, axis=-1) > _ERROR)

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


def _rule(widest: float) -> tuple[FloatArray, FloatArray, float]:
    """Places (1 + between, 1) of a node and the points up to the next, and their weights.

    Also the weight of the next node.
    """
    return _lobatto(next((few for most, few in _POINTS_UP_TO if widest <= most), _MOST_POINTS))


@cache
def _lobatto(between: int) -> tuple[FloatArray, FloatArray, float]:
    # The points between are where the slope of a Legendre polynomial is 0.
    last = np.polynomial.legendre.Legendre.basis(between + 1)
    places = np.append(-1.0, last.deriv().roots())
    sizes = 1.0 / ((between + 1) * (between + 2) * last(places) ** 2)
    return 0.5 * (places[:, None] + 1.0), sizes, float(sizes[0])


def _summed(terms: FloatArray, weights: FloatArray) -> FloatArray:
    """Sum of terms (..., k) by weights (k,), or by those of each of the last axis but one."""
    if weights.ndim > 1:
        return np.asarray(np.add.reduce(terms * weights, axis=-1), float)
    summed: FloatArray = terms.reshape(-1, weights.size).dot(weights)
    return summed.reshape(terms.shape[:-1])


def _steps(values: FloatArray) -> FloatArray:
    """From each value to the next, 0 after the last, (..., k)."""
    steps, flat = np.empty(values.shape), values.reshape(-1)
    # Across the ends of the rows too, in one go; those are then set right.
    np.subtract(flat[1:], flat[:-1], out=steps.reshape(-1)[:-1])
    steps[..., -1] = 0.0
    return steps
