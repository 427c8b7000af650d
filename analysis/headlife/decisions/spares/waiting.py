"""What does a stock level cost: hours that printers wait for a head, and money on either side?

From the new heads that the fleet's futures ask for, lead times and the plan. Never chooses a
level.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.futures.distribution import Demand
from headlife.futures.forecast import FleetForecast
from headlife.futures.visits import Counts
from headlife.numbers import Floats
from headlife.units import WEEKS_PER_YEAR

if TYPE_CHECKING:
    import pandas as pd

    from headlife.shop import Costs

# Futures behind the hours that printers wait; enough for an hour or two.
WAITING_DRAWS: Final = 4_000


def hours_per_position(forecast: FleetForecast, head_type: str, site: str | None) -> float:
    """Mean print hours a week of the positions of a head type [h].

    Parameters
    ----------
    forecast : FleetForecast
        Futures of the fleet.
    head_type : str
        Head type.
    site : str or None
        Site; None for all.

    Returns
    -------
    float
        Print hours a week [h].
    """
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
    review_weeks: float,
    due: Floats,
    on_hand: int,
    last: int,
    hours_per_week: float,
) -> Floats:
    """Hours that printers wait for a head until the stretch ends, at every stock level.

    What is on hand serves at once, what is on order from the week it is due, and what the level
    asks for beyond both after the lead time.

    Parameters
    ----------
    needed : array of int
        New heads asked for, draws x weeks [heads].
    lead : array of float
        Lead time of every draw [weeks].
    review_weeks : float
        From one order day to the next [weeks].
    due : array of float
        Weeks until each head on order is there, the first one first [weeks].
    on_hand : int
        New heads on the shelf [heads].
    last : int
        Highest stock level [heads].
    hours_per_week : float
        Print hours a week of a position [h].

    Returns
    -------
    array of float
        Expected hours at the levels 0 to `last` [h].
    """
    used = slice(0, WAITING_DRAWS)
    asked = np.cumsum(needed[used], axis=1)
    weeks = np.arange(1, asked.shape[1] + 1)
    lead = lead[used, None]
    inside = weeks <= np.ceil(lead + review_weeks)
    ordered = weeks > lead
    missing = np.zeros(last + 1)
    # Of a level that is on the shelf already, all of it serves.
    few = min(on_hand, last)
    missing[: few + 1] = _missing(asked[inside], few)
    there = on_hand + due.size
    for level in range(on_hand + 1, min(there, last) + 1):
        arrived = np.searchsorted(due[: level - on_hand], weeks)
        missing[level] = (np.maximum(asked - on_hand - arrived, 0) * inside).sum()
    if last > there:
        beyond = asked - on_hand - np.searchsorted(due, weeks)
        missing[there + 1 :] = _missing(beyond[inside & ordered], last - there)[1:]
        missing[there + 1 :] += np.maximum(beyond[inside & ~ordered], 0).sum()
    return missing / len(asked) * hours_per_week


def _missing(asked: Counts, last: int) -> Counts:
    """Sum of what is asked for beyond a stock, for the stocks 0 to `last` [heads]."""
    counts = np.bincount(np.maximum(asked, 0), minlength=last + 2)
    # One head is missing for every stock below what is asked for: sums from the far end.
    more = np.cumsum(counts[::-1])[::-1]
    return np.cumsum(more[::-1])[::-1][1 : last + 2]


def with_costs(
    table: pd.DataFrame, demand: Demand, costs: Costs
) -> tuple[pd.DataFrame, int | None]:
    """Add carrying and waiting cost over the horizon, and find where their sum is least.

    With a fixed waiting time per request unserved this is the newsvendor: the level is the
    smallest S with P(D <= S) >= waiting / (waiting + carrying) (Silver, Pyke & Thomas, Inventory
    and Production Management in Supply Chains, 4th ed., section 9.2).

    Parameters
    ----------
    table : DataFrame
        Stock levels with their risks.
    demand : Demand
        The demand to be covered.
    costs : Costs
        The settings' [costs].

    Returns
    -------
    tuple of (DataFrame, int or None)
        The table with costs, and the level where they are least; None where costs are not stated.
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
