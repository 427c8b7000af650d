"""How many hours did a head run in one stretch, by its printer's meter or its hours a week?

From the stretches and the meters of all printers: the meter's difference between the two days, read
or drawn between two readings; where a printer has no meter, print hours a week that the settings
state, or for a head still in those that other heads' counters tell. What was not read carries the
least and the most it can be. Never adds up a head's stretches: `headlife.records.head_hours` does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from headlife.numbers import Floats
from headlife.records.cells import quoted
from headlife.records.findings import Fault
from headlife.records.meters import Line, Meters, Span, Usage, known, meters
from headlife.shop import Shop
from headlife.units import HOURS_PER_DAY

# Own choice, no source: print hours learned from other heads of the printer, and not from its
# meter, may be off by this share.
_LEARNED_SHARE: Final = 0.5


@dataclass(frozen=True)
class StretchColumns:
    """Columns of n stretches as plain arrays; NaN where nothing was read."""

    place: np.ndarray
    """Place of each in the table, (n,)."""
    head: np.ndarray
    """Serial of its head, (n,)."""
    printer: np.ndarray
    """Its printer, (n,)."""
    position: np.ndarray
    """Its position in there, (n,)."""
    start: Floats
    """Day in [days since 1970], (n,)."""
    end: Floats
    """Day out [days since 1970], (n,)."""
    hours_in: Floats
    """The head's own hours when it went in [h], (n,)."""
    hours_out: Floats
    """The head's own hours when it came out [h], (n,)."""
    meter_in: Floats
    """The printer's meter then [h], (n,)."""
    meter_out: Floats
    """The printer's meter when it came out [h], (n,)."""
    run: Floats
    """Hours that it ran in this stretch, where the log tells them [h], (n,)."""
    still_in: np.ndarray
    """True where it is still in, (n,)."""
    anew: np.ndarray
    """True where the head began as new, (n,)."""

    @classmethod
    def of(cls, rows: pd.DataFrame) -> StretchColumns:
        """Take them from typed rows.

        Parameters
        ----------
        rows : DataFrame
            As for `head_hours.head_hours`.

        Returns
        -------
        StretchColumns
            Their columns.
        """

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
            run=hours("hours_run"),
            still_in=rows["reason"].isna().to_numpy(),
            anew=np.zeros(len(rows), dtype=bool) if anew is None else anew,
        )


@dataclass
class Runs:
    """What each stretch added to its head's hours."""

    taken: StretchColumns
    """The stretches."""
    lines: Meters
    """Meters of the printers, with every reading."""
    where: np.ndarray
    """Where its two readings stand among those, -1 where none was taken, (n, 2)."""
    usage: Mapping[str, Usage]
    """Print hours a week that are stated, by printer; under "" those of all others."""
    learned: Mapping[str, Usage]
    """The same, learned from the heads' own counters."""
    shop: Shop
    """The settings."""
    own_columns: tuple[bool, bool]
    """Whether the log has columns for the head's own hours in and out."""

    @classmethod
    def by_meters(
        cls,
        taken: StretchColumns,
        shop: Shop,
        as_read: pd.DataFrame,
        names: Sequence[str],
        own_columns: tuple[bool, bool],
    ) -> Runs:
        """Lay the meters of the printers beside the stretches.

        Parameters
        ----------
        taken : StretchColumns
            The stretches.
        shop, as_read, names, own_columns : Shop, DataFrame, sequence of str, tuple of bool
            As for `head_hours.head_hours`.

        Returns
        -------
        Runs
            What each stretch added.
        """
        usage = _usage(shop)
        readings, names_of, where = _readings(taken, as_read, names)
        lines = meters(readings, shop.intake.meter_changes, usage, names_of)
        return cls(taken, lines, where, usage, _by_counter(taken), shop, own_columns)

    def of(self, i: int) -> Span | Fault:
        """Tell the hours run in a stretch, or why they cannot be told.

        Parameters
        ----------
        i : int
            Which stretch.

        Returns
        -------
        Span or Fault
            Its hours [h] with the least and the most they can be, or what is wrong.
        """
        if np.isfinite(self.taken.run[i]):
            return known(float(self.taken.run[i]))
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


def _usage(shop: Shop) -> dict[str, Usage]:
    """Print hours a week that are stated; under "" those of printers that are not named."""
    share = shop.intake.usage_range
    usage = {printer: Usage(hours, share) for printer, hours in shop.usage.items()}
    if shop.intake.weekly_hours is not None:
        usage[""] = Usage(shop.intake.weekly_hours, share)
    return usage


def _readings(
    taken: StretchColumns, as_read: pd.DataFrame, names: Sequence[str]
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


def _by_counter(taken: StretchColumns) -> dict[str, Usage]:
    """Learn print hours a week of each printer from its heads' own counters; "" for all."""
    codes, _ = pd.factorize(taken.head)
    order = np.lexsort((taken.start, codes))
    again = np.r_[False, codes[order][1:] == codes[order][:-1]]
    # A head without a reading goes on from where it came out last, a new one from 0.
    start = np.empty(len(order))
    start[order] = np.where(again, np.r_[0.0, taken.hours_out[order][:-1]], 0.0)
    start = np.where(np.isnan(taken.hours_in), start, taken.hours_in)
    run, days = taken.hours_out - start, taken.end - taken.start
    run = np.where(np.isfinite(taken.run), taken.run, run)
    sound = np.isfinite(run) & (run >= 0) & (days > 0)
    if not sound.any():
        return {}
    frame = pd.DataFrame({"printer": taken.printer, "run": run, "days": days})[sound]
    sums = frame.groupby("printer", sort=True)[["run", "days"]].sum()
    weekly = sums["run"] / sums["days"] * 7
    learned = {str(name): Usage(float(hours), _LEARNED_SHARE) for name, hours in weekly.items()}
    overall = float(sums["run"].sum() / sums["days"].sum() * 7)
    return {"": Usage(overall, _LEARNED_SHARE)} | learned
