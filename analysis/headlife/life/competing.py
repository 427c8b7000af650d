"""Several failure modes at once: what share of heads escapes all of them?

One `Life` per mode, the other modes censoring; a head is good while no mode has struck, so
cumulative hazards add (Meeker & Escobar 1998, section 15.4). The modes' posteriors are
independent, and the posterior of the sum is theirs drawn together: seeded draws, the same every
time. The share of heads that leaves by one mode is not one minus that mode's own reliability; see
`share_by_mode`. This module never fits a life.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import brentq

from headlife.display import shows_itself
from headlife.errors import EvidenceError
from headlife.life import weibull
from headlife.life.asked import fraction, like, tails
from headlife.life.posterior import Life

FloatArray = NDArray[np.float64]

DRAWS: Final = 20_000
_STEPS: Final = 100  # of the search for a life; each closes or halves the bracket
_TOLERANCE: Final = 1e-10  # of the log of a life that is searched for
_ROUNDING: Final = 1e-9  # by which the ends of a search are moved apart, in logs
_PLACES, _WEIGHTS = np.polynomial.legendre.leggauss(96)
_BEND: Final = 8  # power that takes the kink at age 0 out of a ratio of shapes


@shows_itself
@dataclass(frozen=True, eq=False)
class CompetingLife:
    """The life of heads that several modes may end.

    Attributes
    ----------
    modes
        Life of each mode by its name.
    draws
        Number of joint posterior draws behind the bounds.
    seed
        Seed of those draws.

    Examples
    --------
    >>> import headlife as hl
    >>> hours = [210, 340, 480, 500, 500, 500]
    >>> failed = [True, True, True, False, False, False]
    >>> evidence = hl.Evidence.from_lives(0, hours, failed, reference_hours=500)
    >>> none = hl.Evidence.from_lives(0, hours, [False] * 6, reference_hours=500)
    >>> both = hl.CompetingLife({"wear": hl.fit_life(evidence), "damage": hl.fit_life(none)})
    >>> round(both.reliability(400), 2)
    0.66
    """

    modes: Mapping[str, Life]
    draws: int = DRAWS
    seed: int = 1

    def __post_init__(self) -> None:
        if not self.modes:
            raise EvidenceError("A life of several modes needs at least one mode.")

    def reliability(self, hours: ArrayLike) -> Any:
        """As in `Life`, the modes' own estimates multiplied."""
        shares = [np.asarray(life.reliability(hours), float) for life in self.modes.values()]
        return like(np.prod(shares, axis=0), hours)

    def reliability_bounds(self, hours: ArrayLike, confidence: float = 0.90) -> tuple[Any, Any]:
        """As in `Life`, over the joint draws."""
        ends = tails(confidence)
        ages = np.asarray(hours, float)
        hazard = [np.quantile(self._hazard(np.full(1, age)), ends) for age in ages.ravel()]
        bounds = np.exp(-np.array(hazard).reshape(*ages.shape, 2))
        return like(bounds[..., 1], hours), like(bounds[..., 0], hours)

    def probability_reliability_above(self, share: float, hours: float) -> float:
        """As in `Life`, over the joint draws."""
        return float((self._hazard(np.full(1, float(hours))) <= -np.log(share)).mean())

    def life(self, fraction_failed: float) -> float:
        """As in `Life`, by whatever mode."""
        target = _hazard_of(fraction_failed)
        # Not above any mode's own life at that fraction, nor below all lives at an equal part.
        part = float(-np.expm1(-target / len(self.modes)))
        high = min(float(life.life(fraction_failed)) for life in self.modes.values())
        low = min(float(life.life(part)) for life in self.modes.values())

        def excess(log_age: float) -> float:
            return float(-np.log(self.reliability(np.exp(log_age))) - target)

        ends = np.log(low) - _ROUNDING, np.log(high) + _ROUNDING
        return float(np.exp(brentq(excess, *ends, xtol=_TOLERANCE)))

    def life_bounds(self, fraction_failed: float, confidence: float = 0.90) -> tuple[float, float]:
        """As in `Life`, over the joint draws."""
        ends = tails(confidence)
        target = _hazard_of(fraction_failed)
        shapes, scales = self._drawn
        own = scales * target ** (1.0 / shapes)
        high = own.min(axis=0)
        share = (target / len(own)) ** (1.0 / shapes)
        low = (scales * share).min(axis=0)

        def excess(age: FloatArray) -> FloatArray:
            return self._hazard(age) - target

        lower, upper = np.quantile(_bisect(excess, low, high), ends)
        return float(lower), float(upper)

    def share_by_mode(self, hours: float) -> dict[str, float]:
        """Share [-] of heads that each mode has ended by age ``hours`` [h], others competing.

        ``integral of R(t) dH_mode(t)`` at the modes' estimates (cumulative incidence; Meeker &
        Escobar 1998, section 15.4), by Gauss-Legendre in the mode's own hazard.

        Parameters
        ----------
        hours : float
            Age [h].

        Returns
        -------
        dict of str to float
            Share [-] by mode; with the share still good they sum to 1.
        """
        answer = {}
        for name, life in self.modes.items():
            if not life.has_ml:
                raise EvidenceError(
                    f'Mode "{name}" has too few failures for an estimate, so the share it ends '
                    "is not known. Leave it out or use the bounds."
                )
            whole = float(weibull.cumulative_hazard(hours, life.shape, life.scale))
            part = 0.5 * (_PLACES + 1.0)
            ages = life.scale * (whole * part**_BEND) ** (1.0 / life.shape)
            good = np.asarray(self.reliability(ages), float)
            each = 0.5 * _WEIGHTS * whole * _BEND * part ** (_BEND - 1)
            answer[name] = float(each @ good)
        return answer

    @cached_property
    def _drawn(self) -> tuple[FloatArray, FloatArray]:
        """Joint draws: shapes and scales, (modes, draws) each."""
        rng = np.random.default_rng(self.seed)
        drawn = [life.draw(self.draws, rng) for life in self.modes.values()]
        return np.array([shape for shape, _ in drawn]), np.array([scale for _, scale in drawn])

    def _hazard(self, hours: FloatArray) -> FloatArray:
        """Cumulative hazard of all modes in every draw, (draws,), at one age or one per draw."""
        shapes, scales = self._drawn
        return np.asarray(weibull.cumulative_hazard(hours, shapes, scales).sum(axis=0), float)


def _bisect(
    excess: Callable[[FloatArray], FloatArray], low: FloatArray, high: FloatArray
) -> FloatArray:
    """Root of a rising function between ``low`` and ``high``, each pair for itself, in logs.

    Halving, since SciPy's search of many roots takes 15 % longer on twenty thousand draws.
    """
    low, high = np.log(low), np.log(high)
    for _ in range(_STEPS):
        middle = 0.5 * (low + high)
        over = excess(np.exp(middle)) > 0
        low, high = np.where(over, low, middle), np.where(over, middle, high)
        if (high - low <= _TOLERANCE).all():
            break
    return np.asarray(np.exp(0.5 * (low + high)), float)


def _hazard_of(fraction_failed: float) -> float:
    return float(-np.log1p(-fraction(fraction_failed, "fraction failed")))
