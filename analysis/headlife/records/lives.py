"""Join the installations of each head into one life on the head's own hour clock.

Answers when each head entered and left observation and why, and which heads are in service at
what age, now or as it was known on a past day. From accepted records only; it never judges
whether the records are sound (that is the audit) and never fits anything.
"""

from __future__ import annotations

from datetime import date
from typing import Final

import numpy as np
import pandas as pd

from headlife.errors import RecordsError
from headlife.records.cells import quoted
from headlife.records.table import Records
from headlife.settings_errors import nearest
from headlife.units import DAYS_PER_WEEK

# Recent weeks say more about a printer's next weeks than old ones: a reading half a year old
# counts half. Own choice, no source.
USAGE_HALF_LIFE_WEEKS: Final = 26.0

Day = str | date | pd.Timestamp | np.datetime64


def lives(records: Records, as_of: Day | None = None) -> pd.DataFrame:
    """Join installations into lives, one row per head.

    The first installation gives the hours at entry (more than 0 for a head that was bought
    used: delayed entry), the last one gives the exit and its mode or suspension. Hours that lie
    between two installations count as run, since the head worked afterwards.

    Parameters
    ----------
    records : Records
        From `read_records`.
    as_of : str or date, optional
        Give the lives as they were known at the end of that day: later installations are not
        there yet, and heads removed later are in service with their hours interpolated on the
        calendar. Default: everything on record.

    Returns
    -------
    DataFrame
        `head, head_type, role, site, material, printer, position` (the last four as of the last
        installation), `entry_hours, exit_hours` [h], `mode` (failure mode, None = censored),
        `suspension` (kind of the last removal when it was no failure), `in_service`,
        `on_shelf` (part-used and waiting), `last_good_hours` [h] (NaN when not known),
        `date_first, date_last`, `installations` [-]; sorted by head.

    Raises
    ------
    RecordsError
        When nothing was on record on that day.
    """
    rows, first, last = _by_head(records, as_of)
    start, end = rows.iloc[first], rows.iloc[last]
    entry = start["hours_in"].to_numpy()
    failed = end["mode"].notna().to_numpy()
    # Knowing a head good before records began says no more than that it entered.
    good = np.where(failed, np.fmax(end["last_good_hours"].to_numpy(), entry), np.nan)
    good[end["last_good_hours"].isna().to_numpy()] = np.nan
    return pd.DataFrame(
        {
            "head": end["head"].to_numpy(),
            "head_type": start["head_type"].to_numpy(),
            "role": start["role"].to_numpy(),
            **{name: end[name].to_numpy() for name in ("site", "material", "printer", "position")},
            "entry_hours": entry,
            "exit_hours": end["hours_out"].to_numpy(),
            "mode": end["mode"].to_numpy(),
            "suspension": end["suspension"].to_numpy(),
            "in_service": end["reason"].isna().to_numpy(),
            "on_shelf": end["suspension"].isin(records.shop.reasons.reusable).to_numpy(),
            "last_good_hours": good,
            "date_first": start["date_in"].to_numpy(),
            "date_last": end["date_out"].to_numpy(),
            "installations": last - first + 1,
        }
    )


def in_service(records: Records, as_of: Day | None = None) -> pd.DataFrame:
    """List the heads in service, with their present ages.

    A head whose last reading is older than the day asked for is carried forward by its
    printer's usage and marked as projected.

    Parameters
    ----------
    records : Records
        From `read_records`.
    as_of : str or date, optional
        The day; default the last date on record.

    Returns
    -------
    DataFrame
        One row per occupied position: `head, head_type, role, site, printer, position,
        age_hours` [h] on that day, `reading_date, reading_hours` [h] of the last reading,
        `projected` (true when the age was carried forward), `weekly_hours` [h/week] of the
        printer (the settings' `[usage]`, else learned); sorted by printer and position.

    Raises
    ------
    RecordsError
        When nothing was on record on that day, or `[usage]` names a printer without records.
    """
    rows, _, last = _by_head(records, as_of)
    day = _floor(rows["date_out"]).max() if as_of is None else _day(as_of)
    here = rows.iloc[last]
    here = here[here["reason"].isna()].sort_values(["printer", "position", "head"], kind="stable")
    weekly = here["printer"].map(weekly_hours(records, as_of)).to_numpy(dtype=float)
    weeks = np.maximum(_days(_floor(here["date_out"]), day) / DAYS_PER_WEEK, 0.0)
    return pd.DataFrame(
        {
            **{
                name: here[name].to_numpy()
                for name in ("head", "head_type", "role", "site", "printer", "position")
            },
            "age_hours": here["hours_out"].to_numpy() + weekly * weeks,
            "reading_date": here["date_out"].to_numpy(),
            "reading_hours": here["hours_out"].to_numpy(),
            "projected": weeks > 0,
            "weekly_hours": weekly,
        }
    )


def weekly_hours(records: Records, as_of: Day | None = None) -> dict[str, float]:
    """Print hours a week of each printer, learned from the hour readings.

    Hours run over calendar time in position, both positions together, recent time counting
    more; a printer without a day on record takes the mean of all. The settings' `[usage]` wins.

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
    rows = _known_on(records, as_of)
    start = _floor(rows["date_in"])
    days_in = _days(start, _floor(rows["date_out"]))
    ago = _days(start, _floor(rows["date_out"]).max())
    rate = np.log(2.0) / (USAGE_HALF_LIFE_WEEKS * DAYS_PER_WEEK)
    # Integral of 2^(-age/half-life) over the stint, and its mean (1 day at least, so that hours
    # printed on one and the same day count too).
    weight = np.exp(-rate * ago) * np.expm1(rate * days_in) / rate
    density = np.where(days_in > 0, weight / np.maximum(days_in, 1.0), np.exp(-rate * ago))
    run = (rows["hours_out"] - rows["hours_in"]).to_numpy() * density
    sums = pd.DataFrame({"run": run, "days": weight}).groupby(rows["printer"].to_numpy()).sum()
    overall = float(sums["run"].sum() / sums["days"].sum()) if sums["days"].sum() > 0 else 0.0
    daily = (sums["run"] / sums["days"].where(sums["days"] > 0)).fillna(overall)
    learned = {str(name): float(value) * DAYS_PER_WEEK for name, value in daily.items()}
    return learned | _stated_usage(records)


def _stated_usage(records: Records) -> dict[str, float]:
    printers = [str(name) for name in records.accepted["printer"].unique()]
    for name in records.shop.usage:
        if name not in printers:
            raise RecordsError(
                f"The settings' [usage] name the printer {quoted(name)}{nearest(name, printers)}, "
                f"of which {records.source} has no row; correct or delete that line."
            )
    return dict(records.shop.usage)


def _by_head(records: Records, as_of: Day | None) -> tuple[pd.DataFrame, np.ndarray, np.ndarray]:
    """Sort what was known by head and hours; places of each head's first and last row."""
    rows = _known_on(records, as_of)
    codes, _ = pd.factorize(rows["head"], sort=True)
    order = np.lexsort(
        (
            rows["row"].to_numpy(),
            rows["mode"].notna().to_numpy(),
            rows["date_out"].to_numpy(),
            rows["date_in"].to_numpy(),
            rows["hours_out"].to_numpy(),
            rows["hours_in"].to_numpy(),
            codes,
        )
    )
    rows, codes = rows.iloc[order], codes[order]
    starts = np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]])
    return rows, starts, np.r_[starts[1:], len(rows)] - 1


def _known_on(records: Records, as_of: Day | None) -> pd.DataFrame:
    """Rows as they were known at the end of a day."""
    rows = records.accepted
    if as_of is None:
        return rows
    day = _day(as_of)
    start, end = _floor(rows["date_in"]), _floor(rows["date_out"])
    begun = start <= day
    if not begun.any():
        raise RecordsError(
            f"{records.source}: nothing was on record on {np.datetime_as_string(day, 'D')}; the "
            f"first installation is of {np.datetime_as_string(start.min(), 'D')}, choose a later "
            "day."
        )
    rows, start, end = rows[begun].copy(), start[begun], end[begun]
    still_in = end > day
    passed = _days(start[still_in], day) / _days(start[still_in], end[still_in])
    run = (rows["hours_out"] - rows["hours_in"]).to_numpy()[still_in]
    rows.loc[still_in, "hours_out"] = rows["hours_in"].to_numpy()[still_in] + run * passed
    rows.loc[still_in, "date_out"] = day
    rows.loc[still_in, ["reason", "mode", "suspension"]] = None
    rows.loc[still_in, "last_good_hours"] = np.nan
    rows.loc[still_in, "looked_bad"] = False
    return rows


def _days(start: np.ndarray, end: np.ndarray | np.datetime64) -> np.ndarray:
    return np.asarray((end - start).astype(float))


def _floor(dates: pd.Series) -> np.ndarray:
    return dates.to_numpy().astype("datetime64[D]")


def _day(as_of: Day) -> np.datetime64:
    try:
        return np.datetime64(pd.Timestamp(as_of).date(), "D")
    except (ValueError, TypeError):
        raise RecordsError(
            f"The as-of date {quoted(str(as_of))} is not a date; write it as year-month-day, for "
            "example 2026-03-31."
        ) from None
