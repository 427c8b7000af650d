"""How much do shops in their first weeks hold, and does it serve, while no head is at its rating?

Simulated: new heads in every position, a few weeks of print hours, Weibull lives of which a share
reaches the rating. The stock that the first failures lead to, with and without the weight that
`GroupEvidence.assumed_heads` gives the rating, is served against the true lives. Print hours are
known, so that only what is not known of the life is at stake.
`python -m studies.first_weeks` prints every kind.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

import headlife as hl
from headlife.decisions.spares.stock import plan_stock
from headlife.life.evidence import Evidence
from headlife.life.groups import Group, GroupEvidence, fit_modes
from headlife.numbers import Floats
from headlife.shop.policy import Policy

RATED, WEEKLY, AHEAD = 1000.0, 45.0, 19


@dataclass(frozen=True)
class Cell:
    """Shops of one kind."""

    heads: int
    """In service [heads]."""
    weeks: float
    """On record [weeks]."""
    share: float
    """Of heads that truly reach the rating [-]."""
    shape: float
    """Of the true Weibull life [-]."""

    @property
    def scale(self) -> float:
        """Scale of the true life [h]."""
        return float(RATED / (-np.log(self.share)) ** (1.0 / self.shape))


@dataclass(frozen=True)
class Outcome:
    """What shops of one kind hold and how it serves, with the weight on the rating and without."""

    known: float
    """Heads that whoever knows the life would hold [heads]."""
    held: float
    """What they hold [heads]."""
    held_without: float
    """What they would without the weight on the rating [heads]."""
    served: float
    """True chance that what they hold suffices [-]."""
    served_without: float
    """The same of what they would hold without [-]."""
    under: float
    """Share of shops served under .90 [-]."""


def shop_of(cell: Cell, rng: np.random.Generator) -> tuple[GroupEvidence, Floats]:
    """Let a shop run its first weeks: what its lives say, and the ages of its heads today."""
    exits, failed, ages = [], [], []
    for _ in range(cell.heads):
        left = WEEKLY * cell.weeks
        while (life := float(cell.scale * rng.weibull(cell.shape))) < left:
            exits.append(life)
            failed.append(True)
            left -= life
        exits.append(left)
        failed.append(False)
        ages.append(left)
    evidence = Evidence.from_lives(0, exits, failed, reference_hours=RATED)
    group = GroupEvidence(
        Group("A", "model"), RATED, len(exits), {"wear": evidence}, "", sum(exits), max(exits)
    )
    return group, np.array(ages)


def needed(cell: Cell, ages: Floats, rng: np.random.Generator, n: int = 1000) -> Floats:
    """Heads needed ahead in so many futures of the true lives."""
    total = np.zeros(n, dtype=int)
    for first in ages:
        left, age = np.full(n, WEEKLY * AHEAD), np.full(n, first)
        rest = (first / cell.scale) ** cell.shape + rng.exponential(size=n)
        life = cell.scale * rest ** (1.0 / cell.shape)
        while (swapped := left > np.minimum(life, RATED) - age).any():
            total += swapped
            left = np.where(swapped, left - (np.minimum(life, RATED) - age), -1.0)
            age, life = np.zeros(n), cell.scale * rng.weibull(cell.shape, n)
    return total


def held(group: GroupEvidence, ages: Floats, leans: bool) -> int:
    """Heads to hold at 95 %."""
    life = fit_modes(group, "wear")["wear"]
    if not leans and not group.rests_on_rating:
        life = replace(life, assumed=None)
    policy = Policy(swap_at=RATED)
    demand = hl.forecast_demand(life.to_forecast, ages, WEEKLY, AHEAD, policy, 1500, seed=1)
    return plan_stock(demand, 0.95).stock_level


def outcome(cell: Cell, shops: int, seed: int) -> Outcome:
    """Simulate shops of one kind."""
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(shops):
        group, ages = shop_of(cell, rng)
        need = needed(cell, ages, rng)
        levels = [held(group, ages, leans) for leans in (True, False)]
        known = np.quantile(need, 0.95, method="higher")
        rows.append([known, *levels, *((need <= level).mean() for level in levels)])
    found = np.array(rows)
    known, now, without, served, served_without = found.mean(axis=0).tolist()
    under = float((found[:, 3] < 0.9).mean())
    return Outcome(known, now, without, served, served_without, under)


if __name__ == "__main__":
    for heads in (4, 12):
        for weeks in (6.0, 13.0):
            for share in (0.3, 0.55, 0.9):
                for shape in (1.5, 3.0):
                    cell = Cell(heads, weeks, share, shape)
                    print(cell, outcome(cell, 100, 77))
