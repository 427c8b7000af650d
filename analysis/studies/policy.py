"""How good is the advised swap age when the truth is known? Simulated shops, one table.

Each shop has a Weibull life and a price of failures of its own, keeps records until a given
number of heads has failed, asks for the cheapest swap age, and is charged the true cost of that
age. Compared with the best age under full knowledge, and with always swapping at the rating.
Run `python -m studies.policy --shops 500`; the tests run a small version.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from headlife.decisions.policy.best_age import best_age
from headlife.decisions.policy.costs import as_costs
from headlife.decisions.policy.replacement import rates_at
from headlife.futures.demand import KnownLife
from headlife.life.evidence import Evidence
from headlife.life.posterior import Life, fit_life

RATED_HOURS: Final = 1200.0
# What shops differ in, drawn evenly on a log scale (the share reaching the rating evenly).
SHAPES: Final = (1.2, 5.0)
SHARE_REACHING: Final = (0.50, 0.97)
FAILURE_TO_PLANNED: Final = (1.3, 6.0)
_MOST_HEADS: Final = 5_000


@dataclass(frozen=True)
class Design:
    """What a shop's records hold."""

    failures: int
    """Failures on record [heads]."""
    past_rating: float
    """Share of heads that are run to failure; the others are swapped at the rating [-]."""


DESIGNS: Final = tuple(Design(failures, past) for failures in (30, 5) for past in (0.5, 0.2, 0.0))


def simulated_shop(
    design: Design, rng: np.random.Generator
) -> tuple[KnownLife, tuple[float, float], Life]:
    """Draw a shop: its true life, its costs (planned, failure), and what its records say."""
    shape = float(np.exp(rng.uniform(*np.log(SHAPES))))
    scale = RATED_HOURS / (-np.log(rng.uniform(*SHARE_REACHING))) ** (1.0 / shape)
    ratio = float(np.exp(rng.uniform(*np.log(FAILURE_TO_PLANNED))))
    lives = scale * rng.standard_exponential(_MOST_HEADS) ** (1.0 / shape)
    limit = np.where(rng.random(_MOST_HEADS) < design.past_rating, np.inf, RATED_HOURS)
    failed = lives <= limit
    heads = int(np.searchsorted(np.cumsum(failed), design.failures)) + 1
    ends = np.minimum(lives, limit)[:heads]
    evidence = Evidence.from_lives(0.0, ends, failed[:heads], reference_hours=RATED_HOURS)
    return KnownLife(shape, scale), (1.0, ratio), fit_life(evidence)


def excess_costs(design: Design, shops: int, seed: int = 1) -> pd.DataFrame:
    """Give the true cost above that of the best age under full knowledge, one row per shop.

    Returns
    -------
    DataFrame
        `advised`, `at_rating`: excess as a fraction of the best cost [-].
    """
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(shops):
        truth, costs, life = simulated_shop(design, rng)
        best = best_age(truth, costs).cost_per_hour
        ages = {"advised": best_age(life, costs).age, "at_rating": RATED_HOURS}
        rows.append(
            {
                name: float(rates_at(truth, age).cost(as_costs(costs))[0]) / best - 1.0
                for name, age in ages.items()
            }
        )
    return pd.DataFrame(rows)


def main() -> None:
    """Print the table of all designs."""
    parser = argparse.ArgumentParser(
        prog="python -m studies.policy", description="How good is the advised swap age?"
    )
    parser.add_argument("--shops", type=int, default=500, help="simulated shops per design")
    shops = parser.parse_args().shops
    print("True cost above the best age under full knowledge, mean over shops (worst shop)")
    print(f"{'failures':>8} {'run past rating':>16} {'advised age':>18} {'at the rating':>20}")
    for design in DESIGNS:
        excess = 100.0 * excess_costs(design, shops)
        mean, worst = excess.mean(), excess.max()
        print(
            f"{design.failures:>8} {design.past_rating:>15.0%} "
            f"{mean['advised']:>8.1f} % ({worst['advised']:.0f} %)"
            f"{mean['at_rating']:>10.1f} % ({worst['at_rating']:.0f} %)"
        )


if __name__ == "__main__":
    main()
