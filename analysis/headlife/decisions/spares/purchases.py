"""Which orders lie ahead: on which day, how many heads, when do they arrive and what do they cost?

From new heads that the futures ask for, the stock level and the settings of ordering. At every
review heads are ordered up to the level, in whole multiples; the first order is certain, later ones
have a range. What is bought is not what is used up: the difference is in the stock. Never chooses a
level.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.decisions.spares.budget import band_of
from headlife.decisions.spares.shelf import new_heads
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.fleet.state import Fleet
    from headlife.futures.forecast import FleetForecast
    from headlife.quarters import Quarter
    from headlife.shop import Shop

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
    needed: np.ndarray, level: int, position: int, multiple: int, weeks_between: float
) -> np.ndarray:
    """Orders at every review, in every future.

    Parameters
    ----------
    needed : array of int
        New heads asked for, draws x weeks [heads].
    level : int
        Stock level that is ordered up to [heads].
    position : int
        Heads on hand and on order now [heads].
    multiple : int
        Heads are ordered in multiples of this [heads].
    weeks_between : float
        Weeks from one review to the next [weeks].

    Returns
    -------
    array of int
        Draws x reviews; the first review is now [heads].
    """
    reviews = max(math.ceil(needed.shape[1] / weeks_between), 1)
    so_far = np.cumsum(needed, axis=1, dtype=np.int64)
    have = np.full(len(needed), position, dtype=np.int64)
    orders = np.zeros((len(needed), reviews), dtype=np.int64)
    used_before = np.zeros(len(needed), dtype=np.int64)
    for review in range(reviews):
        # What was asked for in the weeks that have passed by the day of this review.
        passed = min(round(review * weeks_between), needed.shape[1])
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
    """Orders at this review and those after it."""
    spares, plan = shop.spares, answer.plan
    needed = new_heads(fleet, forecast, shop, answer.head_type, answer.site).total
    orders = order_up_to(
        np.asarray(needed),
        plan.stock_level,
        plan.on_hand + plan.on_order,
        spares.order_multiple,
        spares.review_weeks,
    )
    for review in range(orders.shape[1]):
        own = orders[:, review]
        if not own.any():
            continue
        low, median, high = band_of(own)
        ordered = _after(forecast, review * spares.review_weeks)
        yield Purchase(
            answer.head_type,
            answer.site,
            LATER if review else NOW,
            ordered,
            _after(forecast, review * spares.review_weeks + spares.lead_time_weeks),
            spares.order_multiple,
            float(median),
            float(low),
            float(high),
            float(own.mean()),
            shop.prices[answer.head_type],
        )


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
