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
from headlife.records.cells import Problem, read_date, read_hours, read_name, read_note
from headlife.records.cells import read_role as read_role_text
from headlife.records.columns import (
    DATES,
    HOURS,
    REQUIRED_COLUMNS,
    Coded,
    code,
    match_columns,
    recognised,
)
from headlife.records.intake import open_table
from headlife.records.meanings import add_meanings, unknown_sentences, unknown_texts, what_to_add
from headlife.records.record_set import Records
from headlife.records.schema import contradictions
from headlife.records.set_aside import Aside
from headlife.shop import STANDARD_COLUMNS, Shop

_MAY_BE_BLANK: Final = frozenset(STANDARD_COLUMNS) - frozenset(REQUIRED_COLUMNS) | {"reason"}
# Columns that a part of a large record keeps as categories.
_MANY_NAMES: Final = ("head", "printer")

_WHAT_TO_WRITE: Final = {
    "head": "write the head's serial",
    "head_type": "write the head's type as in the settings",
    "role": "write model or support",
    "printer": "write the printer's name",
    "position": "write the head's position in the printer",
    "date_in": "write the day on which the head went in",
    "hours_in": "write the head's hour reading when it went in",
    "date_out": (
        "write the day on which the head came out or, if it is still in, the day of its last "
        "hour reading"
    ),
    "hours_out": "write the head's hour reading at date_out",
}


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
    table = open_table(path, shop.intake, partial(recognised, columns=shop.columns))
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
    for name in STANDARD_COLUMNS:
        if name not in coded.codes:
            columns[name] = _blank(name, coded.rows_read)
            continue
        reader = _reader(name, shop)
        codes = coded.codes[name]
        values = [reader(text) for text in coded.texts[name]]
        _cell_problems(name, values, codes, aside)
        good = [None if isinstance(value, Problem) else value for value in values]
        columns[name] = (
            _categories(good, codes) if name in categorical else _array(name, good)[codes]
        )
    return pd.DataFrame(columns, copy=False)


def _categories(values: list[str | None], codes: np.ndarray) -> pd.Categorical:
    """Keep names as categories in the order of the alphabet: millions of rows group faster."""
    names = sorted({value for value in values if value is not None})
    place = {name: code for code, name in enumerate(names)} | {None: -1}
    own = np.array([place[value] for value in values], dtype=np.int32)
    return pd.Categorical.from_codes(own[codes], categories=pd.Index(names, dtype=object))


def _blank(name: str, rows: int) -> np.ndarray:
    return np.full(rows, np.nan) if name in HOURS else np.full(rows, None, dtype=object)


def _reader(name: str, shop: Shop) -> Callable[[str], Any]:
    if name in DATES:
        return partial(read_date, date_format=shop.intake.date_format)
    if name in HOURS:
        return partial(read_hours, decimal=shop.intake.decimal)
    if name == "role":
        return partial(read_role_text, words=shop.roles)
    return read_note if name == "note" else read_name


def _cell_problems(name: str, values: list[Any], codes: np.ndarray, aside: Aside) -> None:
    blank = f"is blank; {_WHAT_TO_WRITE.get(name, 'fill it in')}"
    bad = {i: value.sentence for i, value in enumerate(values) if isinstance(value, Problem)}
    if name not in _MAY_BE_BLANK:
        bad |= {i: blank for i, value in enumerate(values) if value is None}
    if not bad:
        return
    hit = np.isin(codes, list(bad))
    for place, i in zip(np.flatnonzero(hit).tolist(), codes[hit].tolist(), strict=True):
        aside.add(name, [place], bad[i])


def _array(name: str, values: list[Any]) -> np.ndarray:
    if name in DATES:
        return np.array(values, dtype="datetime64[us]").astype("datetime64[ns]")
    if name in HOURS:
        return np.array([np.nan if value is None else value for value in values], dtype=float)
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
