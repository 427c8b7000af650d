"""What is assumed before the records speak: about the shape, and about the hazard.

Everything here is a choice; each is a named constant, its effect on coverage is measured by the
coverage study, and a shop that knows its shape may state it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from headlife.errors import EvidenceError
from headlife.life.evidence import SHAPE_RANGE

FloatArray = NDArray[np.float64]

# Prior hazard**(HALF - 1): half a failure at the reference age, the usual Jeffreys correction
# for time-censored data.
HALF_FAILURE: Final = 0.5
# Prior density of log shape proportional to shape**SHAPE_POWER; chosen by simulated coverage
# (flat was 1.3 points off nominal on average, this 1.1).
SHAPE_POWER: Final = -0.5
_NORMAL_95: Final = 1.6448536269514722  # 95 % point of the standard normal


@dataclass(frozen=True)
class ShapePrior:
    """A shape the shop states instead of learning it from these records alone.

    Attributes
    ----------
    median
        Central value of the shape [-].
    spread
        Factor [-] of at least 1: nine chances in ten that the shape lies between
        ``median / spread`` and ``median * spread``. Exactly 1 fixes the shape.
    """

    median: float
    spread: float = 1.0

    def __post_init__(self) -> None:
        low, high = SHAPE_RANGE
        if not low <= self.median <= high:
            raise EvidenceError(
                f"A stated shape must lie between {low:g} and {high:g}; got {self.median:g}."
            )
        if not (np.isfinite(self.spread) and self.spread >= 1):
            raise EvidenceError(
                "The spread of a stated shape is a factor of 1 or more (1 fixes the shape); "
                f"got {self.spread:g}."
            )

    @property
    def fixed(self) -> bool:
        """Whether the shape is taken as known exactly."""
        return self.spread == 1.0

    def log_density(self, log_shape: FloatArray) -> FloatArray:
        """Log density of the log shape, up to a constant (log-normal)."""
        deviation = np.log(self.spread) / _NORMAL_95
        return np.asarray(-0.5 * ((log_shape - np.log(self.median)) / deviation) ** 2, float)


def as_shape_prior(stated: float | tuple[float, float] | ShapePrior | None) -> ShapePrior | None:
    """Accept a fixed shape, a (median, spread) pair, a `ShapePrior` or nothing."""
    if stated is None or isinstance(stated, ShapePrior):
        return stated
    if isinstance(stated, tuple):
        return ShapePrior(*stated)
    return ShapePrior(float(stated))
