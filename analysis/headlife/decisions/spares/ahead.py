"""How far ahead, and how finely, is a fleet simulated? As stocks need and time allows.

From the fleet, its lives and the shop's settings to futures; the more positions, the fewer futures.
Never stocks.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.fleet.state import Fleet
from headlife.futures.forecast import FleetForecast, forecast_fleet
from headlife.life.groups import Group
from headlife.units import WEEKS_PER_YEAR

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from headlife.futures.draws import DrawnLife
    from headlife.shop import Shop, Spares

# Positions times futures: time is what runs out. With 1,000 futures a service level of 95 % is met
# to about 0.7 points.
PATHS: Final = 4_000_000
FEWEST_DRAWS: Final = 500
# Futures reach to the end of a half-year, so that one set of them answers other lead times too.
_HALF_YEAR: Final = 0.5 * WEEKS_PER_YEAR


def weeks_to_next_order(spares: Spares, start: Any) -> float:
    """Weeks from an order to the next one: the review period, or until a stated order day [weeks].

    Parameters
    ----------
    spares : Spares
        The settings' [spares].
    start : date
        The day of the order.

    Returns
    -------
    float
        Weeks.
    """
    weeks = spares.weeks_to_next_order(np.datetime64(start, "D").item())
    # To an order day of the calendar, a week that has begun counts whole.
    return float(math.ceil(weeks)) if spares.order_days else weeks


def protection_weeks(spares: Spares, start: Any) -> float:
    """Weeks that a stock must last: until the order after this one arrives [weeks].

    Parameters
    ----------
    spares : Spares
        The settings' [spares].
    start : date
        The day of the order.

    Returns
    -------
    float
        Weeks.
    """
    return spares.lead_time_weeks + weeks_to_next_order(spares, start)


def forecast_horizon(spares: Spares, start: Any) -> float:
    """Weeks within which even a late delivery is there [weeks].

    Parameters
    ----------
    spares : Spares
        The settings' [spares].
    start : date
        The day of the order.

    Returns
    -------
    float
        Weeks.
    """
    late = spares.longest_lead_weeks - spares.lead_time_weeks
    return protection_weeks(spares, start) + math.ceil(late)


def simulated_weeks(spares: Spares, start: Any) -> float:
    """Weeks that are simulated: whole half-years that hold `forecast_horizon` [weeks].

    Parameters
    ----------
    spares : Spares
        The settings' [spares].
    start : date
        The day of the order.

    Returns
    -------
    float
        Weeks.
    """
    return math.ceil(forecast_horizon(spares, start) / _HALF_YEAR - 1e-9) * _HALF_YEAR


def fleet_ahead(
    fleet: Fleet,
    lives: Mapping[Group, Sequence[DrawnLife]],
    shop: Shop,
    start: Any,
    weeks: float | None = None,
    executor: Executor | None = None,
) -> FleetForecast:
    """Simulate the fleet in as many futures as time allows.

    Parameters
    ----------
    fleet : Fleet
        Positions, usage and shelf on the day.
    lives : mapping of Group to a sequence of Life
        The competing modes of each head type and role.
    shop : Shop
        Its spares settings, policy and costs.
    start : date
        The day.
    weeks : float, optional
        How far ahead; default `simulated_weeks` [weeks].
    executor : concurrent.futures.Executor, optional
        Works on the simulation in pieces; the answer is the same with any, or without.

    Returns
    -------
    FleetForecast
        The futures.
    """
    weeks = simulated_weeks(shop.spares, start) if weeks is None else weeks
    most = max(PATHS // max(len(fleet.positions), 1), FEWEST_DRAWS)
    draws = min(shop.review.draws, most)
    return forecast_fleet(fleet, lives, shop, weeks, start, draws, executor=executor)
