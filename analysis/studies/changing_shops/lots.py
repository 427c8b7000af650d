"""Two lots 30 % apart in life: what does the verdict on the lot bought now say?

An older lot with many heads and the one bought now with fewer, swapped at an age or run to
failure. Beside partial pooling stand one life for both, and the best that any method could do
that knew both alternatives exactly (Neyman and Pearson), from the counts alone.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from scipy.stats import poisson

from headlife.decisions.rating import FALLS_SHORT, HOLDS, verdict_of
from headlife.life import weibull
from headlife.life.evidence import Evidence, pool
from headlife.life.lots import lot_lives
from headlife.life.posterior import fit_life
from headlife.seeds import generator

RATED_HOURS: Final = 1500.0
CLAIM: Final = 0.90
GOOD: Final = 0.95
CONFIDENCE: Final = 0.95
APART: Final = 1.3
SHAPE: Final = 2.2
# True share of the lot bought now that reaches the rating, and how much longer the older one lives.
CASES: Final = {
    "older lives 30 % longer": (CLAIM, APART),
    "older lives 30 % shorter": (CLAIM, 1.0 / APART),
    "equal, at the edge": (CLAIM, 1.0),
    "equal, true share .95": (GOOD, 1.0),
}


@dataclass(frozen=True)
class Design:
    """What is on record of two lots."""

    older: int
    """Heads of the older lot [heads]."""
    now: int
    """Heads of the lot bought now [heads]."""
    until: float
    """Age at which heads are swapped, in ratings [-]; infinite: run to failure."""
    shape: float = SHAPE
    """True Weibull shape of both [-]."""

    def __str__(self) -> str:
        until = "to failure" if np.isinf(self.until) else f"to {self.until:g} ratings"
        return f"{self.older} + {self.now} heads {until}, shape {self.shape:g}"


# Looked at when the prior of the spread was chosen (`life.lots`); in the first, one life for both
# says what it did where the table was first measured: 31 % wrong, 52 % found.
DESIGNS: Final = (
    Design(74, 16, 1.0),
    Design(50, 10, 1.5),
    Design(30, 10, np.inf),
    Design(74, 40, 1.0),
    Design(40, 40, 1.0),
)
HELD_OUT: Final = (
    Design(120, 30, 1.0, 1.5),
    Design(60, 60, 1.0, 3.0),
    Design(25, 25, np.inf),
    Design(100, 60, 1.0),
)


@dataclass(frozen=True)
class Said:
    """How often shops said what of the lot bought now [-]."""

    pooled_holds: float
    """"Holds" with one life for both lots."""
    pooled_short: float
    """"Falls short" with one life for both lots."""
    holds: float
    """"Holds" with partial pooling."""
    falls_short: float
    """"Falls short" with partial pooling."""


def lots_shops(design: Design, case: str, shops: int, seed: int) -> Said:
    """Judge the lot bought now in many shops."""
    share, longer = CASES[case]
    scale = RATED_HOURS / (-np.log(share)) ** (1.0 / design.shape)
    alike, apart = [], []
    for number in range(shops):
        rng = generator(seed, "lots", str(design), case, str(number))
        older = _lot(design, design.older, longer * scale, rng)
        now = _lot(design, design.now, scale, rng)
        whole = fit_life(pool([now, older]))
        alike.append(float(whole.probability_reliability_above(CLAIM, RATED_HOURS)))
        apart.append(lot_lives([now, older])[0].probability_reliability_above(CLAIM, RATED_HOURS))

    def share_of(chances: list[float], said: str) -> float:
        return float(np.mean([verdict_of(chance, CONFIDENCE) == said for chance in chances]))

    return Said(
        pooled_holds=share_of(alike, HOLDS),
        pooled_short=share_of(alike, FALLS_SHORT),
        holds=share_of(apart, HOLDS),
        falls_short=share_of(apart, FALLS_SHORT),
    )


def _lot(design: Design, heads: int, scale: float, rng: np.random.Generator) -> Evidence:
    ages = scale * rng.weibull(design.shape, heads)
    until = design.until * RATED_HOURS
    return Evidence.from_lives(
        0.0, np.minimum(ages, until), ages <= until, reference_hours=RATED_HOURS
    )


def most_found(design: Design, wrong: float) -> float:
    """Give the most that any verdict could find where lots are equal [-], erring so often.

    The likelihood-ratio test of equal lots with a true share of .95 against a lot at the edge
    whose older one lives 30 % longer, from failures by the rating, the shape known.
    """
    counts = [np.arange(heads + 1) for heads in (design.older, design.now)]

    def chances(share: float, longer: float) -> np.ndarray:
        hazard = -np.log(share)
        scale = 1.0 / hazard ** (1.0 / design.shape)
        means = (
            design.older * float(weibull.cumulative_hazard(1.0, design.shape, longer * scale)),
            design.now * hazard,
        )
        return np.outer(*(poisson.pmf(c, m) for c, m in zip(counts, means, strict=True)))

    bad, good = chances(*CASES["older lives 30 % longer"]), chances(GOOD, 1.0)
    best = np.argsort(-(good / np.maximum(bad, 1e-300)).ravel())
    return float(np.interp(wrong, np.cumsum(bad.ravel()[best]), np.cumsum(good.ravel()[best])))


def report(shops: int, seed: int, held_out: bool) -> str:
    """Write the row of the table."""
    lines = []
    for design in HELD_OUT if held_out else DESIGNS:
        rows = {case: vars(lots_shops(design, case, shops, seed)) for case in CASES}
        lines.append(f"{design}; per cent of {shops} shops")
        lines.append((100.0 * pd.DataFrame(rows).T).round(1).to_string())
        if design.until == 1.0:
            most = 100.0 * most_found(design, 0.10)
            lines.append(f"most that any verdict wrong in 10 % could find: {most:.0f}")
        lines.append("")
    return "\n".join(lines)
