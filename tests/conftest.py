from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from headlife.life.evidence import Evidence
from headlife.life.posterior import Life, fit_life


@pytest.fixture
def record() -> Callable[..., Life]:
    """Fit a simulated record: heads of a known Weibull life, watched to an age."""

    def simulate(
        heads: int, shape: float, scale: float, until: float, seed: int, **prior: Any
    ) -> Life:
        age = scale * np.random.default_rng(seed).weibull(shape, heads)
        return fit_life(
            Evidence.from_lives(0.0, np.minimum(age, until), age <= until, reference_hours=until),
            **prior,
        )

    return simulate
