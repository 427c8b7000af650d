"""Read a shop's removal records: every row either accepted or set aside with the reason.

Answers from one table and the shop's settings. What concerns the whole table or the settings
(a missing column, a reason or a head type the settings do not know, an empty table) stops with
a `RecordsError`; what concerns single rows (an unreadable date, hours out below hours in, an
hour counter that runs backwards) sets those rows aside with a sentence. It never loses a row and
never guesses a meaning: accepted + set aside = rows read, always.
"""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Final

import numpy as np
import pandas as pd

from headlife.errors import RecordsError
from headlife.progress import Progress
from headlife.records.audit import cross_rows
from headlife.records.columns import Coded, code, match_columns, recognised
from headlife.records.contradictions import contradictions
from headlife.records.intake import open_table
from headlife.records.meanings import add_meanings, unknown_sentences, unknown_texts, what_to_add
from headlife.records.record_set import Records
from headlife.records.set_aside import Aside
from headlife.records.typed_rows import typed_rows
from headlife.shop import Shop

# Columns that a part of a large record keeps as categories.
_MANY_NAMES: Final = ("head", "printer")


def read_records(
    path: str | Path,
    shop: Shop,
    progress: Progress | None = None,
    unknown: str | None = None,
) -> Records:
    """Read removal records, one row per installation of one head in one printer position.

    Parameters
    ----------
    path : str or Path
        A CSV, XLSX or Parquet table; the shop's settings name its columns, date format and
        decimal mark.
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
        Missing file or column, empty table, a reason or head type the settings do not know, or
        no row that can be used.

    Examples
    --------
    >>> import headlife as hl
    >>> shop = hl.read_shop("data_demo/shop.toml")
    >>> records = hl.read_records("data_demo/removals.csv", shop)
    >>> records.rows_read, len(records.accepted), len(records.set_aside)
    (241, 241, 0)
    """
    table = open_table(path, shop.intake, partial(recognised, shop=shop))
    places, unused = match_columns(table, shop)
    coded = code(table, places, progress)
    if coded.rows_read == 0:
        raise RecordsError(
            f"{table.file}: the table has a header and no rows; add at least one installation."
        )
    records = records_of(coded, shop, table.file, table.sha256, tuple(unused), unknown, progress)
    if records.accepted.empty and _stops(unknown, shop):
        records.raise_if_set_aside()
    return records


def records_of(
    coded: Coded,
    shop: Shop,
    source: str,
    sha256: str,
    unused_columns: tuple[str, ...] = (),
    unknown: str | None = None,
    progress: Progress | None = None,
    within_heads: bool = False,
) -> Records:
    """Judge rows that were taken in: each accepted or set aside.

    Parameters
    ----------
    coded : Coded
        The cells as written.
    shop, unknown, progress
        As for `read_records`.
    source, sha256, unused_columns
        For the result.
    within_heads : bool
        Compare rows of the same head only, as for `cross_rows`.

    Returns
    -------
    Records

    Raises
    ------
    RecordsError
        A reason or head type the settings do not know, or hours that can be read in two ways.
    """
    aside = Aside(coded)
    typed, notes, questions = typed_rows(coded, shop, aside, _MANY_NAMES if within_heads else ())
    stop = _stops(unknown, shop)
    if questions and (stop or within_heads):
        raise RecordsError("\n".join(f"{source}: {one}." for one in questions))
    _know_texts(typed, shop, aside, stop, file=source)
    add_meanings(typed, shop)
    for case in contradictions(_sound(typed, aside)):
        aside.add(case.column, [case.index], case.sentence)
    if progress is not None:
        progress("comparing rows", coded.rows_read, coded.rows_read)
    conflicts, findings = cross_rows(_sound(typed, aside), shop, within_heads)
    for conflict in conflicts:
        aside.add(conflict.column, [conflict.index], conflict.sentence)
    return Records(
        accepted=_sound(typed, aside).reset_index(drop=True),
        set_aside=aside.table(),
        rows_read=coded.rows_read,
        source=source,
        sha256=sha256,
        shop=shop,
        unused_columns=unused_columns,
        findings=findings,
        notes=notes,
        questions=questions,
    )


def _stops(unknown: str | None, shop: Shop) -> bool:
    return (unknown or shop.review.set_aside) == "stop"


def _sound(typed: pd.DataFrame, aside: Aside) -> pd.DataFrame:
    """Give the rows without a fault so far; no copy where there is none."""
    faulty = aside.faulty()
    return typed[~faulty] if faulty.any() else typed


def _know_texts(typed: pd.DataFrame, shop: Shop, aside: Aside, stop: bool, file: str) -> None:
    """Stop at, or set aside, reasons and head types that the settings do not know."""
    columns = ("reason", "head_type")
    if stop:
        lines = [line for name in columns for line in unknown_sentences(typed, name, shop, file)]
        if lines:
            raise RecordsError("\n".join(lines))
        return
    for name in columns:
        for place in np.flatnonzero(unknown_texts(typed, name, shop)).tolist():
            aside.add(name, [place], what_to_add(name, str(typed[name].iloc[place]), shop))
