"""What does the outside world say? One loader for the check values in `published/`.

Every case is one TOML file (long data in a CSV beside it): what it is about, its source, its
data, and its expected values, each with an origin: `published` (printed there and read),
`memory` (written from memory, then recomputed), `computed` (recomputed only) or `common practice`
(a habit of the trade without a source). A tolerance is that of the digits printed; a value
without one is exact. This module computes nothing; `answers` does.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

FOLDER: Final = Path(__file__).parents[2] / "shared" / "published"
ORIGINS: Final = ("published", "memory", "computed", "common practice")


@dataclass(frozen=True)
class Expected:
    """One expected value, a number or several."""

    name: str
    """Name of the value within its case."""
    value: Any
    """The number, or a list of numbers."""
    origin: str
    """One of `ORIGINS`."""
    tol_abs: float = 0.0
    """Absolute tolerance, in the units of the value."""
    tol_rel: float = 0.0
    """Relative tolerance [-]."""
    note: str = ""
    """What a reader should know about it."""

    def difference(self, ours: Any) -> float:
        """Largest absolute difference between ours and the expected numbers."""
        return float(np.max(np.abs(self._numbers(ours) - self._numbers(self.value))))

    def agrees(self, ours: Any) -> bool:
        """Whether every number of ours lies within the tolerance."""
        expected, got = self._numbers(self.value), self._numbers(ours)
        if expected.shape != got.shape:
            return False
        return bool((np.abs(got - expected) <= self.tol_abs + self.tol_rel * abs(expected)).all())

    @staticmethod
    def _numbers(value: Any) -> np.ndarray:
        return np.atleast_1d(np.asarray(value, float))


@dataclass(frozen=True)
class Case:
    """One case from outside: its source, its data and what should come out."""

    name: str
    """Name of its file."""
    title: str
    """What it is about."""
    units: str
    """Unit of its times or counts."""
    source: dict[str, Any]
    """`author`, `year`, `title`, `where`, and `status`: how the values were seen."""
    data: dict[str, Any]
    """What goes in, by name."""
    expected: dict[str, Expected]
    """What should come out, by name."""
    watch_out: str = ""
    """What a quick implementation gets wrong."""

    @property
    def citation(self) -> str:
        """The source in one line; empty for a habit of the trade."""
        if not self.source:
            return ""
        return "{author} ({year}): {title}, {where}".format(**self.source)

    @property
    def table(self) -> pd.DataFrame:
        """The long data of the case; blank cells are missing."""
        return pd.read_csv(FOLDER / self.data["csv"])

    def array(self, name: str) -> np.ndarray:
        """One list of its data as an array."""
        return np.asarray(self.data[name])


def names() -> list[str]:
    """Names of all cases."""
    return sorted(path.stem for path in FOLDER.glob("*.toml"))


@cache
def load(name: str) -> Case:
    """Read one case."""
    with (FOLDER / f"{name}.toml").open("rb") as file:
        content = tomllib.load(file)
    expected = {key: Expected(name=key, **item) for key, item in content["expected"].items()}
    return Case(
        name=name,
        title=content["title"],
        units=content["units"],
        source=content.get("source", {}),
        data=content.get("data", {}),
        expected=expected,
        watch_out=content.get("watch_out", ""),
    )
