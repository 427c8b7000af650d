"""How many hours did each head run, whatever clock was read?

Answers from stretches with the head's own counter, the printer's meter or days only: a head's
hours are what it came with and the meter's differences over its stretches, wherever it was. What
was worked out and not read carries the least and the most it can be. It never mixes clocks
without being told, and never fills in hours that nothing tells.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.numbers import Floats
from headlife.records.cells import quoted
from headlife.records.meters import Line, Meters, Span, Usage, known, meters
from headlife.records.pairing import Fault
from headlife.shop import Shop
from headlife.units import HOURS_PER_DAY

RANGES: Final = ("hours_in_low", "hours_in_high", "hours_out_low", "hours_out_high")
# Own choice, no source: print hours learned from other heads of the printer, and not from its
# meter, may be off by this share.
_LEARNED_SHARE: Final = 0.5
# Own choice, no source: two clocks that differ by no more than this tell the same.
_CLOCKS_DIFFER: Final = 0.05
_CLOCKS_DIFFER_HOURS: Final = 5.0


@dataclass(frozen=True)
class HeadHours:
    """Stretches with the hours of their heads."""

    rows: pd.DataFrame
    """The stretches; `hours_in`, `hours_out` [h] are filled where they can be, and where any of
    them was worked out the columns of `RANGES` [h] tell how far they may be off."""
    faults: list[Fault]
    """Stretches whose hours nothing tells, or whose readings cannot be true."""
    differ: list[tuple[int, float, float]] = field(default_factory=list)
    """Place, hours by the head's counter and by the printer's meter [h], where the two clocks
    tell different hours."""


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
    taken = _Stretches.of(rows)
    usage = _usage(shop)
    readings, names_of, first = _readings(taken, as_read, names)
    lines = meters(readings, shop.intake.meter_changes, usage, names_of)
    runs = _Runs(taken, lines, first, usage, _by_counter(taken), shop, own_columns)
    done = _follow(taken, runs, names, own_columns)
    filled = rows.assign(hours_in=done.values("in", "hours"), hours_out=done.values("out", "hours"))
    if done.any_range():
        filled = filled.assign(
            hours_in_low=done.values("in", "low"),
            hours_in_high=done.values("in", "high"),
            hours_out_low=done.values("out", "low"),
            hours_out_high=done.values("out", "high"),
        )
    return HeadHours(filled, done.faults, runs.differ)


@dataclass(frozen=True)
class _Stretches:
    """Columns of stretches as plain arrays; NaN where nothing was read."""

    place: np.ndarray
    head: np.ndarray
    printer: np.ndarray
    position: np.ndarray
    start: Floats
    end: Floats
    hours_in: Floats
    hours_out: Floats
    meter_in: Floats
    meter_out: Floats
    still_in: np.ndarray
    anew: np.ndarray

    @classmethod
    def of(cls, rows: pd.DataFrame) -> _Stretches:
        def hours(name: str) -> Floats:
            if name not in rows:
                return np.full(len(rows), np.nan)
            return rows[name].to_numpy(dtype=np.float64)

        def days(name: str) -> Floats:
            return rows[name].to_numpy().astype("datetime64[D]").astype(np.float64)

        anew = rows["refurbished"].to_numpy() if "refurbished" in rows else None
        return cls(
            place=rows.index.to_numpy(),
            head=rows["head"].to_numpy(),
            printer=rows["printer"].to_numpy(),
            position=rows["position"].to_numpy(),
            start=days("date_in"),
            end=days("date_out"),
            hours_in=hours("hours_in"),
            hours_out=hours("hours_out"),
            meter_in=hours("printer_hours_in"),
            meter_out=hours("printer_hours_out"),
            still_in=rows["reason"].isna().to_numpy(),
            anew=np.zeros(len(rows), dtype=bool) if anew is None else anew,
        )


def _usage(shop: Shop) -> dict[str, Usage]:
    """Print hours a week that are stated; under "" those of printers that are not named."""
    share = shop.intake.usage_range
    usage = {printer: Usage(hours, share) for printer, hours in shop.usage.items()}
    if shop.intake.weekly_hours is not None:
        usage[""] = Usage(shop.intake.weekly_hours, share)
    return usage


def _readings(
    taken: _Stretches, as_read: pd.DataFrame, names: Sequence[str]
) -> tuple[pd.DataFrame, list[str], np.ndarray]:
    """Collect all meter readings; `first[i]` is where the two of stretch i stand, -1 if unread."""
    n = len(taken.place)
    where = np.full((n, 2), -1, dtype=np.int64)
    parts, count = [], 0
    for side, (day, hours) in enumerate(
        ((taken.start, taken.meter_in), (taken.end, taken.meter_out))
    ):
        read = np.flatnonzero(~np.isnan(hours))
        where[read, side] = count + np.arange(len(read))
        count += len(read)
        parts.append(
            pd.DataFrame(
                {
                    "printer": taken.printer[read],
                    "day": day[read],
                    "hours": hours[read],
                    "name": [names[i] for i in read.tolist()],
                }
            )
        )
    together = [part for part in (*parts, as_read) if len(part)]
    table = pd.concat(together, ignore_index=True) if together else parts[0]
    return table, table["name"].tolist(), where


def _by_counter(taken: _Stretches) -> dict[str, Usage]:
    """Learn print hours a week of each printer from its heads' own counters; "" for all."""
    codes, _ = pd.factorize(taken.head)
    order = np.lexsort((taken.start, codes))
    again = np.r_[False, codes[order][1:] == codes[order][:-1]]
    # A head without a reading goes on from where it came out last, a new one from 0.
    start = np.empty(len(order))
    start[order] = np.where(again, np.r_[0.0, taken.hours_out[order][:-1]], 0.0)
    start = np.where(np.isnan(taken.hours_in), start, taken.hours_in)
    run, days = taken.hours_out - start, taken.end - taken.start
    sound = np.isfinite(run) & (run >= 0) & (days > 0)
    if not sound.any():
        return {}
    frame = pd.DataFrame({"printer": taken.printer, "run": run, "days": days})[sound]
    sums = frame.groupby("printer", sort=True)[["run", "days"]].sum()
    weekly = sums["run"] / sums["days"] * 7
    learned = {str(name): Usage(float(hours), _LEARNED_SHARE) for name, hours in weekly.items()}
    overall = float(sums["run"].sum() / sums["days"].sum() * 7)
    return {"": Usage(overall, _LEARNED_SHARE)} | learned


@dataclass
class _Runs:
    """What each stretch added to its head's hours."""

    taken: _Stretches
    lines: Meters
    where: np.ndarray
    usage: Mapping[str, Usage]
    learned: Mapping[str, Usage]
    shop: Shop
    own_columns: tuple[bool, bool]
    differ: list[tuple[int, float, float]] = field(default_factory=list)

    def of(self, i: int) -> Span | Fault:
        """Tell the hours run in a stretch, or why they cannot be told."""
        for side, column in ((0, "printer_hours_in"), (1, "printer_hours_out")):
            fault = self.lines.faults.get(int(self.where[i, side]))
            if fault is not None:
                return self._fault(i, column, fault)
        line = self.lines.lines.get(self.taken.printer[i])
        if line is not None:
            return self._by_meter(i, line)
        usage = self._usage_of(i)
        if usage is None:
            return self._fault(i, "hours_out", self._unknown())
        return usage.over(float(self.taken.end[i] - self.taken.start[i]))

    def _usage_of(self, i: int) -> Usage | None:
        """Print hours a week to work the stretch out from, where that is allowed."""
        printer = self.taken.printer[i]
        stated = self.usage.get(printer, self.usage.get(""))
        if stated is not None and (not any(self.own_columns) or self.taken.still_in[i]):
            return stated
        if self.shop.intake.weekly_hours is not None:
            return stated
        # A head in service whose counter nobody read since it went in.
        return self.learned.get(printer, self.learned.get("")) if self.taken.still_in[i] else None

    def _by_meter(self, i: int, line: Line) -> Span | Fault:
        day_in, day_out = float(self.taken.start[i]), float(self.taken.end[i])
        start, end = self._at(i, 0, day_in, line), self._at(i, 1, day_out, line)
        if start is None or end is None:
            return self._fault(i, "hours_out", self._no_reading(i))
        if start[1] != end[1]:
            return self._fault(i, "printer_hours_out", self._broken(i))
        run = Span(
            end[0].hours - start[0].hours,
            end[0].low - start[0].high,
            end[0].high - start[0].low + line.unread_between(day_in, day_out),
        )
        most = HOURS_PER_DAY * (day_out - day_in + 1)
        if run.hours < 0 or (run.low == run.high and run.hours > most):
            return self._fault(i, "printer_hours_out", _impossible(run.hours, day_out - day_in + 1))
        return Span(min(run.hours, most), max(run.low, 0.0), max(min(run.high, most), run.hours))

    def _at(self, i: int, side: int, day: float, line: Line) -> tuple[Span, int] | None:
        read = int(self.where[i, side])
        if read >= 0:
            return known(float(self.lines.hours[read])), int(self.lines.parts[read])
        if side == 1 and self.taken.still_in[i]:
            return self._last_known(day, line)
        return line.on(day)

    def _last_known(self, day: float, line: Line) -> tuple[Span, int] | None:
        """Take a reading of the day itself as that of a head which is still in."""
        same = np.flatnonzero(line.days == day)
        if len(same):
            return known(float(line.hours[same[-1]])), int(line.parts[same[-1]])
        return line.on(day)

    def _fault(self, i: int, column: str, sentence: str) -> Fault:
        return Fault(int(self.taken.place[i]), column, sentence)

    def _unknown(self) -> str:
        if self.own_columns[1]:
            return "is blank; write the head's hour reading at date_out"
        return (
            "is not known, and no meter of its printer is on record; state readings, [intake] "
            "readings, or print hours a week, [usage] or [intake] weekly_hours"
        )

    def _no_reading(self, i: int) -> str:
        return (
            f"cannot be told from the meter of printer {quoted(self.taken.printer[i])}, which has "
            "no reading beside that day; write the meter reading, or state print hours a week, "
            "[usage]"
        )

    def _broken(self, i: int) -> str:
        said = "; ".join(self.lines.breaks.get(self.taken.printer[i], ()))
        return f"lies beyond a break of the printer's meter. {said}"


def _impossible(hours: float, days: float) -> str:
    if hours < 0:
        return "lies below printer_hours_in; correct one of the two, or state the change of meter"
    return (
        f"makes {hours:,.1f} print hours in {days:,.0f} days, more than 24 a day; correct the "
        "readings or the days"
    )


@dataclass
class _Done:
    """Hours in and out of every stretch, as far as they are known."""

    spans: dict[str, list[Span | None]]
    faults: list[Fault]

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
    taken: _Stretches, runs: _Runs, names: Sequence[str], own_columns: tuple[bool, bool]
) -> _Done:
    """Add up each head's hours over its stretches, in the order of the calendar."""
    n = len(taken.place)
    done = _Done({"in": [None] * n, "out": [None] * n}, [])
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
    taken: _Stretches,
    runs: _Runs,
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
            _compare(runs, i, read_out - read_in)
        return None
    if before is not None and _in_two_places(taken, before, i):
        return Fault(int(taken.place[i]), "head", _two_places(taken, before, names[before]))
    run = runs.of(i)
    if isinstance(run, Fault):
        return run
    done.spans["out"][i] = start.plus(run)
    return None


def _start(
    taken: _Stretches, i: int, before: int | None, done: _Done, own_columns: tuple[bool, bool]
) -> Span | str:
    """Tell the hours of a head when it went in, or why they are not known."""
    if np.isfinite(taken.hours_in[i]):
        return known(float(taken.hours_in[i]))
    if own_columns[0] and np.isnan(taken.meter_in[i]):
        return "is blank; write the head's hour reading when it went in"
    if before is None or taken.anew[i]:
        return known(0.0)
    last = done.spans["out"][before]
    if last is None:
        return "is not known, since row {row} of the same head cannot be used; correct that row"
    return last


def _compare(runs: _Runs, i: int, by_counter: float) -> None:
    """Note where the head's counter and the printer's meter tell different hours."""
    if runs.where[i].min() < 0:
        return
    by_meter = runs.of(i)
    if isinstance(by_meter, Fault):
        return
    apart = abs(by_counter - by_meter.hours)
    if apart > _CLOCKS_DIFFER_HOURS + _CLOCKS_DIFFER * max(by_counter, by_meter.hours):
        runs.differ.append((int(runs.taken.place[i]), by_counter, by_meter.hours))


def _in_two_places(taken: _Stretches, first: int, second: int) -> bool:
    elsewhere = (
        taken.printer[first] != taken.printer[second]
        or taken.position[first] != taken.position[second]
    )
    return bool(elsewhere and taken.start[second] < taken.end[first])


def _two_places(taken: _Stretches, first: int, name: str) -> str:
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


def worked_out(rows: pd.DataFrame) -> Iterator[int]:
    """Give the places of rows whose hours out were worked out and not read.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Yields
    ------
    iterator of int
        The places.
    """
    if "hours_out_low" in rows:
        yield from np.flatnonzero(rows["hours_out_high"] > rows["hours_out_low"]).tolist()
