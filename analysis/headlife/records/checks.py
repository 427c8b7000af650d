"""Which rows cannot all be right? Checks that set rows aside, each for one kind of disagreement.

Answers from rows that are sound one by one, with a `Fault` each. Checks that keep rows and flag
them are in `headlife.records.doubts`. None of them mends anything.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Final

import numpy as np
import pandas as pd

from headlife.records.cells import quoted
from headlife.records.findings import Fault
from headlife.units import HOURS_PER_DAY

# Own choice, no source: a date after today is a slip when it stands this far from the others.
APART_DAYS: Final = 92
# So far ahead no clock of a computer is wrong and no head is taken out (own choice) [days].
YEARS_AHEAD: Final = np.timedelta64(3653, "D")


def days_between(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Whole calendar days from one array of dates to another.

    Parameters
    ----------
    start : array
        First days, (n,).
    end : array
        Last days, or one day.

    Returns
    -------
    array
        Days, (n,).
    """
    return np.asarray((end.astype("datetime64[D]") - start.astype("datetime64[D]")).astype(float))


def too_many_hours(rows: pd.DataFrame) -> Iterator[Fault]:
    """Find more print hours than the days of the stint have, first and last day included.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Yields
    ------
    iterator of Fault
        Each row that cannot be used.
    """
    days = days_between(rows["date_in"].to_numpy(), rows["date_out"].to_numpy()) + 1
    run = (rows["hours_out"] - rows["hours_in"]).to_numpy()
    places = rows.index.to_numpy()
    for i in np.flatnonzero(run > HOURS_PER_DAY * days):
        yield Fault(
            int(places[i]),
            "hours_out",
            f"makes {run[i]:,.1f} print hours in {days[i]:,.0f} days, more than 24 a day; "
            "correct the hours or the dates",
        )


def plausible_until(days: np.ndarray, today: date) -> np.datetime64 | None:
    """Find the last day before dates after today that stand apart from all others.

    Days count as plausible up to today, and from there on as long as no gap is longer than a
    quarter, for ten years at most: a computer whose clock is behind refuses nothing.

    Parameters
    ----------
    days : array of datetime64[D]
        Last days of the rows, in any order.
    today : date
        The day on which it is asked.

    Returns
    -------
    datetime64 or None
        The last day that is no slip of the year; None where no day stands apart.
    """
    days = np.unique(days)
    first = int(np.searchsorted(days, np.datetime64(today, "D"), side="right"))
    start = max(first - 1, 0)
    breaks = np.flatnonzero(np.diff(days).astype(np.int64)[start:] > APART_DAYS)
    if len(breaks):
        return np.datetime64(days[start + breaks[0]], "D")
    # No gap where every day lies there: those of a table whose century is wrong.
    latest = np.datetime64(today, "D") + YEARS_AHEAD
    return latest if days.size and days[-1].astype("datetime64[D]") > latest else None


def far_future(rows: pd.DataFrame, newest: np.datetime64) -> Iterator[Fault]:
    """Find dates that stand apart from all others, after today: a slip of the year.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.
    newest : datetime64
        From `plausible_until`.

    Yields
    ------
    iterator of Fault
        Each row that cannot be used.
    """
    ends = rows["date_out"].to_numpy().astype("datetime64[D]")
    places = rows.index.to_numpy()
    others = (ends <= newest).any()
    for i in np.flatnonzero(ends > newest):
        after = f"{(ends[i] - newest).astype(int):,} days after every other date; correct the year"
        if not others:
            after = "so does every other date; correct the year, or the clock of this computer"
        yield Fault(int(places[i]), "date_out", f"lies after today and {after}")


def types(rows: pd.DataFrame) -> Iterator[Fault]:
    """Find one serial under two head types: two heads, or a slip; nobody can tell which.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Yields
    ------
    iterator of Fault
        Each row that cannot be used.
    """
    codes, heads = pd.factorize(rows["head"])
    kinds, names = pd.factorize(rows["head_type"])
    low, high = extremes(codes, kinds)
    places = rows.index.to_numpy()
    for i in np.flatnonzero((low != high)[codes]):
        head = codes[i]
        both = " and ".join(sorted(quoted(str(names[k])) for k in (low[head], high[head])))
        yield Fault(
            int(places[i]),
            "head_type",
            f"is not the only type of head {quoted(str(heads[head]))}, which stands as {both}; "
            "correct the type, or give the second head a serial of its own",
        )


def extremes(codes: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Smallest and largest value of each group.

    Parameters
    ----------
    codes : array
        Group of each row, (n,).
    values : array
        One per row, (n,).

    Returns
    -------
    tuple of arrays
        Smallest and largest, one per group.
    """
    groups = int(codes.max()) + 1 if len(codes) else 0
    low = np.full(groups, np.iinfo(np.int64).max)
    high = np.full(groups, -1)
    np.minimum.at(low, codes, values)
    np.maximum.at(high, codes, values)
    return low, high


def twice(rows: pd.DataFrame) -> Iterator[Fault]:
    """Find installations written down twice; the one with the later end stays.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Yields
    ------
    iterator of Fault
        Each row that cannot be used.
    """
    key = ["head", "printer", "position", "date_in", "hours_in"]
    # Nearly always three of the five tell that no row stands twice, at less cost.
    alike = rows[rows.duplicated(["head", "date_in", "hours_in"], keep=False)]
    again = alike[alike.duplicated(key, keep=False)]
    if again.empty:
        return
    closed = again["reason"].notna()
    order = again.assign(closed=closed).sort_values(
        ["date_out", "hours_out", "closed", "reason", "row"],
        ascending=[False, False, False, True, True],
        kind="stable",
    )
    stays = order.groupby(key, sort=False, observed=True)["row"].transform("first")
    for index, row, first in zip(order.index, order["row"], stays, strict=True):
        if row != first:
            yield Fault(
                int(index),
                "head",
                f"and its row write down the installation of row {first} again; keep one of the "
                "two, with its last reading",
            )


def first_of_group(codes: np.ndarray) -> np.ndarray:
    """Places where a new group begins in sorted codes.

    Parameters
    ----------
    codes : array
        Group of each row, (n,).

    Returns
    -------
    array
        Places, ascending.
    """
    return np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]]) if len(codes) else codes


def running_argmax(values: np.ndarray, codes: np.ndarray) -> np.ndarray:
    """Place of the largest value so far within each group of sorted codes.

    Parameters
    ----------
    values : array
        One per row, (n,).
    codes : array
        Group of each row, (n,).

    Returns
    -------
    array
        Places, (n,).
    """
    if not len(values):
        return values
    # Shifting each group above the last makes one running maximum serve all groups.
    span = int(values.max() - values.min()) + 1
    lifted = values - values.min() + codes.astype(np.int64) * span
    top = np.maximum.accumulate(lifted)
    new = np.r_[True, lifted[1:] > top[:-1]]
    return np.maximum.accumulate(np.where(new, np.arange(len(values)), 0))
