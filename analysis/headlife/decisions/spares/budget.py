"""What will heads cost in the next four calendar quarters, and how far may it stray?

From the fleet's futures over them and the shop's costs: heads, labour, calibration, downtime
and scrapped builds by quarter, head type and site, planned and unplanned apart, each with its
median and an 80 % band. Bands of sums come from sums of futures, never from sums of bands. It
budgets what is used up, not a change of the stock level, and no waiting for heads.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.display import shows_itself
from headlife.futures.position import Place
from headlife.futures.visits import FAILED, JOINED, PLANNED
from headlife.numbers import Floats
from headlife.quarters import Quarter, fiscal_name, quarters_ahead
from headlife.seeds import generator
from headlife.shop.work import COSTS_OF_A_SWAP
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    import pandas as pd

    from headlife.futures.forecast import FleetForecast
    from headlife.shop import Costs

ALL: Final = "all"
UNPLANNED: Final = "unplanned"
PLANNED_KIND: Final = "planned"
YEAR: Final = "year"
# Which swaps are counted under each.
SWAPS_OF: Final = {
    ALL: (FAILED, PLANNED, JOINED),
    PLANNED_KIND: (PLANNED, JOINED),
    UNPLANNED: (FAILED,),
}
BAND: Final = 0.80
# Months in which a fiscal year may begin, so that its quarters are calendar quarters.
FISCAL_MONTHS: Final = ("January", "April", "July", "October")

HEADS: Final = "heads"
VISITS: Final = "visits"
LABOUR_HOURS: Final = "labour hours"
CALIBRATION_HOURS: Final = "calibration hours"
STANDSTILL_HOURS: Final = "standstill hours"
SCRAPPED_BUILDS: Final = "spoiled builds"
MONEY: Final = ("head cost", "labour", "calibration", "standstill", "spoiled build cost", "total")


@shows_itself
@dataclass(frozen=True)
class Budget:
    """What the next four quarters use and cost."""

    start: pd.Timestamp
    """First day."""
    currency: str
    """Label of amounts."""
    lines: pd.DataFrame
    """One row per period (quarters by name, and "year" for the four whole ones), head type, site,
    kind (planned, unplanned; "all" for sums) and item: `unit`, `median`, `low`, `high` (80 % band)
    and `mean`."""
    missing: tuple[str, ...]
    """Settings that amounts or hours would need and that are not stated; items that need them
    are left out."""
    quarters: tuple[Quarter, ...]
    """The quarters; before the four whole ones what is left of the present one, if anything."""
    fiscal: tuple[str, ...] = ()
    """Their names in the fiscal year; empty where none is stated."""

    @property
    def periods(self) -> tuple[str, ...]:
        """Names of the periods: the quarters, then the year of the whole ones."""
        return (*(quarter.name for quarter in self.quarters), YEAR)

    def line(
        self,
        item: str,
        period: str = YEAR,
        head_type: str = ALL,
        site: str = ALL,
        kind: str = ALL,
    ) -> Any:
        """Give the row of one item, or None where it is left out.

        Parameters
        ----------
        item : str
            What is counted.
        period : str, optional
            Quarter or year.
        head_type : str, optional
            Head type, or all.
        site : str, optional
            Site, or all.
        kind : str, optional
            Planned, unplanned, or all.

        Returns
        -------
        namedtuple or None
            The row; None where it is left out.
        """
        rows = self.lines
        found = rows[
            (rows["item"] == item)
            & (rows["period"] == period)
            & (rows["head_type"] == head_type)
            & (rows["site"] == site)
            & (rows["kind"] == kind)
        ]
        return None if found.empty else next(found.itertuples(index=False))


def _missing_costs(costs: Costs, prices: Mapping[str, float | None]) -> tuple[str, ...]:
    """Name the settings without which the budget has no amounts, as the settings write them."""
    missing = [f"[costs] {key}" for key in COSTS_OF_A_SWAP if getattr(costs, key) is None]
    for name, price in prices.items():
        if price is None:
            missing.append(f'[head_types."{name}"] price')
    return tuple(missing)


def budget_weeks(start: pd.Timestamp) -> float:
    """Weeks from a day to the end of the fourth whole calendar quarter after it [weeks].

    Parameters
    ----------
    start : pandas.Timestamp
        The day.

    Returns
    -------
    float
        Weeks; 52 or a little more at the end of a quarter.
    """
    return float((quarters_ahead(start.date())[-1].last - start.date()).days / DAYS_PER_WEEK)


def make_budget(
    forecast: FleetForecast, costs: Costs, prices: Mapping[str, float | None]
) -> Budget:
    """Budget the calendar quarters ahead from futures over them.

    Parameters
    ----------
    forecast : FleetForecast
        Futures over `budget_weeks` weeks.
    costs : Costs
        What swaps, failures and waiting cost; what is not stated is named in the result.
    prices : mapping of str to float or None
        Price of a new head by head type [currency].

    Returns
    -------
    Budget
        The budget.
    """
    import pandas as pd

    quarters = quarters_ahead(forecast.start.date())
    if abs(forecast.weeks - budget_weeks(forecast.start)) > 1e-6:
        raise ValueError(f"a budget needs futures over {budget_weeks(forecast.start):g} weeks")
    missing = _missing_costs(costs, {name: prices[name] for name in forecast.head_types})
    swaps = _by_quarter(forecast, quarters)
    rows = []
    for head_type, site, kind in _combinations(forecast):
        used = _used(forecast, swaps, costs, prices, head_type, site, kind)
        for item, (unit, amounts) in used.items():
            for period, values in _periods(amounts, quarters):
                rows.append((period, head_type, site, kind, item, unit, *_summary(values)))
    lines = pd.DataFrame(
        rows,
        columns=[
            "period", "head_type", "site", "kind", "item", "unit", "median", "low", "high", "mean",
        ],
    )  # fmt: skip
    return Budget(
        forecast.start, costs.currency, lines, missing, quarters, fiscal_names(quarters, costs)
    )


def fiscal_names(quarters: Sequence[Quarter], costs: Costs) -> tuple[str, ...]:
    """Name quarters in the shop's fiscal year.

    Parameters
    ----------
    quarters : sequence of Quarter
        The quarters.
    costs : Costs
        When the fiscal year begins.

    Returns
    -------
    tuple of str
        One each; empty where no fiscal year is stated.
    """
    if costs.fiscal_year_begins is None:
        return ()
    begins = 1 + 3 * FISCAL_MONTHS.index(costs.fiscal_year_begins)
    return tuple(fiscal_name(one, begins) for one in quarters)


def split_weeks(counts: Any, quarters: Sequence[Quarter], start: Any, rng: Any) -> Floats:
    """Count what falls into each quarter, draws x quarters.

    Of a week that a quarter's end cuts, each head falls before it with the share of its days.

    Parameters
    ----------
    counts : array of int
        Counts by week, draws x weeks.
    quarters : sequence of Quarter
        Without a gap, from the day after the start on.
    start : datetime.date
        The day from which weeks are counted.
    rng : numpy.random.Generator
        Source of every random number.

    Returns
    -------
    array of float
        Counts by quarter; those of all quarters together are those of all weeks.
    """
    ends = np.array([(one.last - start).days for one in quarters], dtype=np.float64)
    found = np.zeros((len(counts), len(quarters)))
    for week in range(counts.shape[1]):
        begins, finish = DAYS_PER_WEEK * week, min(DAYS_PER_WEEK * (week + 1), ends[-1])
        at = min(int(np.searchsorted(ends, begins, side="right")), len(quarters) - 1)
        before = counts[:, week].astype(np.int64)
        # A week is shorter than any quarter but what is left of one: it is cut once at most.
        if ends[at] < finish:
            heads = before
            before = rng.binomial(heads, (ends[at] - begins) / (finish - begins))
            found[:, at + 1] += heads - before
        found[:, at] += before
    return found


def _combinations(forecast: FleetForecast) -> Iterator[tuple[str, str, str]]:
    """Which sums and details are listed: all, by head type, by site, by both."""
    for head_type in [ALL, *forecast.head_types]:
        for site in [ALL, *forecast.sites]:
            for kind in SWAPS_OF:
                yield head_type, site, kind


_Swaps = dict[tuple[Place, str], Floats]


def _by_quarter(forecast: FleetForecast, quarters: Sequence[Quarter]) -> _Swaps:
    """Count swaps of every group of positions by quarter and kind, draws x quarters."""
    start = forecast.start.date()
    return {
        (place, kind): split_weeks(
            tallies[kind],
            quarters,
            start,
            generator(forecast.seed, "quarter", *map(str, place), kind),
        )
        for place, tallies in forecast.swaps.items()
        for kind in SWAPS_OF[ALL]
    }


def _used(
    forecast: FleetForecast,
    swaps: _Swaps,
    costs: Costs,
    prices: Mapping[str, float | None],
    head_type: str,
    site: str,
    kind: str,
) -> dict[str, tuple[str, Floats]]:
    """Use of every item in every future and quarter, with its unit."""
    used: dict[str, tuple[str, Floats]] = {}
    # A fleet without a head in service needs nothing of any type.
    everything = forecast.head_types or list(prices)
    names = everything if head_type == ALL else [head_type]
    nothing = np.zeros((forecast.draws, len(quarters_ahead(forecast.start.date()))))
    for name in names:
        counts = {which: nothing.copy() for which in SWAPS_OF[ALL]}
        for (place, which), amounts in swaps.items():
            if which in SWAPS_OF[kind] and place[0] == name and site in (ALL, place[2]):
                counts[which] += amounts
        for item, (unit, amounts) in items(counts, costs, prices[name]).items():
            before = used.get(item, (unit, np.zeros_like(amounts)))[1]
            used[item] = unit, before + amounts
    # An amount is only told where every head type that it sums over has it.
    priced = all(prices[name] is not None for name in names)
    return {item: value for item, value in used.items() if priced or item not in _NEED_PRICE}


_NEED_PRICE: Final = ("head cost", "total")


def items(
    counts: Mapping[str, Floats], costs: Costs, price: float | None
) -> dict[str, tuple[str, Floats]]:
    """Count what swaps of one head type use and cost, as far as the costs are stated.

    Parameters
    ----------
    counts : mapping of str to array of float
        Heads swapped by kind (failed, planned, joined), of any shape [heads].
    costs : Costs
        What swaps, failures and waiting cost.
    price : float or None
        Price of a new head [currency].

    Returns
    -------
    dict of str to (str, array of float)
        Item -> its unit and amounts.
    """
    failed = counts[FAILED]
    heads = failed + counts[PLANNED] + counts[JOINED]
    # A head swapped along needs no visit of its own.
    visits = failed + counts[PLANNED]
    calibration = visits * costs.calibration_hours
    found = {
        HEADS: ("heads", heads),
        VISITS: ("visits", visits),
        CALIBRATION_HOURS: ("h", calibration),
        SCRAPPED_BUILDS: ("builds", failed),
    }
    labour = None
    if costs.swap_labour_hours is not None and costs.manual_check_hours is not None:
        checks = costs.manual_checks * costs.manual_check_hours
        labour = heads * costs.swap_labour_hours + visits * checks
        found[LABOUR_HOURS] = "h", labour
        found[STANDSTILL_HOURS] = "h", labour + calibration
    money = _amounts(heads, failed, labour, calibration, costs, price)
    found.update({name: (costs.currency, amount) for name, amount in money.items()})
    return found


def _amounts(
    heads: Floats,
    failed: Floats,
    labour: Floats | None,
    calibration: Floats,
    costs: Costs,
    price: float | None,
) -> dict[str, Floats]:
    """Amounts of one head type, as far as the costs are stated; they add up to the total."""
    money: dict[str, Floats] = {}
    if price is not None:
        money["head cost"] = heads * price
    if labour is not None and costs.labour_per_hour is not None:
        money["labour"] = labour * costs.labour_per_hour
    if costs.machine_hour_rate is not None:
        money["calibration"] = calibration * costs.machine_hour_rate
        if labour is not None:
            # The printer stands while someone works on it.
            money["standstill"] = labour * costs.machine_hour_rate
    if costs.scrapped_build_cost is not None:
        money["spoiled build cost"] = failed * costs.scrapped_build_cost
    if len(money) == len(MONEY) - 1:
        money["total"] = np.sum(list(money.values()), axis=0)
    return money


def _periods(amounts: Floats, quarters: Sequence[Quarter]) -> Iterator[tuple[str, Floats]]:
    for at, quarter in enumerate(quarters):
        yield quarter.name, amounts[:, at]
    yield YEAR, amounts[:, [quarter.whole for quarter in quarters]].sum(axis=1)


def _summary(values: Floats) -> tuple[float, float, float, float]:
    """Median, band and mean."""
    low, median, high = band_of(values)
    return float(median), float(low), float(high), float(values.mean())


def band_of(values: Any) -> Any:
    """Give the ends and the middle of the band that holds `BAND` of the futures.

    Parameters
    ----------
    values : array of float
        One value a draw, or a row of them, (draws, ...).

    Returns
    -------
    array of float
        Low, median and high, (3, ...); heads are whole, so they are values that occurred.
    """
    tail = (1.0 - BAND) / 2.0
    return np.quantile(values, [tail, 0.5, 1.0 - tail], axis=0, method="inverted_cdf")
