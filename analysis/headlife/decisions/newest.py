"""How have the newest heads, and refurbished ones, fared beside what their type shows as a whole?

From the lives of every head type and role the failures of the newest purchases, and of refurbished
heads, beside those that the life of all heads leads one to expect. Judges nothing: that takes a
division, such as by lots.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from scipy.special import gammaincc, gammaln

from headlife.life import weibull
from headlife.life.groups import Group
from headlife.records.of_the_head import bought_on
from headlife.shop.columns import PURCHASE_YEAR, REFURBISHED

if TYPE_CHECKING:
    import pandas as pd

    from headlife.life.posterior import Life
    from headlife.numbers import Floats

# Failures to be expected of the newest heads before a comparison says anything; own choice.
_ENOUGH: Final = 1.0


@dataclass(frozen=True)
class Newest:
    """The newest purchases, or the refurbished heads, of a type and role, judged with others."""

    group: Group
    """The head type and role."""
    since: int | None
    """The year from whose first day on they were bought: the last one whose heads have run long
    enough to say anything; None: the refurbished heads."""
    column: str
    """What could tell them apart: the lot where that is on record, else the year; refurbished."""
    heads: int
    """Heads bought since, or refurbished [heads]."""
    failures: int
    """Those that failed by the mode that the rating is about [heads]."""
    expected: float
    """How many would have by now, did they live as all heads of this type and role do [heads]."""

    @property
    def chance(self) -> float:
        """Chance of so few failures, or of so many, if that many are expected [-]."""
        few = float(gammaincc(self.failures + 1.0, self.expected))
        return few if self.failures < self.expected else 1.0 - few + self._exactly

    @property
    def _exactly(self) -> float:
        log = self.failures * np.log(self.expected) - self.expected - gammaln(self.failures + 1.0)
        return float(np.exp(log))


def newest_purchases(
    groups: Sequence[tuple[Group, Life | None, pd.DataFrame]], mode: str
) -> tuple[Newest, ...]:
    """Tell how the newest purchases and the refurbished heads of every type and role have fared.

    Parameters
    ----------
    groups : sequence of (Group, Life or None, pandas.DataFrame)
        Head types and roles, each with the life of all its heads and their lives.
    mode : str
        The failure mode that the rating is about.

    Returns
    -------
    tuple of Newest
        Of those with a failure whose newest years of purchase, from the last one on, have run long
        enough to say anything, while other heads were bought before; and of those whose refurbished
        heads have, while others were new. Refurbished heads are no purchases.
    """
    found = []
    for group, life, lives in groups:
        failed = (lives["mode"] == mode).to_numpy() if len(lives) else np.zeros(0, bool)
        if life is None or not failed.any():
            continue
        years = bought_on(lives).dt.year.to_numpy()
        expected = _expected(
            life, *(lives[name].to_numpy(dtype=float) for name in ("entry_hours", "exit_hours"))
        )
        column = "lot" if "lot" in lives and len(lives["lot"].dropna().unique()) > 1 else ""
        anew = np.zeros_like(failed)
        if REFURBISHED in lives:
            anew = lives[REFURBISHED].notna().to_numpy()
        asked = [
            (since, column or PURCHASE_YEAR, (years >= since) & ~anew)
            for since in sorted(set(years[~anew].tolist()), reverse=True)[:-1]
        ]
        enough = [one for one in asked if expected[one[2]].sum() >= _ENOUGH][:1]
        if expected[anew].sum() >= _ENOUGH and not anew.all():
            enough.append((None, REFURBISHED, anew))
        for since, column, own in enough:
            counts = int(own.sum()), int(failed[own].sum())
            found.append(Newest(group, since, column, *counts, float(expected[own].sum())))
    return tuple(found)


def _expected(life: Life, entry: Floats, exit_: Floats) -> Any:
    """Failures to be expected of each head [heads], over all that the records leave open, (n,)."""
    nodes, scales, weights = life.nodes()
    shapes, at = np.unique(nodes, return_inverse=True)
    reference = float(exit_.max())
    # The hazard is linear in that of the reference age, so its mean at each shape is enough.
    hazards = np.bincount(at, weights * weibull.cumulative_hazard(reference, nodes, scales))
    total = np.zeros(len(exit_))
    for shape, hazard in zip(shapes.tolist(), hazards.tolist(), strict=True):
        total += hazard * ((exit_ / reference) ** shape - (entry / reference) ** shape)
    return total
