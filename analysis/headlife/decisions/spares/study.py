"""Everything the storeroom and finance ask: stock, orders, one stock for all sites, the budget.

From records and settings, in one object; what is shown to people is read from it. It holds no
figure and no sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from headlife.case import Case, Provenance, as_case
from headlife.decisions.spares.ahead import fleet_ahead
from headlife.decisions.spares.budget import Budget, band_of, budget_weeks, make_budget
from headlife.decisions.spares.last_year import LastYear, last_year
from headlife.decisions.spares.levels import StockAnswer, stock_answers
from headlife.decisions.spares.protection import protected
from headlife.decisions.spares.purchases import Purchase, purchases
from headlife.decisions.spares.same_year import SameYear, same_year
from headlife.decisions.spares.stock import plan_stock
from headlife.display import shows_itself
from headlife.fleet.coming import ComingHead, with_coming
from headlife.fleet.order_book import booked_hours
from headlife.fleet.state import Fleet
from headlife.fleet.usage import planned_hours
from headlife.futures.forecast import FleetForecast
from headlife.futures.visits import FAILED, JOINED, PLANNED
from headlife.life.groups import groups_in
from headlife.progress import Progress
from headlife.units import DAYS_PER_WEEK, WEEKS_PER_YEAR

if TYPE_CHECKING:
    from concurrent.futures import Executor

    import pandas as pd

    from headlife.records.record_set import Records
    from headlife.shop import Costs, Shop, Spares


@shows_itself
@dataclass(frozen=True)
class SparesStudy(Provenance):
    """Spares and budget of a shop, with what they were made from."""

    spares: Spares
    """How spare heads are ordered."""
    fleet: Fleet
    """Positions, shelf, usage and how the shop swaps."""
    stock: tuple[StockAnswer, ...]
    """Stock level, order and risk, by head type (and site where sites keep their own)."""
    pooling: tuple[SharedStock, ...]
    """What one stock for all sites saves, by head type."""
    budget: Budget
    """What is left of this quarter, and the next four calendar quarters."""
    weekly: pd.DataFrame
    """Heads needed week by week over a year, by head type: `head_type, week, begins`, mean
    `failures` and `planned` of that week [heads], and of the heads needed since the start the
    `median`, `low` and `high` (80 % band) [heads]."""
    extrapolated_from: dict[str, int | None]
    """By head type, the first week ahead (from 1) that is beyond the data: more weeks than are on
    record, or some head older than any seen; None where all is within [weeks]."""
    purchases: tuple[Purchase, ...]
    """Orders over the quarters of the budget, by day of arrival."""
    last_year: LastYear
    """What the last four whole quarters used, at today's prices."""
    same_year: tuple[SameYear, ...]
    """The budget's quarters under each policy."""
    costs: Costs
    """What swaps, failures and waiting cost, as stated."""
    prices: dict[str, float | None]
    """Price of a new head, by head type [currency]."""
    coming: tuple[ComingHead, ...] = ()
    """Heads of printers that will come; their use is in the answers from their first day on."""


def spares_study(
    case: Case | Records,
    shop: Shop | None = None,
    as_of: Any = None,
    progress: Progress | None = None,
    executor: Executor | None = None,
    proposed_age: float | None = None,
) -> SparesStudy:
    """Answer what the storeroom and finance ask.

    Parameters
    ----------
    case : Case or Records
        What `read_case` returned; or records from `read_records` with `shop` and `as_of`.
    shop : Shop, optional
        The settings, where records are given: those they were read with.
    as_of : date, optional
        Where records are given: look at them as they were known on this day; default all of them.
    progress : callable, optional
        Called with (step, done, total).
    executor : concurrent.futures.Executor, optional
        Works on the simulation in pieces; the answer is the same with any, or without.
    proposed_age : float, optional
        Age at which heads would be swapped by a proposal, for the same year under it [h].

    Returns
    -------
    SparesStudy
        Same records, settings and seed, same study; its stock is the quarterly review's.

    Raises
    ------
    HeadlifeError
        Rows were set aside and the settings say to stop then, or settings that are needed are
        missing.

    Examples
    --------
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> study = hl.spares_study(case)
    >>> [(one.head_type, one.plan.stock_level) for one in study.stock]
    [('Standard', 7), ('Fibre', 5)]
    """
    case = as_case(case, shop, as_of)
    shop, day, fleet, modes = case.shop, case.day, case.fleet, case.modes
    tell = progress or (lambda step, done, total: None)
    tell("simulating demand", 0, 1)
    near = fleet_ahead(fleet, modes, shop, day, executor=executor)
    stock = stock_answers(fleet, modes, shop, day, tell, near)
    tell("simulating the year", 0, 1)
    year = fleet_ahead(fleet, modes, shop, day, budget_weeks(day), executor)
    tell("simulating the year", 1, 1)
    tell("adding up the budget", 0, 1)
    budget = make_budget(year, shop.costs, shop.prices)
    tell("adding up the budget", 1, 1)
    tell("simulating the year as proposed", 0, 1)
    return SparesStudy(
        **vars(case.provenance),
        spares=shop.spares,
        fleet=fleet,
        stock=stock,
        pooling=shared_stocks(fleet, near, shop),
        budget=budget,
        weekly=_weekly_demand(year),
        extrapolated_from={
            name: _extrapolated_from(name, fleet, case.lives, shop, day, year)
            for name in year.head_types
        },
        purchases=purchases(stock, fleet, year, shop),
        last_year=last_year(case.records, day, shop.costs, shop.prices),
        same_year=same_year(case, budget, proposed_age, executor),
        costs=shop.costs,
        prices=shop.prices,
        coming=year.coming,
    )


def _weekly_demand(forecast: FleetForecast) -> pd.DataFrame:
    """Tabulate heads needed week by week."""
    import pandas as pd

    parts = []
    for head_type in forecast.head_types:
        failures = forecast.swaps_of(head_type, kinds=[FAILED])
        planned = forecast.swaps_of(head_type, kinds=[PLANNED, JOINED])
        so_far = np.cumsum(failures + planned, axis=1)[:, : int(WEEKS_PER_YEAR)]
        low, median, high = band_of(so_far)
        weeks = np.arange(1, so_far.shape[1] + 1)
        parts.append(
            pd.DataFrame(
                {
                    "head_type": head_type,
                    "week": weeks,
                    "begins": forecast.start + pd.to_timedelta((weeks - 1) * DAYS_PER_WEEK, "D"),
                    "failures": failures.mean(axis=0)[: len(weeks)],
                    "planned": planned.mean(axis=0)[: len(weeks)],
                    "median": median,
                    "low": low,
                    "high": high,
                }
            )
        )
    columns = ["head_type", "week", "begins", "failures", "planned", "median", "low", "high"]
    return pd.concat(parts, ignore_index=True) if parts else pd.DataFrame(columns=columns)


def _extrapolated_from(
    head_type: str,
    fleet: Fleet,
    lives: pd.DataFrame,
    shop: Shop,
    start: pd.Timestamp,
    forecast: FleetForecast,
) -> int | None:
    """First week in which a head may be older than any on record, or the record is shorter."""
    weeks = min(forecast.swaps_of(head_type).shape[1], int(WEEKS_PER_YEAR))
    on_record = (start - lives["date_first"].min()).days / DAYS_PER_WEEK
    limits = [int(on_record) + 1] if on_record < weeks else []
    positions = with_coming(fleet, shop, start)
    booked = booked_hours(positions, shop.order_book, start, weeks)
    hours = planned_hours(positions, shop.plans, start, weeks, booked)
    for group, own in groups_in(lives[lives["head_type"] == head_type]).items():
        oldest = float(own["exit_hours"].max())
        # Heads that are swapped before they grow older than those on record do not count.
        grow_older = np.array(
            [
                forecast.policies.of(head_type, group.role, name).comes_out_at > oldest
                for name in positions["printer"]
            ]
        )
        mine = group.rows(positions) & grow_older
        present = positions["age_hours"].to_numpy(dtype=np.float64)[mine]
        ages = present[:, None] + np.cumsum(hours[mine], axis=1)
        beyond = np.flatnonzero((ages > oldest).any(axis=0))
        if beyond.size:
            limits.append(int(beyond[0]) + 1)
    return min(limits) if limits else None


@dataclass(frozen=True)
class SharedStock:
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


def shared_stocks(fleet: Fleet, forecast: FleetForecast, shop: Shop) -> tuple[SharedStock, ...]:
    """Compare one stock for all sites with a stock at each, for every head type.

    Parameters
    ----------
    fleet : Fleet
        Positions, usage and shelf on the day.
    forecast : FleetForecast
        Its futures, as far as `forecast_horizon`.
    shop : Shop
        Its spares settings and policy.

    Returns
    -------
    tuple of SharedStock
        Head types with positions at two sites or more.
    """
    compared = []
    for head_type in forecast.head_types:
        sites = forecast.sites_of(head_type)
        if len(sites) < 2:
            continue
        shared, *separate = (
            plan_stock(
                protected(fleet, forecast, shop, head_type, site).demand, shop.spares.service_level
            ).stock_level
            for site in [None, *sites]
        )
        levels = dict(zip(sites, separate, strict=True))
        compared.append(SharedStock(head_type, shared, levels))
    return tuple(compared)
