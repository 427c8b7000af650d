"""Our answers on renewals and replacement ages, by the convolution that checks the simulation.

The simulation of demand is held against the same cases in `tests/decisions`.
"""

from __future__ import annotations

from math import gamma
from typing import Any

import numpy as np

from headlife.decisions.policy.best_age import best_age
from headlife.decisions.policy.replacement import replacement_curve
from headlife.decisions.policy.survival import KnownSurvival
from headlife.futures.convolution import cumulative_hazard, exact_demand, renewal_function
from headlife.futures.demand import KnownLife
from headlife.life import weibull
from headlife.shop.policy import Policy
from validation.cases import Case

_GRID = 512
_ALMOST_ONE = 1 - 1e-15


def weibull_renewals(shape: float, scale: float, times: Any) -> list[float]:
    """Mean number of replacements of a Weibull life by each time."""
    hazard = cumulative_hazard(KnownLife(shape, scale))
    return [renewal_function(hazard, time) for time in times]


def weibull_tables(case: Case) -> dict[str, Any]:
    """Tabulate eight shapes with scale 1, and three of them with mean 1."""
    answer = {}
    for name in case.expected:
        shape = float(name.rpartition("_")[2])
        one = name.startswith("mean_one")
        scale = 1.0 / gamma(1.0 + 1.0 / shape) if one else 1.0
        answer[name] = weibull_renewals(shape, scale, case.data["t_mean_one" if one else "t"])
    return answer


def circuit_breaker(case: Case) -> dict[str, Any]:
    """Run a fitted circuit-breaker life to failure, and replace it at an age."""
    shape, scale = case.data["shape"], 1.0 / case.data["rate"]
    renewals = weibull_renewals(shape, scale, case.data["t"])
    policy = Policy(case.data["swap_age"])
    replaced = [
        exact_demand(KnownLife(shape, scale), [0.0], 1.0, years, policy, grid=_GRID)
        for years in case.data["t_age_replacement"]
    ]
    failures = [demand.failure_mean for demand in replaced]
    planned = [demand.planned_mean for demand in replaced]
    mean = float(weibull.mean_life(shape, scale))
    return {
        "renewals_printed": renewals,
        "renewals": renewals,
        "mean_life": mean,
        "long_run_rate": 1.0 / mean,
        "renewals_5000_over_5000": weibull_renewals(shape, scale, [5000.0])[0] / 5000.0,
        "failures_age_replacement_printed": failures,
        "planned_age_replacement_printed": planned,
        "failures_age_replacement": failures,
        "planned_age_replacement": planned,
    }


def closed_forms(case: Case) -> dict[str, Any]:
    """Solve for gamma and uniform lives, whose renewal functions have closed forms."""
    rate = case.data["gamma_rate"]

    def two_phases(t: Any) -> Any:
        return rate * t - np.log1p(rate * t)

    def uniform(t: Any) -> Any:
        return -np.log1p(-np.minimum(t, _ALMOST_ONE))

    return {
        "erlang2_rate2_t1": renewal_function(two_phases, 1.0),
        "erlang2_rate2_t3": renewal_function(two_phases, 3.0),
        "uniform_t0_5": renewal_function(uniform, 0.5),
        "uniform_t1": renewal_function(uniform, 1.0),
    }


def uniform_replacement(case: Case) -> dict[str, Any]:
    """Find the replacement age of a life that is uniform."""
    last, grid = case.data["life_max"], case.array("grid")
    life = KnownSurvival(lambda km: np.clip(1.0 - km / last, 0.0, 1.0), mean=last / 2)
    costs = (case.data["cp"], case.data["cf"])
    curve = replacement_curve(life, grid, costs)
    best = best_age(life, costs)
    return {
        "cost_rate_grid": curve["expected"],
        "best_on_grid": grid[int(np.argmin(curve["expected"]))],
        "optimum": best.age,
        "optimum_cost": best.cost_per_hour,
    }
