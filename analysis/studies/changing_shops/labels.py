"""Printers that are all alike: how often is one said to wear heads differently?

Heads of one life in printers drawn at random, swapped at the rating, with few failures; every shop
asks about its printers and, where it has them, two materials, as the checks of a review do. A shop
whose heads last a third as long in one printer of four stands beside them, to be found. Nothing
was chosen with these shops.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from headlife.life.diagnostics.effects import compare_levels
from headlife.seeds import generator

RATED_HOURS: Final = 1500.0
SHAPE: Final = 2.2


@dataclass(frozen=True)
class Design:
    """A kind of shop."""

    printers: int
    """Printers [-]."""
    heads: int
    """Heads on record [heads]."""
    share: float
    """Share of heads that fail by the rating [-]."""
    materials: int = 1
    """Materials [-]."""
    worse: float = 1.0
    """Life in the first printer, in that of the others [-]."""

    def __str__(self) -> str:
        of = f"{self.heads} heads in {self.printers} printers, {self.share:.0%} fail"
        more = f", {self.materials} materials" * (self.materials > 1)
        return f"{of}{more}" + f", {self.worse:.2g} times as long in one" * (self.worse != 1.0)


DESIGNS: Final = (
    Design(4, 40, 0.2),
    Design(8, 60, 0.2),
    Design(14, 60, 0.15),
    Design(14, 120, 0.1, 2),
    Design(6, 40, 0.4, 2),
    Design(4, 60, 0.2, 1, 1.0 / 3.0),
)


def alarms(design: Design, shops: int, seed: int) -> pd.DataFrame:
    """Ask many shops whether heads differ by printer.

    Returns
    -------
    DataFrame
        One row per shop: `failures` [heads]; `told`, whether they were enough to tell; `alarm`,
        whether printers are said to differ.
    """
    scale = RATED_HOURS / (-np.log1p(-design.share)) ** (1.0 / SHAPE)
    rows = []
    for number in range(shops):
        rng = generator(seed, "labels", str(design), str(number))
        printer = rng.integers(design.printers, size=design.heads)
        labels = {"printer": np.array([f"P{one}" for one in printer.tolist()])}
        if design.materials > 1:
            material = rng.integers(design.materials, size=design.heads)
            labels["material"] = np.array([f"M{one}" for one in material.tolist()])
        age = scale * rng.weibull(SHAPE, design.heads) * np.where(printer == 0, design.worse, 1.0)
        failed = age <= RATED_HOURS
        seed_of_shop = int(rng.integers(1 << 30))
        ended = np.minimum(age, RATED_HOURS)
        effect = compare_levels(0.0, ended, failed, labels, seed=seed_of_shop)[0]
        rows.append((int(failed.sum()), effect.enough, effect.matters))
    return pd.DataFrame(rows, columns=["failures", "told", "alarm"])


def report(shops: int, seed: int, held_out: bool) -> str:
    """Write the row of the table; all designs are kept aside, whatever `held_out` says."""
    found = {}
    for design in DESIGNS:
        table = alarms(design, shops, seed)
        told = table.loc[table["told"], "alarm"]
        found[str(design)] = {
            "failures": table["failures"].mean(),
            "told": 100.0 * table["told"].mean(),
            "said to differ": 100.0 * table["alarm"].mean(),
            "where told": 100.0 * told.mean() if len(told) else np.nan,
        }
    table = pd.DataFrame(found).T.round(1)
    return f"Per cent of {shops} shops, but mean failures\n{table.to_string()}"
