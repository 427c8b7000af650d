"""Our answers to published spares problems; the decisions room's own tests check them too."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.special import gammaln

from headlife.decisions.spares.stock import expected_shortfall, plan_stock, stock_table
from headlife.futures.distribution import Demand, known_demand
from validation.cases import Case


def poisson_demand(mean: float) -> Demand:
    """Poisson demand, as a distribution known from outside."""
    heads = np.arange(60)
    return known_demand(np.exp(heads * np.log(mean) - mean - gammaln(heads + 1.0)))


def lamps(case: Case) -> dict[str, Any]:
    """Two spare lamps."""
    demand = poisson_demand(case.data["failures_per_hour"] * case.data["hours"])
    lasting = stock_table(demand, 5)["service"][case.data["spares"]]
    return {
        "mean": demand.mean,
        "probability_spares_last": lasting,
        "probability_exact": lasting,
    }


def base_stock(case: Case) -> dict[str, Any]:
    """Choose a weekly base stock by the share met from the shelf."""
    demand = poisson_demand(case.data["mean"])
    return {
        "stock_level": plan_stock(demand, case.data["fill_rate"]).stock_level,
        "pmf": demand.pmf[:3],
        "cdf_from_1": demand.cdf[1:5],
        "shortfall": expected_shortfall(demand, 3),
        "shortfall_exact": expected_shortfall(demand, 4),
    }


def backorders(case: Case) -> dict[str, Any]:
    """Tabulate expected backorders and the ready rate."""
    table = stock_table(poisson_demand(case.data["pipeline_mean"]), 5)
    return {
        "backorders": table["expected_shortfall"],
        "ready_rate": table["ready_rate"],
        "backorders_exact": table["expected_shortfall"],
    }
