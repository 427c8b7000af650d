"""What does a stock level cost: hours that printers wait for a head, and money on either side?

From the new heads that the fleet's futures ask for, lead times and the plan. Never chooses a
level.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.decisions.spares.stock import StockPlan
from headlife.futures.distribution import Demand
from headlife.futures.forecast import FleetForecast
from headlife.futures.visits import Counts
from headlife.numbers import Floats
from headlife.seeds import generator
from headlife.units import WEEKS_PER_YEAR

if TYPE_CHECKING:
    import pandas as pd

    from headlife.shop import Costs, Shop

# Lead times that spread are followed this far [standard deviations].
LONGEST_LEAD_SD: Final = 4.0
# Futures behind the hours that printers wait; enough for an hour or two.
WAITING_DRAWS: Final = 4_000


def lead_times(shop: Shop, forecast: FleetForecast, head_type: str, site: str | None) -> Floats:
    """Lead time in every draw [weeks]: fixed, or gamma with the mean and spread stated."""
    mean, sd = shop.spares.lead_time_weeks, shop.spares.lead_time_sd_weeks
    if sd <= 0:
        return np.full(forecast.draws, mean)
    rng = generator(forecast.seed, "lead time", head_type, str(site))
    gamma_shape = (mean / sd) ** 2
    drawn = rng.standard_gamma(gamma_shape, forecast.draws) * mean / gamma_shape
    return np.asarray(np.minimum(drawn, mean + LONGEST_LEAD_SD * sd))


def hours_per_position(forecast: FleetForecast, head_type: str, site: str | None) -> float:
    """Mean print hours a week of the positions of a head type [h]."""
    counts = {
        group: count
        for group, count in forecast.positions.items()
        if group[0] == head_type and site in (None, group[2])
    }
    total = sum(counts.values())
    hours = sum(forecast.hours_per_week[group[:2]] * count for group, count in counts.items())
    return hours / total if total else 0.0


def idle_hours(
    needed: Counts,
    lead: Floats,
    shop: Shop,
    due: Floats,
    plan: StockPlan,
    level: int,
    hours_per_week: float,
) -> float:
    """Hours that printers wait for a head until the stretch ends, at a stock level [h].

    What is on hand serves at once, what is on order from the week it is due, and what the level
    asks for beyond both after the lead time.
    """
    used = slice(0, WAITING_DRAWS)
    asked = np.cumsum(needed[used], axis=1)
    weeks = np.arange(1, asked.shape[1] + 1)
    lead = lead[used, None]
    there = min(level, plan.on_hand)
    coming = min(level - there, plan.on_order)
    arrived = np.searchsorted(due[:coming], weeks)
    stock = there + arrived + (level - there - coming) * (weeks > lead)
    inside = weeks <= np.ceil(lead + shop.spares.review_weeks)
    missing = np.maximum(asked - stock, 0) * inside
    return float(missing.sum(axis=1).mean()) * hours_per_week


def with_costs(
    table: pd.DataFrame, demand: Demand, costs: Costs
) -> tuple[pd.DataFrame, int | None]:
    """Add carrying and waiting cost over the horizon, and find where their sum is least.

    With a fixed waiting time per request unserved this is the newsvendor: the level is the
    smallest S with P(D <= S) >= waiting / (waiting + carrying) (Silver, Pyke & Thomas, Inventory
    and Production Management in Supply Chains, 4th ed., section 9.2).
    """
    if costs.carrying_cost_per_head_year is None or costs.machine_hour_rate is None:
        return table, None
    # E(S - D)+ = S - E(D) + E(D - S)+.
    left = table["stock_level"] - demand.mean + table["expected_shortfall"]
    carrying = left * costs.carrying_cost_per_head_year * demand.weeks / WEEKS_PER_YEAR
    waiting = table["idle_hours"] * costs.machine_hour_rate
    table = table.assign(
        carrying_cost=carrying, waiting_cost=waiting, total_cost=carrying + waiting
    )
    return table, int(table["total_cost"].to_numpy().argmin())
