"""How many hours will printers print in the weeks ahead, and how far do these hours vary?

From installations (how much a printer's hours went up and down), the usage of every position and
the changes that the shop plans by date. Never forecasts a swap.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.fleet.concerned import concerned
from headlife.numbers import Floats
from headlife.records.usage import SUM_UNITS, Shares
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.order_book import Booked
    from headlife.shop import Plan

# An installation shorter than this says little: its dates are whole days [weeks].
SHORTEST_STINT_WEEKS: Final = 2.0
_DAY: Final = np.timedelta64(1, "D")
_COMBINED: Final = {
    **{"first": "min", "last": "max"},
    **dict.fromkeys(("count", "weeks", "run", "squares"), "sum"),
}


def planned_hours(
    positions: pd.DataFrame,
    plans: Mapping[str, Plan],
    start: pd.Timestamp,
    weeks: int,
    booked: Booked | None = None,
) -> Floats:
    """Print hours of every position in every week ahead, planned changes included.

    Parameters
    ----------
    positions : pandas.DataFrame
        One row per position with `printer, site` and `weekly_hours` [h]; before its day in
        `begins`, if there is one, a position prints nothing.
    plans : mapping of str to Plan
        Changes of the hours of a printer, a site or all between two days, by their names.
    start : pandas.Timestamp
        First day of the first week.
    weeks : int
        Number of weeks.
    booked : Booked, optional
        What the order book says, which takes the place of all else as far as it reaches.

    Returns
    -------
    array of float
        Positions x weeks [h].

    Raises
    ------
    DecisionError
        A plan names a printer or a site where no head is in service.
    """
    usual = positions["weekly_hours"].to_numpy(dtype=np.float64)
    hours = np.repeat(usual[:, None], weeks, axis=1)
    first = np.arange(weeks, dtype=np.float64) * DAYS_PER_WEEK
    if "begins" in positions:
        hours = hours * _share_begun(positions["begins"], start, first)
    for name, plan in plans.items():
        about = concerned(positions, f"The plan '{name}'", plan)
        begins = _days(start, plan.begins)
        ends = np.inf if plan.ends is None else _days(start, plan.ends) + 1.0
        days = np.minimum(first + DAYS_PER_WEEK, ends) - np.maximum(first, begins)
        share = np.clip(days, 0.0, DAYS_PER_WEEK) / DAYS_PER_WEEK
        hours[about] *= 1.0 + share * (plan.factor - 1.0)
    return hours if booked is None else hours * (1.0 - booked.share) + booked.hours


def variation_sums(stints: pd.DataFrame) -> pd.DataFrame:
    """Add up what tells how far print hours vary from week to week, by printer and role.

    Parameters
    ----------
    stints : pandas.DataFrame
        Installations with `printer, role, date_in, date_out, hours_in` and `hours_out` [h].

    Returns
    -------
    pandas.DataFrame
        By printer and role: `first` and `last` day on record, which combine as least and greatest;
        and of the installations long enough to tell, sums that add: `count` [-], and in units of
        1 / `SUM_UNITS`, `weeks`, `run` [h] and `squares`, of `run` squared over `weeks`.
    """
    import pandas as pd

    out, into = stints["date_out"].to_numpy(), stints["date_in"].to_numpy()
    weeks = np.asarray((out - into) / _DAY / DAYS_PER_WEEK, dtype=np.float64)
    run = (stints["hours_out"] - stints["hours_in"]).to_numpy(dtype=np.float64)
    long = weeks >= SHORTEST_STINT_WEEKS
    weeks, run = np.where(long, weeks, 1.0), np.where(long, run, 0.0)
    amounts = {"weeks": weeks * long, "run": run, "squares": run * run / weeks}
    table = pd.DataFrame(
        {"first": into, "last": out, "count": long.astype(np.int64)}
        | {name: np.rint(sums * SUM_UNITS).astype(np.int64) for name, sums in amounts.items()}
    )
    names = [stints[name].to_numpy(dtype=object) for name in ("printer", "role")]
    return table.groupby(names, observed=True, sort=True).agg(_COMBINED)


def add_variation(parts: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Combine what `variation_sums` gave for the parts of a record.

    Parameters
    ----------
    parts : sequence of DataFrame
        Sums of parts of one record.

    Returns
    -------
    DataFrame
        The sums of the whole.
    """
    import pandas as pd

    table = pd.concat(parts)
    return table.groupby(level=[0, 1], sort=True).agg(_COMBINED)


def usage_variation(sums: pd.DataFrame, shares: Shares) -> tuple[float, dict[str, float]]:
    """Spread of print hours from week to week, and the weeks each printer was learned from.

    Parameters
    ----------
    sums : pandas.DataFrame
        From `variation_sums`.
    shares : mapping of (str, str) to float
        Printer and role -> share of the printer's hours that the head there runs [-].

    Returns
    -------
    float
        Standard deviation of one week's hours as a share of their mean, all printers together,
        weeks taken as independent [-]; 0 where no printer has two installations to compare.
    dict of str to float
        Weeks on record of each printer [weeks].
    """
    sums = _of_printers(sums, shares)
    days = (sums["last"].to_numpy() - sums["first"].to_numpy()) / _DAY
    learned = dict(zip(sums.index.astype(str), (days / DAYS_PER_WEEK).tolist(), strict=True))
    told = sums[(sums["count"] > 1) & (sums["run"] > 0)]
    weeks, run, squares = (
        told[name].to_numpy(dtype=np.float64) / SUM_UNITS for name in ("weeks", "run", "squares")
    )
    # The average of d weeks that vary independently has a d-th of their variance, so each
    # installation counts (run / weeks / mean - 1)^2 times its weeks; their sum by printer:
    away = squares * np.square(weeks / run) - weeks
    freedom = int((told["count"] - 1).sum())
    return (float(np.sqrt(max(away.sum(), 0.0) / freedom)) if freedom else 0.0), learned


def _of_printers(sums: pd.DataFrame, shares: Shares) -> pd.DataFrame:
    """Combine the roles of each printer: what the printer ran while a head ran its share."""
    share = np.array([shares.get((str(p), str(r)), 1.0) for p, r in sums.index])
    whole = sums.assign(run=sums["run"] / share, squares=sums["squares"] / share**2)
    return whole.groupby(level=0, sort=True).agg(_COMBINED)


def _share_begun(begins: pd.Series, start: pd.Timestamp, first: Floats) -> Floats:
    """Share of each week, by its first day, that lies after a position's own first day."""
    wait = ((begins - start) / _DAY).fillna(-np.inf).to_numpy(dtype=np.float64)[:, None]
    left = np.clip(first + DAYS_PER_WEEK - wait, 0.0, DAYS_PER_WEEK)
    return np.asarray(left / DAYS_PER_WEEK)


def _days(start: pd.Timestamp, day: Any) -> float:
    """Days from the start to a day."""
    return float((np.datetime64(day, "D") - start.to_datetime64()) / _DAY)
