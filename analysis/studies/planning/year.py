"""A simulated shop with its truth, and one of its printers through a year of builds.

What is counted is swaps, the true chance of every failure at its price, and what is left in the
heads at the end, less the luck with the heads that were put in. Decides nothing.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from headlife.decisions.plan.end_value import EndHead, EndValue, end_value
from headlife.life.evidence import Evidence
from headlife.numbers import Floats

Flags = npt.NDArray[np.bool_]
Decide = Callable[[int, Floats, Flags], Flags]

RATED_HOURS: Final = 1000.0
WEEKS: Final = 52
AHEAD: Final = 4  # weeks that are planned
PRINTERS: Final = 6
CRITICAL: Final = 2  # of them quality-critical
# What shops differ in, drawn evenly (shapes and prices on a log scale).
SHAPES: Final = (1.2, 4.5)
SHARE_REACHING: Final = (0.55, 0.97)
SPOILED: Final = (80.0, 1200.0)  # what a failed build costs [currency]
HEADS_ON_RECORD: Final = (12, 40)
HEAD: Final = 325.0
VISIT: Final = 25.0
_USUAL: Final = 30.0  # hours of a build, for what is left in heads at the end of the year
_HEADS: Final = 80  # lives drawn for each place; a year needs fewer


@dataclass(frozen=True)
class ShopTruth:
    """A simulated shop: what is true of it, and what it has on record."""

    shapes: Floats
    """Shape of the life in each role [-]."""
    scales: Floats
    """Scale [h]."""
    spoiled: float
    """Cost of a failed build [currency]."""
    record: tuple[Evidence, Evidence]
    """Evidence of each role from the years before."""
    reached: tuple[Floats, Floats]
    """Ages that heads of each role reached in the years before [h]."""
    ages: Floats
    """Ages of the heads in place [h], printers x 2."""
    lives: Floats
    """Ages at which heads fail [h], printers x 2 x heads; the first is in place."""
    builds: list[list[list[float]]]
    """Print hours of the builds of each printer in each week [h]."""

    def critical(self, printer: int) -> bool:
        """Whether no head may pass its rating on a printer."""
        return printer < CRITICAL

    def survives(self, ages: Floats, hours: float) -> Floats:
        """Share of heads of these ages that survive so many hours [-]; last axis: roles."""
        power = ((ages + hours) / self.scales) ** self.shapes - (ages / self.scales) ** self.shapes
        return np.asarray(np.exp(-power), float)


def simulated_shop(rng: np.random.Generator) -> ShopTruth:
    """Draw a shop."""
    low, high = np.log(SHAPES)
    shapes = np.exp(rng.uniform(low, high, 2))
    scales = RATED_HOURS / (-np.log(rng.uniform(*SHARE_REACHING, 2))) ** (1.0 / shapes)
    record, reached = [], []
    for shape, scale in zip(shapes, scales, strict=True):
        heads = int(rng.integers(*HEADS_ON_RECORD))
        lives = scale * rng.standard_exponential(heads) ** (1.0 / shape)
        limit = RATED_HOURS * np.where(rng.random(heads) < 0.3, rng.uniform(1.0, 1.6, heads), 1.0)
        ends = np.minimum(lives, limit)
        reached.append(ends)
        record.append(Evidence.from_lives(0.0, ends, lives <= limit, reference_hours=RATED_HOURS))
    ages = rng.uniform(0.0, 0.9 * RATED_HOURS, (PRINTERS, 2))
    lives = _lives(shapes, scales, ages, rng)
    weekly = rng.uniform(30.0, 90.0, PRINTERS)
    builds = [
        [
            (hours * rng.dirichlet(np.full(int(rng.integers(1, 4)), 4.0))).tolist()
            for hours in weekly[printer] * rng.uniform(0.5, 1.5, WEEKS + AHEAD)
        ]
        for printer in range(PRINTERS)
    ]
    spoiled = float(np.exp(rng.uniform(*np.log(SPOILED))))
    return ShopTruth(
        shapes,
        scales,
        spoiled,
        (record[0], record[1]),
        (reached[0], reached[1]),
        ages,
        lives,
        builds,
    )


def _lives(shapes: Floats, scales: Floats, ages: Floats, rng: np.random.Generator) -> Floats:
    """Draw the ages at which heads fail, those in place past their present age [h]."""
    spent = rng.standard_exponential((PRINTERS, 2, _HEADS))
    spent[:, :, 0] += (ages / scales) ** shapes
    return np.asarray(scales[:, None] * spent ** (1.0 / shapes[:, None]))


def another_year(shop: ShopTruth, rng: np.random.Generator) -> ShopTruth:
    """Let the same shop, with the same record and builds, meet other lives."""
    return replace(shop, lives=_lives(shop.shapes, shop.scales, shop.ages, rng))


@dataclass
class Course:
    """One printer through the year, under one or many policies at once."""

    shop: ShopTruth
    printer: int
    worth: EndValue
    policies: int = 1
    ages: Floats = field(init=False)
    heads: npt.NDArray[np.int64] = field(init=False)
    costs: Floats = field(init=False)
    failed: Floats = field(init=False)
    ended: list[tuple[int, float, bool]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.ages = np.repeat(self.shop.ages[self.printer][None], self.policies, axis=0)
        self.heads = np.zeros((self.policies, 2), dtype=np.int64)
        self.costs, self.failed = np.zeros(self.policies), np.zeros(self.policies)

    def run(self, build: int, hours: float, decide: Decide) -> None:
        """Run a build, again after every head that fails in it; swaps as decided before each."""
        going = np.ones(self.policies, dtype=bool)
        visited = np.zeros(self.policies, dtype=bool)  # there is a visit anyway, after a failure
        shop = self.shop
        lives = shop.lives[self.printer]
        while going.any():
            swap = decide(build, self.ages, visited) & going[:, None]
            self.costs += HEAD * swap.sum(axis=1) + VISIT * (swap.any(axis=1) & ~visited)
            self._replace(swap, np.zeros_like(swap))
            survive = shop.survives(self.ages, hours)
            fails = going * (1.0 - survive.prod(axis=1))
            self.failed += fails
            self.costs += fails * (VISIT + shop.spoiled)
            self.costs += going * HEAD * (1.0 - survive).sum(axis=1)
            left = np.take_along_axis(lives[None], self.heads[..., None], 2)[..., 0] - self.ages
            first = left.min(axis=1)
            visited = going & (first < hours)
            self.costs -= going * self._luck(hours, survive, visited, left)
            ran = np.where(visited, first, hours)
            gone = visited[:, None] & (left <= first[:, None])
            self.ages = self.ages + (going * ran)[:, None]
            self._replace(gone, gone)
            going = visited

    def _luck(self, hours: float, survive: Floats, failed: Flags, left: Floats) -> Floats:
        """Worth of what came out of a build, beyond what was to be expected [currency]."""
        ages, none = self.ages, np.zeros(self.policies)
        stay = worth_of(self.worth, ages[:, 0] + hours, ages[:, 1] + hours)
        model = worth_of(self.worth, none, ages[:, 1] + 0.5 * hours)
        support = worth_of(self.worth, ages[:, 0] + 0.5 * hours, none)
        lost = 1.0 - survive
        # Which of two that fail comes first is even.
        chance = lost * (1.0 - 0.5 * lost[:, ::-1])
        mean = survive.prod(axis=1) * stay + chance[:, 0] * model + chance[:, 1] * support
        came = np.where(left[:, 0] <= left[:, 1], model, support)
        return np.asarray(np.where(failed, came, stay) - mean)

    def _replace(self, out: Flags, failed: Flags) -> None:
        if self.policies == 1:
            for role in np.flatnonzero(out[0]).tolist():
                self.ended.append((role, float(self.ages[0, role]), bool(failed[0, role])))
        self.ages = np.where(out, 0.0, self.ages)
        self.heads = self.heads + out


def _reaches(shape: float, scale: float) -> Callable[[Floats], Floats]:
    return lambda ages: np.asarray(np.exp(-((ages / scale) ** shape)), float)


def true_worth(shop: ShopTruth, critical: bool) -> EndValue:
    """Give what heads of any ages will still cost, by the truth."""
    heads = [
        EndHead(
            _reaches(shape, scale),
            RATED_HOURS if critical else np.inf,
            RATED_HOURS,
            HEAD,
        )
        for shape, scale in zip(shop.shapes, shop.scales, strict=True)
    ]
    return end_value(heads, _USUAL, VISIT, shop.spoiled)


def worth_of(worth: EndValue, model: Floats, support: Floats) -> Floats:
    """Read off the worth of pairs of ages, one by one [currency]."""
    last = worth.table.shape[0] - 1
    at, low = [], []
    for ages in (model, support):
        place = np.clip(ages / worth.step, 0.0, last)
        low.append(np.minimum(place.astype(np.intp), last - 1))
        at.append(place - low[-1])
    (i, k), (x, y) = low, at
    table = worth.table
    below = (1.0 - y) * table[i, k] + y * table[i, k + 1]
    above = (1.0 - y) * table[i + 1, k] + y * table[i + 1, k + 1]
    return np.asarray((1.0 - x) * below + x * above)
