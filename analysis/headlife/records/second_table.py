"""Does another table stand below the log, in the same sheet?

From cells as written and as read: below the last row that can be used there is a row of names, not
one of which is anything a log holds. Its rows are no records, and one sentence says so of all. It
never takes a row that can be read, and reads none of the other table.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd

from headlife.records.cells import quoted
from headlife.records.columns import Coded
from headlife.records.meanings import unknown_texts
from headlife.records.origins import Origins
from headlife.shop import Shop

_FEWEST_NAMES: Final = 3  # cells of a row that may name columns (own choice, as for headers)
_FEWEST_ROWS: Final = 2  # below the names
_MOST_OF_A_TITLE: Final = 2  # cells of a row above the names
_NAMED: Final = 3  # names told
# What can be read in a record, whatever else is wrong with it.
_READ: Final = ("date_in", "date_out", "date", "hours_in", "hours_out", "role")
_WORDS: Final = ("head_type", "reason", "event")


@dataclass(frozen=True)
class TableBelow:
    """A table that is not the log."""

    places: range
    """Places of its rows, its title and its names included, from 0."""
    sentence: str
    """What it is and what to do; follows a column and its value."""


def tables_below(
    coded: Coded, typed: pd.DataFrame, faulty: np.ndarray, origins: Origins, shop: Shop
) -> Iterator[TableBelow]:
    """Find the table below the log of each sheet.

    Parameters
    ----------
    coded : Coded
        The cells as written.
    typed : DataFrame
        The same rows as far as they can be read.
    faulty : array of bool
        Rows with a cell that cannot be read, (n,).
    origins : Origins
        Where rows stand.
    shop : Shop
        The settings; they know head types and reasons.

    Yields
    ------
    TableBelow
        One for each sheet that has one.
    """
    if not faulty.any():
        return
    for first, end in _sheets(coded, origins):
        sound = np.flatnonzero(~faulty[first:end])
        if not sound.size or first + sound[-1] + 1 + _FEWEST_ROWS >= end:
            continue
        below = range(first + int(sound[-1]) + 1, end)
        nothing = _nothing_read(typed.iloc[below.start : below.stop], shop)
        names = _names(coded, below, nothing)
        if names is not None:
            start = names
            while start > below.start and nothing[start - 1 - below.start]:
                if len(_filled(coded, start - 1)) > _MOST_OF_A_TITLE:
                    break
                start -= 1
            yield TableBelow(
                range(start, end), _sentence(coded, origins, start, end, _filled(coded, names))
            )


def without_words(typed: pd.DataFrame, places: range) -> pd.DataFrame:
    """Give the rows with nothing to look up in the settings at some places.

    Parameters
    ----------
    typed : DataFrame
        The rows.
    places : range
        Rows of another table.

    Returns
    -------
    DataFrame
        The rows, as they were elsewhere.
    """
    here = np.zeros(len(typed), dtype=bool)
    here[places.start : places.stop] = True
    words = {name: typed[name].mask(here, None) for name in _WORDS if name in typed}
    return typed.assign(**words)


def _sheets(coded: Coded, origins: Origins) -> list[tuple[int, int]]:
    """First place and end of every sheet."""
    n = coded.rows_read
    if origins.sheet_of is None:
        return [(0, n)]
    sheet = origins.sheet_of[coded.rows - 1]
    bounds = np.flatnonzero(np.r_[True, sheet[1:] != sheet[:-1]])
    return list(zip(bounds.tolist(), [*bounds[1:].tolist(), n], strict=True))


def _nothing_read(rows: pd.DataFrame, shop: Shop) -> np.ndarray:
    """Tell which rows hold nothing that a log holds: no day, no hours, no word it knows."""
    nothing = np.ones(len(rows), dtype=bool)
    for name in _READ:
        if name in rows:
            nothing &= rows[name].isna().to_numpy()
    for name in _WORDS:
        if name in rows:
            nothing &= rows[name].isna().to_numpy() | unknown_texts(rows, name, shop)
    return nothing


def _names(coded: Coded, below: range, nothing: np.ndarray) -> int | None:
    """Find the first row that may name columns, with rows below it."""
    for place in below[:-_FEWEST_ROWS]:
        cells = _filled(coded, place) if nothing[place - below.start] else []
        if len(cells) >= _FEWEST_NAMES and not any(c.isdigit() for cell in cells for c in cell):
            return place
    return None


def _filled(coded: Coded, place: int) -> list[str]:
    cells = (coded.text(name, place).strip() for name in coded.codes)
    return [cell for cell in cells if cell]


def _sentence(coded: Coded, origins: Origins, start: int, end: int, names: list[str]) -> str:
    first, last = (origins.name(int(coded.rows[place])) for place in (start, end - 1))
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    named = ", ".join(quoted(name) for name in names[:_NAMED])
    return (
        f"stands in another table below the log (rows {first} to {last}, its columns {named}"
        f"{more}); move that table to a sheet of its own, or, where these are records, write what "
        "the columns of the log ask for"
    )
