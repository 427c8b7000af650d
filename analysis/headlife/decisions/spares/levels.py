"""How many new heads of each type to hold, when to order, and what does less or more risk?

From the fleet's futures over lead time and review period: a base stock and a reorder point, both
measures of service, the hours printers would wait and the money on either side. The quarterly
review and the spares report read the same answers.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from headlife.decisions.spares.ahead import (
    fleet_ahead,
    forecast_horizon,
    protection_weeks,
    weeks_to_next_order,
)
from headlife.decisions.spares.protection import protected, within
from headlife.decisions.spares.shelf import NewHeads
from headlife.decisions.spares.stock import StockPlan, order_for, plan_stock
from headlife.decisions.spares.waiting import hours_per_position, idle_hours, with_costs
from headlife.display import shows_itself
from headlife.fleet.coming import ComingHead
from headlife.fleet.on_hand import (
    NO_SITE,
    Elsewhere,
    OrderDue,
    Stock,
    arrivals,
    elsewhere,
    on_hand_at,
    orders_due,
    stocks_of,
)
from headlife.fleet.order_book import BookEnd, book_ends
from headlife.fleet.state import Fleet
from headlife.futures.distribution import Demand
from headlife.futures.forecast import FleetForecast
from headlife.life.groups import Group
from headlife.progress import Progress

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.empty import EmptyPosition
    from headlife.fleet.refurbished import Refurbished
    from headlife.fleet.succession import GivesWay
    from headlife.futures.draws import DrawnLife
    from headlife.shop import Shop


@shows_itself
@dataclass(frozen=True)
class StockAnswer:
    """How many new heads of one type to hold and to order; both roles draw on them."""

    head_type: str
    """Head type."""
    site: str | None
    """The site whose own stock it is; None when all sites share one."""
    demand: Demand
    """New heads needed over the horizon, both roles, after the shelf was used."""
    plan: StockPlan
    """Stock level, order and risk; its table has `idle_hours` and, where costs are stated,
    `carrying_cost`, `waiting_cost` and `total_cost`."""
    horizon_weeks: float
    """Until the order after this one arrives: lead time plus review period, or the weeks to the
    next stated order day [weeks]."""
    reorder_point: int
    """Order as soon as heads on hand and on order fall to this, where orders may be placed at any
    time: covers the lead time alone at the service level [heads]."""
    idle_hours: float
    """Expected hours that printers wait for a head at this stock level [h]."""
    balanced_level: int | None
    """Stock level at which carrying and waiting cost least together; None where costs are not
    stated [heads]."""
    shelf_heads: int
    """Part-used heads that are put back in before new ones are taken [heads]."""
    positions: int
    """Positions the demand comes from [heads]."""
    left_out: int
    """Positions whose heads have not run yet and are not in the demand [heads]."""
    new_after_use: dict[str, float]
    """By role, the share of heads used up that a new one replaces, where part-used heads
    circulate; empty where they do not [-]."""
    new_heads_as: dict[str, dict[str, float]]
    """By role, the lot that new heads are taken to live as, such as "lot B"; empty where lots are
    not told apart."""
    refurbished: tuple[Refurbished, ...]
    """By role, the refurbished heads among the latest that went in; as many are taken to come
    back, and are not among the heads needed."""
    empty: tuple[EmptyPosition, ...]
    """Positions that wait for a head, which is among the heads needed."""
    giving_way: tuple[GivesWay, ...]
    """Whether another type takes the place of this one, or this one that of others."""
    standing: tuple[str, ...]
    """Printers with such heads that stood still for much of the time since these went in; they are
    taken to go on like that."""
    run_shares: dict[str, float]
    """By role, the mean share of their printers' hours that heads of it run; empty where all run
    all [-]."""
    orders: tuple[OrderDue, ...]
    """Open orders, where the settings say more of them than a number."""
    coming: tuple[ComingHead, ...]
    """Heads of this stock in printers that will come, counted or not."""
    elsewhere: tuple[Elsewhere, ...]
    """New heads of this type at sites where none is at work; they are in no site's stock."""
    order_moved: int
    """Heads to order now if those from elsewhere are moved here first [heads]."""
    next_order: datetime.date | None = None
    """The next order day, where the settings state on which days heads are ordered."""
    policy_changes: tuple[datetime.date, ...] = ()
    """Days ahead from which the settings have another policy, which is not in the demand."""
    policy_changes_beyond: tuple[datetime.date, ...] = ()
    """The same, after the horizon: perhaps a slip of the year."""
    in_lead_time: Demand | None = field(default=None, repr=False)
    """New heads needed over the lead time alone, which the reorder point covers."""
    book_ends: tuple[BookEnd, ...] = ()
    """Order books that end before the horizon does or begin after it; print hours are as learned
    where none reaches."""


def stock_answers(
    fleet: Fleet,
    lives: Mapping[Group, Sequence[DrawnLife]],
    shop: Shop,
    start: Any,
    progress: Progress | None = None,
    forecast: FleetForecast | None = None,
) -> tuple[StockAnswer, ...]:
    """Answer the spares question for every head type, and site where sites keep their own.

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
    progress : callable, optional
        Called with (step, done, total).
    forecast : FleetForecast, optional
        Futures over `forecast_horizon` that are there already.

    Returns
    -------
    tuple of StockAnswer
        In the settings' order of head types.

    Raises
    ------
    SettingsError
        Sites keep separate stocks and what is on hand at each is not stated, or an order names
        none of them.
    """
    tell = progress or (lambda step, done, total: None)
    tell("simulating demand", 0, 1)
    if forecast is None:
        forecast = fleet_ahead(fleet, lives, shop, start)
    tell("simulating demand", 1, 1)
    return tuple(
        stock_answer(fleet, forecast, shop, stock)
        for stock in all_stocks(fleet, lives, forecast, shop)
    )


def all_stocks(
    fleet: Fleet,
    lives: Mapping[Group, Sequence[DrawnLife]],
    forecast: FleetForecast,
    shop: Shop,
) -> tuple[Stock, ...]:
    """List the stocks that a shop keeps: of every head type, and site where sites keep their own.

    Parameters
    ----------
    fleet : Fleet
        Its sites.
    lives : mapping of Group to a sequence of Life
        The competing modes of each head type and role.
    forecast : FleetForecast
        Futures of the fleet.
    shop : Shop
        Its head types, and where stocks are kept.

    Returns
    -------
    tuple of Stock
        In the settings' order of head types.
    """
    seen = {group.head_type for group in lives} | set(forecast.left_out)
    return tuple(
        stock
        for head_type in shop.head_types
        if head_type in seen
        for stock in stocks_of(shop, head_type, forecast.sites_of(head_type), fleet.sites)
    )


def stock_answer(
    fleet: Fleet,
    forecast: FleetForecast,
    shop: Shop,
    stock: Stock,
    needed: NewHeads | None = None,
) -> StockAnswer:
    """Answer the spares question for one stock from futures already simulated.

    Parameters
    ----------
    fleet, forecast, shop : Fleet, FleetForecast, Shop
        As for `stock_answers`; the futures must reach over `forecast_horizon`.
    stock : Stock
        Of one head type, for all sites or for one.
    needed : NewHeads, optional
        New heads that the futures ask for, where that is known already.

    Returns
    -------
    StockAnswer
        Stock, order and risk.
    """
    spares, head_type, site = shop.spares, stock.head_type, stock.site
    horizon = forecast_horizon(spares, forecast.start)
    needed, lead, demand = protected(fleet, forecast, shop, head_type, site, needed)
    _, in_lead_time = within(needed, lead, forecast, spares.lead_time_weeks, site)
    on_hand = on_hand_at(stock)
    due = arrivals(stock, forecast.start)
    idle = elsewhere(stock)
    to_next = weeks_to_next_order(spares, forecast.start)
    plan = plan_stock(demand, spares.service_level, on_hand, due.size, spares.order_multiple)
    hours = hours_per_position(forecast, head_type, site)
    table = plan.table.assign(
        idle_hours=idle_hours(needed.total, lead, to_next, due, on_hand, len(plan.table) - 1, hours)
        if shop.costs.waiting_hours_per_stockout is None
        else plan.table["expected_shortfall"] * shop.costs.waiting_hours_per_stockout
    )
    table, balanced = with_costs(table, demand, shop.costs)
    positions = sum(
        count
        for group, count in forecast.positions.items()
        if group[0] == head_type and site in (None, group[2])
    )
    beyond = max(forecast.weeks - horizon, 0.0)
    return StockAnswer(
        head_type=head_type,
        site=site,
        demand=demand,
        plan=replace(plan, table=table),
        horizon_weeks=protection_weeks(spares, forecast.start),
        reorder_point=int(in_lead_time.quantile(spares.service_level)),
        idle_hours=float(table["idle_hours"].iloc[plan.stock_level]),
        balanced_level=balanced,
        shelf_heads=needed.shelf,
        positions=positions + forecast.left_out.get(head_type, 0),
        left_out=forecast.left_out.get(head_type, 0),
        new_after_use=needed.after_use,
        new_heads_as={
            stratum[1]: {lot.part: share for lot, share in shares.items()}
            for stratum, shares in forecast.lots.bought_now.items()
            if stratum[0] == head_type and any(own[:2] == stratum for own in forecast.positions)
        },
        run_shares=_run_shares(head_type, site, fleet),
        refurbished=tuple(one for one in fleet.refurbished if one.head_type == head_type)
        if spares.use_shelf
        else (),
        empty=_empty(forecast, head_type, site),
        giving_way=_giving_way(head_type, fleet),
        standing=_standing(head_type, site, fleet),
        orders=orders_due(stock, forecast.start),
        coming=tuple(
            # The futures may reach further than this answer.
            replace(head, weeks=max(head.weeks - beyond, 0.0))
            for head in forecast.coming
            if head.head_type == head_type and site in (None, head.site or "")
        ),
        elsewhere=idle,
        order_moved=order_for(
            plan.stock_level,
            on_hand + due.size + sum(one.on_hand + one.on_order for one in idle),
            spares.order_multiple,
        ),
        next_order=spares.next_order_day(forecast.start.date()),
        policy_changes=forecast.policy_changes,
        policy_changes_beyond=forecast.policy_changes_beyond,
        in_lead_time=in_lead_time,
        book_ends=book_ends(shop.order_book, forecast.start.date(), horizon),
    )


def _empty(forecast: FleetForecast, head_type: str, site: str | None) -> tuple[EmptyPosition, ...]:
    """List the positions of a type that wait for a head, perhaps at one site."""
    return tuple(
        one
        for (own, _, at), positions in forecast.empty.items()
        if own == head_type and site in (None, at)
        for one in positions
    )


def _giving_way(head_type: str, fleet: Fleet) -> tuple[GivesWay, ...]:
    """Find who takes whose place, as long as a head that goes is in service."""
    here = set(zip(fleet.positions["head_type"], fleet.positions["role"], strict=True))
    return tuple(
        one
        for one in fleet.giving_way
        if (one.head_type, one.role) in here and head_type in (one.head_type, one.to)
    )


def _standing(head_type: str, site: str | None, fleet: Fleet) -> tuple[str, ...]:
    """Printers with such a head that stood still for long, where the settings state no hours."""
    if fleet.workload is None:
        return ()
    here = fleet.positions[_mine(head_type, site, fleet)]
    learned = fleet.workload.stood & fleet.weeks_learned.keys()
    return tuple(sorted(learned.intersection(here["printer"])))


def _mine(head_type: str, site: str | None, fleet: Fleet) -> pd.Series:
    """Positions with heads of a type, perhaps of one site."""
    mine = fleet.positions["head_type"] == head_type
    return mine if site is None else mine & (fleet.positions["site"].fillna(NO_SITE) == site)


def _run_shares(head_type: str, site: str | None, fleet: Fleet) -> dict[str, float]:
    """Mean share of their printers' hours that heads run, by role, where it is not all of them."""
    here = fleet.positions[_mine(head_type, site, fleet)]
    shares = here.groupby("role", sort=True)["share_of_hours"].mean()
    return {str(role): float(share) for role, share in shares.items() if share < 1.0}
