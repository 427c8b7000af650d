"""Follow each head through its installations: does its counter tell one story?

Answers, from sound rows of one head in the order of the calendar, which rows contradict the
ones before (the counter runs backwards, the head is used after it failed) and which are only
doubtful (a gap in the hours, dates that overlap). It never looks at printers' other heads.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import pandas as pd

from headlife.records.cells import quoted
from headlife.records.findings import Fault, Finding, doubt
from headlife.shop import Shop
from headlife.units import HOURS_PER_DAY

# Own choice, no source: hours written at a removal and at the next installation that differ by
# no more than this are the same reading, rounded.
SAME_READING_HOURS: Final = 1.0


@dataclass(frozen=True)
class _Chain:
    """A head as its kept rows tell it so far: the most hours and days, and how the last ended."""

    hours: float
    day: int
    row: int
    failed: bool
    out_for_good: bool


def follow_heads(rows: pd.DataFrame, shop: Shop) -> tuple[list[Fault], list[Finding]]:
    """Follow every head through its rows.

    Parameters
    ----------
    rows : DataFrame
        Sound rows; the index is each row's place in the table.
    shop : Shop
        The settings, for what a suspension means.

    Returns
    -------
    conflicts : list of Fault
        Rows to set aside. After one of them, later rows of the same head stay only where the
        counter goes on exactly from the last row kept.
    doubts : list of Finding
        Findings about rows that stay.
    """
    if rows.empty:
        return [], []
    table = _sorted(rows)
    conflicts: list[Fault] = []
    doubts: list[Finding] = []
    for start, end in _suspects(table):
        for finding in _follow(table, start, end, shop):
            if isinstance(finding, Fault):
                conflicts.append(finding)
            else:
                doubts.append(finding)
    return conflicts, doubts


@dataclass(frozen=True)
class _Table:
    """The columns of sorted rows as plain arrays; `names` are those of the head codes."""

    codes: np.ndarray
    place: np.ndarray
    row: np.ndarray
    names: pd.Index
    start: np.ndarray
    end: np.ndarray
    hours_in: np.ndarray
    hours_out: np.ndarray
    failed: np.ndarray
    suspension: np.ndarray

    def head(self, i: int) -> str:
        """Give the serial of the head in a row."""
        return str(self.names[self.codes[i]])


def order_of(rows: pd.DataFrame, codes: np.ndarray) -> np.ndarray:
    """Order rows by head, each head's as they follow one another; places in `rows`.

    Day first, then hours: readings within an hour count as equal, so hours alone could put the
    removal that ended a life before an earlier row.

    Parameters
    ----------
    rows : DataFrame
        Typed rows.
    codes : array of int
        The head of every row.

    Returns
    -------
    array
        Places in `rows`, in that order.
    """
    order = np.argsort(codes, kind="stable")
    start, hours_in = _days(rows["date_in"]), rows["hours_in"].to_numpy()
    sorted_codes = codes[order]
    later = np.diff(start[order]) > 0
    doubtful = sorted_codes[1:][(np.diff(sorted_codes) == 0) & ~later]
    if doubtful.size:
        # Most heads' rows stand in order already; only the others are sorted by every key.
        places = np.flatnonzero(np.isin(sorted_codes, doubtful))
        keys = (
            rows["row"].to_numpy().astype(np.int64),
            rows["mode"].notna().to_numpy(),
            rows["hours_out"].to_numpy(),
            _days(rows["date_out"]),
            hours_in,
            start,
            codes,
        )
        some = order[places]
        order[places] = some[np.lexsort([key[some] for key in keys])]
    return order


def _days(dates: pd.Series) -> np.ndarray:
    """Days since 1970."""
    return dates.to_numpy().astype("datetime64[D]").astype(np.int64)


def _sorted(rows: pd.DataFrame) -> _Table:
    codes, names = pd.factorize(rows["head"])
    order = order_of(rows, codes)
    return _Table(
        codes[order],
        rows.index.to_numpy()[order],
        rows["row"].to_numpy()[order],
        names,
        _days(rows["date_in"])[order],
        _days(rows["date_out"])[order],
        rows["hours_in"].to_numpy()[order],
        rows["hours_out"].to_numpy()[order],
        rows["mode"].notna().to_numpy()[order],
        rows["suspension"].to_numpy()[order],
    )


def _suspects(table: _Table) -> Iterator[tuple[int, int]]:
    """Find the heads whose rows do not simply follow one another; most heads are not looked at."""
    same = table.codes[1:] == table.codes[:-1]
    # Where every row follows the one before, the row before holds the most hours and days.
    smooth = (
        (np.abs(table.hours_in[1:] - table.hours_out[:-1]) <= SAME_READING_HOURS)
        & (table.hours_out[1:] >= table.hours_out[:-1])
        & (table.start[1:] >= table.end[:-1])
        & ~table.failed[:-1]
    )
    for code in np.unique(table.codes[1:][same & ~smooth]):
        yield (
            int(np.searchsorted(table.codes, code, side="left")),
            int(np.searchsorted(table.codes, code, side="right")),
        )


def _follow(table: _Table, start: int, end: int, shop: Shop) -> Iterator[Fault | Finding]:
    chain, broken = _told_by(table, start, shop), False
    for i in range(start + 1, end):
        conflict = _conflict(table, i, chain, broken)
        if conflict is not None:
            broken = True
            yield conflict
            continue
        yield from _doubts(table, i, chain)
        told = _told_by(table, i, shop)
        chain = replace(told, hours=max(chain.hours, told.hours), day=max(chain.day, told.day))


def _told_by(table: _Table, i: int, shop: Shop) -> _Chain:
    kind = table.suspension[i]
    return _Chain(
        hours=float(table.hours_out[i]),
        day=int(table.end[i]),
        row=int(table.row[i]),
        failed=bool(table.failed[i]),
        out_for_good=kind is not None and kind not in shop.reasons.reusable,
    )


def _conflict(table: _Table, i: int, chain: _Chain, broken: bool) -> Fault | None:
    head = quoted(table.head(i))
    back = chain.hours - table.hours_in[i]
    if chain.failed:
        return _of(
            table,
            i,
            "head",
            f"went in again after row {chain.row} says that it failed; give a second head a "
            "serial of its own, say yes in a column refurbished in the row where a refurbished one "
            "went in, or, if it was only cleaned and went on, name that reason under "
            "[reasons.suspensions]",
        )
    if back > SAME_READING_HOURS and (
        table.hours_out[i] < chain.hours or table.start[i] < chain.day
    ):
        return _of(table, i, "hours_in", _backwards(table, i, chain, head))
    if broken and abs(back) > SAME_READING_HOURS:
        return _of(
            table,
            i,
            "hours_in",
            f"does not go on from the {chain.hours:,.1f} h of row {chain.row}, the last usable row "
            f"of head {head}; correct the rows of that head",
        )
    days = max(int(table.start[i]) - chain.day, 0) + 1
    if -back > HOURS_PER_DAY * days:
        return _of(
            table,
            i,
            "hours_in",
            f"lies {-back:,.1f} h above row {chain.row} of head {head}, more than 24 a day since "
            "then; correct the hours or the dates",
        )
    return None


def _backwards(table: _Table, i: int, chain: _Chain, head: str) -> str:
    if table.hours_out[i] >= chain.hours:
        return (
            f"lies below the {chain.hours:,.1f} h that head {head} has in row {chain.row}, at the "
            "same time in another place; correct the serial, the hours or the dates"
        )
    if chain.out_for_good and table.hours_in[i] <= SAME_READING_HOURS:
        return (
            f"starts anew although head {head} came out for good at {chain.hours:,.1f} h in row "
            f"{chain.row}; a serial used again needs a serial of its own for the second head"
        )
    return (
        f"lies below the {chain.hours:,.1f} h that head {head} had reached in row {chain.row}; a "
        "head's counter does not run backwards, correct the hours, or give a second head a serial "
        "of its own"
    )


def _doubts(table: _Table, i: int, chain: _Chain) -> Iterator[Finding]:
    head, row = table.head(i), table.row[i]
    both = f"{chain.row}, {row}"
    step = float(table.hours_in[i]) - chain.hours
    if step > SAME_READING_HOURS:
        yield doubt(
            "hours missing",
            both,
            head,
            f"Head {quoted(head)} came out at {chain.hours:,.1f} h (row {chain.row}) and went in "
            f"again at {table.hours_in[i]:,.1f} h (row {row}); an installation in between is not "
            f"on record. The {step:,.1f} h count as run, since the head worked afterwards.",
        )
    elif step < -SAME_READING_HOURS:
        yield doubt(
            "counter steps back",
            both,
            head,
            f"Head {quoted(head)} came out at {chain.hours:,.1f} h (row {chain.row}) and went in "
            f"again at {table.hours_in[i]:,.1f} h (row {row}), {-step:,.1f} h less; correct one of "
            "the two. Its life counts from its first to its last reading.",
        )
    if table.start[i] < chain.day:
        yield doubt(
            "dates overlap",
            both,
            head,
            f"Head {quoted(head)} went in (row {row}) {chain.day - int(table.start[i])} days "
            f"before it came out (row {chain.row}); correct one of the dates. Its hours agree and "
            "count.",
        )


def _of(table: _Table, i: int, column: str, sentence: str) -> Fault:
    return Fault(int(table.place[i]), column, sentence)
