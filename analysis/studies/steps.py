"""Past the rating at once, or in steps? Simulated shops that have swapped all heads at the rating.

Each shop has a life and a price of failures of its own; in the weak ones every tenth head is weak
from new, which a Weibull life cannot say. Five failures are on record, no head past the rating.
Then it swaps for two years at the age that records and costs speak for, or goes there by
`decisions.policy.steps`, learning every quarter from what its heads did. Charged is the true cost
of every quarter's age, beside that of staying at the rating and of the best age under full
knowledge. Run `python -m studies.steps [--shops 300] [--seed 1]`; it never uses a real record.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from headlife.decisions.policy.best_age import AgeSearch
from headlife.decisions.policy.costs import as_costs
from headlife.decisions.policy.steps import next_step, seen_age
from headlife.decisions.policy.survival import as_survival
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life
from headlife.numbers import Floats
from headlife.seeds import generator
from headlife.units import WEEKS_PER_QUARTER
from studies.weak_heads import PartlyWeak

RATED_HOURS: Final = 1200.0
# What shops differ in, drawn evenly on a log scale (the share reaching the rating evenly).
SHAPES: Final = (1.5, 5.0)
SHARE_REACHING: Final = (0.50, 0.97)
FAILURE_TO_PLANNED: Final = (1.3, 6.0)
WEAK_SHARE: Final = 0.10
WEAK_MEAN: Final = 0.3 * RATED_HOURS  # exponential life of a weak head
FAILURES: Final = 5
POSITIONS: Final = 20
WEEKLY_HOURS: Final = 45.0
QUARTERS: Final = 8
_MOST_HEADS: Final = 5_000
_TO_FAILURE: Final = 20.0  # true mean lives that stand for running to failure


@dataclass(frozen=True)
class TrueShop:
    """How a shop really is."""

    shape: float
    """Weibull shape of a good head [-]."""
    scale: float
    """Its scale [h]."""
    weak: float
    """Share of heads that are weak from new [-]."""
    failure: float
    """Cost of a failure, in planned swaps [-]."""

    def lives(self, heads: int, rng: np.random.Generator) -> Floats:
        """Draw lives of heads [h]."""
        return PartlyWeak(self.shape, self.scale, self.weak, WEAK_MEAN).lives(heads, rng)

    def cost_at(self, age: float) -> float:
        """Give the true cost per hour of swapping at an age, in planned swaps [1/h]."""
        end = min(age, _TO_FAILURE * self.scale)
        hours = np.linspace(0.0, end, 2_001)
        good = np.exp(-((hours / self.scale) ** self.shape))
        alive = (1.0 - self.weak) * good + self.weak * np.exp(-hours / WEAK_MEAN)
        failed = 1.0 - alive[-1]
        return float((alive[-1] + self.failure * failed) / np.trapezoid(alive, hours))

    def best_cost(self) -> float:
        """Give the lowest true cost of any age [1/h]."""
        return min(self.cost_at(age) for age in RATED_HOURS * np.geomspace(0.3, 6.0, 60))


def true_shop(weak: float, rng: np.random.Generator) -> TrueShop:
    """Draw a shop."""
    shape, failure = (
        float(np.exp(rng.uniform(*np.log(span)))) for span in (SHAPES, FAILURE_TO_PLANNED)
    )
    scale = RATED_HOURS / (-np.log(rng.uniform(*SHARE_REACHING))) ** (1.0 / shape)
    return TrueShop(shape, scale, weak, failure)


def two_years(truth: TrueShop, rng: np.random.Generator) -> tuple[float, float]:
    """Give the true costs of going at once, and by steps, over staying at the rating [-]."""
    costs, at_rating = as_costs((1.0, truth.failure)), truth.cost_at(RATED_HOURS)
    lives = truth.lives(_MOST_HEADS, rng)
    heads = int(np.searchsorted(np.cumsum(lives <= RATED_HOURS), FAILURES)) + 1
    evidence, reached = _watched(lives[:heads], RATED_HOURS)
    at_once = truth.cost_at(AgeSearch(fit_life(evidence)).best(costs).age)
    spent = 0.0
    for _ in range(QUARTERS):
        life = fit_life(evidence)
        step = next_step(
            as_survival(life),
            costs,
            RATED_HOURS,
            seen_age(reached, RATED_HOURS),
            AgeSearch(life).best(costs).age,
            POSITIONS,
        )
        age = RATED_HOURS if step is None else step.age
        spent += truth.cost_at(age) / QUARTERS
        used = int(POSITIONS * WEEKLY_HOURS * WEEKS_PER_QUARTER / age) + 1
        more, ended = _watched(truth.lives(used, rng), age)
        evidence, reached = evidence + more, np.append(reached, ended)
    return at_once / at_rating - 1.0, spent / at_rating - 1.0


def _watched(lives: Floats, age: float) -> tuple[Evidence, Floats]:
    """Give what heads swapped at an age tell, and the ages they reached [h]."""
    ended = np.minimum(lives, age)
    return Evidence.from_lives(0.0, ended, lives <= age, reference_hours=RATED_HOURS), ended


def excess(weak: float, shops: int, seed: int) -> pd.DataFrame:
    """Give costs over staying at the rating, one row per shop.

    Parameters
    ----------
    weak : float
        Share of weak heads [-].
    shops : int
        Shops [-].
    seed : int
        Same seed, same shops.

    Returns
    -------
    DataFrame
        `at_once`, `by_steps`, `best` under full knowledge: 0 is as dear as the rating [-].
    """
    rows = []
    for number in range(shops):
        rng = generator(seed, "steps", str(weak), str(number))
        truth = true_shop(weak, rng)
        best = truth.best_cost() / truth.cost_at(RATED_HOURS) - 1.0
        rows.append((*two_years(truth, rng), best))
    return pd.DataFrame(rows, columns=["at_once", "by_steps", "best"])


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(
        prog="python -m studies.steps",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--shops", type=int, default=300, help="simulated shops of each kind")
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    print(f"{options.shops} shops; true cost over two years against staying at the rating")
    print(f"{'':<24}{'mean':>9}{'over 10 % dearer':>20}")
    for name, weak in (("one head in ten weak", WEAK_SHARE), ("no weak head", 0.0)):
        found = excess(weak, options.shops, options.seed)
        print(name)
        for way in found.columns:
            dearer = float((found[way] > 0.10).mean())
            print(f"  {way:<22}{found[way].mean():>+9.1%}{dearer:>20.1%}")


if __name__ == "__main__":
    main()
