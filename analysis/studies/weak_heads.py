"""Lives of heads of which some are weak from new, which a Weibull life cannot say.

The truth behind the studies of stock and of steps past the rating: a share of the heads has an
exponential life far below the rating, the others a Weibull life. Nobody sees which is which.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from headlife.futures.convolution import cumulative_hazard
from headlife.futures.demand import KnownLife
from headlife.numbers import Floats


@dataclass(frozen=True)
class PartlyWeak:
    """How heads really live."""

    shape: float
    """Weibull shape of a good head [-]."""
    scale: float
    """Its scale [h]."""
    weak: float
    """Share of heads that are weak from new [-]."""
    weak_mean: float
    """Mean of their exponential life [h]."""

    def lives(self, heads: int, rng: np.random.Generator) -> Floats:
        """Draw lives of new heads [h]."""
        good = self.scale * rng.weibull(self.shape, heads)
        if self.weak == 0.0:
            return np.asarray(good, float)
        is_weak = rng.random(heads) < self.weak
        return np.where(is_weak, rng.exponential(self.weak_mean, heads), good)

    def __call__(self, hours: Floats) -> Floats:
        """Cumulative hazard of a head of which nothing but its age is known [-]."""
        age = np.asarray(hours, float)
        with np.errstate(divide="ignore"):
            good = np.log1p(-self.weak) - (age / self.scale) ** self.shape
            weak = np.log(self.weak) - age / self.weak_mean
        return np.asarray(-np.logaddexp(good, weak), float)

    @property
    def powers(self) -> tuple[float, ...]:
        """As in `headlife.futures.convolution.WeibullHazard`: near age 0 both hazards add."""
        parts = [KnownLife(self.shape, self.scale)]
        if self.weak:
            parts.append(KnownLife(1.0, self.weak_mean))
        return cumulative_hazard(parts).powers
