"""Read a shop's removal records: every row either accepted or set aside with the reason.

Answers from one table and the shop's settings. What concerns the whole table or the settings
(a missing column, a reason or a head type the settings do not know, an empty table) stops with
a `RecordsError`; what concerns single rows (an unreadable date, hours out below hours in, an
hour counter that runs backwards) sets those rows aside with a sentence. It never loses a row and
never guesses a meaning: accepted + set aside = rows read, always.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.errors import RecordsError
from headlife.progress import Progress
from headlife.records.audit import cross_rows
from headlife.records.cells import Problem, read_date, read_hours, read_name, read_note, read_yes
from headlife.records.cells import read_role as read_role_text
from headlife.records.columns import Coded, code, match_columns, recognised
from headlife.records.contradictions import contradictions
from headlife.records.frames import blank_cells
from headlife.records.intake import open_table
from headlife.records.meanings import add_meanings, unknown_sentences, unknown_texts, what_to_add
from headlife.records.record_set import Records
from headlife.records.set_aside import Aside
from headlife.shop import COLUMNS, STANDARD_COLUMNS, Shop
from headlife.shop.columns import Column

# Columns that a part of a large record keeps as categories.
_MANY_NAMES: Final = ("head", "printer")
# What the shop's own columns are read as.
_OWN: Final = Column("", "name", "a column of the shop's own")


def read_records(
    path: str | Path,
    shop: Shop,
    progress: Progress | None = None,
    unknown: str = "stop",
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
    unknown : {"stop", "set aside"}
        What to do about reasons and head types that the settings do not know.

    Returns
    -------
    Records
        Accepted rows, rows set aside, and doubts about accepted rows.

    Raises
    ------
    RecordsError
        Missing file or column, empty table, a reason or head type the settings do not know, or
        no row that can be used.
    """
    table = open_table(path, shop.intake, partial(recognised, shop=shop))
    places, unused = match_columns(table, shop)
    coded = code(table, places, progress)
    if coded.rows_read == 0:
        raise RecordsError(
            f"{table.file}: the table has a header and no rows; add at least one installation."
        )
    records = records_of(coded, shop, table.file, table.sha256, tuple(unused), unknown, progress)
    if records.accepted.empty and unknown == "stop":
        records.raise_if_set_aside()
    return records


def records_of(
    coded: Coded,
    shop: Shop,
    source: str,
    sha256: str,
    unused_columns: tuple[str, ...] = (),
    unknown: str = "stop",
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
        A reason or head type the settings do not know.
    """
    aside = Aside(coded)
    typed = _typed(coded, shop, aside, _MANY_NAMES if within_heads else ())
    _know_texts(typed, shop, aside, stop=unknown == "stop", file=source)
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
    )


def _sound(typed: pd.DataFrame, aside: Aside) -> pd.DataFrame:
    """Give the rows without a fault so far; no copy where there is none."""
    faulty = aside.faulty()
    return typed[~faulty] if faulty.any() else typed


def _typed(
    coded: Coded, shop: Shop, aside: Aside, categorical: Collection[str] = ()
) -> pd.DataFrame:
    columns: dict[str, Any] = {"row": coded.rows}
    for name in (*STANDARD_COLUMNS, *shop.own_columns):
        column = COLUMNS.get(name, _OWN)
        if name not in coded.codes:
            if column.always:
                columns[name] = blank_cells(name, coded.rows_read)
            continue
        reader = _reader(column, shop)
        codes = coded.codes[name]
        values = [reader(text) for text in coded.texts[name]]
        _cell_problems(name, values, codes, aside)
        good = [None if isinstance(value, Problem) else value for value in values]
        columns[name] = (
            _categories(good, codes) if name in categorical else _array(column, good)[codes]
        )
    return pd.DataFrame(columns, copy=False)


def _categories(values: list[str | None], codes: np.ndarray) -> pd.Categorical:
    """Keep names as categories in the order of the alphabet: millions of rows group faster."""
    names = sorted({value for value in values if value is not None})
    place = {name: code for code, name in enumerate(names)} | {None: -1}
    own = np.array([place[value] for value in values], dtype=np.int32)
    return pd.Categorical.from_codes(own[codes], categories=pd.Index(names, dtype=object))


def _reader(column: Column, shop: Shop) -> Callable[[str], Any]:
    readers: dict[str, Callable[[str], Any]] = {
        "name": read_name,
        "role": partial(read_role_text, words=shop.roles),
        "date": partial(read_date, date_format=shop.intake.date_format),
        "hours": partial(read_hours, decimal=shop.intake.decimal),
        "yes or no": read_yes,
        "remark": read_note,
    }
    return readers[column.kind]


def _cell_problems(name: str, values: list[Any], codes: np.ndarray, aside: Aside) -> None:
    column = COLUMNS.get(name, _OWN)
    bad = {i: value.sentence for i, value in enumerate(values) if isinstance(value, Problem)}
    if not column.may_be_blank:
        blank = f"is blank; {column.write}"
        bad |= {i: blank for i, value in enumerate(values) if value is None}
    if not bad:
        return
    hit = np.isin(codes, list(bad))
    for place, i in zip(np.flatnonzero(hit).tolist(), codes[hit].tolist(), strict=True):
        aside.add(name, [place], bad[i])


def _array(column: Column, values: list[Any]) -> np.ndarray:
    if column.kind == "date":
        return np.array(values, dtype="datetime64[us]").astype("datetime64[ns]")
    if column.kind == "hours":
        return np.array([np.nan if value is None else value for value in values], dtype=float)
    if column.kind == "yes or no":
        return np.array([value is True for value in values], dtype=bool)
    array = np.empty(len(values), dtype=object)
    array[:] = values
    return array


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
