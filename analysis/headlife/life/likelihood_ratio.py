"""Which reliabilities and lives does the likelihood allow? Likelihood-ratio bounds.

A likelihood-ratio region is closed in the hazard through the Lambert W function, so its bounds on
any age or reliability are extremes of one smooth curve (Meeker & Escobar 1998, section 8.3). With
failures known only to an interval its edge is numerical and everything else is the same. From
evidence and its best estimate (`headlife.life.likelihood`); no prior.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq, minimize_scalar
from scipy.special import chdtri

from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import LOG_SHAPE_LIMITS
from headlife.life.likelihood import Estimate, Surface, surface

FloatArray = NDArray[np.float64]

# Places along the region's edge, as angles, and the step from one to the next.
_ANGLES, _STEP = np.linspace(0.0, np.pi, 65, retstep=True)


def reliability_bounds(
    evidence: Evidence,
    estimate: Estimate,
    hours: float,
    confidence: float,
    companions: Sequence[Evidence] = (),
) -> tuple[float, float]:
    """Likelihood-ratio bounds (low, high) on the reliability [-] at one age ``hours`` [h].

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    estimate : Estimate
        Its best shape and scale.
    hours : float
        Age [h].
    confidence : float
        Two-sided [-].
    companions : sequence of Evidence, optional
        Evidence of other strata that share the shape.

    Returns
    -------
    low, high : float
        Bounds [-].
    """
    region = _Region(surface(evidence, companions), estimate, confidence)
    log_age = float(np.log(hours / evidence.reference_hours))

    def log_hazard(log_shape: FloatArray, log_level: FloatArray) -> FloatArray:
        return log_level + np.exp(log_shape) * log_age

    low, high = region.extremes(log_hazard)
    return float(np.exp(-np.exp(high))), float(np.exp(-np.exp(low)))


def life_bounds(
    evidence: Evidence,
    estimate: Estimate,
    fraction_failed: float,
    confidence: float,
    companions: Sequence[Evidence] = (),
) -> tuple[float, float]:
    """Likelihood-ratio bounds (low, high) [h] on the age by which a fraction [-] has failed.

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    estimate : Estimate
        Its best shape and scale.
    fraction_failed : float
        Fraction [-], between 0 and 1.
    confidence : float
        Two-sided [-].
    companions : sequence of Evidence, optional
        Evidence of other strata that share the shape.

    Returns
    -------
    low, high : float
        Bounds [h].
    """
    region = _Region(surface(evidence, companions), estimate, confidence)
    log_target = float(np.log(-np.log1p(-fraction_failed)))

    def minus_log_life(log_shape: FloatArray, log_level: FloatArray) -> FloatArray:
        return (log_level - log_target) / np.exp(log_shape)

    low, high = region.extremes(minus_log_life)
    reference = evidence.reference_hours
    return reference * float(np.exp(-high)), reference * float(np.exp(-low))


class _Region:
    """One likelihood-ratio region; its edge gives, per shape, two levels of the log hazard."""

    def __init__(self, here: Surface, estimate: Estimate, confidence: float) -> None:
        self._surface = here
        self._drop = 0.5 * float(chdtri(1, 1.0 - confidence))
        peak = float(np.log(estimate.shape))
        self._top = self._height(peak)
        low, high = LOG_SHAPE_LIMITS
        self._ends = self._edge(peak, low), self._edge(peak, high)

    def extremes(
        self, quantity: Callable[[FloatArray, FloatArray], FloatArray]
    ) -> tuple[float, float]:
        """Lowest and highest value of a quantity that rises with the log hazard."""

        def lowest(angle: FloatArray) -> FloatArray:
            return self._along_edge(angle, quantity, above=False)

        def highest(angle: FloatArray) -> FloatArray:
            return -self._along_edge(angle, quantity, above=True)

        return _minimum(lowest), -_minimum(highest)

    def _along_edge(
        self,
        angle: FloatArray,
        quantity: Callable[[FloatArray, FloatArray], FloatArray],
        above: bool,
    ) -> FloatArray:
        # The edge is vertical at both ends of the region; in the angle it is smooth.
        low, high = self._ends
        log_shape = low + (high - low) * np.square(np.sin(0.5 * angle))
        spare = self._surface.profile(log_shape) - self._top + self._drop
        level = self._surface.level(log_shape, np.maximum(spare, 0.0), above)
        return quantity(log_shape, level)

    def _height(self, log_shape: float) -> float:
        return float(self._surface.profile(np.array([log_shape]))[0])

    def _edge(self, peak: float, limit: float) -> float:
        def above(x: float) -> float:
            return self._height(x) - self._top + self._drop

        return limit if above(limit) >= 0 else float(brentq(above, peak, limit))


def _minimum(function: Callable[[FloatArray], FloatArray]) -> float:
    """Smallest value over the half circle of angles: a coarse look, then a polish.

    Either end is passed: beyond it the function is the one on this side, mirrored.
    """
    best = _ANGLES[np.argmin(function(_ANGLES))]
    polished = minimize_scalar(
        lambda angle: float(function(np.array([angle]))[0]),
        bounds=(best - _STEP, best + _STEP),
        method="bounded",
    )
    return float(polished.fun)
