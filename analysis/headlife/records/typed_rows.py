"""What does each cell of a table say? Rows of hours, dates, names and roles from rows of text.

Answers column by column from the distinct texts taken in; columns of hours, and of dates, are read
together, since one settles what another means. A cell that cannot be read sets its row aside with a
sentence. It never compares two rows.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Sequence
from functools import partial
from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.plain_text import plain
from headlife.records.cells import Problem, read_name, read_note, read_role, read_yes
from headlife.records.columns import Coded
from headlife.records.counted import PER_HOUR, unit_questions
from headlife.records.date_columns import read_dates
from headlife.records.frames import blank_cells
from headlife.records.hour_columns import read_hours
from headlife.records.set_aside import Aside
from headlife.records.written import ReadAs, blank_words
from headlife.shop import COLUMNS, Shop
from headlife.shop.columns import Column

# What the shop's own columns are read as.
_OWN: Final = Column("", "name", "a column of the shop's own")


def typed_rows(
    coded: Coded,
    shop: Shop,
    aside: Aside,
    categorical: Collection[str] = (),
    may_be_blank: Collection[str] = (),
) -> tuple[pd.DataFrame, tuple[str, ...], tuple[str, ...], ReadAs]:
    """Read the cells of a table.

    Parameters
    ----------
    coded : Coded
        The cells as written.
    shop : Shop
        The settings.
    aside : Aside
        Takes the rows with a cell that cannot be read.
    categorical : collection of str
        Columns of names to keep as categories.
    may_be_blank : collection of str
        Columns whose blank cells are no fault here, though they are needed.

    Returns
    -------
    rows : DataFrame
        `row`, the standard columns and the shop's own.
    notes : tuple of str
        What was found out about how the table is written.
    questions : tuple of str
        What must be stated before anything is answered: what columns of hours count, and which
        decimal mark unclear ones have.
    read_as : mapping of str to (tuple of str, tuple of str)
        By the line of `[intake]` that would state it: all that cells prove, and by what of it
        unclear ones were read.
    """
    per_hour = PER_HOUR[shop.intake.unit or "hours"]
    hours = read_hours(_of_kind("hours", coded), shop.intake, coded.stored, per_hour)
    dates = read_dates(_of_kind("date", coded), shop.intake, coded.stored)
    read = {**hours.cells, **dates.cells}
    columns: dict[str, Any] = {"row": coded.rows}
    for name in (*COLUMNS, *shop.own_columns):
        column = COLUMNS.get(name, _OWN)
        if name not in coded.codes:
            if column.always:
                columns[name] = blank_cells(name, coded.rows_read)
            continue
        codes = coded.codes[name]
        values = read[name] if name in read else _read(name, column.kind, coded, shop)
        _cell_problems(name, values, codes, aside, blank=name in may_be_blank)
        good = [None if isinstance(value, Problem) else value for value in values]
        columns[name] = (
            _categories(good, codes) if name in categorical else _array(column, good)[codes]
        )
    if "date_in" in columns and "date_out" in columns:
        columns["date_in"] = _same_day(columns["date_in"], columns["date_out"])
    questions = (*unit_questions(shop, _of_kind("hours", coded)), *hours.questions)
    read_as = {
        "decimal": (hours.proved, hours.settled),
        "date_order": (dates.proved, dates.settled),
    }
    return pd.DataFrame(columns, copy=False), hours.notes + dates.notes, questions, read_as


def _same_day(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Take the clock off the start of a stint whose end on the same day has none."""
    day = start.astype("datetime64[D]").astype(start.dtype)
    return np.where((start > end) & (day == end), day, start)


def _of_kind(kind: str, coded: Coded) -> dict[str, list[str]]:
    return {
        name: coded.texts[name]
        for name, column in COLUMNS.items()
        if column.kind == kind and name in coded.codes
    }


def _read(name: str, kind: str, coded: Coded, shop: Shop) -> list[Any]:
    """Read the texts of a column of names, roles, remarks, yes or no."""
    readers: dict[str, Callable[[str], Any]] = {
        "name": read_name,
        "role": partial(read_role, words=shop.roles),
        "yes or no": read_yes,
        "remark": read_note,
    }
    read = readers[kind]
    blank = blank_words(shop.intake)
    values = [None if plain(text).casefold() in blank else read(text) for text in coded.texts[name]]
    if name == "position":
        return _one_spelling(values, np.bincount(coded.codes[name], minlength=len(values)))
    if name == "head_type":
        return _as_in(list(shop.head_types), values)
    return values


def _one_spelling(values: list[Any], counts: np.ndarray) -> list[Any]:
    """Write names that differ only in capitals in the most frequent way: one place is one."""
    spellings: dict[str, Counter[str]] = {}
    for name, count in zip(values, counts.tolist(), strict=True):
        if isinstance(name, str):
            spellings.setdefault(name.casefold(), Counter())[name] += count
    best = {key: found.most_common(1)[0][0] for key, found in spellings.items()}
    return [best[name.casefold()] if isinstance(name, str) else name for name in values]


def _as_in(known: Sequence[str], values: list[Any]) -> list[Any]:
    """Write names as the settings do where only capitals differ and it is clear which is meant."""
    keys = Counter(name.casefold() for name in known)
    own = {name.casefold(): name for name in known if keys[name.casefold()] == 1}
    return [
        own.get(name.casefold(), name) if isinstance(name, str) and name not in known else name
        for name in values
    ]


def _categories(values: list[str | None], codes: np.ndarray) -> pd.Categorical:
    """Keep names as categories in the order of the alphabet: millions of rows group faster."""
    names = sorted({value for value in values if value is not None})
    place = {name: code for code, name in enumerate(names)} | {None: -1}
    own = np.array([place[value] for value in values], dtype=np.int32)
    return pd.Categorical.from_codes(own[codes], categories=pd.Index(names, dtype=object))


def _cell_problems(
    name: str, values: list[Any], codes: np.ndarray, aside: Aside, blank: bool
) -> None:
    column = COLUMNS.get(name, _OWN)
    bad = {i: value.sentence for i, value in enumerate(values) if isinstance(value, Problem)}
    if not (column.may_be_blank or blank):
        sentence = f"is blank; {column.write}"
        bad |= {i: sentence for i, value in enumerate(values) if value is None}
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
