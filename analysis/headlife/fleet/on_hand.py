"""Which new heads are on the shelf and on the way, in all or at one site, and when do they come?

From the settings: what is on hand, and the orders with their site and day. Where sites keep
separate stocks every head belongs to exactly one of them, lies at a site where no such head is at
work (any more), or a sentence says which line must name its site. Never decides what to order.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.alike import nearest
from headlife.errors import SettingsError
from headlife.numbers import Floats
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    import pandas as pd

    from headlife.shop import HeadType, Order, Shop

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


@dataclass(frozen=True)
class Stock:
    """New heads of one type that serve all sites, or one of them."""

    head_type: str
    """Head type."""
    settings: HeadType
    """What is on hand and on order of it."""
    lead_time_weeks: float
    """Lead time of an order without a day [weeks]."""
    site: str | None = None
    """The site that it serves; None where one stock serves all."""
    sites: tuple[str, ...] = ()
    """Sites that keep a stock of this head type."""
    others: frozenset[str] = frozenset()
    """Further sites of the shop, where no such head is at work."""


@dataclass(frozen=True)
class Elsewhere:
    """New heads of a type at a site where no such head is at work; they are in no site's stock."""

    site: str
    """The site."""
    on_hand: int
    """New heads on its shelf [heads]."""
    on_order: int
    """New heads on order for it [heads]."""


def stocks_of(
    shop: Shop, head_type: str, sites: Sequence[str], known: Collection[str] = ()
) -> tuple[Stock, ...]:
    """Name the stocks of a head type: one for all, or one for each site that has such a head.

    Parameters
    ----------
    shop : Shop
        The shop's settings.
    head_type : str
        Head type.
    sites : sequence of str
        Sites where such a head is at work.
    known : collection of str, optional
        Every site on record, then or now.

    Returns
    -------
    tuple of Stock
        In the order of `sites`.
    """
    of_it = shop.head_types[head_type], shop.spares.lead_time_weeks
    if shop.spares.sites == "separate" and sites:
        coming = {one.site for one in shop.new_printers.values() if one.site is not None}
        others = frozenset({*known, *coming}.difference(sites))
        return tuple(Stock(head_type, *of_it, site, tuple(sites), others) for site in sites)
    return (Stock(head_type, *of_it, None, tuple(sites)),)


def on_hand_at(stock: Stock) -> int:
    """Count new heads on the shelf.

    Parameters
    ----------
    stock : Stock
        The stock.

    Returns
    -------
    int
        [heads]

    Raises
    ------
    SettingsError
        What is on this site's shelf is not stated, or heads are on the shelf of a site that
        nothing on record names.
    """
    if stock.site is None:
        return stock.settings.heads_on_hand
    stated = stock.settings.on_hand_by_site
    if stock.site not in stated:
        raise SettingsError(
            f"[spares] sites is 'separate', so [head_types.\"{stock.head_type}\"] on_hand_by_site "
            f"must say how many new heads are on the shelf at {_place(stock.site)}; add it, 0 if "
            "there are none."
        )
    for other, heads in stated.items():
        if heads and other not in stock.sites and other not in stock.others:
            raise SettingsError(
                f'[head_types."{stock.head_type}"] on_hand_by_site has {heads} on the shelf at '
                f"{_no_stock(other, stock)}"
            )
    return stated[stock.site]


def elsewhere(stock: Stock) -> tuple[Elsewhere, ...]:
    """List the heads of this type at sites where none is at work, which no site's stock counts.

    Parameters
    ----------
    stock : Stock
        The stock; one for all sites counts every head, so that none is elsewhere.

    Returns
    -------
    tuple of Elsewhere
        By site.
    """
    orders = stock.settings.open_orders.values()
    found = [
        Elsewhere(
            site,
            stock.settings.on_hand_by_site.get(site, 0),
            sum(one.heads for one in orders if one.site == site),
        )
        for site in sorted(stock.others)
    ]
    return tuple(one for one in found if one.on_hand or one.on_order)


def arrivals(stock: Stock, start: pd.Timestamp) -> Floats:
    """Give the weeks until each head on order is there, the first one first.

    Parameters
    ----------
    stock : Stock
        The stock; one for all sites takes every order, whatever site it names.
    start : pandas.Timestamp
        The day.

    Returns
    -------
    array of float
        One per head: 0 where its day has passed, one lead time where none is stated [weeks].

    Raises
    ------
    SettingsError
        Sites keep separate stocks, and an order names none of them.
    """
    orders = _orders_of(stock)
    weeks = [_weeks(order, stock.lead_time_weeks, start) for order in orders.values()]
    return np.sort(np.repeat(weeks, [order.heads for order in orders.values()]))


def orders_due(stock: Stock, start: pd.Timestamp) -> tuple[OrderDue, ...]:
    """List the open orders of a head type; none where the settings state only a number.

    Parameters
    ----------
    stock : Stock
        The stock.
    start : pandas.Timestamp
        The day.

    Returns
    -------
    tuple of OrderDue
        In the settings' order.
    """
    settings = stock.settings
    if not settings.orders and settings.on_order_due is None:
        return ()
    return tuple(
        OrderDue(
            name=name if settings.orders else "",
            heads=order.heads,
            site=order.site if stock.site is None else None,
            due=order.due,
            passed=order.due is not None and _days(order, start) < 0,
        )
        for name, order in _orders_of(stock).items()
    )


def _orders_of(stock: Stock) -> Mapping[str, Order]:
    orders = stock.settings.open_orders
    if stock.site is None:
        return orders
    for name, order in orders.items():
        _check_site(stock, name, order)
    return {name: order for name, order in orders.items() if (order.site or NO_SITE) == stock.site}


def _check_site(stock: Stock, name: str, order: Order) -> None:
    """Refuse an order that would be counted at no site."""
    table, sites = f'[head_types."{stock.head_type}"]', stock.sites
    if order.site is None and NO_SITE not in sites:
        write = f'orders."NAME" = {{ heads = {order.heads}, site = "{sites[0]}" }}'
        stated = (
            f"the order '{name}' must name its site; add it"
            if stock.settings.orders
            else f"on_order = {order.heads} must say for which site; write {write} instead"
        )
        raise SettingsError(
            f"[spares] sites is 'separate', so in {table} {stated} (stocks: "
            f"{', '.join(_place(one) for one in sites)})."
        )
    if order.site is not None and order.site not in sites and order.site not in stock.others:
        raise SettingsError(
            f"{table} has an order '{name}' of {order.heads} for {_no_stock(order.site, stock)}"
        )


def _no_stock(site: str, stock: Stock) -> str:
    kept = ", ".join(_place(one) for one in stock.sites)
    known = sorted({*stock.sites, *stock.others})
    return (
        f"'{site}'{nearest(site, known)}, a site that no record names, so it would be counted "
        f"nowhere; correct the name, or name the site that is to use it (stocks: {kept})."
    )


def _place(site: str) -> str:
    return f"'{site}'" if site else 'printers without a site, named ""'


def _weeks(order: Order, lead_time_weeks: float, start: pd.Timestamp) -> float:
    if order.due is None:
        return lead_time_weeks
    return max(_days(order, start) / DAYS_PER_WEEK, 0.0)


def _days(order: Order, start: pd.Timestamp) -> float:
    """Days from the start to the day an order is due."""
    gap = np.datetime64(order.due, "D") - start.to_datetime64()
    return float(gap / np.timedelta64(1, "D"))
