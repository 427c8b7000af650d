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

from headlife.decisions.spares.shelf import NewHeads, new_heads
from headlife.decisions.spares.stock import SURE_ENOUGH, StockPlan, doubled_risk, plan_stock
from headlife.decisions.spares.waiting import (
    LONGEST_LEAD_SD,
    hours_per_position,
    idle_hours,
    lead_times,
    with_costs,
)
from headlife.fleet.coming import coming_note
from headlife.fleet.on_hand import arrivals, on_hand_at, orders_note
from headlife.fleet.state import Fleet
from headlife.futures.distribution import Demand, demand_of
from headlife.futures.forecast import (
    FleetForecast,
    forecast_fleet,
    heads_in_place,
)
from headlife.futures.large_fleet import LEFT_OUT, forecast_large_fleet
from headlife.futures.life_uncertainty import Futures
from headlife.futures.visits import Counts
from headlife.life.groups import Group
from headlife.numbers import Floats
from headlife.progress import Progress
from headlife.seeds import generator

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from headlife.futures.draws import DrawnLife
    from headlife.shop import Shop

# Positions times futures that are simulated printer by printer. Larger fleets are simulated
# position by position in as many futures as MOST_PATHS allows, since time is what runs out; with
# 1,000 of them a service level of 95 % is met to about 0.7 points.
MOST_PATHS_TOGETHER: Final = 8_000_000
MOST_PATHS: Final = 40_000_000
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
    note: str
    """What a reader must know about this answer; empty when nothing."""
    ahead: str = ""
    """The part of `note` about what the records do not show: orders with their day, and printers
    that will come."""


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
) -> tuple[FleetForecast, Fleet, tuple[str, ...]]:
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
    tuple of str
        What was left out, and why, one sentence each.
    """
    weeks = forecast_horizon(shop) if weeks is None else weeks
    positions = len(fleet.positions)
    wanted = shop.review.draws
    if positions * wanted <= MOST_PATHS_TOGETHER:
        return forecast_fleet(fleet, lives, shop, weeks, start, executor=executor), fleet, ()
    draws = min(wanted, max(MOST_PATHS // positions, FEWEST_DRAWS))
    alone = Fleet(fleet.positions, fleet.shelf.iloc[:0])
    left_out = (
        f"With {positions:,} positions each is simulated for itself in {draws:,} futures: spares "
        f"are counted without {LEFT_OUT}."
    )
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
        idle_hours=[
            idle_hours(needed.total, lead, shop, due, plan, int(level), hours)
            for level in plan.table["stock_level"]
        ]
        if shop.costs.waiting_hours_per_stockout is None
        else plan.table["expected_shortfall"] * shop.costs.waiting_hours_per_stockout
    )
    table, balanced = with_costs(table, demand, shop.costs)
    positions = sum(
        count
        for group, count in forecast.positions.items()
        if group[0] == head_type and site in (None, group[2])
    )
    ahead = _ahead(head_type, forecast, shop, site)
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
        note=" ".join(
            part for part in (ahead, _note(head_type, fleet, forecast, shop), _doubt(plan)) if part
        ),
        ahead=ahead,
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


def _doubt(plan: StockPlan) -> str:
    """Say how sure the service is, where the record leaves it in doubt."""
    if not plan.sure < SURE_ENOUGH:
        return ""
    least = 100 * doubled_risk(plan.service_level)
    return (
        "So little is on record that the true chance may be lower than that: it is at least "
        f"{least:.0f} % in about {100 * plan.sure:.0f} of 100 cases like this."
    )


def _ahead(head_type: str, forecast: FleetForecast, shop: Shop, site: str | None) -> str:
    """Say what is counted that the records do not show: orders, and printers that will come."""
    ordered = orders_note(shop, head_type, forecast.start, site, _sites_of(forecast, head_type))
    coming = coming_note(forecast.coming, head_type, site, forecast.weeks)
    return f"{ordered} {coming}".strip()


def _note(head_type: str, fleet: Fleet, forecast: FleetForecast, shop: Shop) -> str:
    """Say what a reader must know: positions left out, and part-used heads in circulation."""
    notes = []
    left_out = forecast.left_out.get(head_type, 0)
    if left_out == 1:
        notes.append("1 position whose head has not run yet is left out.")
    elif left_out:
        notes.append(f"{left_out} positions whose heads have not run yet are left out.")
    shares = [
        f"{100 * share:.0f} % in the {role} role"
        for role, share in fleet.changes.new_after_use.items()
        if any(group[:2] == (head_type, role) for group in forecast.positions)
    ]
    if shares and shop.spares.use_shelf:
        notes.append(
            f"Part-used heads circulate: of the heads used up, {' and '.join(shares)} are "
            "replaced by a new one, as on record."
        )
    return " ".join(notes)
