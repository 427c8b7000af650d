"""Given the shape, how is the cumulative hazard distributed? One Gamma per shape.

The hazard at the reference age is ``Gamma(count, rate S(shape))`` whenever every failure age is
known; `headlife.life.intervals` holds the other case. Both answer the same four questions for a
row of shapes at once: distribution function, moments, points for averaging, draws.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.special import digamma, gammainc, gammaln, zeta

FloatArray = NDArray[np.float64]

_LARGEST_EXPONENT = 700.0  # exp of more overflows


@dataclass(frozen=True, eq=False)
class GammaHazard:
    """Gamma distributed hazard at each of k shapes.

    Attributes
    ----------
    count
        Shape [-] of the Gamma: failures plus started failures, the same at every node.
    log_rate
        Log rate of the Gamma at each node [-], (k,).
    """

    count: float
    log_rate: FloatArray

    @cached_property
    def _log_gamma(self) -> float:
        return float(gammaln(self.count))

    @cached_property
    def _moments(self) -> tuple[FloatArray, float, float]:
        # polygamma of orders 1 and 2, by the Hurwitz zeta function (DLMF 25.11.12)
        variance, third = zeta(2.0, self.count), -2.0 * zeta(3.0, self.count)
        mean = digamma(self.count) - self.log_rate
        return mean[:, None], float(variance), float(third)

    def below(self, log_level: FloatArray) -> FloatArray:
        """Probability [-] that the log hazard is below ``log_level`` (k, m).

        Parameters
        ----------
        log_level : array of float
            Log hazards [-] at each of k shapes, (k, m).

        Returns
        -------
        array of float
            Probabilities [-], (k, m).
        """
        scaled = np.exp(np.minimum(log_level + self.log_rate[:, None], _LARGEST_EXPONENT))
        return np.asarray(gammainc(self.count, scaled), float)

    def below_and_density(self, log_level: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Probability below ``log_level`` (k, m), density of the log hazard there, its slope.

        Parameters
        ----------
        log_level : array of float
            Log hazards [-] at each of k shapes, (k, m).

        Returns
        -------
        tuple of array of float
            Probability [-] below each, density there and slope of the density, (k, m) each.
        """
        scaled = np.minimum(log_level + self.log_rate[:, None], _LARGEST_EXPONENT)
        value = np.exp(scaled)
        density = np.exp(self.count * scaled - value - self._log_gamma)
        return gammainc(self.count, value), density, density * (self.count - value)

    def moments(self) -> tuple[FloatArray, float, float]:
        """Mean of the log hazard at each node (k, 1), and its variance and third moment."""
        return self._moments

    def points(self, per_shape: int) -> tuple[FloatArray, FloatArray]:
        """Log hazards (k, per_shape) and weights (k, per_shape) summing to 1 at each node.

        Gauss-Laguerre points of the Gamma density by its Jacobi matrix (Golub & Welsch, Math.
        Comp. 23, 1969): exact for polynomials in the hazard up to degree 2 per_shape - 1.

        Parameters
        ----------
        per_shape : int
            Points at each shape.

        Returns
        -------
        tuple of array of float
            Log hazards [-] and weights [-], (k, per_shape) each.
        """
        order = np.arange(per_shape)
        side = np.sqrt(order[1:] * (order[1:] + self.count - 1.0))
        jacobi = np.diag(2.0 * order + self.count) + np.diag(side, 1) + np.diag(side, -1)
        places, vectors = np.linalg.eigh(jacobi)
        log_hazard = np.log(places)[None, :] - self.log_rate[:, None]
        return log_hazard, np.broadcast_to(vectors[0] ** 2, log_hazard.shape)
