"""Until which day is a head known to be in service that nobody took out?

Answers for rows without a day of removal and without a reason: the day that the settings state
or a cell of the workbook holds, or the last reading of that printer. Where none of them is
stated the row is named. It never takes today for granted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date

import numpy as np
import pandas as pd

from headlife.records.pairing import Fault
from headlife.shop import Intake
from headlife.shop.clocks import LAST_READING


def days_out(
    rows: pd.DataFrame, intake: Intake, as_of: date | None, last_read: Mapping[str, float]
) -> tuple[np.ndarray, list[Fault]]:
    """Give every row a last day.

    Parameters
    ----------
    rows : DataFrame
        Typed stretches; the index is each row's place.
    intake : Intake
        The settings: what `as_of` says of rows without a day of removal.
    as_of : date or None
        The day that `as_of` states or its cell holds.
    last_read : mapping
        Printer -> day of its last meter reading (days since 1970).

    Returns
    -------
    days : ndarray of datetime64
        One per row; NaT where it is not known.
    faults : list of Fault
        Rows that need a day and have none.
    """
    days = rows["date_out"].to_numpy().copy()
    blank = np.isnat(days)
    if not blank.any():
        return days, []
    removed = rows["reason"].notna().to_numpy()
    start = rows["date_in"].to_numpy()
    stated = np.datetime64("NaT") if as_of is None else np.datetime64(as_of, "ns")
    still_in = blank & ~removed
    if as_of is not None:
        days[still_in] = stated
    elif intake.of_events or intake.as_of == LAST_READING:
        printers = rows["printer"].to_numpy()
        for i in np.flatnonzero(still_in).tolist():
            read = last_read.get(printers[i])
            last = start[i] if read is None else np.datetime64(int(read), "D")
            days[i] = max(start[i], last.astype(days.dtype))
    return days, list(_faults(rows, days, removed, still_in))


def _faults(
    rows: pd.DataFrame, days: np.ndarray, removed: np.ndarray, still_in: np.ndarray
) -> Iterator[Fault]:
    places, start = rows.index.to_numpy(), rows["date_in"].to_numpy()
    for i in np.flatnonzero(np.isnat(days)).tolist():
        yield Fault(
            int(places[i]),
            "date_out",
            "is blank; write the day on which the head came out"
            if removed[i]
            else "is blank; if the head is still in, write the day of its last hour reading, or "
            'state it for all such rows, [intake] as_of = 2026-09-30 or "last reading"',
        )
    for i in np.flatnonzero(still_in & (days < start)).tolist():
        yield Fault(
            int(places[i]),
            "date_in",
            f"lies after {np.datetime_as_string(days[i], 'D')}, the day on which [intake] as_of "
            "says that it was in service; correct one of the two",
        )
