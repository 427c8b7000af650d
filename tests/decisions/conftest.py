from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from headlife.life.evidence import Evidence
from headlife.life.posterior import Life, fit_life

PUBLISHED = Path(__file__).parents[2] / "shared" / "published"


@pytest.fixture
def published() -> Callable[[str], SimpleNamespace]:
    """Read a case of shared/published: its data and a comparison within its own tolerance."""

    def read(name: str) -> SimpleNamespace:
        case = tomllib.loads((PUBLISHED / f"{name}.toml").read_text(encoding="utf-8"))

        def agrees(key: str, got: Any) -> bool:
            expected = case["expected"][key]
            value = np.asarray(expected["value"], float)
            room = expected.get("tol_abs", 0.0) + expected.get("tol_rel", 0.0) * np.abs(value)
            return bool(np.all(np.abs(np.asarray(got, float) - value) <= room))

        return SimpleNamespace(data=case["data"], expected=case["expected"], agrees=agrees)

    return read


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
