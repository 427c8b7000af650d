"""`python -m studies.planning --shops 100`: what planning every week saves, shop by shop."""

from __future__ import annotations

import argparse

import numpy as np
import pandas as pd

from studies.planning.fixed import run_fixed
from studies.planning.weekly import run_planned
from studies.planning.year import another_year, simulated_shop


def study(shops: int, seed: int = 1, by_steps: bool = True, years: int = 4) -> pd.DataFrame:
    """Run so many shops, one row each, means over so many years that each might have.

    Returns
    -------
    DataFrame
        `planned`, `at_rating`, `best_fixed`: cost of a year [currency]; `critical_planned`,
        `critical_at_rating`: failed quality-critical builds, expected [-].
    """
    rows = []
    for number in range(shops):
        shop = simulated_shop(np.random.default_rng([seed, number]))
        futures = np.random.default_rng([seed, number, 1])
        met = [shop, *(another_year(shop, futures) for _ in range(years - 1))]
        fixed, critical = np.mean([run_fixed(one) for one in met], axis=0)
        planned, failed = np.mean([run_planned(one, by_steps) for one in met], axis=0)
        rows.append(
            {
                "planned": planned,
                "at_rating": fixed[0],
                "best_fixed": fixed.min(),
                "critical_planned": failed,
                "critical_at_rating": critical[0],
                "spoiled": shop.spoiled,
            }
        )
    return pd.DataFrame(rows)


def main() -> None:
    """Print what planning saves, and the shops that do worse."""
    parser = argparse.ArgumentParser(
        prog="python -m studies.planning",
        description="What is a plan worth that is made every week?",
    )
    parser.add_argument("--shops", type=int, default=5, help="simulated shops")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--years", type=int, default=4, help="years that each shop might have")
    parser.add_argument("--at-rating", action="store_true", help="never past the rating")
    args = parser.parse_args()
    found = study(args.shops, args.seed, not args.at_rating, args.years)
    total = found.sum()
    above_best = 100.0 * (total["planned"] / total["best_fixed"] - 1.0)
    own = 100.0 * (found["planned"] / found["at_rating"] - 1.0)
    print(f"{args.shops} shops, a year planned every week with the posterior of the day")
    print(f"total cost above the best fixed policy in hindsight: {above_best:.1f} %")
    print(
        f"against swapping at the rating: {own.mean():+.1f} % "
        f"({own.min():+.1f} to {own.max():+.1f})"
    )
    print(
        f"shops not above it: {100 * (own <= 0).mean():.0f} %, not by 0.5 %: "
        f"{100 * (own <= 0.5).mean():.0f} %"
    )
    print(
        f"failed quality-critical builds: {total['critical_planned']:.1f} planned, "
        f"{total['critical_at_rating']:.1f} at the rating; more in "
        f"{int((found['critical_planned'] > found['critical_at_rating'] + 1e-9).sum())} shops"
    )
    worse = found.assign(percent=own)[own > 0].sort_values("percent", ascending=False)
    if len(worse):
        print("shops that do worse than at the rating:")
        print(worse.round(2).to_string())


if __name__ == "__main__":
    main()
