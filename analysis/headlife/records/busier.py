"""Do heads run far more, or far fewer, hours a week than in the year before? Asked, not assumed.

Answers from the hours and days of sound rows. Forecasts take a change for a swing that may pass;
whether it stays (a second shift, fewer jobs) only the shop knows. It changes no hours.
"""

from __future__ import annotations

from datetime import timedelta
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


def _hours_a_week(
    start: np.ndarray, end: np.ndarray, run: np.ndarray, first: int, last: int
) -> float | None:
    """Mean of the hours a week of heads that went in and out, or are in, within some days [h]."""
    own = (start >= first) & (end <= last) & (end - start >= DAYS_PER_WEEK)
    if own.sum() < _FEWEST or not run[own].sum():
        return None
    return float(run[own].sum() / (end - start)[own].sum() * DAYS_PER_WEEK)
