"""Which orders lie ahead: on which day, how many heads, when do they arrive and what do they cost?

From new heads that the futures ask for, the stock level and the settings of ordering. On every
order day heads are ordered up to the level, in whole multiples; the first order is certain, later
ones have a range. What is bought is not what is used up: the difference is in the stock. Never
chooses today's level.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.decisions.spares.ahead import weeks_to_next_order
from headlife.decisions.spares.budget import band_of
from headlife.decisions.spares.shelf import new_heads
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.fleet.state import Fleet
    from headlife.futures.forecast import FleetForecast
    from headlife.quarters import Quarter
    from headlife.shop import Shop, Spares

PLACED: Final = "placed"
NOW: Final = "now"
LATER: Final = "later"


@dataclass(frozen=True)
class Purchase:
    """One order: placed already, to be placed now, or expected later."""

    head_type: str
    """Head type."""
    site: str | None
    """The site whose own stock it is for; None where all sites share one."""
    state: str
    """placed, now or later."""
    ordered: datetime.date | None
    """Day of the order; None where it is placed already and the settings name no day."""
    arrives: datetime.date
    """Day on which it arrives."""
    multiple: int
    """Heads are ordered in multiples of this [heads]."""
    heads: float
    """Heads; of a later order the median [heads]."""
    low: float
    """Lower end of the range, 80 % [heads]."""
    high: float
    """Upper end of it [heads]."""
    mean: float
    """Mean number of heads [heads]."""
    price: float | None
    """Price of a head [currency]."""

    @property
    def cash(self) -> float | None:
        """Expected amount, the mean number of heads at their price [currency]."""
        return None if self.price is None else self.mean * self.price


def purchases(
    stock: Sequence[StockAnswer],
    fleet: Fleet,
    forecast: FleetForecast,
    shop: Shop,
) -> tuple[Purchase, ...]:
    """List the orders over the horizon of the futures, by day.

    Parameters
    ----------
    stock : sequence of StockAnswer
        Levels, and what is on hand and on order.
    fleet : Fleet
        Positions and shelf.
    forecast : FleetForecast
        Futures over the quarters of the budget.
    shop : Shop
        How it orders, and prices.

    Returns
    -------
    tuple of Purchase
        By day of arrival; an order that every future leaves at nothing is left out.
    """
    found: list[Purchase] = []
    for answer in stock:
        found += _placed(answer, forecast, shop)
        found += _ahead(answer, fleet, forecast, shop)
    return tuple(sorted(found, key=lambda one: (one.arrives, one.head_type, one.site or "")))


def order_up_to(
    needed: np.ndarray, levels: Sequence[int], position: int, multiple: int, weeks: Sequence[float]
) -> np.ndarray:
    """Orders on every order day, in every future.

    Parameters
    ----------
    needed : array of int
        New heads asked for, draws x weeks [heads].
    levels : sequence of int
        Stock level that is ordered up to on each order day [heads].
    position : int
        Heads on hand and on order now [heads].
    multiple : int
        Heads are ordered in multiples of this [heads].
    weeks : sequence of float
        Weeks from now to each order day; the first is now [weeks].

    Returns
    -------
    array of int
        Draws x order days [heads].
    """
    so_far = np.cumsum(needed, axis=1, dtype=np.int64)
    have = np.full(len(needed), position, dtype=np.int64)
    orders = np.zeros((len(needed), len(weeks)), dtype=np.int64)
    used_before = np.zeros(len(needed), dtype=np.int64)
    for review, (week, level) in enumerate(zip(weeks, levels, strict=True)):
        # What was asked for in the weeks that have passed by this day.
        passed = min(round(week), needed.shape[1])
        used = so_far[:, passed - 1] if passed else used_before
        have -= used - used_before
        used_before = used
        short = np.maximum(level - have, 0)
        orders[:, review] = -(-short // multiple) * multiple
        have += orders[:, review]
    return orders


def _ahead(
    answer: StockAnswer, fleet: Fleet, forecast: FleetForecast, shop: Shop
) -> Iterator[Purchase]:
    """Orders now and on the order days ahead."""
    spares, plan = shop.spares, answer.plan
    needed = np.asarray(new_heads(fleet, forecast, shop, answer.head_type, answer.site).total)
    weeks, gaps = _order_days(spares, forecast.start.date(), needed.shape[1])
    orders = order_up_to(
        needed,
        [plan.stock_level, *_later_levels(answer, needed, spares, gaps)],
        plan.on_hand + plan.on_order,
        spares.order_multiple,
        weeks,
    )
    for review in range(orders.shape[1]):
        own = orders[:, review]
        if not own.any():
            continue
        low, median, high = band_of(own)
        ordered = _after(forecast, weeks[review])
        yield Purchase(
            answer.head_type,
            answer.site,
            LATER if review else NOW,
            ordered,
            _after(forecast, weeks[review] + spares.lead_time_weeks),
            spares.order_multiple,
            float(median),
            float(low),
            float(high),
            float(own.mean()),
            shop.prices[answer.head_type],
        )


def _order_days(
    spares: Spares, start: datetime.date, horizon: float
) -> tuple[list[float], list[float]]:
    """Weeks from now to each order day within the horizon, now first, and from it to the next."""
    ordered, weeks, gaps = start, [0.0], [weeks_to_next_order(spares, start)]
    while True:
        stated = spares.next_order_day(ordered)
        after = weeks[-1] + gaps[-1]
        if stated is not None:
            ordered, after = stated, (stated - start).days / DAYS_PER_WEEK
        if after >= horizon:
            break
        weeks.append(after)
        gaps.append(weeks_to_next_order(spares, ordered))
    return weeks, gaps


def _later_levels(
    answer: StockAnswer, needed: np.ndarray, spares: Spares, gaps: Sequence[float]
) -> list[int]:
    """Levels of later orders: today's, or what as many weeks from now on need, if others pass."""
    so_far = np.cumsum(needed, axis=1, dtype=np.int64)

    def level(gap: float) -> int:
        if gap == gaps[0]:
            return answer.plan.stock_level
        covered = gap + spares.lead_time_weeks
        within = min(round(covered), needed.shape[1])
        asked = np.quantile(so_far[:, within - 1], spares.service_level, method="inverted_cdf")
        # Futures that end before the order after it arrives go on as they are.
        enough: int = math.ceil(float(asked) * covered / within) + answer.plan.added
        return enough

    return [level(gap) for gap in gaps[1:]]


def _placed(answer: StockAnswer, forecast: FleetForecast, shop: Shop) -> Iterator[Purchase]:
    """Orders that are placed already."""
    orders = [(one.heads, one.due) for one in answer.orders]
    if not orders and answer.plan.on_order:
        orders = [(answer.plan.on_order, None)]
    for heads, due in orders:
        # Without a day it is counted one lead time from now, and a day that has passed as now.
        usual = _after(forecast, shop.spares.lead_time_weeks)
        yield Purchase(
            answer.head_type,
            answer.site,
            PLACED,
            None,
            usual if due is None else max(due, forecast.start.date()),
            shop.spares.order_multiple,
            float(heads),
            float(heads),
            float(heads),
            float(heads),
            shop.prices[answer.head_type],
        )


def _after(forecast: FleetForecast, weeks: float) -> datetime.date:
    days = datetime.timedelta(days=round(weeks * DAYS_PER_WEEK))
    found: datetime.date = forecast.start.date() + days
    return found


def by_quarter(
    orders: Sequence[Purchase], quarters: Sequence[Quarter]
) -> Mapping[str, tuple[float, float | None]]:
    """Add up heads that arrive in each quarter, and their cost, paid when they arrive.

    Parameters
    ----------
    orders : sequence of Purchase
        The orders.
    quarters : sequence of Quarter
        The quarters.

    Returns
    -------
    mapping of str to (float, float or None)
        Name of a quarter -> expected heads [heads] and amount [currency]; None where a price is
        not stated.
    """
    found: dict[str, tuple[float, float | None]] = {}
    for quarter in quarters:
        own = [one for one in orders if quarter.first <= one.arrives <= quarter.last]
        priced = all(one.cash is not None for one in own)
        cash = sum(one.cash or 0.0 for one in own) if priced else None
        found[quarter.name] = sum(one.mean for one in own), cash
    return found
