"""How many hours did each head run, whatever clock was read?

Answers from stretches with the head's own counter, the printer's meter or days only: a head's
hours are what it came with and the meter's differences over its stretches, wherever it was. What
was worked out and not read carries the least and the most it can be. It never mixes clocks
without being told, and never fills in hours that nothing tells.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.numbers import Floats
from headlife.records.cells import quoted
from headlife.records.findings import Fault
from headlife.records.meters import Span, known
from headlife.records.stretch_hours import Runs, StretchColumns
from headlife.shop import Shop

RANGES: Final = ("hours_in_low", "hours_in_high", "hours_out_low", "hours_out_high")
# Own choice, no source: two clocks that differ by no more than this tell the same.
_CLOCKS_DIFFER: Final = 0.05
_CLOCKS_DIFFER_HOURS: Final = 5.0
_SLIP: Final = 0.1  # hours that rounding makes


@dataclass(frozen=True)
class HeadHours:
    """Stretches with the hours of their heads."""

    rows: pd.DataFrame
    """The stretches; `hours_in`, `hours_out` [h] are filled where they can be, and where any of
    them was worked out the columns of `RANGES` [h] tell how far they may be off."""
    faults: list[Fault]
    """Stretches whose hours nothing tells, or whose readings cannot be true."""
    differ: list[tuple[int, float, float, str]] = field(default_factory=list)
    """Place, hours by the head's counter and by what else tells them [h], and what that is, where
    the two tell different hours."""


def head_hours(
    rows: pd.DataFrame,
    shop: Shop,
    as_read: pd.DataFrame,
    names: Sequence[str],
    own_columns: tuple[bool, bool],
) -> HeadHours:
    """Give every stretch its head's hours.

    Parameters
    ----------
    rows : DataFrame
        Typed stretches with days; the index is each one's place. Hours of rows that are read by
        the printer's meter stand in `printer_hours_in` and `printer_hours_out` [h].
    shop : Shop
        The settings: meter changes, print hours a week.
    as_read : DataFrame
        Meter readings kept elsewhere: `printer, day` (days since 1970), `hours` [h], `name` (where
        it stands).
    names : sequence of str
        Where each stretch stands, for messages.
    own_columns : tuple of bool
        Whether the log has columns for the head's own hours in and out.

    Returns
    -------
    HeadHours
        Hours of the heads, with their bounds.
    """
    taken = StretchColumns.of(rows)
    runs = Runs.by_meters(taken, shop, as_read, names, own_columns)
    done = _follow(taken, runs, names, own_columns)
    filled = rows.assign(hours_in=done.values("in", "hours"), hours_out=done.values("out", "hours"))
    if done.any_range():
        filled = filled.assign(
            hours_in_low=done.values("in", "low"),
            hours_in_high=done.values("in", "high"),
            hours_out_low=done.values("out", "low"),
            hours_out_high=done.values("out", "high"),
        )
    return HeadHours(filled, done.faults, done.differ)


@dataclass
class _Done:
    """Hours in and out of every stretch, as far as they are known."""

    spans: dict[str, list[Span | None]]
    faults: list[Fault]
    differ: list[tuple[int, float, float, str]]

    def values(self, side: str, part: str) -> Floats:
        return np.array(
            [np.nan if span is None else getattr(span, part) for span in self.spans[side]]
        )

    def any_range(self) -> bool:
        return any(
            span is not None and span.high > span.low
            for spans in self.spans.values()
            for span in spans
        )


def _follow(
    taken: StretchColumns, runs: Runs, names: Sequence[str], own_columns: tuple[bool, bool]
) -> _Done:
    """Add up each head's hours over its stretches, in the order of the calendar."""
    n = len(taken.place)
    done = _Done({"in": [None] * n, "out": [None] * n}, [], [])
    codes, _ = pd.factorize(taken.head)
    order = np.lexsort((np.arange(n), taken.end, taken.start, codes))
    last: int | None = None
    for i in order.tolist():
        before = last if last is not None and codes[last] == codes[i] else None
        fault = _one(taken, runs, i, before, done, names, own_columns)
        if fault is not None:
            done.faults.append(fault)
        last = i
    return done


def _one(
    taken: StretchColumns,
    runs: Runs,
    i: int,
    before: int | None,
    done: _Done,
    names: Sequence[str],
    own_columns: tuple[bool, bool],
) -> Fault | None:
    """Give one stretch its hours; what stands in its way, if anything does."""
    read_in, read_out = float(taken.hours_in[i]), float(taken.hours_out[i])
    both_read = np.isfinite(read_in) and np.isfinite(read_out)
    start = _start(taken, i, before, done, own_columns)
    if isinstance(start, str):
        row = names[before] if before is not None else ""
        return Fault(int(taken.place[i]), "hours_in", start.format(row=row))
    done.spans["in"][i] = start
    if np.isfinite(read_out):
        done.spans["out"][i] = known(read_out)
        if both_read:
            _compare(runs, i, read_out - read_in, done)
        return None
    if before is not None and _in_two_places(taken, before, i):
        return Fault(int(taken.place[i]), "head", _two_places(taken, before, names[before]))
    run = runs.of(i)
    if isinstance(run, Fault):
        return run
    done.spans["out"][i] = start.plus(run)
    return None


def _start(
    taken: StretchColumns, i: int, before: int | None, done: _Done, own_columns: tuple[bool, bool]
) -> Span | str:
    """Tell the hours of a head when it went in, or why they are not known."""
    if np.isfinite(taken.hours_in[i]):
        return known(float(taken.hours_in[i]))
    run, out = float(taken.run[i]), float(taken.hours_out[i])
    if np.isfinite(run) and np.isfinite(out):
        if out < run - _SLIP:
            return "lies below 0, since hours_run is more than hours_out; correct one of the two"
        return known(max(out - run, 0.0))
    if own_columns[0] and np.isnan(taken.meter_in[i]) and np.isnan(run):
        return "is blank; write the head's hour reading when it went in"
    if before is None or taken.anew[i]:
        return known(0.0)
    last = done.spans["out"][before]
    if last is None:
        return "is not known, since row {row} of the same head cannot be used; correct that row"
    return last


def _compare(runs: Runs, i: int, by_counter: float, done: _Done) -> None:
    """Note where the head's counter and the printer's meter, or hours run, differ."""
    if runs.where[i].min() < 0 and np.isnan(runs.taken.run[i]):
        return
    by_meter = runs.of(i)
    if isinstance(by_meter, Fault):
        return
    apart = abs(by_counter - by_meter.hours)
    if apart > _CLOCKS_DIFFER_HOURS + _CLOCKS_DIFFER * max(by_counter, by_meter.hours):
        other = "the printer's meter" if np.isnan(runs.taken.run[i]) else "hours_run"
        done.differ.append((int(runs.taken.place[i]), by_counter, by_meter.hours, other))


def _in_two_places(taken: StretchColumns, first: int, second: int) -> bool:
    elsewhere = (
        taken.printer[first] != taken.printer[second]
        or taken.position[first] != taken.position[second]
    )
    return bool(elsewhere and taken.start[second] < taken.end[first])


def _two_places(taken: StretchColumns, first: int, name: str) -> str:
    until = np.datetime_as_string(np.datetime64(int(taken.end[first]), "D"))
    return (
        f"is in two places: row {name} has it in printer {quoted(taken.printer[first])} until "
        f"{until}; correct the serial or the days"
    )


def by_printers_meter(rows: pd.DataFrame, shop: Shop) -> np.ndarray:
    """Tell which rows' columns of hours are the printer's meter, by the settings.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.
    shop : Shop
        The settings.

    Returns
    -------
    array
        True where they are, (n,).
    """
    clocks = rows["printer"].map(shop.intake.hours_of).to_numpy(dtype=object)
    blank = pd.isna(clocks)
    clocks[blank] = shop.intake.hours or "head"
    return np.asarray(clocks == "printer")


def moved_to_the_meter(rows: pd.DataFrame, by_meter: np.ndarray) -> pd.DataFrame:
    """Move hours that are the printer's meter to the columns of the meter.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.
    by_meter : array
        True where the hours are the meter's, (n,).

    Returns
    -------
    DataFrame
        The rows, hours of the head blank there.
    """
    if not by_meter.any():
        return rows
    moved: dict[str, Any] = {}
    for side in ("in", "out"):
        own = rows[f"hours_{side}"].to_numpy(dtype=np.float64)
        meter = f"printer_hours_{side}"
        there = rows[meter].to_numpy(dtype=np.float64) if meter in rows else np.nan
        moved[meter] = np.where(by_meter & np.isnan(there), own, there)
        moved[f"hours_{side}"] = np.where(by_meter, np.nan, own)
    return rows.assign(**moved)
