"""Why is the stock level another one than it was: ages, use, what was learned, or settings?

From what the level was made from on two days. One part after another is exchanged for today's, in
a stated order, and the level worked out again each time; the differences add up to the whole
exactly. Another order would share them out differently: where parts work together, the one
exchanged later gets what they do together.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.decisions.spares.levels import StockAnswer, stock_answers
from headlife.fleet.on_hand import NO_SITE
from headlife.fleet.state import Fleet
from headlife.fleet.succession import sites_with

if TYPE_CHECKING:
    import pandas as pd

    from headlife.futures.draws import DrawnLife
    from headlife.life.groups import Group
    from headlife.shop import Shop

AGES: Final = "present ages"
USE: Final = "use"
LEARNED: Final = "what was learned"
SETTINGS: Final = "prices and settings"
# The order in which they are exchanged, and in which they are told.
ORDER: Final = (AGES, USE, LEARNED, SETTINGS)


@dataclass(frozen=True)
class StockState:
    """What a stock level is made from."""

    fleet: Fleet
    """Heads in service and on the shelf, and how the shop works."""
    lives: Mapping[Group, Sequence[DrawnLife]]
    """The competing modes of each head type and role."""
    shop: Shop
    """The settings."""
    day: pd.Timestamp
    """The day."""
    stock: tuple[StockAnswer, ...]
    """The answers made from these."""


@dataclass(frozen=True)
class LevelStep:
    """What one part did."""

    part: str
    """Which part, one of `ORDER`."""
    level: int
    """By how much the stock level changed with it [heads]."""
    need: float
    """By how much the mean need changed with it [heads]."""


@dataclass(frozen=True)
class StockChange:
    """How a stock level changed, and why."""

    head_type: str
    """Head type."""
    site: str | None
    """The site whose own stock it is; None when all sites share one."""
    level_before: int
    """Stock level then [heads]."""
    level_now: int
    """Stock level now [heads]."""
    need_before: float
    """Mean need over lead time and review period then [heads]."""
    need_now: float
    """Mean need now [heads]."""
    steps: tuple[LevelStep, ...]
    """What each part did, in the order of `ORDER`; levels and needs add up to the change."""


def stock_changes(before: StockState, now: StockState) -> tuple[StockChange, ...]:
    """Share out the change of every stock level among its causes.

    Parameters
    ----------
    before, now : StockState
        What the levels were made from, on both days.

    Returns
    -------
    tuple of StockChange
        Stocks that both days have; their steps add up exactly.
    """
    between = [
        _mixed(now, before, before, before),
        _mixed(now, now, before, before),
        _mixed(now, now, now, before),
    ]
    if now.shop == before.shop:
        between[2] = now.stock
    stages = [_by_stock(one) for one in (before.stock, *between, now.stock)]
    found = []
    for key in stages[-1]:
        path = [stage.get(key) for stage in stages]
        known = [one for one in path if one is not None]
        if len(known) == len(path):
            found.append(_change(known))
    return tuple(found)


def _mixed(
    ages: StockState, use: StockState, learned: StockState, settings: StockState
) -> tuple[StockAnswer, ...]:
    """Answer with each part from its own day."""
    fleet = ages.fleet if use is ages else _with_use(ages.fleet, use.fleet)
    shop = with_stocks_at_work(settings.shop, fleet.positions)
    return stock_answers(fleet, learned.lives, shop, ages.day)


def with_stocks_at_work(shop: Shop, positions: pd.DataFrame) -> Shop:
    """Take the stocks of another day's settings for the sites that are at work on a day.

    What is on the shelf or on order changes no level; a site where a head type is at work on one
    of the two days only must not stop their comparison.

    Parameters
    ----------
    shop : Shop
        The settings.
    positions : pandas.DataFrame
        Heads in service on the day, with their `head_type`, `role` and `site`.

    Returns
    -------
    Shop
        The settings, where sites keep separate stocks with those of these sites only.
    """
    if shop.spares.sites != "separate":
        return shop
    types = dict(shop.head_types)
    for name, kind in types.items():
        at = sites_with(positions, name, {})
        there = {site: kind.on_hand_by_site.get(site, 0) for site in at}
        orders = {key: one for key, one in kind.orders.items() if (one.site or NO_SITE) in at}
        if at and (there != kind.on_hand_by_site or len(orders) < len(kind.orders)):
            less = {"on_hand_by_site": there, "orders": orders, "on_hand": 0}
            types[name] = kind.model_copy(update=less)
    return shop.with_(head_types=types)


def _with_use(fleet: Fleet, use: Fleet) -> Fleet:
    """Put the use of another day into a fleet; printers that were not there keep their own."""
    return replace(
        use,
        positions=fleet.positions.assign(weekly_hours=_weekly(fleet, use)),
        shelf=fleet.shelf,
        weeks_learned=fleet.weeks_learned | use.weeks_learned,
    )


def _weekly(fleet: Fleet, use: Fleet) -> Any:
    first = use.positions.drop_duplicates("printer").set_index("printer")
    whole = fleet.positions["printer"].map(first["weekly_hours"] / first["share_of_hours"])
    usual = (whole * fleet.positions["share_of_hours"]).to_numpy(dtype=np.float64)
    own = fleet.positions["weekly_hours"].to_numpy(dtype=np.float64)
    return np.where(np.isnan(usual), own, usual)


def _by_stock(answers: Sequence[StockAnswer]) -> dict[tuple[str, str | None], StockAnswer]:
    return {(one.head_type, one.site): one for one in answers}


def _change(path: Sequence[StockAnswer]) -> StockChange:
    levels = [one.plan.stock_level for one in path]
    needs = [one.demand.mean for one in path]
    steps = zip(ORDER, np.diff(levels).tolist(), np.diff(needs).tolist(), strict=True)
    return StockChange(
        path[-1].head_type,
        path[-1].site,
        levels[0],
        levels[-1],
        needs[0],
        needs[-1],
        tuple(LevelStep(*one) for one in steps),
    )
