"""What did a printer's hour meter read on any day?

Answers from readings of the meter on other days, through meters that were replaced or set back,
as hours since the first reading, with the least and the most that fit the readings: a meter does
not run backwards, nor more than 24 hours a day. Readings that cannot be true are named with what
to do; none is mended.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from headlife.numbers import Floats
from headlife.records.cells import quoted
from headlife.shop.clocks import MeterChange
from headlife.units import DAYS_PER_WEEK, HOURS_PER_DAY

# Own choice, no source: readings of one meter written down at two ends, rounded.
SAME_READING_HOURS: Final = 1.0
# Own choice, no source: where a meter runs backwards so often, it is two meters.
_TWO_METERS: Final = 3
# A meter shows four to six digits, and then begins again at 0 [h]; common practice, no source.
_ROUND: Final = (1e4, 1e5, 1e6)


@dataclass(frozen=True)
class Span:
    """Hours that are known within bounds."""

    hours: float
    """What they most likely are [h]."""
    low: float
    """The least they can be [h]."""
    high: float
    """The most they can be [h]."""

    def plus(self, other: Span) -> Span:
        """Add hours that follow.

        Parameters
        ----------
        other : Span
            Hours that follow.

        Returns
        -------
        Span
            Both together.
        """
        return Span(self.hours + other.hours, self.low + other.low, self.high + other.high)


def known(hours: float) -> Span:
    """Give hours that were read.

    Parameters
    ----------
    hours : float
        Hours [h].

    Returns
    -------
    Span
        The hours, without doubt.
    """
    return Span(hours, hours, hours)


@dataclass(frozen=True)
class Usage:
    """Print hours a week of a printer that its hours can be worked out from."""

    weekly: float
    """[h/week]"""
    share: float
    """How far they may be off in the long run, as a share [-]."""

    def over(self, days: float) -> Span:
        """Print hours of some days.

        The bounds allow for a mean that is off by the share, and for single weeks that differ
        by a week's hours (own choice, no source); no more than 24 hours a day.

        Parameters
        ----------
        days : float
            Days.

        Returns
        -------
        Span
            Hours with their bounds.
        """
        weeks = max(days, 0.0) / DAYS_PER_WEEK
        hours = self.weekly * weeks
        off = self.weekly * (self.share * weeks + np.sqrt(weeks))
        most = HOURS_PER_DAY * (days + 1)
        return Span(min(hours, most), max(hours - off, 0.0), min(hours + off, most))


@dataclass(frozen=True)
class Line:
    """A printer's meter over the calendar, as hours that only grow."""

    days: Floats
    """Days since 1970 of readings that can be true, in order."""
    hours: Floats
    """Hours run since the first of them [h]."""
    parts: np.ndarray
    """Readings of one part are of one meter; between parts nobody knows what happened."""
    usage: Usage | None
    """For days beyond the readings: stated, else learned from them."""
    unread: tuple[tuple[float, float], ...] = ()
    """Day of a change of the meter whose last reading nobody wrote down, and the hours it can at
    most have run since the reading before [h]."""

    def unread_between(self, first: float, last: float) -> float:
        """Hours that may have run on a meter that was replaced between two days [h].

        Parameters
        ----------
        first : float
            First day, or the places of the first rows.
        last : float
            Last day, or the places of the last rows.

        Returns
        -------
        float
            Hours [h].
        """
        return sum(hours for day, hours in self.unread if first <= day <= last)

    def on(self, day: float) -> tuple[Span, int] | None:
        """Tell the hours run by a day, and the part of the line it lies in.

        Parameters
        ----------
        day : float
            Day on the line.

        Returns
        -------
        tuple of (Span, int) or None
            Hours and the part; None before the line begins.
        """
        before = int(np.searchsorted(self.days, day, side="left")) - 1
        after = int(np.searchsorted(self.days, day, side="right"))
        same = range(before + 1, after)
        if len(same):
            return self._that_day(day, before, after, same)
        if before >= 0 and after < len(self.days):
            return self._between(day, before, after)
        return self._beyond(day, before, after)

    def _that_day(
        self, day: float, before: int, after: int, same: range
    ) -> tuple[Span, int] | None:
        """Take a reading of the same day, which may be of before or after the event."""
        hours = self.hours[same.start : same.stop]
        if self.parts[same.start] != self.parts[same.stop - 1]:
            return None
        part = int(self.parts[same.start])
        low, high = hours.min() - HOURS_PER_DAY, hours.max() + HOURS_PER_DAY
        if before >= 0 and self.parts[before] == part:
            low = max(low, self.hours[before])
        if after < len(self.days) and self.parts[after] == part:
            high = min(high, self.hours[after])
        return Span(float(hours.mean()), float(low), float(high)), part

    def _between(self, day: float, before: int, after: int) -> tuple[Span, int] | None:
        if self.parts[before] != self.parts[after]:
            return None
        first, last = self.hours[before], self.hours[after]
        passed, ahead = day - self.days[before], self.days[after] - day
        hours = first + (last - first) * passed / (passed + ahead)
        low = max(first, last - HOURS_PER_DAY * (ahead + 1))
        high = min(last, first + HOURS_PER_DAY * (passed + 1))
        return Span(float(hours), float(low), float(high)), int(self.parts[before])

    def _beyond(self, day: float, before: int, after: int) -> tuple[Span, int] | None:
        if self.usage is None:
            return None
        if before >= 0:
            run, hours = self.usage.over(day - self.days[before]), self.hours[before]
            span = Span(hours + run.hours, hours + run.low, hours + run.high)
            return span, int(self.parts[before])
        run, hours = self.usage.over(self.days[after] - day), self.hours[after]
        return Span(hours - run.hours, hours - run.high, hours - run.low), int(self.parts[after])


@dataclass(frozen=True)
class Meters:
    """The meters of all printers."""

    lines: Mapping[str, Line]
    """Printer -> its meter; printers without a reading are missing."""
    hours: Floats
    """Every reading as hours since the printer's first one [h]; NaN where it cannot be true."""
    parts: np.ndarray
    """Part of its printer's line that each reading lies in."""
    faults: Mapping[int, str]
    """Reading that cannot be true -> what to do; follows column and value."""
    breaks: Mapping[str, Sequence[str]]
    """Printer -> sentences about where its meter runs backwards for good."""


def meters(
    readings: pd.DataFrame,
    changes: Sequence[MeterChange],
    usage: Mapping[str, Usage],
    names: Sequence[str],
) -> Meters:
    """Put the readings of each printer's meter on one line.

    Parameters
    ----------
    readings : DataFrame
        `printer, day` (days since 1970), `hours` [h] as read; one row a reading.
    changes : sequence of MeterChange
        Meters that were replaced or set back.
    usage : mapping
        Printer -> print hours a week, where they are stated.
    names : sequence of str
        Where each reading stands, for messages.

    Returns
    -------
    Meters
        The meters.
    """
    hours = np.full(len(readings), np.nan)
    parts = np.zeros(len(readings), dtype=np.int64)
    faults: dict[int, str] = {}
    lines: dict[str, Line] = {}
    breaks: dict[str, list[str]] = {}
    day, value = readings["day"].to_numpy(dtype=float), readings["hours"].to_numpy(dtype=float)
    for printer, found in readings.groupby("printer", sort=True).indices.items():
        places = np.asarray(found)
        own = [change for change in changes if change.printer == printer]
        order, through = _through_changes(day, value, places, own)
        wrong, cuts = _backwards(day[order], through)
        astray = len(cuts) + len(np.unique(day[order[wrong]]))
        if astray >= _TWO_METERS and astray * 4 >= len(np.unique(day[order])):
            faults |= {int(i): _two_meters(str(printer), astray) for i in order}
            continue
        for i in wrong:
            faults[int(order[i])] = _one_wrong(str(printer), order, value, names, i)
        good = np.setdiff1d(np.arange(len(order)), wrong)
        part = np.searchsorted(np.array(cuts, dtype=np.int64), good, side="right")
        hours[order[good]], parts[order[good]] = through[good], part
        lines[str(printer)] = Line(
            day[order[good]],
            through[good],
            part,
            usage.get(str(printer)) or _learned(day[order[good]], through[good], part, usage),
            tuple(_unread(day[order[good]], own)),
        )
        breaks[str(printer)] = [
            _set_back(str(printer), order, value, day, names, cut) for cut in cuts
        ]
    return Meters(lines, hours, parts, faults, {k: v for k, v in breaks.items() if v})


def _through_changes(
    day: Floats, value: Floats, places: np.ndarray, changes: Sequence[MeterChange]
) -> tuple[np.ndarray, Floats]:
    """Order a printer's readings, and carry them on over stated changes of the meter."""
    epoch = np.zeros(len(places), dtype=np.int64)
    lift = np.zeros(len(places))
    for change in sorted(changes, key=lambda one: one.on):
        on = float(np.datetime64(change.on, "D").astype(np.int64))
        before = day[places] < on
        that_day = day[places] == on
        last = change.last
        if last is None:
            earlier = value[places][before & (epoch == epoch.max())] if before.any() else []
            last = float(np.max(earlier)) if len(earlier) else change.first
        # On the day itself the old meter can have read at most a day's hours less than its last.
        old = (value[places] >= last - HOURS_PER_DAY) & (value[places] <= last + SAME_READING_HOURS)
        new = ~before & ~(that_day & old)
        epoch[new] += 1
        lift[new] += last - change.first
    through = value[places] + lift
    order = np.lexsort((through, epoch, day[places]))
    return places[order], through[order]


def _unread(days: Floats, changes: Sequence[MeterChange]) -> Iterator[tuple[float, float]]:
    """Bound what ran between the last reading of a meter and its change, where nobody read it."""
    for change in changes:
        on = float(np.datetime64(change.on, "D").astype(np.int64))
        earlier = days[days < on]
        if change.last is None and len(earlier):
            yield on, HOURS_PER_DAY * (on - float(earlier.max()) + 1)


def _backwards(days: Floats, hours: Floats) -> tuple[list[int], list[int]]:
    """Find single readings that cannot be true, and places from which another meter counts."""
    # One reading is often written down twice: for the head that came out and the one that went in.
    new = np.r_[True, (np.diff(days) != 0) | (np.diff(hours) != 0)]
    first, group = np.flatnonzero(new), np.cumsum(new) - 1
    wrong, cuts = _out_of_line(days[first], hours[first])
    return np.flatnonzero(np.isin(group, wrong)).tolist(), first[cuts].tolist()


def _out_of_line(days: Floats, hours: Floats) -> tuple[list[int], list[int]]:
    wrong: list[int] = []
    cuts: list[int] = []
    last = 0
    for i in range(1, len(hours)):
        if _follows(days, hours, last, i):
            last = i
            continue
        later = next((j for j in range(i + 1, len(hours)) if days[j] > days[i]), None)
        earlier = next((j for j in range(last - 1, -1, -1) if j not in wrong), None)
        if later is not None and _follows(days, hours, last, later):
            wrong.append(i)  # all others go on as if it were not there
        elif earlier is not None and _follows(days, hours, earlier, i) and last not in cuts:
            wrong.append(last)
            last = i
        else:
            cuts.append(i)
            last = i
    return wrong, cuts


def _follows(days: Floats, hours: Floats, first: int, second: int) -> bool:
    """Tell whether one reading can follow another."""
    grown = hours[second] - hours[first]
    most = HOURS_PER_DAY * (days[second] - days[first] + 1) + SAME_READING_HOURS
    return bool(-SAME_READING_HOURS <= grown <= most)


def _learned(
    days: Floats, hours: Floats, parts: np.ndarray, usage: Mapping[str, Usage]
) -> Usage | None:
    """Learn a printer's print hours a week from its own meter, where nobody states them."""
    if "" in usage:
        return usage[""]
    whole = [np.flatnonzero(parts == part) for part in np.unique(parts)]
    run = sum(float(hours[own[-1]] - hours[own[0]]) for own in whole)
    passed = sum(float(days[own[-1]] - days[own[0]]) for own in whole)
    if passed < DAYS_PER_WEEK:
        return None
    return Usage(run / passed * DAYS_PER_WEEK, 0.5)


def _two_meters(printer: str, times: int) -> str:
    return (
        f"belongs to a meter of printer {quoted(printer)} that runs backwards or jumps {times} "
        "times: two printers with one name, or the heads' own counters; give each printer a name "
        'of its own, or state [intake] hours = "head"'
    )


def _one_wrong(printer: str, order: np.ndarray, value: Floats, names: Sequence[str], i: int) -> str:
    beside = [j for j in (i - 1, i + 1) if 0 <= j < len(order)]
    others = " and ".join(f"{value[order[j]]:,.1f} h in row {names[int(order[j])]}" for j in beside)
    return (
        f"does not fit the meter of printer {quoted(printer)}, which reads {others} before and "
        "after it; correct the reading or its day"
    )


def _set_back(
    printer: str,
    order: np.ndarray,
    value: Floats,
    day: Floats,
    names: Sequence[str],
    cut: int,
) -> str:
    before, after = int(order[cut - 1]), int(order[cut])
    on = str(np.datetime64(int(day[after]), "D"))
    how = "runs backwards" if value[after] < value[before] else "jumps"
    top = _goes_round_at(value[before], value[after], day[after] - day[before])
    last = value[before] if top is None else top
    why = "was replaced or set back" if top is None else f"begins again after {top - 1:,.0f} h"
    other = "" if top is None else "if it was replaced or set back, write there what it read last; "
    return (
        f"The meter of printer {quoted(printer)} {how} from {value[before]:,.1f} h (row "
        f"{names[before]}) to {value[after]:,.1f} h (row {names[after]}). If it {why}, state it: "
        f'meter_changes = [{{ printer = "{printer}", on = {on}, last = {last:.1f}, first = 0.0 }}] '
        f"under [intake]; {other}if not, correct the reading"
    )


def _goes_round_at(before: float, after: float, days: float) -> float | None:
    """Tell after how many hours a meter of few digits may have begun again [h]."""
    top = next((one for one in _ROUND if one > before), None)
    if top is None or after >= before or before < top / 2:
        return None
    run = top - before + after
    return top if run <= HOURS_PER_DAY * (days + 1) else None
