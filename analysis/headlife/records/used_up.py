"""Which heads were used up, and which new ones taken, between two days?

From accepted records; counts what the records show and forecasts nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from headlife.records.places import cause_not_written

if TYPE_CHECKING:
    from headlife.records.record_set import Records


def swaps_between(records: Records, begins: Any, until: Any) -> pd.DataFrame:
    """Find removals after one day and up to another that used up a head.

    Failures, heads that looked bad, planned swaps and heads of which nobody wrote down why they
    came out count; a head that goes back in later does
    not.

    Parameters
    ----------
    records : Records
        What `read_records` returned.
    begins, until : date
        The days.

    Returns
    -------
    pandas.DataFrame
        Rows of `records.accepted`.
    """
    rows = records.accepted
    out = rows["date_out"]
    gone = rows["reason"].notna() | cause_not_written(rows)
    inside = gone & (out > pd.Timestamp(begins)) & (out <= pd.Timestamp(until))
    kept = rows["suspension"].isin(records.shop.reasons.reusable)
    found: pd.DataFrame = rows[inside & ~kept]
    return found


def new_heads_between(records: Records, begins: Any, until: Any) -> pd.DataFrame:
    """Find installations after one day and up to another for which a new head was taken.

    Heads that came with a printer, the first in their position, were not taken from the stock, nor
    was one that went in refurbished.

    Parameters
    ----------
    records : Records
        What `read_records` returned.
    begins, until : date
        The days.

    Returns
    -------
    pandas.DataFrame
        Rows of `records.accepted`.
    """
    rows = records.accepted.sort_values(["date_in", "hours_in"], kind="stable")
    first = ~rows["head"].duplicated() & rows[["printer", "position"]].duplicated()
    inside = (rows["date_in"] > pd.Timestamp(begins)) & (rows["date_in"] <= pd.Timestamp(until))
    if "refurbished" in rows:
        first &= ~rows["refurbished"].astype(bool)
    found: pd.DataFrame = rows[first & inside]
    return found
