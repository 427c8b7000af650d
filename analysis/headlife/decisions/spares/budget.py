"""What will heads cost in the next four quarters, and how far may it stray?

From the fleet's futures over a year and the shop's costs: heads, labour, calibration, downtime
and scrapped builds by quarter, head type and site, planned and unplanned apart, each with its
median and an 80 % band. Bands of sums come from sums of futures, never from sums of bands. It
budgets what is used up, not a change of the stock level, and no waiting for heads.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.display import shows_itself
from headlife.futures.visits import FAILED, JOINED, PLANNED
from headlife.numbers import Floats
from headlife.units import DAYS_PER_WEEK, QUARTERS_PER_YEAR, WEEKS_PER_QUARTER, WEEKS_PER_YEAR

if TYPE_CHECKING:
    import pandas as pd

    from headlife.futures.forecast import FleetForecast
    from headlife.shop import Costs

ALL: Final = "all"
UNPLANNED: Final = "unplanned"
PLANNED_KIND: Final = "planned"
YEAR: Final = "year"
BAND: Final = 0.80

HEADS: Final = "heads"
VISITS: Final = "visits"
LABOUR_HOURS: Final = "labour hours"
CALIBRATION_HOURS: Final = "calibration hours"
STANDSTILL_HOURS: Final = "standstill hours"
SCRAPPED_BUILDS: Final = "scrapped builds"
MONEY: Final = ("head cost", "labour", "calibration", "downtime", "scrapped build cost", "total")

_COST_KEYS: Final = (
    "labour_per_hour",
    "machine_hour_rate",
    "swap_labour_hours",
    "manual_check_hours",
    "scrapped_build_cost",
)


@shows_itself
@dataclass(frozen=True)
class Budget:
    """What the next four quarters use and cost."""

    start: pd.Timestamp
    """First day."""
    currency: str
    """Label of amounts."""
    lines: pd.DataFrame
    """One row per period (Q1 to Q4, year), head type, site, kind (planned, unplanned; "all" for
    sums) and item: `unit`, `median`, `low`, `high` (80 % band) and `mean`."""
    missing: tuple[str, ...]
    """Settings that amounts or hours would need and that are not stated; items that need them
    are left out."""
    quarters: tuple[tuple[str, pd.Timestamp, pd.Timestamp], ...]
    """Name, first and last day of every quarter."""

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


def missing_costs(costs: Costs, prices: Mapping[str, float | None]) -> tuple[str, ...]:
    """Name the settings without which the budget has no amounts.

    Parameters
    ----------
    costs : Costs
        What swaps, failures and waiting cost.
    prices : mapping of str to float or None
        Price of a new head of each type that is asked about [currency].

    Returns
    -------
    tuple of str
        Names as the settings write them.
    """
    missing = [f"[costs] {key}" for key in _COST_KEYS if getattr(costs, key) is None]
    for name, price in prices.items():
        if price is None:
            missing.append(f'[head_types."{name}"] price')
    return tuple(missing)


def make_budget(
    forecast: FleetForecast, costs: Costs, prices: Mapping[str, float | None]
) -> Budget:
    """Budget four quarters from a year of futures.

    Parameters
    ----------
    forecast : FleetForecast
        Futures over `WEEKS_PER_YEAR` weeks.
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

    if forecast.weeks != WEEKS_PER_YEAR:
        raise ValueError(f"a budget needs futures over {WEEKS_PER_YEAR:g} weeks")
    missing = missing_costs(costs, {name: prices[name] for name in forecast.head_types})
    rows = []
    for head_type, site, kind in _combinations(forecast):
        used = _used(forecast, costs, prices, head_type, site, kind)
        for item, (unit, amounts) in used.items():
            for period, values in _periods(amounts):
                rows.append((period, head_type, site, kind, item, unit, *_summary(values)))
    lines = pd.DataFrame(
        rows,
        columns=[
            "period", "head_type", "site", "kind", "item", "unit", "median", "low", "high", "mean",
        ],
    )  # fmt: skip
    return Budget(forecast.start, costs.currency, lines, missing, _quarters(forecast.start))


def _combinations(forecast: FleetForecast) -> Iterator[tuple[str, str, str]]:
    """Which sums and details are listed: all, by head type, by site, by both."""
    for head_type in [ALL, *forecast.head_types]:
        for site in [ALL, *forecast.sites]:
            for kind in (ALL, PLANNED_KIND, UNPLANNED):
                yield head_type, site, kind


def _used(
    forecast: FleetForecast,
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
    place = None if site == ALL else site
    for name in names:
        counts = {
            which: _by_quarter(forecast.swaps_of(name, None, place, [which]))
            for which in (FAILED, PLANNED, JOINED)
        }
        if kind == PLANNED_KIND:
            counts[FAILED] = np.zeros_like(counts[FAILED])
        if kind == UNPLANNED:
            counts[PLANNED], counts[JOINED] = np.zeros((2, *counts[FAILED].shape))
        for item, (unit, amounts) in _items(counts, costs, prices[name]).items():
            before = used.get(item, (unit, np.zeros_like(amounts)))[1]
            used[item] = unit, before + amounts
    # An amount is only told where every head type that it sums over has it.
    priced = all(prices[name] is not None for name in names)
    return {item: value for item, value in used.items() if priced or item not in _NEED_PRICE}


_NEED_PRICE: Final = ("head cost", "total")


def _items(
    counts: dict[str, Floats], costs: Costs, price: float | None
) -> dict[str, tuple[str, Floats]]:
    """Items of one head type, as far as the costs are stated."""
    failed = counts[FAILED]
    heads = failed + counts[PLANNED] + counts[JOINED]
    # A head swapped along needs no visit of its own.
    visits = failed + counts[PLANNED]
    calibration = visits * costs.calibration_hours
    items = {
        HEADS: ("heads", heads),
        VISITS: ("visits", visits),
        CALIBRATION_HOURS: ("h", calibration),
        SCRAPPED_BUILDS: ("builds", failed),
    }
    labour = None
    if costs.swap_labour_hours is not None and costs.manual_check_hours is not None:
        checks = costs.manual_checks * costs.manual_check_hours
        labour = heads * costs.swap_labour_hours + visits * checks
        items[LABOUR_HOURS] = "h", labour
        items[STANDSTILL_HOURS] = "h", labour + calibration
    money = _amounts(heads, failed, labour, calibration, costs, price)
    items.update({name: (costs.currency, amount) for name, amount in money.items()})
    return items


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
            money["downtime"] = labour * costs.machine_hour_rate
    if costs.scrapped_build_cost is not None:
        money["scrapped build cost"] = failed * costs.scrapped_build_cost
    if len(money) == len(MONEY) - 1:
        money["total"] = np.sum(list(money.values()), axis=0)
    return money


def _by_quarter(swaps: Any) -> Floats:
    """Sum the weeks of every quarter, draws x quarters."""
    weeks = int(WEEKS_PER_QUARTER)
    return np.asarray(
        swaps.reshape(len(swaps), QUARTERS_PER_YEAR, weeks).sum(axis=2), dtype=np.float64
    )


def _periods(amounts: Floats) -> Iterator[tuple[str, Floats]]:
    for quarter in range(QUARTERS_PER_YEAR):
        yield f"Q{quarter + 1}", amounts[:, quarter]
    yield YEAR, amounts.sum(axis=1)


def _summary(values: Floats) -> tuple[float, float, float, float]:
    """Median, band and mean; the band holds whole heads, so its ends are values that occurred."""
    tail = (1.0 - BAND) / 2.0
    low, median, high = np.quantile(values, [tail, 0.5, 1.0 - tail], method="inverted_cdf")
    return float(median), float(low), float(high), float(values.mean())


def _quarters(start: pd.Timestamp) -> tuple[tuple[str, pd.Timestamp, pd.Timestamp], ...]:
    import pandas as pd

    length = pd.Timedelta(days=WEEKS_PER_QUARTER * DAYS_PER_WEEK)
    day = pd.Timedelta(days=1)
    return tuple(
        (f"Q{number + 1}", start + number * length + day, start + (number + 1) * length)
        for number in range(QUARTERS_PER_YEAR)
    )
