"""The years of purchase stand in for lots: what is said of the heads bought in the last year?

Shops of some positions whose heads are put in as earlier ones fail or are swapped, so that every
year has its own heads and the last year's are young. Lives stay as they are, or were 30 % longer
or shorter until the last year, or until the last two. One life for all stands beside the verdict
on the last year by partial pooling between years.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from headlife.decisions.rating import FALLS_SHORT, HOLDS, NOT_SETTLED, verdict_of
from headlife.life.evidence import Evidence, pool
from headlife.life.lots import lot_lives
from headlife.life.posterior import fit_life
from headlife.numbers import Floats
from headlife.seeds import generator
from headlife.units import WEEKS_PER_YEAR
from studies.changing_shops.lots import APART, CLAIM, CONFIDENCE, GOOD, RATED_HOURS

# True share of heads bought in the last year that reach the rating, how much longer those before
# live, and for how many of the last years lives have been what they are.
CASES: Final = {
    "steady, at the edge": (CLAIM, 1.0, 1),
    "steady, true share .95": (GOOD, 1.0, 1),
    "30 % longer until the last year": (CLAIM, APART, 1),
    "30 % longer until the last two": (CLAIM, APART, 2),
    "30 % shorter until the last year": (CLAIM, 1.0 / APART, 1),
}


@dataclass(frozen=True)
class Design:
    """A kind of shop."""

    positions: int
    """Positions [-]."""
    weekly_hours: float
    """Print hours of every position a week [h]."""
    shape: float
    """True Weibull shape of the lives [-]."""
    years: int
    """Length of the record [years]."""
    until: float
    """Age at which heads are swapped, in ratings [-]; infinite: run to failure."""

    def __str__(self) -> str:
        until = "to failure" if np.isinf(self.until) else f"to {self.until:g} ratings"
        return (
            f"{self.positions} positions, {self.weekly_hours:g} h a week, {self.years} years, "
            f"{until}, shape {self.shape:g}"
        )


# Nothing was chosen with these; they are those that the question was looked at with.
DESIGNS: Final = (
    Design(24, 45.0, 2.2, 4, 1.0),
    Design(16, 45.0, 2.2, 4, np.inf),
    Design(40, 30.0, 1.5, 3, 1.0),
)


@dataclass(frozen=True)
class Said:
    """How often shops said what [-]."""

    pooled_holds: float
    """"Holds" with one life for all heads."""
    pooled_short: float
    """"Falls short" with one life for all heads."""
    holds: float
    """"Holds" of the heads bought in the last year."""
    falls_short: float
    """"Falls short" of them."""
    too_young: float
    """They were too young to judge."""


def purchase_shops(design: Design, case: str, shops: int, seed: int) -> Said:
    """Judge the heads bought in the last year in many shops."""
    all_said, now_said, young = [], [], 0
    for number in range(shops):
        years = evidence_by_year(design, case, generator(seed, str(design), case, str(number)))
        whole = fit_life(pool(years)).probability_reliability_above(CLAIM, RATED_HOURS)
        all_said.append(verdict_of(float(whole), CONFIDENCE))
        last = lot_lives(years)[0]
        chance = last.probability_reliability_above(CLAIM, RATED_HOURS)
        young += last.too_young(CLAIM)
        judged = verdict_of(chance, CONFIDENCE)
        now_said.append(NOT_SETTLED if last.too_young(CLAIM) else judged)

    def share_of(verdicts: Sequence[str], said: str) -> float:
        return float(np.mean([verdict == said for verdict in verdicts]))

    return Said(
        pooled_holds=share_of(all_said, HOLDS),
        pooled_short=share_of(all_said, FALLS_SHORT),
        holds=share_of(now_said, HOLDS),
        falls_short=share_of(now_said, FALLS_SHORT),
        too_young=young / shops,
    )


def evidence_by_year(design: Design, case: str, rng: np.random.Generator) -> list[Evidence]:
    """Evidence of one shop by the year in which heads were put in, the last year first."""
    began, ages, failed = _installed(design, case, rng)
    back = np.ceil(design.years - began).astype(int)  # 1 in the last year
    return [
        Evidence.from_lives(
            0.0, ages[back == year], failed[back == year], reference_hours=RATED_HOURS
        )
        for year in range(1, design.years + 1)
        if (back == year).any()
    ]


def _installed(
    design: Design, case: str, rng: np.random.Generator
) -> tuple[Floats, Floats, np.ndarray]:
    """Year in which each head was put in, the age it reached [h], whether it failed; (n,) each."""
    share, longer, last_years = CASES[case]
    scale = RATED_HOURS / (-np.log(share)) ** (1.0 / design.shape)
    a_year = design.weekly_hours * WEEKS_PER_YEAR
    rows = []
    for _ in range(design.positions):
        now = 0.0
        while now < design.years:
            own = scale * (longer if now < design.years - last_years else 1.0)
            life = own * rng.weibull(design.shape)
            out = min(life, design.until * RATED_HOURS)
            left = (design.years - now) * a_year
            rows.append((now, min(out, left), out == life and out <= left))
            now += out / a_year
    began, ages, failed = (np.array(column) for column in zip(*rows, strict=True))
    return began, ages, failed.astype(bool)


def report(shops: int, seed: int, held_out: bool) -> str:
    """Write the row of the table; no number rests on it, so that no design is kept aside."""
    lines = []
    for design in DESIGNS:
        rows = {case: vars(purchase_shops(design, case, shops, seed)) for case in CASES}
        lines.append(f"{design}; per cent of {shops} shops")
        lines += [(100.0 * pd.DataFrame(rows).T).round(1).to_string(), ""]
    return "\n".join(lines)
