"""The posterior as numbers: weighted shapes, each with a Gamma distributed hazard.

With prior ``hazard ** (half - 1)`` the hazard at the reference age, given the shape, is
``Gamma(failures + half, rate S(shape))``; integrating it out leaves the shape's own density
``prior * shape**failures * exp(shape * log_sum) * S(shape) ** -(failures + half)``. This module
places nodes where that density lives and answers quantiles, probabilities and draws from it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import digamma, gammainc, gammaincinv, gammaln, polygamma

from headlife.life.evidence import SHAPE_RANGE, Evidence, chebyshev_basis
from headlife.life.prior import HALF_FAILURE, SHAPE_POWER, ShapePrior

FloatArray = NDArray[np.float64]

_LOW, _HIGH = (float(v) for v in np.log(SHAPE_RANGE))
_LOOK: Final = 96  # points of each look for where the density lives
_LOOK_UNIT: Final = np.linspace(0.0, 1.0, _LOOK)
_FIRST_BASIS: Final = chebyshev_basis(_LOW + (_HIGH - _LOW) * _LOOK_UNIT)
_ENOUGH: Final = 16  # points a look must find inside before its ends are trusted
_DEPTH: Final = 34.0  # log density below the peak that counts as nothing (1.7e-15)
_GAUSS_PLACES, _GAUSS_WEIGHTS = np.polynomial.legendre.leggauss(48)
_DRAW_GRID: Final = np.linspace(0.0, 1.0, 513)
_STEPS: Final = 80  # of the safeguarded Newton search; it needs about six
_TOLERANCE: Final = 1e-12


@dataclass(frozen=True, eq=False)
class Mixture:
    """Posterior nodes of one life.

    Attributes
    ----------
    reference_hours
        Age [h] at which the hazard is stated.
    gamma_shape
        Shape [-] of the hazard's Gamma distribution, the same at every node.
    shapes
        Weibull shapes [-] of the nodes, ascending, (k,).
    log_rate
        Log rate of the Gamma at each node [-], (k,).
    weights
        Posterior weight of each node [-], summing to 1, (k,).
    ends
        Log shapes between which the posterior lives.
    evidence, shape_prior
        What it was made from; used to draw between the nodes.
    """

    reference_hours: float
    gamma_shape: float
    shapes: FloatArray
    log_rate: FloatArray
    weights: FloatArray
    ends: tuple[float, float]
    evidence: Evidence
    shape_prior: ShapePrior | None

    def cumulative_hazard(self, hours: ArrayLike, probability: float) -> FloatArray:
        """Posterior quantile of the cumulative hazard [-] at ages ``hours`` [h]."""
        age = np.asarray(hours, float)
        flat = age.ravel()
        value = np.zeros(flat.shape)
        some = flat > 0
        if some.any():
            offset = self._power_of(flat[some])
            value[some] = np.exp(self._solve(offset, np.ones_like(self.shapes), probability))
        return value.reshape(age.shape)

    def life(self, fraction_failed: ArrayLike, probability: float) -> FloatArray:
        """Posterior quantile of the age [h] by which a fraction [-] of heads has failed."""
        fraction = np.asarray(fraction_failed, float)
        log_target = np.log(-np.log1p(-fraction)).ravel()
        # life <= t exactly where the hazard is at least target * (reference/t) ** shape
        offset = np.broadcast_to(log_target, (len(self.shapes), log_target.size))
        minus_log_age = self._solve(offset, self.shapes, 1.0 - probability)
        return (self.reference_hours * np.exp(-minus_log_age)).reshape(fraction.shape)

    def probability_hazard_below(self, hours: ArrayLike, level: ArrayLike) -> FloatArray:
        """Posterior probability [-] that the cumulative hazard at ``hours`` is below ``level``."""
        age, limit = np.broadcast_arrays(np.asarray(hours, float), np.asarray(level, float))
        with np.errstate(divide="ignore"):
            log_level = np.log(limit.ravel()) + self._power_of(age.ravel())
            scaled = np.exp(log_level + self.log_rate[:, None])
        chance = self.weights @ gammainc(self.gamma_shape, scaled)
        return np.asarray(chance, float).reshape(age.shape)

    def probability_log_hazard_below(self, limits: FloatArray) -> float:
        """Posterior probability [-] that the log hazard lies below a limit given per node."""
        return float(self.weights @ gammainc(self.gamma_shape, np.exp(limits + self.log_rate)))

    def shape_quantile(self, probability: FloatArray) -> FloatArray:
        """Posterior quantiles of the shape [-]."""
        log_shape, below = self._shape_distribution()
        return np.asarray(np.exp(np.interp(probability, below, log_shape)), float)

    def draw(self, n: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Draw ``n`` pairs (shape [-], scale [h])."""
        log_shape, below = self._shape_distribution()
        drawn = np.interp(rng.random(n), below, log_shape)
        log_rate = np.interp(drawn, log_shape, self._log_rate_at(log_shape))
        shape = np.exp(drawn)
        log_hazard = np.log(rng.gamma(self.gamma_shape, size=n)) - log_rate
        return shape, self.reference_hours * np.exp(-log_hazard / shape)

    def nodes(self, per_shape: int) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Weighted points: shape [-], scale [h], weight [-], each (k * per_shape,)."""
        places, weights = np.polynomial.legendre.leggauss(per_shape)
        levels = np.log(gammaincinv(self.gamma_shape, 0.5 * (places + 1.0)))
        log_hazard = levels[None, :] - self.log_rate[:, None]
        scale = self.reference_hours * np.exp(-log_hazard / self.shapes[:, None])
        weight = self.weights[:, None] * (0.5 * weights)[None, :]
        shape = np.broadcast_to(self.shapes[:, None], scale.shape)
        return shape.ravel().copy(), scale.ravel(), weight.ravel()

    def _power_of(self, hours: FloatArray) -> FloatArray:
        """Log of (reference/hours) ** shape, per node and age, (k, m)."""
        with np.errstate(divide="ignore"):
            return np.asarray(
                -self.shapes[:, None] * np.log(hours / self.reference_hours)[None, :], float
            )

    def _log_rate_at(self, log_shape: FloatArray) -> FloatArray:
        return np.asarray(chebyshev_basis(log_shape) @ self.evidence.log_curve, float)

    def _shape_distribution(self) -> tuple[FloatArray, FloatArray]:
        """Grid of log shapes and the posterior probability below each."""
        low, high = self.ends
        grid = low + (high - low) * _DRAW_GRID
        if low == high:
            return np.array([low, low]), np.array([0.0, 1.0])
        curve = self._log_rate_at(grid)
        height = _log_density(self.evidence, self.shape_prior, grid, curve)
        density = np.exp(height - height.max())
        below = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]))])
        return grid, below / below[-1]

    def _solve(self, offset: FloatArray, slope: FloatArray, probability: float) -> FloatArray:
        """Find s with mean over nodes of P(log hazard <= offset + slope * s) = probability.

        Newton steps on the mixture's own distribution function, kept inside a bracket; offset
        (k, m), slope (k,), result (m,).
        """
        place = offset + self.log_rate[:, None]
        mean, spread = _log_gamma_moments(self.gamma_shape)
        centre = self.weights @ ((mean - place) / slope[:, None])
        reach = 8.0 + 60.0 * spread + np.ptp((mean - place) / slope[:, None], axis=0)
        low, high = centre - reach / slope.min(), centre + reach / slope.min()
        guess = centre
        for _ in range(_STEPS):
            scaled = place + slope[:, None] * guess
            below, density = _log_gamma(self.gamma_shape, scaled)
            error = self.weights @ below - probability
            rate = (self.weights * slope) @ density
            low, high = np.where(error < 0, guess, low), np.where(error < 0, high, guess)
            with np.errstate(divide="ignore", invalid="ignore"):
                step = guess - error / rate
            inside = (step > low) & (step < high)
            following = np.where(inside, step, 0.5 * (low + high))
            moved = np.abs(following - guess)
            guess = following
            if (moved <= _TOLERANCE * (1.0 + np.abs(guess))).all():
                break
        return np.asarray(guess, float)


def gamma_mixture(evidence: Evidence, shape_prior: ShapePrior | None) -> Mixture:
    """Place the posterior's nodes for evidence with exposure."""
    gamma_shape = evidence.failures + HALF_FAILURE
    if shape_prior is not None and shape_prior.fixed:
        log_shape = np.array([np.log(shape_prior.median)])
        weights, ends = np.ones(1), (float(log_shape[0]),) * 2
        log_rate = chebyshev_basis(log_shape) @ evidence.log_curve
    else:
        low, high = _where_density_lives(evidence, shape_prior)
        log_shape = 0.5 * (low + high) + 0.5 * (high - low) * _GAUSS_PLACES
        log_rate = chebyshev_basis(log_shape) @ evidence.log_curve
        height = _log_density(evidence, shape_prior, log_shape, log_rate)
        weights = np.exp(height - height.max()) * _GAUSS_WEIGHTS
        weights, ends = weights / weights.sum(), (low, high)
    return Mixture(
        reference_hours=evidence.reference_hours,
        gamma_shape=gamma_shape,
        shapes=np.exp(log_shape),
        log_rate=np.asarray(log_rate, float),
        weights=weights,
        ends=ends,
        evidence=evidence,
        shape_prior=shape_prior,
    )


def _log_density(
    evidence: Evidence,
    shape_prior: ShapePrior | None,
    log_shape: FloatArray,
    log_curve: FloatArray,
) -> FloatArray:
    """Log posterior density of the log shape, up to a constant."""
    likelihood = (
        evidence.failures * log_shape
        + evidence.log_sum * np.exp(log_shape)
        - (evidence.failures + HALF_FAILURE) * log_curve
    )
    if shape_prior is None:
        return np.asarray(likelihood + SHAPE_POWER * log_shape, float)
    return np.asarray(likelihood + shape_prior.log_density(log_shape), float)


def _where_density_lives(evidence: Evidence, shape_prior: ShapePrior | None) -> tuple[float, float]:
    """Find the ends of the log shapes that matter, by looking ever closer around the peak."""
    low, high, basis = _LOW, _HIGH, _FIRST_BASIS
    while True:
        grid = low + (high - low) * _LOOK_UNIT
        height = _log_density(evidence, shape_prior, grid, basis @ evidence.log_curve)
        inside = np.flatnonzero(height > height.max() - _DEPTH)
        first, last = max(int(inside[0]) - 1, 0), min(int(inside[-1]) + 1, _LOOK - 1)
        low, high = float(grid[first]), float(grid[last])
        if len(inside) >= _ENOUGH:
            return low, high
        basis = chebyshev_basis(low + (high - low) * _LOOK_UNIT)


def _log_gamma(gamma_shape: float, log_value: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distribution and density of the logarithm of a Gamma(gamma_shape, 1) variable."""
    with np.errstate(over="ignore"):
        value = np.exp(np.minimum(log_value, 700.0))
    density = np.exp(gamma_shape * log_value - value - gammaln(gamma_shape))
    return gammainc(gamma_shape, value), density


def _log_gamma_moments(gamma_shape: float) -> tuple[float, float]:
    return float(digamma(gamma_shape)), float(np.sqrt(polygamma(1, gamma_shape)))
