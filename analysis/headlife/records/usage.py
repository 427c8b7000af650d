"""Learn how many hours a week each printer prints, and which share of them each head runs.

Answers from hour readings and their dates, recent time counting more; what a plan of the settings
changed until now is not counted as usual, and `[usage]` wins where it names a printer. It never
looks at why a head came out.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np
import pandas as pd

from headlife.alike import nearest
from headlife.errors import RecordsError
from headlife.records.as_of import Day, known_on, whole_days
from headlife.records.cells import quoted
from headlife.records.record_set import Records
from headlife.shop import Shop
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    from headlife.shop.work import Plan

# Recent weeks say more about a printer's next weeks than old ones: a reading half a year old
# counts half. Own choice, no source.
USAGE_HALF_LIFE_WEEKS: Final = 26.0
# Sums are kept in whole numbers of this part of an hour or a day; 64 bits then hold the weighted
# hours of a printer many thousand times over.
SUM_UNITS: Final = 2.0**28
# Head counters of two roles are taken to differ where one runs less than this share of the hours of
# the busier one: readings are of whole days, and positions are not always read together. Own
# choice, no source.
_ALL_HOURS: Final = 0.95
_SHARE_STEP: Final = 0.02  # shares are told in such steps, so that many heads have one
# Days on record from which a printer's own shares count as much as what is usual in the shop, and
# printers on record from which the usual is as good as what was assumed before. Own choice.
_DAYS_TO_TELL: Final = 90.0
_FIRST_DAY: Final = datetime.date(1970, 1, 1).toordinal()

# Printer and role -> share of the printer's hours that the head there runs [-].
Shares = Mapping[tuple[str, str], float]


def weekly_hours(records: Records, as_of: Day | None = None) -> dict[str, float]:
    """Print hours a week of each printer, learned from the hour readings.

    Hours run over calendar time in position, both positions together, recent time counting
    more; a printer without a day on record takes the mean of all. Where the heads of one role run
    fewer hours (`role_shares`), the printer's are those of the busier ones. The settings'
    `[usage]` wins.

    Parameters
    ----------
    records : Records
        From `read_records`.
    as_of : str or date, optional
        Use only what was known at the end of that day.

    Returns
    -------
    dict
        Printer -> print hours a week [h/week].

    Raises
    ------
    RecordsError
        When nothing was on record on that day, or `[usage]` names a printer without records.
    """
    return usage_and_shares(records, as_of)[0]


def usage_and_shares(
    records: Records, as_of: Day | None = None
) -> tuple[dict[str, float], dict[tuple[str, str], float]]:
    """Give print hours a week of each printer, and the share of them that each head runs.

    Parameters
    ----------
    records, as_of : Records, str or date, optional
        As for `weekly_hours`.

    Returns
    -------
    tuple of dict
        As from `weekly_hours` [h/week], and as from `role_shares` [-].

    Raises
    ------
    RecordsError
        As for `weekly_hours`.
    """
    used = stints(records, as_of)
    latest = int(used["day_out"].max())
    sums = usage_sums(in_usual_days(used, records.shop.plans, latest), latest)
    shares = role_shares(sums)
    printers = [str(name) for name in records.accepted["printer"].unique()]
    stated = stated_usage(records.shop, printers, records.source)
    return learned_hours(sums, shares) | stated, shares


def stints(records: Records, as_of: Day | None = None) -> pd.DataFrame:
    """Give how long and how much each installation ran.

    Parameters
    ----------
    records : Records
        From `read_records`.
    as_of : str or date, optional
        As for `weekly_hours`.

    Returns
    -------
    DataFrame
        `printer`, `role`, `site`, `day_in, day_out` (days since 1970), `run` [h].
    """
    rows = known_on(records, as_of)
    return pd.DataFrame(
        {
            "printer": rows["printer"].array,
            "role": rows["role"].array,
            "site": rows["site"].array,
            "day_in": whole_days(rows["date_in"]).astype(np.int64),
            "day_out": whole_days(rows["date_out"]).astype(np.int64),
            "run": (rows["hours_out"] - rows["hours_in"]).to_numpy(),
        }
    )


def usual_days(
    days: pd.Series, printer: pd.Series, site: pd.Series, plans: Mapping[str, Plan], until: int
) -> pd.Series:
    """Count days backwards as usual ones: one in which a plan halves print hours is half a day.

    Parameters
    ----------
    days : Series of int
        Days since 1970.
    printer, site : Series of str
        Which printer each is of, and where it stands.
    plans : mapping of str to Plan
        The settings' changes of printing; until that day they have happened.
    until : int
        The day that stays as it is (days since 1970).

    Returns
    -------
    Series of float
        Days; the same ones where no plan began before.
    """
    spans = [
        (_day(plan.begins), until if plan.ends is None else _day(plan.ends) + 1, plan)
        for plan in plans.values()
    ]
    begun = [(first, min(after, until), plan) for first, after, plan in spans if first < until]
    if not begun:
        return days
    edges = sorted({edge for first, after, _ in begun for edge in (first, after)})
    usual = days.to_numpy(dtype=float).copy()
    for begins, ends in pairwise(edges):
        factor = np.ones(len(days))
        for first, after, plan in begun:
            if first <= begins and ends <= after:
                factor[_about(plan, printer, site)] *= plan.factor
        passed = np.clip(ends - days.to_numpy(dtype=float), 0.0, ends - begins)
        usual += (1.0 - factor) * passed
    return pd.Series(usual, index=days.index)


def in_usual_days(used: pd.DataFrame, plans: Mapping[str, Plan], latest: int) -> pd.DataFrame:
    """Count the days of installations as usual ones, by `usual_days`.

    Parameters
    ----------
    used : DataFrame
        From `stints`; all installations or some of them.
    plans : mapping of str to Plan
        The settings' changes of printing.
    latest : int
        Last day on record, of all installations (days since 1970).

    Returns
    -------
    DataFrame
        The same, with other days where a plan began before the last one.
    """
    if all(_day(plan.begins) >= latest for plan in plans.values()):
        return used
    where = used["printer"].astype(object), used["site"].astype(object)
    moved = {name: usual_days(used[name], *where, plans, latest) for name in ("day_in", "day_out")}
    return used.assign(**moved)


def _day(date: datetime.date) -> int:
    return date.toordinal() - _FIRST_DAY


def _about(plan: Plan, printer: pd.Series, site: pd.Series) -> np.ndarray:
    """Mark what a plan is about."""
    mine = np.ones(len(printer), dtype=bool)
    for asked, there in ((plan.printer, printer), (plan.site, site)):
        if asked is not None:
            mine &= (there == asked).to_numpy(dtype=bool)
    return mine


def usage_sums(used: pd.DataFrame, latest: int) -> pd.DataFrame:
    """Add up print hours and days of every printer and role, weighted by how recent they are.

    The sums are of whole numbers (of a few billionths of an hour or a day), so that a record
    in parts, added in any order, gives the very digits of the whole.

    Parameters
    ----------
    used : DataFrame
        From `stints`; all installations or some of them.
    latest : int
        Last day on record, of all installations (days since 1970).

    Returns
    -------
    DataFrame of int
        By printer and role, in units of 1 / `SUM_UNITS`, sums that add: `run` and `days`, recent
        time counting more, and `all_run` and `all_days`, all alike.
    """
    start = used["day_in"].to_numpy()
    days_in = (used["day_out"].to_numpy() - start).astype(float)
    ago = (latest - start).astype(float)
    rate = np.log(2.0) / (USAGE_HALF_LIFE_WEEKS * DAYS_PER_WEEK)
    # Integral of 2^(-age/half-life) over the stint, and its mean (1 day at least, so that hours
    # printed on one and the same day count too).
    weight = np.exp(-rate * ago) * np.expm1(rate * days_in) / rate
    density = np.where(days_in > 0, weight / np.maximum(days_in, 1.0), np.exp(-rate * ago))
    run = used["run"].to_numpy()
    parts = {"run": run * density, "days": weight, "all_run": run, "all_days": days_in}
    whole = {name: np.rint(part * SUM_UNITS).astype(np.int64) for name, part in parts.items()}
    by = [used["printer"], used["role"]]
    sums = pd.DataFrame(whole, index=used.index).groupby(by, observed=True, sort=True).sum()
    names = sums.index.to_frame().astype(object)  # categories of other parts are other ones
    return sums.set_axis(pd.MultiIndex.from_frame(names)).sort_index()


def role_shares(sums: pd.DataFrame) -> dict[tuple[str, str], float]:
    """Share of its printer's print hours that the heads of each role run, from `usage_sums`.

    Parameters
    ----------
    sums : DataFrame
        From `usage_sums`.

    Returns
    -------
    dict
        Printer and role -> share [-], 1 for the role that runs most. 1 as well where the counters
        differ by no more than a twentieth, as those of a shop that writes down the printer's hours
        for both.

    Notes
    -----
    The log hours a day of each role, about those of its printer, are drawn towards the shop's mean
    of that role, and this towards nought, the more the shorter the record is.
    """
    known = sums[(sums["all_days"] > 0) & (sums["all_run"] > 0)]
    if known.index.get_level_values(1).nunique() < 2:
        return {}
    both = known.groupby(level=0)["all_days"].transform("size") > 1
    known = known[both]
    whole = known[["all_run", "all_days"]].groupby(level=0).transform("sum").astype(float)
    usual = whole["all_run"] / whole["all_days"]
    away = np.log(known["all_run"] / known["all_days"] / usual)
    days = known.groupby(level=0)["all_days"].transform("min") / SUM_UNITS
    weight = days / (days + _DAYS_TO_TELL)
    of_role = (weight * away).groupby(level=1).sum() / (weight.groupby(level=1).sum() + 1.0)
    role = known.index.get_level_values(1)
    drawn = weight * away + (1.0 - weight) * of_role.reindex(role).to_numpy()
    share = np.exp(drawn - drawn.groupby(level=0).transform("max"))
    steps = np.maximum(np.rint(share / _SHARE_STEP), 1.0) * _SHARE_STEP
    told = np.where(share >= _ALL_HOURS, 1.0, steps)
    return {(str(p), str(r)): float(one) for (p, r), one in zip(known.index, told, strict=True)}


def learned_hours(sums: pd.DataFrame, shares: Shares) -> dict[str, float]:
    """Print hours a week of each printer [h/week], from `usage_sums`.

    Parameters
    ----------
    sums : DataFrame
        From `usage_sums`.
    shares : mapping of (str, str) to float
        From `role_shares`.

    Returns
    -------
    dict of str to float
        Print hours a week [h], by printer.
    """
    of_place = np.array([shares.get((str(p), str(r)), 1.0) for p, r in sums.index])
    # A day of a head that runs half the hours counts half.
    both = pd.DataFrame({"run": sums["run"], "days": sums["days"] * of_place})
    by_printer = both.groupby(level=0).sum()
    run, days = (sum(by_printer[name].tolist()) for name in ("run", "days"))
    overall = run / days if days > 0 else 0.0
    daily = (by_printer["run"] / by_printer["days"].where(by_printer["days"] > 0)).fillna(overall)
    return {str(name): float(value) * DAYS_PER_WEEK for name, value in daily.items()}


def stated_usage(shop: Shop, printers: Collection[str], source: str) -> dict[str, float]:
    """Print hours a week that the settings state; a printer without a row is a named error.

    Parameters
    ----------
    shop : Shop
        The settings.
    printers : collection of str
        Printers on record.
    source : str
        What is said to be read.

    Returns
    -------
    dict of str to float
        Print hours a week [h], by printer.
    """
    for name in shop.usage:
        if name not in printers:
            raise RecordsError(
                f"The settings' [usage] name the printer {quoted(name)}"
                f"{nearest(name, list(printers))}, of which {source} has no row; correct or "
                "delete that line."
            )
    return dict(shop.usage)
