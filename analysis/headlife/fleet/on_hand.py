"""Which new heads are on the shelf and on the way, in all or at one site, and when do they come?

From the settings: what is on hand, and the orders with their site and day. Where sites keep
separate stocks every head belongs to exactly one of them, or a sentence says which line must name
its site. Never decides what to order.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.errors import SettingsError
from headlife.numbers import Floats
from headlife.settings_errors import nearest
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    import pandas as pd

    from headlife.shop import Order, Shop

# What a site is called where the records name none.
NO_SITE: Final = ""


@dataclass(frozen=True)
class OrderDue:
    """An open order, with the day it is due."""

    name: str
    """Its name in the settings; empty where orders are not named."""
    heads: int
    """Heads ordered [heads]."""
    site: str | None
    """The site it is for, where all sites share one stock and it names one."""
    due: datetime.date | None
    """The day it is due; None where none is stated: it is counted one lead time from now."""
    passed: bool
    """Whether that day has passed, so that it is counted as here now."""


def on_hand_at(shop: Shop, head_type: str, site: str | None, sites: Sequence[str]) -> int:
    """Count new heads on the shelf.

    Parameters
    ----------
    shop : Shop
        The shop's settings.
    head_type : str
        Head type.
    site : str or None
        One site's own stock; None where one stock serves all.
    sites : sequence of str
        Sites that keep a stock of this head type.

    Returns
    -------
    int
        [heads]

    Raises
    ------
    SettingsError
        What is on this site's shelf is not stated, or heads are on the shelf of a site that
        keeps no stock.
    """
    settings = shop.head_types[head_type]
    if site is None:
        return settings.heads_on_hand
    stated = settings.on_hand_by_site
    if site not in stated:
        raise SettingsError(
            f"[spares] sites is 'separate', so [head_types.\"{head_type}\"] on_hand_by_site must "
            f"say how many new heads are on the shelf at {_place(site)}; add it, 0 if there are "
            "none."
        )
    for other, heads in stated.items():
        if heads and other not in sites:
            raise SettingsError(
                f'[head_types."{head_type}"] on_hand_by_site has {heads} on the shelf at '
                f"{_no_stock(other, sites)}"
            )
    return stated[site]


def arrivals(
    shop: Shop,
    head_type: str,
    start: pd.Timestamp,
    site: str | None = None,
    sites: Sequence[str] = (),
) -> Floats:
    """Give the weeks until each head on order is there, the first one first.

    Parameters
    ----------
    shop : Shop
        The shop's settings.
    head_type : str
        Head type.
    start : pandas.Timestamp
        The day.
    site : str, optional
        Only what is ordered for this site; default all orders, whatever site they name.
    sites : sequence of str
        Sites that keep a stock of this head type.

    Returns
    -------
    array of float
        One per head: 0 where its day has passed, one lead time where none is stated [weeks].

    Raises
    ------
    SettingsError
        Sites keep separate stocks, and an order names none of them.
    """
    orders = _orders_of(shop, head_type, site, sites)
    weeks = [_weeks(order, shop, start) for order in orders.values()]
    return np.sort(np.repeat(weeks, [order.heads for order in orders.values()]))


def orders_due(
    shop: Shop,
    head_type: str,
    start: pd.Timestamp,
    site: str | None = None,
    sites: Sequence[str] = (),
) -> tuple[OrderDue, ...]:
    """List the open orders of a head type; none where the settings state only a number.

    Parameters
    ----------
    shop, head_type, start, site, sites : Shop
        As for `arrivals`.

    Returns
    -------
    tuple of OrderDue
        In the settings' order.
    """
    settings = shop.head_types[head_type]
    if not settings.orders and settings.on_order_due is None:
        return ()
    return tuple(
        OrderDue(
            name=name if settings.orders else "",
            heads=order.heads,
            site=order.site if site is None else None,
            due=order.due,
            passed=order.due is not None and _days(order, start) < 0,
        )
        for name, order in _orders_of(shop, head_type, site, sites).items()
    )


def _orders_of(
    shop: Shop, head_type: str, site: str | None, sites: Sequence[str]
) -> Mapping[str, Order]:
    orders = shop.head_types[head_type].open_orders
    if site is None:
        return orders
    for name, order in orders.items():
        _check_site(shop, head_type, name, order, sites)
    return {name: order for name, order in orders.items() if (order.site or NO_SITE) == site}


def _check_site(shop: Shop, head_type: str, name: str, order: Order, sites: Sequence[str]) -> None:
    """Refuse an order that would be counted at no site."""
    table = f'[head_types."{head_type}"]'
    if order.site is None and NO_SITE not in sites:
        write = f'orders."NAME" = {{ heads = {order.heads}, site = "{sites[0]}" }}'
        stated = (
            f"the order '{name}' must name its site; add it"
            if shop.head_types[head_type].orders
            else f"on_order = {order.heads} must say for which site; write {write} instead"
        )
        raise SettingsError(
            f"[spares] sites is 'separate', so in {table} {stated} (stocks: "
            f"{', '.join(_place(one) for one in sites)})."
        )
    if order.site is not None and order.site not in sites:
        raise SettingsError(
            f"{table} has an order '{name}' of {order.heads} for {_no_stock(order.site, sites)}"
        )


def _no_stock(site: str, sites: Sequence[str]) -> str:
    kept = ", ".join(_place(one) for one in sites)
    return (
        f"'{site}'{nearest(site, sites)}, where no head of this type is at work, so it would be "
        f"counted nowhere; name the site that is to use it (stocks: {kept})."
    )


def _place(site: str) -> str:
    return f"'{site}'" if site else 'printers without a site, named ""'


def _weeks(order: Order, shop: Shop, start: pd.Timestamp) -> float:
    if order.due is None:
        return shop.spares.lead_time_weeks
    return max(_days(order, start) / DAYS_PER_WEEK, 0.0)


def _days(order: Order, start: pd.Timestamp) -> float:
    """Days from the start to the day an order is due."""
    gap = np.datetime64(order.due, "D") - start.to_datetime64()
    return float(gap / np.timedelta64(1, "D"))
