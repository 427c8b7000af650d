"""What do the 34 numbers say by likelihood alone: the best estimate.

Maximum likelihood for a Weibull life from `Evidence`, without any prior. The best hazard at a
given shape is ``failures / S(shape)``, which leaves one dimension to climb. With failures known
only to an interval that step is numerical and everything else is the same. Bounds are in
`headlife.life.likelihood_ratio`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize_scalar
from scipy.special import lambertw

from headlife.life import interval_rows as between
from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import (
    chebyshev_basis,
    curve_derivatives,
    grid_basis,
    log_shape_grid,
)

FloatArray = NDArray[np.float64]

_POINTS: Final = 129  # of the grid on which the peak is looked for
_STANDS_OUT: Final = 1e-6  # rise of the log-likelihood over the ends of the range: a peak
_NEAR_BRANCH: Final = 1e-8


@dataclass(frozen=True)
class Estimate:
    """The maximum-likelihood Weibull life.

    Attributes
    ----------
    shape
        Weibull shape [-].
    scale
        Weibull scale [h].
    log_likelihood
        Logarithm of the likelihood at the estimate, densities in 1/h.
    """

    shape: float
    scale: float
    log_likelihood: float


class Surface(Protocol):
    """The log-likelihood over log shape and log hazard."""

    def profile(self, log_shape: FloatArray) -> FloatArray:
        """Log-likelihood at each shape with the hazard at its best, constant left out.

        Parameters
        ----------
        log_shape : array of float
            Log shapes [-], (k,).

        Returns
        -------
        array of float
            Log-likelihood, (k,).
        """

    def best(self, log_shape: FloatArray) -> FloatArray:
        """Best log hazard at each shape.

        Parameters
        ----------
        log_shape : array of float
            Log shapes [-], (k,).

        Returns
        -------
        array of float
            Log hazards at the reference hours, (k,).
        """

    def level(self, log_shape: FloatArray, spare: FloatArray, above: bool) -> FloatArray:
        """Log hazard where the log-likelihood is ``spare`` below `profile`.

        Parameters
        ----------
        log_shape : array of float
            Log shapes [-], (k,).
        spare : array of float
            How far below the best, zero or more, (k,).
        above : bool
            The hazard above the best one, not the one below.

        Returns
        -------
        array of float
            Log hazards, (k,).
        """


class ExactSurface:
    """Every failure age is known: the hazard is closed."""

    def __init__(self, evidence: Evidence) -> None:
        self._evidence = evidence

    def profile(self, log_shape: FloatArray) -> FloatArray:
        """As in `Surface`."""
        return profile(self._evidence, log_shape, self._curve(log_shape))

    def best(self, log_shape: FloatArray) -> FloatArray:
        """As in `Surface`: failures over exposure."""
        return np.asarray(np.log(self._evidence.failures) - self._curve(log_shape), float)

    def level(self, log_shape: FloatArray, spare: FloatArray, above: bool) -> FloatArray:
        """As in `Surface`, by Lambert's function."""
        ratio = _level(spare / self._evidence.failures, -1 if above else 0)
        return np.asarray(np.log(ratio) + self.best(log_shape), float)

    def _curve(self, log_shape: FloatArray) -> FloatArray:
        return _curve(self._evidence, log_shape)


class IntervalSurface:
    """Some failures are known only to lie between two readings."""

    def __init__(self, evidence: Evidence) -> None:
        self._evidence = evidence

    def profile(self, log_shape: FloatArray) -> FloatArray:
        """As in `Surface`."""
        rows, curve = self._at(log_shape)
        _, top = between.peak(rows, self._evidence.failures, curve)
        exact = self._evidence.failures * log_shape
        return np.asarray(top + exact + self._evidence.log_sum * np.exp(log_shape), float)

    def best(self, log_shape: FloatArray) -> FloatArray:
        """As in `Surface`, by Newton's method."""
        rows, curve = self._at(log_shape)
        return between.peak(rows, self._evidence.failures, curve)[0]

    def level(self, log_shape: FloatArray, spare: FloatArray, above: bool) -> FloatArray:
        """As in `Surface`, by halving."""
        rows, curve = self._at(log_shape)
        return between.crossing(rows, curve, self._evidence.failures, spare, above)

    def _at(self, log_shape: FloatArray) -> tuple[between.Rows, FloatArray]:
        curve = _curve(self._evidence, log_shape)
        return between.Rows.at(self._evidence, log_shape), curve


class SharedSurface:
    """One stratum of several that share their shape but not their hazard."""

    def __init__(self, own: Surface, companions: Sequence[Surface]) -> None:
        self._own, self._companions = own, companions

    def profile(self, log_shape: FloatArray) -> FloatArray:
        """As in `Surface`, every stratum's hazard at its best."""
        others = [other.profile(log_shape) for other in self._companions]
        return np.asarray(self._own.profile(log_shape) + np.sum(others, axis=0), float)

    def best(self, log_shape: FloatArray) -> FloatArray:
        """As in `Surface`, this stratum's."""
        return self._own.best(log_shape)

    def level(self, log_shape: FloatArray, spare: FloatArray, above: bool) -> FloatArray:
        """As in `Surface`, this stratum's hazard; the others stay at their best."""
        return self._own.level(log_shape, spare, above)


def surface(evidence: Evidence, companions: Sequence[Evidence] = ()) -> Surface:
    """Choose the log-likelihood that fits the evidence.

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    companions : sequence of Evidence, optional
        Evidence of other strata that share the shape.

    Returns
    -------
    Surface
        The log-likelihood over log shape and log hazard.
    """
    own: Surface = IntervalSurface(evidence) if len(evidence.intervals) else ExactSurface(evidence)
    return SharedSurface(own, [surface(other) for other in companions]) if companions else own


def profile(evidence: Evidence, log_shape: FloatArray, log_curve: FloatArray) -> FloatArray:
    """Profile log-likelihood of exact evidence whose log exposure is already known.

    Parameters
    ----------
    evidence : Evidence
        Exact evidence.
    log_shape : array of float
        Log shapes [-], (k,).
    log_curve : array of float
        Log exposure there, (k,).

    Returns
    -------
    array of float
        Log-likelihood with the hazard at its best, constant left out, (k,).
    """
    failures = evidence.failures
    return failures * (log_shape - log_curve) + evidence.log_sum * np.exp(log_shape)


def profile_on_grid(evidence: Evidence, points: int) -> FloatArray:
    """Profile log-likelihood on `log_shape_grid`, exact evidence or not.

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    points : int
        Points of the grid [-].

    Returns
    -------
    array of float
        Log-likelihood with the hazard at its best, constant left out, (points,).
    """
    grid = log_shape_grid(points)
    if len(evidence.intervals):
        return surface(evidence).profile(grid)
    return profile(evidence, grid, grid_basis(points, evidence.log_curve.size) @ evidence.log_curve)


def maximise(evidence: Evidence, companions: Sequence[Evidence] = ()) -> Estimate | None:
    """Best shape and scale, or None where the likelihood has no peak inside the shape range.

    No failure, a single failure at the longest age, or all failures at one hour leave no peak:
    the likelihood then keeps rising with the shape. ``companions`` are strata that share the
    shape; the log-likelihood given is this stratum's own.

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    companions : sequence of Evidence, optional
        Evidence of other strata that share the shape.

    Returns
    -------
    Estimate or None
        The estimate; None where there is no peak.
    """
    if evidence.all_failures <= 0:
        return None
    here = surface(evidence, companions)
    grid = log_shape_grid(_POINTS)
    height = here.profile(grid) if companions else profile_on_grid(evidence, _POINTS)
    peak = int(np.argmax(height))
    if height[peak] - max(height[0], height[-1]) < _STANDS_OUT:
        return None
    around = float(grid[peak - 1]), float(grid[peak + 1])
    if isinstance(here, ExactSurface):
        log_shape = _level_ground(evidence, around)
    else:
        log_shape = _top(here, around)
    at = np.array([log_shape])
    log_hazard = float(here.best(at)[0])
    shape = float(np.exp(log_shape))
    scale = evidence.reference_hours * float(np.exp(-log_hazard / shape))
    own = float(surface(evidence).profile(at)[0])
    return Estimate(shape, scale, _log_likelihood(evidence, own))


def _curve(evidence: Evidence, log_shape: FloatArray) -> FloatArray:
    basis = chebyshev_basis(log_shape, evidence.log_curve.size)
    return np.asarray(basis @ evidence.log_curve, float)


def _top(here: Surface, around: tuple[float, float]) -> float:
    found = minimize_scalar(
        lambda x: -float(here.profile(np.array([x]))[0]),
        bounds=around,
        method="bounded",
        options={"xatol": 1e-10},
    )
    return float(found.x)


def _level_ground(evidence: Evidence, around: tuple[float, float]) -> float:
    def climb(log_shape: float) -> float:
        _, slope, _ = curve_derivatives(evidence.log_curve, log_shape)
        rise = 1.0 - float(slope)
        return evidence.failures * rise + evidence.log_sum * float(np.exp(log_shape))

    return float(brentq(climb, *around, xtol=1e-13))


def _log_likelihood(evidence: Evidence, best: float) -> float:
    failures = evidence.failures
    if not len(evidence.intervals) and failures > 0:
        best += failures * (float(np.log(failures)) - 1.0)  # the hazard's part of the peak
    log_ages = evidence.log_sum + failures * float(np.log(evidence.reference_hours))
    return best - log_ages


def _level(spare: FloatArray, branch: int) -> FloatArray:
    """Root v of v - ln(v) = 1 + spare: below 1 on branch 0, above 1 on branch -1."""
    # Next to the branch point Lambert's function loses itself; its series is exact there.
    side = -1.0 if branch == 0 else 1.0
    near = 1.0 + side * np.sqrt(2.0 * spare) + 2.0 * spare / 3.0
    far = -lambertw(-np.exp(-1.0 - np.maximum(spare, _NEAR_BRANCH)), branch).real
    return np.where(spare < _NEAR_BRANCH, near, far)
