"""From typed entries to stretches with days and hours: whose clock, which shape, until when.

Answers with one row a stretch, whatever a row of the log was: events are paired, roles and
positions completed, heads that nobody took out given their last day, hours read by whichever clock
the shop keeps, later lives of a refurbished head named apart and counted from 0 (one whose first
row is already refurbished is in its first life on record). What cannot be settled is asked, what
cannot be used is set aside; it never judges what a reason means.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from headlife.records.columns import Coded
from headlife.records.findings import Finding
from headlife.records.head_hours import by_printers_meter, moved_to_the_meter
from headlife.records.no_serials import named_by_place
from headlife.records.origins import Origins
from headlife.records.pairing import no_head_named, stretches
from headlife.records.set_aside import Aside
from headlife.records.stretches_aside import StretchesAside
from headlife.records.stretches_timed import with_hours
from headlife.records.whose_clock import Suspicion, whose_clock
from headlife.shop import COLUMNS, Shop, reason_key
from headlife.shop.columns import METER_COLUMNS

_READ_THEM = (
    "the hours of heads in service are blank, and only the rows of all heads of a printer tell how "
    "many they ran; write their hours as last read, or put all rows into one table and review that"
)
_HOURS_OF_A_LIFE = ("hours_in", "hours_out", "last_good_hours")
_RANGES_OF_HOURS = ("hours_in_low", "hours_in_high", "hours_out_low", "hours_out_high")


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
    by_counter: pd.Index = field(default_factory=lambda: pd.Index([]))
    """Places of sound stretches whose hours were read by the heads' own counters."""
    of_clock: tuple[Finding, ...] = ()
    """What these make doubtful: whose clock it was."""


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
    if intake.without_serials:
        blank.add("head")
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
        or {"hours_run", *METER_COLUMNS} & set(columns)
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
    unnamed: tuple[str, ...] = ()
    if shop.intake.without_serials:
        typed, unnamed = named_by_place(typed, shop)
    out = StretchesAside(aside, coded, origins)
    rows = typed
    if shop.intake.of_events:
        rows = _of_events(typed, shop, out)
    clocks = _other_clocks(shop, coded.codes)
    findings: list[Finding] = []
    notes: tuple[str, ...] = ()
    questions: tuple[str, ...] = ()
    visits = _visits(typed, shop, out)
    own = rows
    if clocks or shop.intake.as_of is not None or _any_refurbished(rows):
        by_meter = by_printers_meter(rows, shop)
        rows = moved_to_the_meter(rows, by_meter)
        rows, differ = with_hours(rows, own, coded, shop, out, path)
        findings += differ
        rows, below = _lives_of_their_own(rows)
        out.add(
            "head",
            below,
            "has fewer hours than when it was refurbished, which was before; correct the hours, "
            "the days, or which row says refurbished",
        )
        worked_out = _worked_out(out.sound(rows))
        anew = () if clocks or within_heads else _counted_anew(out.sound(own))
        notes = (*said_of_hours(coded.codes, shop), *worked_out, *anew)
        if within_heads and worked_out:
            questions = (_READ_THEM,)
    compared = _by_counter(out.sound(rows), own)
    clock = Suspicion() if within_heads else whose_clock(compared, shop)
    said = (*unnamed, *visits, *notes)
    questions = (*questions, *clock.questions)
    return Stretches(rows, out, tuple(findings), said, questions, compared.index, clock.findings)


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
        out.entries.add(out.own(fault.column, fault.place), [fault.place], fault.sentence)
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
    """Find events that tell no head where one is needed.

    An order that names none is a visit during which none was changed, such as an inspection,
    unless it says why a head came out.
    """
    if shop.intake.shape == "orders":
        told = events.loc[no_head_named(events), "reason"].dropna()
        known = shop.reasons.known
        return [int(place) for place, why in told.items() if reason_key(why) in known]
    kinds = {reason_key(word): kind for word, kind in shop.intake.events.items()}
    kind = events["event"].map(lambda text: kinds[reason_key(str(text))])
    nowhere = events["position"].isna() & (kind == "removed")
    blank = events["head"].isna() & (kind.isin(["installed", "swapped"]) | nowhere)
    return [int(place) for place in events.index[blank]]


def _visits(typed: pd.DataFrame, shop: Shop, out: StretchesAside) -> tuple[str, ...]:
    """Say which work orders are taken for visits during which no head was changed."""
    if shop.intake.shape != "orders":
        return ()
    rows = typed.loc[no_head_named(typed) & ~out.entries.faulty(), "row"].tolist()
    if not rows:
        return ()
    return (
        f"Work orders that name no head, neither out nor in, are taken for visits during which "
        f"none was changed, and only their meter readings count: {len(rows):,} (row "
        f"{out.origins.listed(rows)}). Where a head was changed, write its serial.",
    )


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


def _counted_anew(rows: pd.DataFrame) -> tuple[str, ...]:
    """Say which refurbished heads count from 0 although their own counter went on."""
    if not _any_refurbished(rows):
        return ()
    went_on = rows[rows["refurbished"].astype(bool) & (rows["hours_in"] > 0.0)]
    if went_on.empty:
        return ()
    one = went_on.iloc[-1]
    are, their, heads = ("are", "their", "heads") if len(went_on) > 1 else ("is", "its", "head")
    return (
        f"{len(went_on):,} refurbished {heads} went in with hours on {their} counter "
        f"({one['head']} with {one['hours_in']:,.0f} h) and {are} counted from 0 h, as good as "
        "new; the printer, which goes by the counter, gives notice earlier. If such heads were "
        "only mended and are as old as they were, more of them fail than these answers say.",
    )


def _by_counter(rows: pd.DataFrame, own: pd.DataFrame) -> pd.DataFrame:
    """Give the rows whose hours at removal were read by the head's own counter."""
    if own is rows:
        return rows
    read = own["hours_out"].loc[rows.index].to_numpy(dtype=float)
    same = (rows["hours_out"].to_numpy(dtype=float) == read) & rows["hours_in"].notna().to_numpy()
    compared: pd.DataFrame = rows[same]
    return compared


def said_of_hours(columns: Collection[str], shop: Shop) -> tuple[str, ...]:
    """Say how heads' hours are counted where nothing tells them when they went in.

    Parameters
    ----------
    columns : collection of str
        Columns of the log.
    shop : Shop
        The settings.

    Returns
    -------
    tuple of str
        A sentence; none where something tells them.
    """
    told = {"hours_run", "hours_out"} & set(columns)
    if shop.intake.of_events or shop.intake.hours == "printer" or not told:
        return ()
    if "hours_in" in columns or {"hours_run", "hours_out"} <= set(columns):
        return ()
    return (
        "No column tells the hours of heads when they went in: a head's first stay counts from "
        "0 h, a later one from where it came out last.",
    )


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


def _lives_of_their_own(rows: pd.DataFrame) -> tuple[pd.DataFrame, list[int]]:
    """Begin a new life at every installation of a refurbished head."""
    if "refurbished" not in rows or not rows["refurbished"].any():
        return rows, []
    heads = rows["head"].to_numpy(dtype=object).copy()
    codes, _ = pd.factorize(rows["head"])
    start = rows["date_in"].to_numpy().astype("datetime64[D]").astype(np.int64)
    order = np.lexsort((np.arange(len(rows)), start, codes))
    anew = rows["refurbished"].to_numpy()
    first = np.r_[True, codes[order][1:] != codes[order][:-1]]
    life = np.ones(len(rows), dtype=np.int64)
    zero = np.zeros(len(rows))
    hours_in = rows["hours_in"].to_numpy(dtype=float)
    now, offset = 1, 0.0
    for n, i in enumerate(order.tolist()):
        if first[n]:
            now, offset = 1, 0.0
        if anew[i]:
            now += 0 if first[n] else 1
            offset = float(np.nan_to_num(hours_in[i]))
        life[i], zero[i] = now, offset
    for i in np.flatnonzero((life > 1) & (codes >= 0)).tolist():
        heads[i] = f"{heads[i]} (life {life[i]})"
    shifted = {
        name: rows[name] - zero for name in (*_HOURS_OF_A_LIFE, *_RANGES_OF_HOURS) if name in rows
    }
    below = (rows["hours_in"] < zero).to_numpy()
    return rows.assign(head=heads, **shifted), [int(place) for place in rows.index[below]]
