"""From evidence and prior to the posterior: at which shapes, with which weights?

With the hazard integrated out, the shape's own density is ``prior * shape ** failures *
exp(shape * log_sum) * S(shape) ** -failures``. The nodes are equal steps of the log shape: for a
bell that dies out at both ends that sum errs by less than any power of the step (Trefethen &
Weideman, SIAM Review 56, 2014, section 5). Where the density runs into an end of the shape range
they are Gauss-Legendre nodes. Draws come from the same density on a finer grid.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from headlife.life import intervals as between
from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import LOG_SHAPE_LIMITS, chebyshev_basis
from headlife.life.hazard import GammaHazard
from headlife.life.mixture import Hazard, Mixture
from headlife.life.prior import PriorName, ShapePrior, prior_powers

FloatArray = NDArray[np.float64]
# log shape, shape, log exposure curve there -> log density
LogDensity = Callable[[FloatArray, FloatArray, FloatArray], FloatArray]

_LOW, _HIGH = LOG_SHAPE_LIMITS
_GRID: Final = np.linspace(_LOW, _HIGH, 2049)
_GRID_SHAPES: Final = np.exp(_GRID)
_FIRST_STRIDE: Final = 16
_ENOUGH: Final = 40  # nodes inside the bell: its width is then resolved several times over
_PLENTY: Final = 80  # from here every second node will do
_AIM: Final = 56  # nodes the next, closer look aims at
_DEPTH: Final = 28.0  # log density below the peak that counts as nothing (7e-13)
_GAUSS_PLACES, _GAUSS_WEIGHTS = np.polynomial.legendre.leggauss(96)
_WHOLE: Final = 0.5 * (_LOW + _HIGH) + 0.5 * (_HIGH - _LOW) * _GAUSS_PLACES
_WHOLE_SHAPES: Final = np.exp(_WHOLE)
_WIDE: Final = 1.5  # width of log shapes from which the Gauss nodes of the whole range are dense
_DRAW_GRID: Final = np.linspace(0.0, 1.0, 513)


@dataclass(frozen=True, eq=False)
class ShapeNodes:
    """Where the shape's posterior lives.

    Attributes
    ----------
    log_shape, shape
        The nodes [-], ascending, (k,).
    log_curve
        Log exposure at each node [-], (k,).
    weights
        Posterior weight of each node [-], summing to 1, (k,).
    """

    log_shape: FloatArray
    shape: FloatArray
    log_curve: FloatArray
    weights: FloatArray


@dataclass(frozen=True, eq=False)
class Posterior:
    """The posterior of one life: a mixture for exact answers and a fine grid for draws.

    Attributes
    ----------
    mixture
        Weighted shapes with a hazard distribution each.
    evidence
        What it was learned from.
    count
        Failures and started failures [heads]: the Gamma shape of the hazard.
    log_density
        Log density of the log shape.
    """

    mixture: Mixture
    evidence: Evidence
    count: float
    log_density: LogDensity

    def shape_quantile(self, probability: FloatArray) -> FloatArray:
        """Posterior quantiles of the shape [-].

        Parameters
        ----------
        probability : array of float
            Probability [-] of a smaller shape, (n,).

        Returns
        -------
        array of float
            Shapes [-], (n,).
        """
        grid, below, _ = self._shape_distribution()
        return np.asarray(np.exp(np.interp(probability, below, grid)), float)

    def draw(self, n: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Draw ``n`` pairs (shape [-], scale [h]).

        Parameters
        ----------
        n : int
            How many pairs.
        rng : numpy.random.Generator
            Source of the random numbers.

        Returns
        -------
        tuple of array of float
            Shapes [-] and scales [h], (n,) each.
        """
        grid, below, log_curve = self._shape_distribution()
        log_shape = np.interp(rng.random(n), below, grid)
        if len(self.evidence.intervals):
            log_hazard = between.draw(self.evidence, self.count, grid, log_shape, rng)
        else:
            log_rate = np.interp(log_shape, grid, log_curve)
            log_hazard = np.log(rng.gamma(self.count, size=n)) - log_rate
        shape = np.exp(log_shape)
        return shape, self.evidence.reference_hours * np.exp(-log_hazard / shape)

    def _shape_distribution(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Grid of log shapes, posterior probability below each, log exposure at each."""
        shapes = self.mixture.shapes
        curve = self.evidence.log_curve
        if len(shapes) == 1:
            log_shape = np.log(shapes[[0, 0]])
            return log_shape, np.array([0.0, 1.0]), chebyshev_basis(log_shape, curve.size) @ curve
        # The nodes end where the density does, or next to an end of the shape range.
        step = np.log(shapes[[1, -1]] / shapes[[0, -2]])
        low = max(float(np.log(shapes[0]) - step[0]), _LOW)
        high = min(float(np.log(shapes[-1]) + step[1]), _HIGH)
        grid = low + (high - low) * _DRAW_GRID
        log_curve = np.asarray(chebyshev_basis(grid, curve.size) @ curve, float)
        height = self.log_density(grid, np.exp(grid), log_curve)
        density = np.exp(height - height.max())
        below = np.concatenate([[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]))])
        return grid, below / below[-1], log_curve


def learn(
    evidence: Evidence,
    shape_prior: ShapePrior | None,
    prior: PriorName,
    companions: Sequence[Evidence] = (),
) -> Posterior:
    """Work out the posterior of evidence that holds exposure.

    ``companions`` are strata that share the shape: their likelihoods of it multiply.

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    shape_prior : ShapePrior or None
        A shape that the shop states; None learns it.
    prior : PriorName
        Which prior; see `prior_powers`.
    companions : sequence of Evidence, optional
        Evidence of other strata that share the shape.

    Returns
    -------
    Posterior
        The posterior.
    """
    started, _ = prior_powers(evidence.all_failures, prior)
    failures = evidence.all_failures + sum(other.all_failures for other in companions)
    _, power = prior_powers(failures, prior)

    def log_density(log_shape: FloatArray, shape: FloatArray, log_curve: FloatArray) -> FloatArray:
        height = shape_likelihood(evidence, started, log_shape, shape, log_curve)
        if companions:
            for other in companions:
                begun, _ = prior_powers(other.all_failures, prior)
                basis = chebyshev_basis(log_shape, other.log_curve.size)
                curve = np.asarray(basis @ other.log_curve, float)
                height = height + shape_likelihood(other, begun, log_shape, shape, curve)
        if shape_prior is None:
            return height + power * log_shape
        return height + shape_prior.log_density(log_shape)

    count = evidence.failures + started
    if shape_prior is not None and shape_prior.fixed:
        nodes = _single(shape_prior.median, evidence.log_curve)
    else:
        nodes = place(log_density, evidence.log_curve)
    hazard: Hazard
    if len(evidence.intervals):
        hazard = between.hazard_at(evidence, count, nodes.log_shape, nodes.log_curve)
    else:
        hazard = GammaHazard(count, nodes.log_curve)
    mixture = Mixture(evidence.reference_hours, nodes.shape, nodes.weights, hazard)
    return Posterior(mixture, evidence, count, log_density)


def shape_likelihood(
    evidence: Evidence,
    started: float,
    log_shape: FloatArray,
    shape: FloatArray,
    log_curve: FloatArray,
) -> FloatArray:
    """Log-likelihood of the shape with the hazard integrated out, constant left out.

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    started : float
        Failures that the hazard's prior starts with [heads].
    log_shape, shape : array of float
        Log shapes and shapes [-], (k,).
    log_curve : array of float
        Log exposure at each shape, (k,).

    Returns
    -------
    array of float
        Log-likelihood, (k,).
    """
    failures = evidence.failures
    height = failures * (log_shape - log_curve) + evidence.log_sum * shape
    if len(evidence.intervals):
        height = height + between.log_factor(evidence, started, log_shape, log_curve)
    return height


def place(log_density: LogDensity, curve: FloatArray) -> ShapeNodes:
    """Nodes of a log density over the shape range; ``curve`` as in `Evidence.log_curve`.

    Parameters
    ----------
    log_density : LogDensity
        Log density of the log shape, from log shapes, shapes and log exposure there.
    curve : array of float
        Log exposure at the nodes of the evidence.

    Returns
    -------
    ShapeNodes
        Nodes and weights where the density counts.
    """
    grid_basis, first_basis, _ = _bases(curve.size)
    start, stop, stride = 0, len(_GRID) - 1, _FIRST_STRIDE
    while True:
        look = slice(start, stop + 1, stride)
        basis = first_basis if stride == _FIRST_STRIDE else grid_basis[look]
        log_shape, shape, log_curve = _GRID[look], _GRID_SHAPES[look], basis @ curve
        height = log_density(log_shape, shape, log_curve)
        height = height - height.max()
        inside = np.flatnonzero(height > -_DEPTH)
        first, last = int(inside[0]), int(inside[-1])
        low, high = start + (first - 1) * stride, start + (last + 1) * stride
        if low < 0 or high >= len(_GRID):
            ends = float(_GRID[max(low, 0)]), float(_GRID[min(high, len(_GRID) - 1)])
            return _gauss(log_density, curve, *ends)
        count = last - first + 1
        if count >= _ENOUGH:
            keep = slice(first, last + 1, 2 if count >= _PLENTY else 1)
            weights = np.exp(height[keep])
            return ShapeNodes(
                log_shape[keep], shape[keep], log_curve[keep], weights / weights.sum()
            )
        if stride == 1:
            return _gauss(log_density, curve, float(_GRID[low]), float(_GRID[high]))
        start, stop, stride = low, high, max(1, stride * count // _AIM)


def _gauss(log_density: LogDensity, curve: FloatArray, low: float, high: float) -> ShapeNodes:
    """Gauss-Legendre nodes of the whole shape range, or of a stretch narrower than their gaps."""
    if high - low >= _WIDE:
        log_shape, shape, log_curve = _WHOLE, _WHOLE_SHAPES, _bases(curve.size)[2] @ curve
    else:
        log_shape = 0.5 * (low + high) + 0.5 * (high - low) * _GAUSS_PLACES
        shape, log_curve = np.exp(log_shape), chebyshev_basis(log_shape, curve.size) @ curve
    height = log_density(log_shape, shape, log_curve)
    height = height - height.max()
    keep = height > -_DEPTH
    weights = np.exp(height[keep]) * _GAUSS_WEIGHTS[keep]
    return ShapeNodes(log_shape[keep], shape[keep], log_curve[keep], weights / weights.sum())


def _single(shape: float, curve: FloatArray) -> ShapeNodes:
    log_shape = np.array([np.log(shape)])
    log_curve = chebyshev_basis(log_shape, curve.size) @ curve
    return ShapeNodes(log_shape, np.array([shape]), log_curve, np.ones(1))


@cache
def _bases(nodes: int) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Carry a curve of so many values to the grid, to its first look and to the Gauss nodes."""
    grid = chebyshev_basis(_GRID, nodes)
    return grid, np.ascontiguousarray(grid[::_FIRST_STRIDE]), chebyshev_basis(_WHOLE, nodes)
