"""Did print hours change for good, or stop for weeks? Asked, not assumed.

Answers from the hours and days of sound rows. Forecasts take a change for a swing that may pass;
whether it stays (a second shift, fewer jobs), and whether printers stood still while no row is
dated, only the shop knows. It changes no hours.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import Final

import numpy as np
import pandas as pd

from headlife.records.findings import Finding, doubt
from headlife.units import DAYS_PER_WEEK

CHANGED: Final = "print hours changed"
# Own choices, no source: hours a week of the last quarter beside those of the year before it, where
# at least so many heads went in and ran in both. Of 240 simulated shops whose printers do not swing
# together none is asked, of 120 whose quarters differ by a quarter for all of them 7 %
# (`tests/records/test_busier.py` has some of them).
_RECENT: Final = 91
_BEFORE: Final = 365
_TIMES: Final = 1.6
_FEWEST: Final = 6
# Own choices, no source: days without a row that are looked at, and how much of them the heads in
# service then must lack, if they ran as other heads of their places do.
_STOP_DAYS: Final = 28
_LACKING: Final = (0.6, 1.1)
_SLOWEST: Final = 0.05  # of the others, which nearly all heads of a stop are slower than
_NEARLY_ALL: Final = 0.9
_SWINGS: Final = 3.0  # deviations of the others' pace that they lack at least


def changed_hours(rows: pd.DataFrame) -> list[Finding]:
    """Find that heads run far more or fewer hours a week than in the year before.

    Parameters
    ----------
    rows : DataFrame
        All accepted rows.

    Returns
    -------
    list of Finding
        One at most.
    """
    start, end = (
        rows[name].to_numpy().astype("datetime64[D]").astype(np.int64)
        for name in ("date_in", "date_out")
    )
    run = (rows["hours_out"] - rows["hours_in"]).to_numpy(dtype=float)
    last = int(end.max())
    turn = last - _RECENT
    now, before = (
        _hours_a_week(start, end, run, *between)
        # A head that was in at the turn ran its hours partly before: only those after it tell.
        for between in ((turn, last), (turn - _BEFORE, turn))
    )
    if now is None or before is None or 1.0 / _TIMES < now / before < _TIMES:
        return []
    day = (pd.Timestamp(turn, unit="D") + timedelta(days=1)).date()
    return [
        doubt(
            CHANGED,
            "",
            "",
            f"Heads that went in since {day} ran {now:,.0f} h a week on average, those of the year "
            f"before {before:,.0f} h. Forecasts take that for a swing that may pass. If it is "
            'there to stay (a second shift, fewer jobs), state it: [plans."NAME"] with its factor, '
            f"such as {now / before:.1f}, and its first day, begins = {day} or earlier.",
        )
    ]


def stopped_hours(rows: pd.DataFrame) -> list[Finding]:
    """Find weeks without a row in which heads seem to have stood still, all of them together.

    Parameters
    ----------
    rows : DataFrame
        All accepted rows.

    Returns
    -------
    list of Finding
        One for each such time.
    """
    start, end = (
        rows[name].to_numpy().astype("datetime64[D]").astype(np.int64)
        for name in ("date_in", "date_out")
    )
    run = (rows["hours_out"] - rows["hours_in"]).to_numpy(dtype=float)
    place = rows.groupby(["printer", "position"], observed=True).ngroup().to_numpy()
    written = np.unique(np.concatenate([start, end]))
    found = []
    for at in np.flatnonzero(np.diff(written) >= _STOP_DAYS).tolist():
        first, last = int(written[at]), int(written[at + 1])
        stood = _days_lacking(start, end, run, place, (first, last))
        if stood is not None:
            begins, ends = ((pd.Timestamp(day, unit="D")).date() for day in (first, last))
            found.append(_stopped(begins, ends, *stood))
    return found


def _stopped(begins: date, ends: date, heads: int, days: float) -> Finding:
    weeks = f"{days / DAYS_PER_WEEK:.0f} weeks"
    return doubt(
        CHANGED,
        "",
        "",
        f"No row is dated between {begins} and {ends}, and the {heads} heads in service then ran "
        f"as if all had stood still for about {weeks} of it. Forecasts take that for hours that "
        "swing, and hold more spares for it. If printers stood still, state from when to when: "
        '[plans."NAME"] with factor = 0, and its first and last day as begins and ends.',
    )


def _days_lacking(
    start: np.ndarray, end: np.ndarray, run: np.ndarray, place: np.ndarray, gap: tuple[int, int]
) -> tuple[int, float] | None:
    """Count the heads in service all through a gap, and the days that they lack; None: no stop.

    Beside stays of their own places within a year of the gap, whose hours a day are the usual ones.
    """
    first, last = gap
    long = end - start >= DAYS_PER_WEEK
    through = (start <= first) & (end >= last)
    others = long & ((end <= first) | (start >= last))
    others &= (end >= first - _BEFORE) & (start <= last + _BEFORE)
    size = int(place.max(initial=0)) + 1
    days = np.bincount(place, (end - start) * others, size)
    usual = np.bincount(place, run * others, size) / np.maximum(days, 1)
    through &= usual[place] > 0.0
    if through.sum() < _FEWEST:
        return None
    pace = run / np.maximum(usual[place] * (end - start), 1e-9)
    others &= usual[place] > 0.0
    before, after = others & (end <= first), others & (start >= last)
    if before.sum() < _FEWEST:
        return None
    # Where hours grow, those before were slower too; where they swing, some of the others are.
    for side in (before, after):
        if side.any():
            slower = pace[through] < np.quantile(pace[side], _SLOWEST)
            if slower.mean() < _NEARLY_ALL:
                return None
    lacking = 1.0 - pace[through]
    days_lacking = float(((end - start)[through] * lacking).mean())
    least, most = (share * (last - first) for share in _LACKING)
    swings = float(np.std(pace[others]))
    if not least <= days_lacking <= most or float(lacking.mean()) < _SWINGS * swings:
        return None
    return int(through.sum()), days_lacking


def _hours_a_week(
    start: np.ndarray, end: np.ndarray, run: np.ndarray, first: int, last: int
) -> float | None:
    """Mean of the hours a week of heads that went in and out, or are in, within some days [h]."""
    own = (start >= first) & (end <= last) & (end - start >= DAYS_PER_WEEK)
    if own.sum() < _FEWEST or not run[own].sum():
        return None
    return float(run[own].sum() / (end - start)[own].sum() * DAYS_PER_WEEK)
