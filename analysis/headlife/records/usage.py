"""Learn how many hours a week each printer prints.

Answers from hour readings and their dates, recent time counting more; the settings' `[usage]`
win where they name a printer. It never looks at why a head came out.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from headlife.errors import RecordsError
from headlife.records.cells import quoted
from headlife.records.known import Day, days_between, known_on, whole_days
from headlife.records.table import Records
from headlife.settings_errors import nearest
from headlife.units import DAYS_PER_WEEK

# Recent weeks say more about a printer's next weeks than old ones: a reading half a year old
# counts half. Own choice, no source.
USAGE_HALF_LIFE_WEEKS: Final = 26.0


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
    rows = known_on(records, as_of)
    start = whole_days(rows["date_in"])
    days_in = days_between(start, whole_days(rows["date_out"]))
    ago = days_between(start, whole_days(rows["date_out"]).max())
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
