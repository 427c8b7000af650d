"""Did past forecasts come true? Every past quarter, forecast as it was known then, and scored.

The records are rolled back to each past quarter end, the lives refitted, the next quarter
forecast and compared with what the records then show. It uses today's settings for every quarter
(policy, reasons), and never anything the records did not hold on that day.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from scipy.special import bdtr

from headlife.case import Case, as_case
from headlife.decisions.spares.shelf import new_heads
from headlife.decisions.spares.stock import plan_stock
from headlife.display import shows_itself
from headlife.errors import RecordsError
from headlife.fleet.succession import counted_as, successors
from headlife.futures.distribution import Demand, demand_of
from headlife.futures.forecast import (
    FleetForecast,
    forecast_fleet,
    heads_in_place,
)
from headlife.futures.life_uncertainty import Futures
from headlife.progress import Progress
from headlife.records.used_up import new_heads_between, swaps_between
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    from concurrent.futures import Executor

    import pandas as pd

    from headlife.fleet.state import Fleet
    from headlife.records.record_set import Records
    from headlife.shop import Shop

BACKTEST_DRAWS: Final = 5_000
INTERVALS: Final = (0.80, 0.95)
# Nothing can be forecast from less than a quarter of records.
LEAST_DAYS: Final = 91
BAND: Final = 0.95

_COLUMNS: Final = (
    "quarter", "begins", "ends", "head_type", "positions", "failures_on_record", "mean",
    "low_80", "high_80", "low_95", "high_95", "said_80", "said_95",
    "happened", "inside_80", "inside_95", "below", "at_most", "level", "taken", "served",
)  # fmt: skip


@shows_itself
@dataclass(frozen=True)
class Backtest:
    """Past forecasts beside what happened."""

    quarters: pd.DataFrame
    """One row per past quarter and head type, heads that another type took the place of counted as
    that type: `quarter` (such as 2026 Q2), `begins, ends`,
    `positions` [heads], `failures_on_record` then [heads]. Of the heads used up: forecast `mean`
    [heads], interval ends `low_80, high_80, low_95, high_95` [heads], the probabilities
    `said_80, said_95` that the forecast gave them [-], `happened` [heads], `inside_80,
    inside_95`, the forecast's probabilities `below` and `at_most` what happened [-]. Of the new
    heads taken: the stock `level` for that quarter [heads], `taken` [heads] and whether the level
    `served`."""
    coverage: pd.DataFrame
    """Running coverage: `interval` [-], `forecasts` so far, `inside` so far, `share` [-], the
    `said` mean probability [-] and the binomial band `low, high` around it [-]."""
    as_of: pd.Timestamp
    """Last day of the records used."""

    @property
    def last(self) -> pd.DataFrame:
        """Forecasts of the last full quarter."""
        if self.quarters.empty:
            return self.quarters
        found: pd.DataFrame = self.quarters[self.quarters["ends"] == self.quarters["ends"].max()]
        return found


def backtest(
    case: Case | Records,
    shop: Shop | None = None,
    as_of: Any = None,
    progress: Progress | None = None,
    last_only: bool = False,
    draws: int = BACKTEST_DRAWS,
    executor: Executor | None = None,
) -> Backtest:
    """Forecast every past quarter from what was known when it began, and compare.

    Parameters
    ----------
    case : Case or Records
        What `read_case` returned; or records from `read_records` with `shop` and `as_of`.
    shop : Shop, optional
        The settings, where records are given: those they were read with.
    as_of : date, optional
        Where records are given: use nothing after this day; default all of them.
    progress : callable, optional
        Called with (step, done, total).
    last_only : bool
        Only the last full quarter.
    draws : int
        Futures of each quarter [-].
    executor : concurrent.futures.Executor, optional
        Works on the quarters; the answer is the same with any, or without.

    Returns
    -------
    Backtest
        Empty where the records hold no full quarter after a first one.

    Examples
    --------
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> past = hl.backtest(case)
    >>> past.last[["head_type", "happened", "inside_80"]].values.tolist()
    [['Standard', 3, True], ['Fibre', 4, True]]
    """
    import pandas as pd

    tell = progress or (lambda step, done, total: None)
    case = as_case(case, shop, as_of)
    ends = _quarter_ends(case.records, case.day)
    pairs = list(zip(ends, ends[1:], strict=False))[-1 if last_only else 0 :]
    # Printers that were not there yet took no head, whatever is planned for them now.
    before = case.with_(new_printers={})
    # One after the other: a case of a large log keeps hundreds of megabytes once it was asked.
    pieces = (_Quarter(before.with_(as_of=begins), until, draws) for begins, until in pairs)
    rows: list[dict[str, Any]] = []
    tell("forecasting past quarters", 0, len(pairs))
    # An executor is handed all of them, which it has not asked yet; Dask takes no iterator.
    found = (
        map(_Quarter.compare, pieces)
        if executor is None
        else executor.map(_Quarter.compare, list(pieces))
    )
    for done, quarter in enumerate(found, start=1):
        rows += quarter
        tell("forecasting past quarters", done, len(pairs))
    quarters = pd.DataFrame(rows, columns=list(_COLUMNS))
    return Backtest(quarters, _coverage(quarters), case.day)


def _quarter_ends(records: Records, last_day: pd.Timestamp) -> list[pd.Timestamp]:
    """Calendar quarter ends with a quarter of records before them, up to the last day."""
    import pandas as pd

    first = records.accepted["date_in"].min() + pd.Timedelta(days=LEAST_DAYS)
    return list(pd.date_range(first, last_day, freq="QE"))


@dataclass(frozen=True)
class _Quarter:
    """One past quarter with all that its forecast needs, ready to be worked on anywhere."""

    case: Case
    """As it was known on the day the quarter begins."""
    until: pd.Timestamp
    draws: int

    def compare(self) -> list[dict[str, Any]]:
        return forecast_beside(self.case, self.until, self.draws)


def forecast_beside(
    case: Case, until: pd.Timestamp, draws: int = BACKTEST_DRAWS
) -> list[dict[str, Any]]:
    """Forecast from the day of a case to another and compare, one row per head type.

    Parameters
    ----------
    case : Case
        As it was known on the first day.
    until : pandas.Timestamp
        The last day.
    draws : int
        Futures [-].

    Returns
    -------
    list of dict
        As rows of `Backtest.quarters`; empty where nothing was on record on that day.
    """
    try:
        then = case.lives
    except RecordsError:
        # Nothing was on record on that day.
        return []
    fleet, shop, begins = case.fleet, case.shop, case.day
    weeks = (until - begins).days / DAYS_PER_WEEK
    forecast = forecast_fleet(fleet, case.modes, shop, weeks, begins, draws=draws)
    # A head that another type takes the place of is forecast, and counts, as one of that type.
    follows = successors(fleet.giving_way, forecast.drawn)
    failures, happened, taken, positions = (
        counted_as(rows, follows).value_counts()
        for rows in (
            then[then["mode"].notna()],
            swaps_between(case.records, begins, until),
            new_heads_between(case.records, begins, until),
            fleet.positions,
        )
    )
    return [
        {
            "quarter": f"{until.year} Q{until.quarter}",
            "begins": begins,
            "ends": until,
            "head_type": head_type,
            "positions": int(positions.get(head_type, 0)),
            "failures_on_record": int(failures.get(head_type, 0)),
            **_score(forecast.demand(head_type), int(happened.get(head_type, 0))),
            **_served(
                _new(fleet, forecast, shop, head_type),
                int(taken.get(head_type, 0)),
                shop.spares.service_level,
            ),
        }
        for head_type in forecast.head_types
    ]


def _score(demand: Demand, happened: int) -> dict[str, Any]:
    """Compare one forecast with what happened."""
    cdf = np.concatenate([[0.0], demand.cdf, [1.0]])

    def at_most(heads: int) -> float:
        return float(cdf[min(heads + 1, cdf.size - 1)])

    score: dict[str, Any] = {"mean": demand.mean, "happened": happened}
    for level in INTERVALS:
        name = f"{100 * level:.0f}"
        low, high = demand.interval(level)
        score[f"low_{name}"], score[f"high_{name}"] = low, high
        score[f"said_{name}"] = demand.chance_of(low, high)
        score[f"inside_{name}"] = low <= happened <= high
    score["below"], score["at_most"] = at_most(happened - 1), at_most(happened)
    return score


def _new(fleet: Fleet, forecast: FleetForecast, shop: Shop, head_type: str) -> Demand:
    """Demand for new heads in the quarter, with the lives it rests on."""
    needed = new_heads(fleet, forecast, shop, head_type)
    demand = demand_of(needed.failures, needed.total - needed.failures, forecast.weeks)
    in_place = heads_in_place(fleet, forecast, head_type)
    return replace(demand, futures=(Futures(needed.total.sum(axis=1), in_place),))


def _served(needed: Demand, taken: int, service_level: float) -> dict[str, Any]:
    """Compare the stock that a forecast asked for with the new heads that were taken."""
    level = plan_stock(needed, service_level).stock_level
    return {"level": level, "taken": taken, "served": taken <= level}


def _coverage(quarters: pd.DataFrame) -> pd.DataFrame:
    """Share of forecasts that came true so far, with the band that chance allows."""
    import pandas as pd

    rows = []
    for level in INTERVALS:
        name = f"{100 * level:.0f}"
        inside = quarters[f"inside_{name}"].to_numpy(dtype=bool)
        said = quarters[f"said_{name}"].to_numpy(dtype=np.float64)
        # Forecasts of one quarter come true together: the running count goes by quarters.
        ends = np.flatnonzero(~quarters["quarter"].duplicated(keep="last").to_numpy())
        for end in ends:
            count = int(end) + 1
            mean = float(said[:count].mean())
            # Quantiles of the binomial: the first number whose distribution reaches the tail.
            reached = bdtr(np.arange(count + 1), count, mean)
            low, high = np.searchsorted(reached, [(1 - BAND) / 2, (1 + BAND) / 2]) / count
            rows.append(
                {
                    "interval": level,
                    "quarter": quarters["quarter"].iloc[end],
                    "ends": quarters["ends"].iloc[end],
                    "forecasts": count,
                    "inside": int(inside[:count].sum()),
                    "share": float(inside[:count].mean()),
                    "said": mean,
                    "low": float(low),
                    "high": float(high),
                }
            )
    return pd.DataFrame(
        rows,
        columns=[
            "interval",
            "quarter",
            "ends",
            "forecasts",
            "inside",
            "share",
            "said",
            "low",
            "high",
        ],
    )
