"""Learn how many hours a week each printer prints.

Answers from hour readings and their dates, recent time counting more; the settings' `[usage]`
win where they name a printer. It never looks at why a head came out.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import Final

import numpy as np
import pandas as pd

from headlife.errors import RecordsError
from headlife.records.as_of import Day, known_on, whole_days
from headlife.records.cells import quoted
from headlife.records.record_set import Records
from headlife.settings_errors import nearest
from headlife.shop import Shop
from headlife.units import DAYS_PER_WEEK

# Recent weeks say more about a printer's next weeks than old ones: a reading half a year old
# counts half. Own choice, no source.
USAGE_HALF_LIFE_WEEKS: Final = 26.0
# Sums are kept in whole numbers of this part of an hour or a day; 64 bits then hold the weighted
# hours of a printer many thousand times over.
SUM_UNITS: Final = 2.0**28


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
    used = stints(records, as_of)
    learned = learned_hours(usage_sums(used, used["day_out"].max()))
    printers = [str(name) for name in records.accepted["printer"].unique()]
    return learned | stated_usage(records.shop, printers, records.source)


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
        `printer`, `day_in, day_out` (days since 1970), `run` [h].
    """
    rows = known_on(records, as_of)
    return pd.DataFrame(
        {
            "printer": rows["printer"].array,
            "day_in": whole_days(rows["date_in"]).astype(np.int64),
            "day_out": whole_days(rows["date_out"]).astype(np.int64),
            "run": (rows["hours_out"] - rows["hours_in"]).to_numpy(),
        }
    )


def usage_sums(used: pd.DataFrame, latest: int) -> pd.DataFrame:
    """Add up weighted print hours and weighted days of every printer.

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
        `run`, `days` by printer, in units of 1 / `SUM_UNITS`; they add.
    """
    start = used["day_in"].to_numpy()
    days_in = (used["day_out"].to_numpy() - start).astype(float)
    ago = (latest - start).astype(float)
    rate = np.log(2.0) / (USAGE_HALF_LIFE_WEEKS * DAYS_PER_WEEK)
    # Integral of 2^(-age/half-life) over the stint, and its mean (1 day at least, so that hours
    # printed on one and the same day count too).
    weight = np.exp(-rate * ago) * np.expm1(rate * days_in) / rate
    density = np.where(days_in > 0, weight / np.maximum(days_in, 1.0), np.exp(-rate * ago))
    parts = {"run": used["run"].to_numpy() * density, "days": weight}
    whole = {name: np.rint(part * SUM_UNITS).astype(np.int64) for name, part in parts.items()}
    sums = pd.DataFrame(whole, index=used.index).groupby(used["printer"], observed=True).sum()
    return sums.set_axis(sums.index.astype(object))


def learned_hours(sums: pd.DataFrame) -> dict[str, float]:
    """Print hours a week of each printer [h/week], from `usage_sums`.

    Parameters
    ----------
    sums : DataFrame
        From `usage_sums`.

    Returns
    -------
    dict of str to float
        Print hours a week [h], by printer.
    """
    run, days = (sum(sums[name].tolist()) for name in ("run", "days"))
    overall = run / days if days > 0 else 0.0
    daily = (sums["run"] / sums["days"].where(sums["days"] > 0)).fillna(overall)
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
