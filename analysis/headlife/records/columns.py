"""Find the shop's columns and take their cells in, each column as codes into distinct texts.

Answers which column of the file is which standard column, from the header and the settings'
`[columns]`, and holds the cells as written. It never interprets a cell; a column that is missing
or stands twice is named, with the columns found.
"""

from __future__ import annotations

from array import array
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from headlife.errors import RecordsError
from headlife.plain_text import plain
from headlife.progress import Progress
from headlife.records.cells import quoted
from headlife.records.intake import TextTable
from headlife.settings_errors import nearest
from headlife.shop import REQUIRED_COLUMNS, STANDARD_COLUMNS, Shop

# Holds the memory of one table to some 10 GB; a table of a million rows takes about 1 GB.
MOST_ROWS: Final = 10_000_000
_ROWS_PER_STEP: Final = 50_000  # between two reports of progress


def column_key(name: str) -> str:
    """Return a column name as it is compared: plain, lower case, spaces as underscores."""
    return "_".join(plain(name).replace("_", " ").split()).casefold()


def recognised(cells: Sequence[str], shop: Shop) -> int:
    """Count how many cells of a row are names of standard columns or of the shop's own."""
    names = (*STANDARD_COLUMNS, *shop.columns.values(), *shop.own_columns.values())
    known = {column_key(name) for name in names}
    return len(known & {column_key(cell) for cell in cells})


def match_columns(table: TextTable, shop: Shop) -> tuple[dict[str, int], list[str]]:
    """Find the place of every column to read; (name -> place, names not used)."""
    keys = [column_key(name) for name in table.header]
    places: dict[str, int] = {}
    missing: list[str] = []
    mapped = shop.columns | shop.own_columns
    for name in (*STANDARD_COLUMNS, *shop.own_columns):
        wanted = mapped.get(name, name)
        hits = [i for i, key in enumerate(keys) if key == column_key(wanted)]
        if len(hits) > 1:
            raise RecordsError(
                f"{table.file}: the column '{wanted}' stands {len(hits)} times in the header; "
                "rename all but the one that counts."
            )
        if hits:
            places[name] = hits[0]
        elif name in REQUIRED_COLUMNS or name in mapped:
            missing.append(_missing(name, wanted, table.header, shop))
    if missing:
        found = ", ".join(quoted(name) for name in table.header if name) or "none"
        raise RecordsError(f"{table.file}: {'; '.join(missing)}. The columns found are {found}.")
    used = set(places.values())
    return places, [name for i, name in enumerate(table.header) if name and i not in used]


def _missing(name: str, wanted: str, header: Sequence[str], shop: Shop) -> str:
    guess = nearest(wanted, list(header))
    if name in shop.columns or name in shop.own_columns:
        table = "[columns]" if name in shop.columns else "[own_columns]"
        return (
            f"the column '{wanted}'{guess}, which the settings name for {name}, is missing; "
            f"correct {table} {name}"
        )
    return (
        f"the column '{wanted}'{guess} is missing; add it, or name the shop's own column in the "
        f'settings, [columns] {name} = "..."'
    )


@dataclass(frozen=True)
class Coded:
    """The table with each column as codes into its distinct texts."""

    rows: np.ndarray
    codes: dict[str, np.ndarray]
    texts: dict[str, list[str]]
    misfits: list[tuple[int, str]]
    """(index, sentence) of rows with more cells than the header."""
    stored: bool = False
    """True when the file stores numbers and dates as such; see `TextTable`."""

    @property
    def rows_read(self) -> int:
        """Rows that are not blank."""
        return len(self.rows)

    def text(self, column: str, index: int) -> str:
        """Give a cell as written."""
        return self.texts[column][int(self.codes[column][index])]


def code(
    table: TextTable,
    places: dict[str, int],
    progress: Progress | None,
) -> Coded:
    """Take in every row of a table; reports progress while it reads."""
    width = len(table.header)
    index_of: dict[str, dict[str, int]] = {name: {} for name in places}
    codes = {name: array("i") for name in places}
    columns = [(place, index_of[name], codes[name]) for name, place in places.items()]
    rows = array("q")
    misfits: list[tuple[int, str]] = []
    for number, cells in table.rows:
        if len(cells) != width:
            if any(cell.strip() for cell in cells[width:]):
                misfits.append(
                    (
                        len(rows),
                        f"and its row have {len(cells)} cells where the header has {width}; look "
                        "for a delimiter inside a cell and put that cell in quotation marks",
                    )
                )
            cells = cells + [""] * (width - len(cells))
        if len(rows) >= MOST_ROWS:
            raise RecordsError(
                f"{table.file}: the table has more than {MOST_ROWS:,} rows; split it, and pool "
                "the evidence of the parts."
            )
        rows.append(number)
        for place, known, into in columns:
            text = cells[place]
            into.append(known.setdefault(text, len(known)))
        if progress is not None and len(rows) % _ROWS_PER_STEP == 0:
            progress("reading rows", len(rows), 0)
    return Coded(
        np.array(rows, dtype=np.int64),
        {name: np.array(column, dtype=np.int64) for name, column in codes.items()},
        {name: list(known) for name, known in index_of.items()},
        misfits,
        table.stored,
    )
