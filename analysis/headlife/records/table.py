"""Read a shop's removal records: every row accepted, set aside with the reason, or no record.

Answers from a log and the shop's settings. What concerns the whole log or the settings (a missing
column, a reason or a head type the settings do not know, hours that may be another clock's) stops
with a `RecordsError`; what concerns single rows (an unreadable date, cells that contradict each
other, an hour counter that runs backwards) sets those rows aside with a sentence. It never loses a
row and never guesses a meaning: accepted + set aside + no record = rows read, always.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from headlife.errors import RecordsError
from headlife.progress import Progress
from headlife.records.audit import COMPARED, cross_rows
from headlife.records.entries import Entries, entries_of
from headlife.records.findings import Fault, Finding
from headlife.records.meanings import (
    add_meanings,
    unknown_sentences,
    unknown_texts,
    what_to_add,
)
from headlife.records.record_set import Records, settled
from headlife.records.second_table import tables_below, without_words
from headlife.records.set_aside import Aside
from headlife.records.sources import open_tables, source_hash, source_name
from headlife.records.stretches import make_stretches, may_be_blank
from headlife.records.stretches_aside import StretchesAside
from headlife.records.typed_rows import typed_rows
from headlife.records.unread import sheets_not_read
from headlife.records.whose_clock import whose_clock
from headlife.shop import Shop

# Columns that a part of a large record keeps as categories.
_MANY_NAMES: Final = ("head", "printer")


def read_records(
    path: str | Path,
    shop: Shop,
    progress: Progress | None = None,
    unknown: str | None = None,
) -> Records:
    """Read removal records.

    Parameters
    ----------
    path : str or Path
        A CSV, XLSX or Parquet table; the shop's settings say where else the log stands, what a
        row of it is, whose hours it holds and how it is written.
    shop : Shop
        From `read_shop`.
    progress : callable, optional
        Called with (step, done, total); total is 0 while it is not known.
    unknown : {"stop", "set aside"}, optional
        What to do about reasons and head types that the settings do not know; default: set aside
        where the settings' review goes on without rows that cannot be used, else stop.

    Returns
    -------
    Records
        Accepted rows, rows set aside, and doubts about accepted rows.

    Raises
    ------
    RecordsError
        Missing file or column, empty table, a reason or head type the settings do not know,
        something that must be stated first, or no row that can be used.

    Examples
    --------
    >>> import headlife as hl
    >>> shop = hl.read_shop("data_demo/shop.toml")
    >>> records = hl.read_records("data_demo/removals.csv", shop)
    >>> records.rows_read, len(records.accepted), len(records.set_aside)
    (241, 241, 0)
    """
    tables = open_tables(path, shop)
    entries = entries_of(tables, shop, progress)
    source = source_name(tables)
    if not entries.rows_read:
        raise RecordsError(
            f"{source}: the table has a header and no rows; add at least one installation."
        )
    if not entries.coded.rows_read:
        why = " and ".join(dict.fromkeys(entries.left_out["why"]))
        raise RecordsError(
            f"{source}: none of its {entries.rows_read} rows is a record ({why}); add at least one "
            "installation, or correct the settings' [intake]."
        )
    records = records_of(entries, shop, source, source_hash(tables), unknown, progress, path=path)
    if records.accepted.empty and _stops(unknown, shop):
        records.raise_if_set_aside()
    like_the_log, others = sheets_not_read(path, shop, tables)
    return replace(records, not_read=like_the_log, notes=(*records.notes, *others))


def records_of(
    entries: Entries,
    shop: Shop,
    source: str,
    sha256: str,
    unknown: str | None = None,
    progress: Progress | None = None,
    within_heads: bool = False,
    path: str | Path | None = None,
    newest: np.datetime64 | None = None,
) -> Records:
    """Judge rows that were taken in: each accepted or set aside.

    Parameters
    ----------
    entries : Entries
        The rows as written, and where they stand.
    shop, unknown, progress : Shop, str, callable
        As for `read_records`.
    source, sha256 : str
        For the result.
    within_heads : bool
        Compare rows of the same head only, as for `cross_rows`.
    path : str or Path, optional
        The log, where readings or a day are kept beside it.
    newest : datetime64, optional
        As for `cross_rows`.

    Returns
    -------
    Records
        Accepted rows, rows set aside, and doubts about accepted rows.

    Raises
    ------
    RecordsError
        A reason, an event or a head type the settings do not know, or something that must be
        stated first: hours that can be read in two ways, or that may be another clock's.
    """
    coded = entries.coded
    aside = Aside(coded)
    typed, notes, open_questions, read_as = typed_rows(
        coded,
        shop,
        aside,
        _MANY_NAMES if within_heads else (),
        may_be_blank(shop, coded),
    )
    # A part of many files has the rows of some heads, not all that stand below one another.
    if not within_heads:
        for other in tables_below(coded, typed, aside.faulty(), entries.origins, shop):
            aside.instead(other.places, other.sentence)
            typed = without_words(typed, other.places)
    stop = _stops(unknown, shop)
    if stop or within_heads:
        settled(open_questions, source)
    _know_texts(typed, ("event",), shop, aside, stop, entries, source)
    made = make_stretches(
        typed, coded, entries.origins, shop, aside, path, within_heads=within_heads
    )
    rows, out = made.rows, made.aside
    _know_texts(rows, ("reason", "head_type"), shop, out, stop, entries, source)
    if stop or within_heads:
        settled(made.questions, source)
    add_meanings(rows, shop)
    for case in _contradictions(_sound(rows, out)):
        out.add(case.column, [case.place], case.sentence)
    if progress is not None:
        progress("comparing rows", coded.rows_read, coded.rows_read)
    compared = entries.origins.named(_sound(rows, out))

    def of_hours(left: pd.DataFrame) -> tuple[Finding, ...]:
        """Give what hours make doubtful: those of rows that stay, where others turn out unfit."""
        own = rows.loc[left.index[left.index.isin(made.by_counter)]]
        if within_heads or len(own) == len(made.by_counter):
            return made.findings + made.of_clock
        return made.findings + whose_clock(own, shop).findings

    conflicts, findings = cross_rows(compared, shop, within_heads, of_hours, newest)
    for conflict in conflicts:
        out.add(conflict.column, [conflict.place], conflict.sentence)
    return Records(
        accepted=_sound(rows, out).reset_index(drop=True),
        set_aside=aside.table(typed),
        rows_read=entries.rows_read,
        source=source,
        sha256=sha256,
        shop=shop,
        unused_columns=entries.unused,
        findings=findings,
        notes=(*entries.notes, *notes, *made.notes),
        questions=(*open_questions, *made.questions),
        no_records=entries.left_out,
        origins=entries.origins,
        read_as=read_as,
        to_compare=_to_compare(rows, out, made.by_counter) if within_heads else None,
    )


def _to_compare(rows: pd.DataFrame, aside: StretchesAside, by_counter: pd.Index) -> pd.DataFrame:
    """Keep of a part's rows what only all rows together can be asked."""
    used, read = ~aside.faulty(), rows.index.isin(by_counter)
    kept = rows[rows.columns.intersection(list(COMPARED))].assign(used=used, by_counter=read)
    return kept[used | read]


def _stops(unknown: str | None, shop: Shop) -> bool:
    return (unknown or shop.review.set_aside) == "stop"


def _sound(rows: pd.DataFrame, aside: Aside | StretchesAside) -> pd.DataFrame:
    """Give the rows without a fault so far; no copy where there is none."""
    faulty = aside.faulty()
    return rows[~faulty] if faulty.any() else rows


def _know_texts(
    rows: pd.DataFrame,
    columns: tuple[str, ...],
    shop: Shop,
    aside: Aside | StretchesAside,
    stop: bool,
    entries: Entries,
    source: str,
) -> None:
    """Stop at, or set aside, texts that the settings do not know."""
    there = [name for name in columns if name in rows]
    if stop:
        named = entries.origins.named(rows)
        lines = [line for name in there for line in unknown_sentences(named, name, shop, source)]
        if lines:
            raise RecordsError("\n".join(lines))
        return
    for name in there:
        for place in np.flatnonzero(unknown_texts(rows, name, shop)).tolist():
            aside.add(name, [place], what_to_add(name, str(rows[name].iloc[place]), shop))


def _contradictions(typed: pd.DataFrame) -> Iterator[Fault]:
    """Find rows whose cells contradict each other."""
    places = typed.index.to_numpy()
    for column, wrong, sentence in _checks(typed):
        for i in np.flatnonzero(wrong).tolist():
            yield Fault(int(places[i]), column, sentence)


def _checks(typed: pd.DataFrame) -> Iterator[tuple[str, np.ndarray, str]]:
    """Give column, rows that fail and sentence; a blank cell fails nothing."""
    hours_in, hours_out = typed["hours_in"].to_numpy(), typed["hours_out"].to_numpy()
    yield (
        "hours_out",
        hours_out < hours_in,
        "lies below hours_in; an hour counter does not run backwards, correct one of the two",
    )
    yield (
        "date_out",
        typed["date_out"].to_numpy() < typed["date_in"].to_numpy(),
        "lies before date_in; correct one of the two",
    )
    yield (
        "last_good_hours",
        hours_out < typed["last_good_hours"].to_numpy(),
        "lies above hours_out; write the last hour reading at which the head was known good",
    )
    yield (
        "hours_out",
        typed["mode"].notna().to_numpy() & (hours_out <= 0),
        "is 0 for a head that failed; a head that failed at start-up has run for at least 0.1 h, "
        "write that",
    )
