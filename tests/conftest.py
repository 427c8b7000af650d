from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import hypothesis
import numpy as np
import pytest

import headlife as hl
from headlife.life.evidence import Evidence
from headlife.life.posterior import Life, fit_life

# No example is judged by the time it takes: other work may keep every core busy.
hypothesis.settings.register_profile("headlife", deadline=None)
hypothesis.settings.load_profile("headlife")

DEMO = Path(__file__).parents[1] / "data_demo"


@pytest.fixture(scope="session")
def demo() -> Any:
    """The demo shop's records and review."""
    shop = hl.read_shop(DEMO / "shop.toml")
    records = hl.read_records(DEMO / "removals.csv", shop)
    return records, hl.quarterly_review(records, shop)


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
