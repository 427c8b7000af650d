"""Give the records as they were known at the end of a past day.

Answers from accepted records and a day: later installations are not there yet, and a head that
was removed later is still in service, its hours interpolated on the calendar between the two
readings of that installation. It never uses anything written down after that day but these
second readings.
"""

from __future__ import annotations

from datetime import date
from typing import Final

import numpy as np
import pandas as pd

from headlife.errors import RecordsError
from headlife.records.cells import quoted
from headlife.records.record_set import Records

# So long after its newest row a log says nothing of a fleet (own choice) [days].
LONGEST_SINCE: Final = 366
Day = str | date | pd.Timestamp | np.datetime64


def known_on(records: Records, as_of: Day | None) -> pd.DataFrame:
    """Return accepted rows as they were known at the end of a day; default all of them.

    Parameters
    ----------
    records : Records
        The records.
    as_of : str or date
        The day; None for the last.

    Returns
    -------
    DataFrame
        The rows.

    Raises
    ------
    RecordsError
        Something must be stated in the settings before anything is answered from these records,
        or nothing was on record on that day.
    """
    records.raise_if_not_settled()
    rows = records.accepted
    if as_of is None:
        return rows
    day = day_of(as_of)
    start, end = whole_days(rows["date_in"]), whole_days(rows["date_out"])
    begun = start <= day
    if not begun.any():
        raise RecordsError(
            f"{records.source}: nothing was on record on {np.datetime_as_string(day, 'D')}; the "
            f"first installation is of {np.datetime_as_string(start.min(), 'D')}, choose a later "
            "day."
        )
    rows, start, end = rows[begun].copy(), start[begun], end[begun]
    still_in = end > day
    passed = days_between(start[still_in], day) / days_between(start[still_in], end[still_in])
    for which in ("", "_low", "_high"):
        if f"hours_out{which}" in rows:
            first = rows[f"hours_in{which}"].to_numpy()[still_in]
            last = rows[f"hours_out{which}"].to_numpy()[still_in]
            rows.loc[still_in, f"hours_out{which}"] = first + (last - first) * passed
    rows.loc[still_in, "date_out"] = day
    rows.loc[still_in, ["reason", "mode", "suspension", "in_doubt"]] = None
    rows.loc[still_in, "last_good_hours"] = np.nan
    return rows


def refuse_long_after(day: np.datetime64, newest: np.datetime64, source: str) -> None:
    """Refuse a day so long after the newest row that nobody knows what the fleet is.

    Parameters
    ----------
    day : datetime64
        The day asked for.
    newest : datetime64
        The last day on record.
    source : str
        What to call the records.

    Raises
    ------
    RecordsError
        It is more than a year later.
    """
    day, newest = day.astype("datetime64[D]"), newest.astype("datetime64[D]")
    days = int((day - newest).astype(int))
    if days > LONGEST_SINCE:
        raise RecordsError(
            f"{source}: the newest row is of {newest}, {days:,} days before {day}, and nobody "
            "knows what happened since; choose a day within a year of it, or bring the log up to "
            "date."
        )


def days_between(start: np.ndarray, end: np.ndarray | np.datetime64) -> np.ndarray:
    """Count the days from one array of days to another, or to one day.

    Parameters
    ----------
    start : array
        First days, (n,).
    end : array or np.datetime64
        Last days, or one day.

    Returns
    -------
    array
        Days, (n,).
    """
    return np.asarray((end - start).astype(float))


def whole_days(dates: pd.Series) -> np.ndarray:
    """Give dates as calendar days.

    Parameters
    ----------
    dates : Series
        Dates, (n,).

    Returns
    -------
    array
        Days, (n,).
    """
    return dates.to_numpy().astype("datetime64[D]")


def day_of(as_of: Day) -> np.datetime64:
    """Read an as-of date.

    Parameters
    ----------
    as_of : str or date
        The day; None for the last.

    Returns
    -------
    np.datetime64
        The day.
    """
    try:
        return np.datetime64(pd.Timestamp(as_of).date(), "D")
    except (ValueError, TypeError):
        raise RecordsError(
            f"The as-of date {quoted(str(as_of))} is not a date; write it as year-month-day, for "
            "example 2026-03-31."
        ) from None
