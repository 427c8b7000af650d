from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

import numpy as np
import pytest

from headlife.life.evidence import Evidence


class Lives(NamedTuple):
    """Simulated lives of one stratum and mode."""

    entry: np.ndarray
    exit: np.ndarray
    failed: np.ndarray

    def evidence(self, reference: float = 900.0, **more) -> Evidence:
        return Evidence.from_lives(
            self.entry, self.exit, self.failed, reference_hours=reference, **more
        )

    def part(self, rows) -> Lives:
        return Lives(self.entry[rows], self.exit[rows], self.failed[rows])


@pytest.fixture
def simulate() -> Callable[..., Lives]:
    """Draw lives of scale 1000 h, watched to an age; with ``late``, half of them from an age."""

    def draw(n: int, shape: float = 2.0, until: float = 900.0, seed: int = 1, late: bool = False):
        rng = np.random.default_rng(seed)
        entry = np.where(np.arange(n) % 2, 0.6 * until * rng.random(n), 0.0) * late
        age = 1000.0 * ((entry / 1000.0) ** shape + rng.exponential(size=n)) ** (1.0 / shape)
        return Lives(entry, np.minimum(age, until), age <= until)

    return draw
