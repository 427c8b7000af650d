"""How many new heads of each type to hold, when to order, and what does less or more risk?

From the fleet's futures over lead time and review period: a base stock and a reorder point, both
measures of service, the hours printers would wait, the money on either side, and what keeping one
stock for all sites saves. The quarterly review and the spares report read the same answers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.decisions.left_out import POSITIONS_TOGETHER, LeftOut
from headlife.decisions.spares.shelf import NewHeads, new_heads
from headlife.decisions.spares.stock import StockPlan, plan_stock
from headlife.decisions.spares.waiting import (
    LONGEST_LEAD_SD,
    hours_per_position,
    idle_hours,
    lead_times,
    with_costs,
)
from headlife.fleet.coming import ComingHead
from headlife.fleet.on_hand import OrderDue, arrivals, on_hand_at, orders_due
from headlife.fleet.state import Fleet
from headlife.futures.distribution import Demand, demand_of
from headlife.futures.forecast import (
    FleetForecast,
    forecast_fleet,
    heads_in_place,
)
from headlife.futures.large_fleet import forecast_large_fleet
from headlife.futures.life_uncertainty import Futures
from headlife.futures.paths import Counts
from headlife.life.groups import Group
from headlife.numbers import Floats
from headlife.progress import Progress
from headlife.seeds import generator

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from headlife.futures.draws import DrawnLife
    from headlife.shop import Shop

# Time is what runs out: fleets of up to so many positions are simulated printer by printer, in as
# many futures as the paths allow, larger ones position by position. With 1,000 futures a service
# level of 95 % is met to about 0.7 points.
MOST_TOGETHER: Final = 1_000
PATHS_TOGETHER: Final = 4_000_000
PATHS_ALONE: Final = 40_000_000
FEWEST_DRAWS: Final = 500


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
    """Lead time plus review period [weeks]."""
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
    orders: tuple[OrderDue, ...]
    """Open orders, where the settings say more of them than a number."""
    coming: tuple[ComingHead, ...]
    """Heads of this stock in printers that will come, counted or not."""


@dataclass(frozen=True)
class Pooling:
    """What one stock for all sites saves, for one head type."""

    head_type: str
    """Head type."""
    shared_level: int
    """Stock level of one stock for all [heads]."""
    separate_levels: dict[str, int]
    """Stock level of every site on its own [heads]."""

    @property
    def saving(self) -> int:
        """Heads that a shared stock saves [heads]."""
        return sum(self.separate_levels.values()) - self.shared_level


def protection_weeks(shop: Shop) -> float:
    """Weeks that a stock must last: lead time plus review period [weeks]."""
    return shop.spares.lead_time_weeks + shop.spares.review_weeks


def forecast_horizon(shop: Shop) -> float:
    """Weeks to simulate so that even a late delivery is inside [weeks]."""
    late = LONGEST_LEAD_SD * shop.spares.lead_time_sd_weeks
    return protection_weeks(shop) + math.ceil(late)


def fleet_ahead(
    fleet: Fleet,
    lives: Mapping[Group, Sequence[DrawnLife]],
    shop: Shop,
    start: Any,
    weeks: float | None = None,
    executor: Executor | None = None,
) -> tuple[FleetForecast, Fleet, tuple[LeftOut, ...]]:
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
        How far ahead; default `forecast_horizon` [weeks].
    executor : concurrent.futures.Executor, optional
        Works on the simulation in pieces; the answer is the same with any, or without.

    Returns
    -------
    FleetForecast
        The futures.
    Fleet
        The fleet as far as the futures know it.
    tuple of LeftOut
        What was left out, and why.
    """
    weeks = forecast_horizon(shop) if weeks is None else weeks
    positions = len(fleet.positions)
    wanted = shop.review.draws
    if positions <= MOST_TOGETHER:
        draws = min(wanted, PATHS_TOGETHER // max(positions, 1))
        ahead = forecast_fleet(fleet, lives, shop, weeks, start, draws, executor=executor)
        return ahead, fleet, ()
    draws = min(wanted, max(PATHS_ALONE // positions, FEWEST_DRAWS))
    alone = Fleet(fleet.positions, fleet.shelf.iloc[:0])
    left_out = LeftOut(POSITIONS_TOGETHER, positions=positions, draws=draws)
    ahead = forecast_large_fleet(alone, lives, shop, weeks, start, draws, executor)
    return ahead, alone, (left_out,)


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
        forecast, fleet, _ = fleet_ahead(fleet, lives, shop, start)
    tell("simulating demand", 1, 1)
    seen = {group.head_type for group in lives} | set(forecast.left_out)
    answers = []
    for head_type in (name for name in shop.head_types if name in seen):
        for site in _stocks(forecast, shop, head_type):
            answers.append(stock_answer(fleet, forecast, shop, head_type, site))
    return tuple(answers)


def stock_answer(
    fleet: Fleet,
    forecast: FleetForecast,
    shop: Shop,
    head_type: str,
    site: str | None = None,
) -> StockAnswer:
    """Answer the spares question for one head type from futures already simulated.

    Parameters
    ----------
    fleet, forecast, shop
        As for `stock_answers`; the futures must reach over `forecast_horizon`.
    head_type : str
        Head type.
    site : str, optional
        One site's own stock; default one stock for all.

    Returns
    -------
    StockAnswer
    """
    spares = shop.spares
    needed = new_heads(fleet, forecast, shop, head_type, site)
    lead = lead_times(shop, forecast, head_type, site)
    demand = _protected(fleet, forecast, shop, head_type, site, needed, lead)
    _, in_lead_time = _within(needed, lead, forecast, spares.lead_time_weeks, site)
    sites = _sites_of(forecast, head_type)
    on_hand = on_hand_at(shop, head_type, site, sites)
    due = arrivals(shop, head_type, forecast.start, site, sites)
    plan = plan_stock(demand, spares.service_level, on_hand, due.size, spares.order_multiple)
    hours = hours_per_position(forecast, head_type, site)
    table = plan.table.assign(
        idle_hours=idle_hours(
            needed.total, lead, spares.review_weeks, due, on_hand, len(plan.table) - 1, hours
        )
        if shop.costs.waiting_hours_per_stockout is None
        else plan.table["expected_shortfall"] * shop.costs.waiting_hours_per_stockout
    )
    table, balanced = with_costs(table, demand, shop.costs)
    positions = sum(
        count
        for group, count in forecast.positions.items()
        if group[0] == head_type and site in (None, group[2])
    )
    return StockAnswer(
        head_type=head_type,
        site=site,
        demand=demand,
        plan=replace(plan, table=table),
        horizon_weeks=protection_weeks(shop),
        reorder_point=int(in_lead_time.quantile(spares.service_level)),
        idle_hours=float(table["idle_hours"].iloc[plan.stock_level]),
        balanced_level=balanced,
        shelf_heads=needed.shelf,
        positions=positions + forecast.left_out.get(head_type, 0),
        left_out=forecast.left_out.get(head_type, 0),
        new_after_use=_new_after_use(head_type, fleet, forecast, shop),
        orders=orders_due(shop, head_type, forecast.start, site, sites),
        coming=tuple(
            head
            for head in forecast.coming
            if head.head_type == head_type and site in (None, head.site or "")
        ),
    )


def pooling(fleet: Fleet, forecast: FleetForecast, shop: Shop) -> tuple[Pooling, ...]:
    """Compare one stock for all sites with a stock at each, for every head type.

    Parameters
    ----------
    fleet, forecast, shop
        As for `stock_answer`.

    Returns
    -------
    tuple of Pooling
        Head types with positions at two sites or more.
    """
    compared = []
    for head_type in forecast.head_types:
        sites = _sites_of(forecast, head_type)
        if len(sites) < 2:
            continue
        levels: dict[str | None, int] = {}
        for site in [None, *sites]:
            needed = new_heads(fleet, forecast, shop, head_type, site)
            lead = lead_times(shop, forecast, head_type, site)
            demand = _protected(fleet, forecast, shop, head_type, site, needed, lead)
            levels[site] = plan_stock(demand, shop.spares.service_level).stock_level
        separate = {site: levels[site] for site in sites}
        compared.append(Pooling(head_type, levels[None], separate))
    return tuple(compared)


def _stocks(forecast: FleetForecast, shop: Shop, head_type: str) -> list[str | None]:
    """Name the stocks of a head type: one for all, or one for each site with a position."""
    sites = _sites_of(forecast, head_type)
    return [*sites] if shop.spares.sites == "separate" and sites else [None]


def _sites_of(forecast: FleetForecast, head_type: str) -> list[str]:
    return sorted({group[2] for group in forecast.positions if group[0] == head_type})


def _protected(
    fleet: Fleet,
    forecast: FleetForecast,
    shop: Shop,
    head_type: str,
    site: str | None,
    needed: NewHeads,
    lead: Floats,
) -> Demand:
    """Count new heads needed over lead time and review period, with the lives they rest on."""
    weeks = protection_weeks(shop)
    totals, demand = _within(needed, lead + shop.spares.review_weeks, forecast, weeks, site)
    in_place = heads_in_place(fleet, forecast, head_type, site, weeks)
    return replace(demand, futures=(Futures(totals, in_place),))


def _within(
    needed: NewHeads, ahead: Floats, forecast: FleetForecast, weeks: float, site: str | None
) -> tuple[Counts, Demand]:
    """Count new heads needed within each draw's own stretch of weeks: draw by draw, and together.

    A week that ends inside the stretch counts whole; of a week that is cut, each head counts
    with the chance that its day is inside.
    """
    starts = np.arange(needed.total.shape[1])
    share = np.clip(ahead[:, None] - starts, 0.0, 1.0)
    # The horizon's own last week may be short and is whole then.
    share[ahead >= forecast.weeks, -1] = 1.0
    rng = generator(forecast.seed, "cut week", str(site), str(weeks))
    failures = needed.failures * (share >= 1.0)
    other = (needed.total - needed.failures) * (share >= 1.0)
    cut = (share > 0.0) & (share < 1.0)
    if cut.any():
        failures[cut] = rng.binomial(needed.failures[cut], share[cut])
        other[cut] = rng.binomial((needed.total - needed.failures)[cut], share[cut])
    return (failures + other).sum(axis=1), demand_of(failures, other, weeks)


def _new_after_use(
    head_type: str, fleet: Fleet, forecast: FleetForecast, shop: Shop
) -> dict[str, float]:
    """Share of heads used up that a new one replaces, by role, where part-used heads circulate."""
    if not shop.spares.use_shelf:
        return {}
    return {
        role: share
        for role, share in fleet.changes.new_after_use.items()
        if any(group[:2] == (head_type, role) for group in forecast.positions)
    }
