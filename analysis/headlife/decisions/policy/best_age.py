"""At which age is a working head best swapped: where is the cost per print hour lowest?

From a life and costs: the cheapest age on a wide grid, closed in upon between its neighbours, up
to the highest age allowed. Running to failure is the answer when no planned swap pays. Never
looks at records and never simulates.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from headlife.decisions.policy.costs import SwapCosts, as_costs
from headlife.decisions.policy.replacement import ROUNDING, rates_at, weighted_quantile
from headlife.decisions.policy.run_table import run_table
from headlife.decisions.policy.survival import Survival, as_survival
from headlife.numbers import Floats, positive

_SEARCH: Final = np.geomspace(0.01, 8.0, 300)  # ages looked at, in typical mean lives [-]
_AGE_TOLERANCE: Final = 1e-9  # of the best age, relative [-]
_AT_LIMIT: Final = 1e-6  # this close to the highest age allowed is that age, relative [-]
_PLACES, _WEIGHTS = np.polynomial.legendre.leggauss(8)


@dataclass(frozen=True)
class Optimum:
    """The cheapest replacement age."""

    age: float
    """Age at which a working head is swapped [h]; infinite means run to failure."""
    cost_per_hour: float
    """Expected cost there [currency/h]."""
    at_limit: bool
    """True when it is the highest age allowed and a higher one would be cheaper."""


def best_age(
    life: Any,
    costs: SwapCosts | tuple[float, float],
    *,
    highest: float | None = None,
    seed: int = 1,
) -> Optimum:
    """Find the replacement age with the lowest expected cost per print hour.

    Parameters
    ----------
    life : Life or KnownSurvival
        A life, competing lives or a survival function.
    costs : SwapCosts or (planned swap, failure)
        [currency]
    highest : float, optional
        Highest age allowed [h]: the rating, for a head that is quality-critical.
    seed : int, optional
        Of the scenarios, where a life is given.

    Returns
    -------
    Optimum
        Infinite when no planned swap pays, as for any life whose risk does not grow with age.
    """
    return AgeSearch(life, seed).best(costs, highest)


class AgeSearch:
    """Finds the cheapest replacement age of one life, quickly again for other costs."""

    def __init__(self, life: Any, seed: int = 1) -> None:
        self._survival: Survival = as_survival(life, seed)
        mean = self._survival.mean_life
        typical = weighted_quantile(mean, self._survival.weights, 0.5)
        self.table = run_table(self._survival, typical * _SEARCH)
        """The life at the ages looked at."""

    def best(self, costs: SwapCosts | tuple[float, float], highest: float | None = None) -> Optimum:
        """Find the age; see `best_age`.

        Parameters
        ----------
        costs : SwapCosts or tuple of float
            What swaps and failures cost [currency].
        highest : float, optional
            Oldest age looked at [h].

        Returns
        -------
        Optimum
            The age and what it costs.
        """
        costs = as_costs(costs)
        table = self.table
        expected = table.weights @ (
            (costs.planned + costs.extra * (1.0 - table.reliability)) / table.hours
        )
        if highest is not None:
            return self._best_up_to(positive("The highest age", highest, "[h]"), costs, expected)
        age, cost = self._refined(costs, table.ages, int(np.argmin(expected)))
        to_failure = float(table.weights @ (costs.failure / table.mean_life))
        # A gain over running to failure within rounding is no reason to swap.
        if cost >= to_failure * (1.0 - ROUNDING):
            return Optimum(np.inf, to_failure, False)
        return Optimum(age, cost, False)

    def _best_up_to(self, limit: float, costs: SwapCosts, expected: Floats) -> Optimum:
        inside = self.table.ages < limit
        at_limit = float(self.table.weights @ rates_at(self._survival, limit).cost(costs))
        grid = np.append(self.table.ages[inside], limit)
        least = int(np.argmin(np.append(expected[inside], at_limit)))
        age, cost = self._refined(costs, grid, least)
        # Within rounding of the limit the limit is the answer.
        if cost >= at_limit or age >= limit * (1.0 - _AT_LIMIT):
            return Optimum(limit, at_limit, True)
        return Optimum(age, cost, False)

    def _refined(self, costs: SwapCosts, grid: Floats, least: int) -> tuple[float, float]:
        """Close in on the best age between the neighbours of the best one on the grid."""
        from scipy.optimize import minimize_scalar

        before = max(least - 1, 0)
        low, high = grid[before], grid[min(least + 1, grid.size - 1)]
        hours_low = self._survival.hours_run(np.array([low]))[:, 0]

        def expected(log_age: float) -> float:
            age = float(np.exp(log_age))
            # Only the hours from the grid's age on are integrated anew.
            half = 0.5 * (age - low)
            share = self._survival.reliability(np.append(low + half * (_PLACES + 1.0), age))
            hours = hours_low + half * (share[:, :-1] @ _WEIGHTS)
            cost = (costs.planned + costs.extra * (1.0 - share[:, -1])) / hours
            return float(self.table.weights @ cost)

        if low == high:
            return float(low), expected(float(np.log(low)))
        found = minimize_scalar(
            expected,
            bounds=(np.log(low), np.log(high)),
            method="bounded",
            options={"xatol": _AGE_TOLERANCE},
        )
        return float(np.exp(found.x)), float(found.fun)
