"""From typed entries to stretches with days and hours: whose clock, which shape, until when.

Answers with one row a stretch, whatever a row of the log was: events are paired, roles and
positions completed, heads that nobody took out given their last day, hours read by whichever
clock the shop keeps. What cannot be settled is asked, what cannot be used is set aside; it never
judges what a reason means.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from headlife.records.cells import quoted
from headlife.records.checks import KEPT, Finding
from headlife.records.columns import Coded
from headlife.records.head_hours import (
    by_printers_meter,
    head_hours,
    moved_to_the_meter,
)
from headlife.records.origins import Origins
from headlife.records.pairing import Paired, stretches
from headlife.records.readings import meter_readings, stated_day
from headlife.records.refurbished import lives_of_their_own
from headlife.records.set_aside import Aside
from headlife.records.still_in import days_out
from headlife.records.whose_clock import whose_clock
from headlife.shop import COLUMNS, Shop, reason_key

_METERS: Final = ("printer_hours_in", "printer_hours_out")
_EVENTS_OWN: Final = {
    "date_in": "date",
    "date_out": "date",
    "hours_in": "hours",
    "hours_out": "hours",
    "printer_hours_in": "printer_hours",
    "printer_hours_out": "printer_hours",
}
_OF_THE_CLOSING: Final = ("date_out", "hours_out", "printer_hours_out", "reason", "last_good_hours")


@dataclass(frozen=True)
class Stretches:
    """Stretches, and what was found while they were made."""

    rows: pd.DataFrame
    """Typed stretches; the index is each one's place."""
    aside: StretchesAside
    """Takes stretches that cannot be used."""
    findings: tuple[Finding, ...] = ()
    """Doubts about stretches that stay."""
    notes: tuple[str, ...] = ()
    """What was worked out, in sentences."""
    questions: tuple[str, ...] = ()
    """What must be stated before anything is answered."""


@dataclass
class StretchesAside:
    """Sets stretches aside: the entries that they were made of, and marks them as faulty."""

    entries: Aside
    """Faults by entry."""
    coded: Coded
    """The entries as written."""
    origins: Origins
    """Where they stand."""
    paired: Paired | None = None
    """How stretches were made of events; None where every entry is a stretch."""
    faulty_stretches: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=bool))
    """True for the stretches set aside, (stretches,)."""

    def add(self, column: str, places: Iterable[int], sentence: str) -> None:
        """Set stretches aside for what a column holds; the sentence follows column and value.

        Parameters
        ----------
        column : str
            Name of the column.
        places : iterable of int
            Places of the rows, from 0.
        sentence : str
            What is wrong and what to do.
        """
        if self.paired is None:
            self.entries.add(column, places, sentence)
            return
        for place in places:
            self.faulty_stretches[place] = True
            opened, closed = int(self.paired.opened[place]), int(self.paired.closed[place])
            first, other = opened, closed
            if column in _OF_THE_CLOSING and closed >= 0:
                first, other = closed, opened
            head = str(self.paired.rows["head"].iloc[place])
            self.entries.add(self._own(column, first), [first], sentence, head)
            if other >= 0 and other != first:
                row = self.origins.name(int(self.coded.rows[first]))
                mate = f"and its row belong to an installation whose row {row} cannot be used"
                self.entries.add(self._own("head", other), [other], mate, head)

    def faulty(self) -> np.ndarray:
        """Tell for each stretch whether it is set aside."""
        return self.entries.faulty() if self.paired is None else self.faulty_stretches.copy()

    def _own(self, column: str, entry: int) -> str:
        """Name the column of the event that a stretch's column comes from."""
        own = _EVENTS_OWN.get(column, column)
        if own in self.coded.codes:
            return own
        serials = ("head", "head_in", "head_out")
        written = [name for name in serials if name in self.coded.codes]
        filled = [name for name in written if self.coded.text(name, entry).strip()]
        return (filled or written or [next(iter(self.coded.codes))])[0]


def may_be_blank(shop: Shop, coded: Coded) -> frozenset[str]:
    """Give the needed columns whose blank cells are no fault of their row alone.

    What stands for them is settled once whole rows, or other rows, are looked at.

    Parameters
    ----------
    shop : Shop
        The settings.
    coded : Coded
        The rows, coded.

    Returns
    -------
    frozenset[str]
        Their names.
    """
    intake = shop.intake
    blank: set[str] = set()
    if intake.of_events:
        blank |= {"head", "head_type", "role", "position"}
    if shop.positions:
        blank.add("role")
    if _other_clocks(shop, coded.codes):
        blank |= {"hours_in", "hours_out"}
    if intake.as_of is not None:
        blank |= {"date_out", "hours_out"}
    return frozenset(blank)


def _other_clocks(shop: Shop, columns: Collection[str]) -> bool:
    """Tell whether any hours may come from another clock than the head's own counter."""
    intake = shop.intake
    return bool(
        intake.of_events
        or intake.hours == "printer"
        or "printer" in intake.hours_of.values()
        or intake.readings
        or intake.weekly_hours is not None
        or set(_METERS) & set(columns)
        or not {"hours_in", "hours_out"} <= set(columns)
    )


def make_stretches(
    typed: pd.DataFrame,
    coded: Coded,
    origins: Origins,
    shop: Shop,
    aside: Aside,
    path: str | Path | None,
    within_heads: bool = False,
) -> Stretches:
    """Make stretches with days and hours from typed entries.

    Parameters
    ----------
    typed : DataFrame
        From `typed_rows`.
    coded, origins : Coded, Origins
        The entries as written, and where they stand.
    shop : Shop
        The settings.
    aside : Aside
        Holds the entries that cannot be read; takes more of them.
    path : str, Path or None
        The log, for readings and a day kept beside it.
    within_heads : bool
        The rows are only some of their printers': neighbours are not compared.

    Returns
    -------
    Stretches
        The stretches.
    """
    typed = _completed(typed, shop, aside)
    out = StretchesAside(aside, coded, origins)
    rows = typed
    if shop.intake.of_events:
        rows = _of_events(typed, shop, out)
    clocks = _other_clocks(shop, coded.codes)
    findings: list[Finding] = []
    notes: tuple[str, ...] = ()
    own = rows
    if clocks or shop.intake.as_of is not None or _any_refurbished(rows):
        by_meter = by_printers_meter(rows, shop)
        rows = moved_to_the_meter(rows, by_meter)
        rows, differ = _with_hours(rows, own, coded, shop, out, path)
        findings += differ
        rows, below = lives_of_their_own(rows)
        out.add(
            "head",
            below,
            "has fewer hours than when it was refurbished, which was before; correct the hours, "
            "the days, or which row says refurbished",
        )
        notes = _worked_out(_sound(rows, out))
    questions: tuple[str, ...] = ()
    if not within_heads:
        suspicion = whose_clock(_by_counter(_sound(rows, out), own), shop)
        questions, findings = suspicion.questions, [*findings, *suspicion.findings]
    return Stretches(rows, out, tuple(findings), notes, questions)


def _sound(rows: pd.DataFrame, aside: StretchesAside) -> pd.DataFrame:
    faulty = aside.faulty()
    return rows[~faulty] if faulty.any() else rows


def _completed(typed: pd.DataFrame, shop: Shop, aside: Aside) -> pd.DataFrame:
    """Fill in roles by position, and positions by role where the log names no positions."""
    role, position = typed["role"], typed["position"]
    if shop.positions:
        known = {name.casefold(): role for name, role in shop.positions.items()}
        blank = role.isna().to_numpy() & position.notna().to_numpy()
        places = position[blank].map(lambda name: known.get(str(name).casefold()))
        for place in places.index[places.isna()].tolist():
            aside.add(
                "position",
                [int(place)],
                "is not in the settings, which state roles by position; add it to [positions], as "
                '"model" or "support"',
            )
        role = role.where(~blank, places)
    if position.isna().all() and role.notna().any():
        position = role
    if role is typed["role"] and position is typed["position"]:
        return typed
    return typed.assign(role=role.astype(object), position=position.astype(object))


def _of_events(typed: pd.DataFrame, shop: Shop, out: StretchesAside) -> pd.DataFrame:
    """Pair events to stretches; what cannot be paired is set aside with its head's stretches."""
    kept = typed[~out.entries.faulty()]
    lost = _heads_of(typed[out.entries.faulty()])
    nameless = _nameless(kept, shop)
    for place in nameless:
        column = "head_in" if shop.intake.shape == "orders" else "head"
        out.entries.add(column, [place], "is blank; write the serial of the head")
    paired = stretches(kept.drop(index=nameless), shop, out.origins)
    for fault in paired.faults:
        out.entries.add(out._own(fault.column, fault.place), [fault.place], fault.sentence)
    out.paired, out.faulty_stretches = paired, np.zeros(len(paired.rows), dtype=bool)
    spoilt = {**lost, **paired.spoilt}
    for i, head in enumerate(paired.rows["head"].tolist()):
        if head in spoilt:
            row = out.origins.name(int(typed["row"].loc[spoilt[head]]))
            out.add(
                "head",
                [i],
                f"has another event, in row {row}, that cannot be used; its hours are not known "
                "until that row is corrected",
            )
    for name in ("head_type", "role", "position", "printer"):
        for i in np.flatnonzero(paired.rows[name].isna()).tolist():
            out.add(name, [i], f"is blank; {COLUMNS[name].write}")
    removed = paired.closed >= 0
    for i in np.flatnonzero(removed & paired.rows["reason"].isna().to_numpy()).tolist():
        out.add("reason", [i], "is blank; write why the head came out")
    return paired.rows


def _nameless(events: pd.DataFrame, shop: Shop) -> list[int]:
    """Find events that tell no head where one is needed."""
    if shop.intake.shape == "orders":
        blank = events["head_in"].isna() & events["head_out"].isna()
        return [int(place) for place in events.index[blank]]
    kinds = {reason_key(word): kind for word, kind in shop.intake.events.items()}
    kind = events["event"].map(lambda text: kinds[reason_key(str(text))])
    nowhere = events["position"].isna() & (kind == "removed")
    blank = events["head"].isna() & (kind.isin(["installed", "swapped"]) | nowhere)
    return [int(place) for place in events.index[blank]]


def _heads_of(faulty: pd.DataFrame) -> dict[str, int]:
    return {
        head: place
        for name in ("head", "head_in", "head_out")
        if name in faulty
        for place, head in zip(faulty.index.tolist(), faulty[name].tolist(), strict=True)
        if isinstance(head, str)
    }


def _any_refurbished(rows: pd.DataFrame) -> bool:
    return "refurbished" in rows and bool(rows["refurbished"].any())


def _with_hours(
    rows: pd.DataFrame,
    own: pd.DataFrame,
    coded: Coded,
    shop: Shop,
    out: StretchesAside,
    path: str | Path | None,
) -> tuple[pd.DataFrame, list[Finding]]:
    """Give the sound stretches their last day and their head's hours."""
    sound = _sound(rows, out)
    if sound.empty:
        return rows, []
    printers = [str(name) for name in pd.unique(sound["printer"])]
    readings = meter_readings(path, shop.intake, printers)
    if out.paired is not None:
        readings = pd.concat([readings, out.paired.readings], ignore_index=True)
    days, faults = days_out(
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
        _clocks_differ(out.origins.name(int(by_place[place])), str(rows["head"].loc[place]), a, b)
        for place, a, b in hours.differ
    ]


def _after_a_gap(rows: pd.DataFrame, faulty: pd.DataFrame, out: StretchesAside) -> np.ndarray:
    """Find stretches whose head has an earlier one that cannot be used, so its hours are lost."""
    gap = np.zeros(len(rows), dtype=bool)
    mine = faulty[faulty["head"].isin(rows["head"])]
    if mine.empty:
        return gap
    since = mine["date_in"].fillna(pd.Timestamp.min).groupby(mine["head"]).min()
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
        for column, meter in (("date_in", _METERS[0]), ("date_out", _METERS[1]))
        for read in [rows[meter].notna() if meter in rows else rows[column].notna()]
        for name, day in zip(rows["printer"][read], rows[column][read].to_numpy(), strict=True)
        if not np.isnat(day)
    ]
    days += list(zip(readings["printer"], readings["day"], strict=True))
    last: dict[str, float] = {}
    for name, day in days:
        last[name] = max(last.get(name, -np.inf), float(day))
    return last


def _clocks_differ(row: str, head: str, counter: float, meter: float) -> Finding:
    return Finding(
        "clocks disagree",
        "doubt",
        KEPT,
        row,
        head,
        f"Row {row}: head {quoted(head)} ran {counter:,.1f} h by its own counter and "
        f"{meter:,.1f} h by the printer's meter; correct one of the two. Its own counter counts.",
    )


def _by_counter(rows: pd.DataFrame, own: pd.DataFrame) -> pd.DataFrame:
    """Give the rows whose hours at removal were read by the head's own counter."""
    if own is rows:
        return rows
    read = own["hours_out"].loc[rows.index].to_numpy(dtype=float)
    same = (rows["hours_out"].to_numpy(dtype=float) == read) & rows["hours_in"].notna().to_numpy()
    compared: pd.DataFrame = rows[same]
    return compared


def _worked_out(rows: pd.DataFrame) -> tuple[str, ...]:
    """Say how many hours were worked out, and how far they may be off."""
    if "hours_out_low" not in rows or rows.empty:
        return ()
    run = rows["hours_out"] - rows["hours_in"]
    low, high = (
        rows["hours_out_low"] - rows["hours_in_low"],
        rows["hours_out_high"] - rows["hours_in_high"],
    )
    off = (high > low).to_numpy()
    if not off.any():
        return ()
    return (
        f"Hours of {int(off.sum()):,} of {len(rows):,} installations were worked out and not read: "
        f"{run[off].sum():,.0f} of {run.sum():,.0f} h run, which may be {low[off].sum():,.0f} to "
        f"{high[off].sum():,.0f} h.",
    )
