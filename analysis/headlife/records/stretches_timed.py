"""Until which day and hour did each stretch run? From readings, a stated day and the shop's clock.

Gives the sound stretches their last day and their head's hours, by the head's own counter or the
printer's meter, and says where the two differ. A head that nobody took out is in until the day that
the settings or a cell state, or the last reading of its printer; today is never taken for granted,
and a row that nothing settles is named. Judges no reason and pairs no events.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path

import numpy as np
import pandas as pd

from headlife.records.cells import quoted
from headlife.records.columns import Coded
from headlife.records.findings import Fault, Finding, doubt
from headlife.records.head_hours import head_hours
from headlife.records.readings import meter_readings, stated_day
from headlife.records.stretches_aside import StretchesAside
from headlife.shop import Intake, Shop
from headlife.shop.clocks import LAST_READING
from headlife.shop.columns import METER_COLUMNS


def with_hours(
    rows: pd.DataFrame,
    own: pd.DataFrame,
    coded: Coded,
    shop: Shop,
    out: StretchesAside,
    path: str | Path | None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Give the sound stretches their last day and their head's hours.

    Parameters
    ----------
    rows : DataFrame
        The stretches.
    own : DataFrame
        The same with hours as the heads' own counter tells them.
    coded : Coded
        The entries as written.
    shop : Shop
        The settings.
    out : StretchesAside
        Holds the stretches that are set aside; takes more of them.
    path : str, Path or None
        The log, for readings and a day kept beside it.

    Returns
    -------
    tuple of DataFrame and list of Finding
        The stretches with days and hours, and where a head's counter and its printer's meter
        differ.
    """
    sound = out.sound(rows)
    if sound.empty:
        return rows, []
    printers = [str(name) for name in pd.unique(sound["printer"])]
    readings = meter_readings(path, shop.intake, printers)
    if out.paired is not None:
        readings = pd.concat([readings, out.paired.readings], ignore_index=True)
    days, faults = _days_out(
        sound, shop.intake, stated_day(path, shop.intake), _last_read(sound, readings)
    )
    for fault in faults:
        out.add(fault.column, [fault.place], fault.sentence)
    dated = sound.assign(date_out=days)
    good = ~np.isin(dated.index.to_numpy(), [fault.place for fault in faults])
    good &= ~_after_a_gap(dated, rows[out.faulty()], out)
    names = [out.origins.name(row) for row in dated["row"][good].tolist()]
    columns = _own_columns(own, coded, shop)
    hours = head_hours(dated[good], shop, readings, names, columns)
    for fault in hours.faults:
        out.add(fault.column, [fault.place], fault.sentence)
    whole = rows.assign(date_out=dated["date_out"].reindex(rows.index))
    for name in hours.rows.columns:
        if name.startswith("hours_"):
            whole[name] = hours.rows[name].reindex(rows.index)
    by_place = rows["row"].to_dict()
    return whole, [
        _clocks_differ(
            out.origins.name(int(by_place[place])), str(rows["head"].loc[place]), a, b, other
        )
        for place, a, b, other in hours.differ
    ]


def _after_a_gap(rows: pd.DataFrame, faulty: pd.DataFrame, out: StretchesAside) -> np.ndarray:
    """Find stretches whose head has an earlier one that cannot be used, so its hours are lost."""
    gap = np.zeros(len(rows), dtype=bool)
    mine = faulty[faulty["head"].isin(rows["head"])]
    if mine.empty:
        return gap
    since = mine["date_in"].fillna(pd.Timestamp.min).groupby(mine["head"], observed=True).min()
    lost = rows["head"].map(since).to_numpy()
    gap = ~np.isnat(lost) & (rows["date_in"].to_numpy() >= lost)
    gap = np.asarray(gap & rows["hours_in"].isna().to_numpy())
    for place in rows.index[gap].tolist():
        out.add(
            "head",
            [place],
            "has an earlier row that cannot be used, so its hours are not known; correct that row",
        )
    return gap


def _own_columns(rows: pd.DataFrame, coded: Coded, shop: Shop) -> tuple[bool, bool]:
    """Tell whether the log has columns for the heads' own hours in and out."""
    if shop.intake.hours == "printer":
        return False, False
    if shop.intake.of_events:
        # A row that installs a head need not tell its hours: a new one has none.
        return False, "hours" in coded.codes
    return "hours_in" in coded.codes, "hours_out" in coded.codes


def _last_read(rows: pd.DataFrame, readings: pd.DataFrame) -> dict[str, float]:
    """Day of the last meter reading of every printer, or else of anything written down of it."""
    days = [
        (name, day.astype("datetime64[D]").astype(np.float64))
        for column, meter in (("date_in", METER_COLUMNS[0]), ("date_out", METER_COLUMNS[1]))
        for read in [rows[meter].notna() if meter in rows else rows[column].notna()]
        for name, day in zip(rows["printer"][read], rows[column][read].to_numpy(), strict=True)
        if not np.isnat(day)
    ]
    days += list(zip(readings["printer"], readings["day"], strict=True))
    last: dict[str, float] = {}
    for name, day in days:
        last[name] = max(last.get(name, -np.inf), float(day))
    return last


def _clocks_differ(row: str, head: str, counter: float, meter: float, other: str) -> Finding:
    return doubt(
        "clocks disagree",
        row,
        head,
        f"Row {row}: head {quoted(head)} ran {counter:,.1f} h by its own counter and "
        f"{meter:,.1f} h by {other}; correct one of the two. Its own counter counts.",
    )


def _days_out(
    rows: pd.DataFrame, intake: Intake, as_of: date | None, last_read: Mapping[str, float]
) -> tuple[np.ndarray, list[Fault]]:
    """Give every row a last day."""
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
