"""From the sheets and files of a log to one list of entries under standard names.

Answers, from the tables as opened and the settings' `[intake]`, what the entries are: rows of
one or several sheets and files, or groups of columns of a row; with what a sheet's name says,
and which rows are left out and why. It never interprets a cell and never loses a row.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
import pandas as pd

from headlife.alike import nearest
from headlife.errors import RecordsError
from headlife.progress import Progress
from headlife.records.cells import quoted
from headlife.records.columns import Coded, code, column_key, match_columns, too_many_cells
from headlife.records.header import Row
from headlife.records.intake import TextTable
from headlife.records.no_records import no_records
from headlife.records.origins import Origins, Sheet
from headlife.records.unread import NamelessCells, said_of_nameless
from headlife.shop import REQUIRED_COLUMNS, STANDARD_COLUMNS, Shop, reason_key
from headlife.shop.columns import EVENT_COLUMNS, METER_COLUMNS

# Columns that every sheet of a log has where one has them: blank there and here means the same.
_EVERYWHERE: Final = frozenset({*REQUIRED_COLUMNS, *EVENT_COLUMNS, *METER_COLUMNS, "hours_run"})


@dataclass(frozen=True)
class Entries:
    """The entries of a log as they are written, and where they stand."""

    coded: Coded
    """Cells of the entries that are records."""
    origins: Origins
    """Where entries stand."""
    left_out: pd.DataFrame = field(default_factory=lambda: _left_out([], []))
    """Entries that are no records: `row, why`."""
    unused: tuple[str, ...] = ()
    """Columns that are not read."""
    notes: tuple[str, ...] = ()
    """Sentences about columns without a name."""

    @property
    def rows_read(self) -> int:
        """Entries that are not blank, records or not."""
        return self.coded.rows_read + len(self.left_out)


def _left_out(rows: Sequence[int], why: Sequence[str]) -> pd.DataFrame:
    return pd.DataFrame({"row": np.array(rows, dtype=np.int64), "why": np.array(why, dtype=object)})


def entries_of(
    tables: Sequence[TextTable], shop: Shop, progress: Progress | None = None
) -> Entries:
    """Take in the entries of a log.

    Parameters
    ----------
    tables : sequence of TextTable
        Its sheets and files, in order; their rows are read once.
    shop : Shop
        The settings.
    progress : callable, optional
        Called with (step, done, total).

    Returns
    -------
    Entries
        The entries.

    Raises
    ------
    RecordsError
        A column is missing or stands twice in one of them, or there are too many rows.
    """
    if len(tables) == 1 and shop.intake.plain:
        places, unused = match_columns(tables[0], shop)
        nameless = NamelessCells(tables[0], places.values())
        coded = code(nameless.table, places, progress)
        found = [(tables[0].label, nameless.columns())]
        origins = Origins((Sheet(tables[0].file, places=places),))
        why: dict[int, str] = {}
    else:
        coded, origins, why, unused, found = _numbered(tables, shop, progress)
    unused += [column for _, columns in found for column in columns]
    header = tables[0].header
    names = {name: header[place] for name, place in origins.sheets[0].places.items()}
    why = dict(sorted((no_records(coded, names) | why).items()))
    left_out = _left_out(coded.rows[list(why)].tolist(), list(why.values()))
    if why:
        coded = coded.without(list(why))
    coded = _always(_filled_down(coded, origins, shop), shop)
    unused = list(dict.fromkeys(unused))
    return Entries(coded, origins, left_out, tuple(unused), said_of_nameless(found))


def log_of(coded: Coded, shop: Shop) -> Entries:
    """Take rows of a large log, of which each is a stretch or no record, as its entries.

    Parameters
    ----------
    coded : Coded
        The rows, coded.
    shop : Shop
        The settings.

    Returns
    -------
    Entries
        The entries.
    """
    why = dict(sorted(no_records(coded, {}).items()))
    left_out = _left_out(coded.rows[list(why)].tolist(), list(why.values()))
    kept = coded.without(list(why)) if why else coded
    return Entries(_always(kept, shop), Origins(()), left_out)


def _numbered(
    tables: Sequence[TextTable], shop: Shop, progress: Progress | None
) -> tuple[Coded, Origins, dict[int, str], list[str], list[tuple[str, list[str]]]]:
    """Take in entries of several sheets, files or groups, or of rows that are chosen."""
    groups: tuple[str, ...] = tuple(shop.intake.groups) or ("",)
    found = {
        (t, group): match_columns(table, shop, group or None)
        for t, table in enumerate(tables)
        for group in groups
    }
    _alike(tables, {key: places for key, (places, _) in found.items()})
    sheets = tuple(
        Sheet(tables[t].file, tables[t].sheet, group, places, tables[t].turned)
        for (t, group), (places, _) in found.items()
    )
    order = (*STANDARD_COLUMNS, *EVENT_COLUMNS, *shop.own_columns)
    named = {name for sheet in sheets for name in _said(sheet, shop)}
    names = tuple(name for name in order if name in named)
    numbers = _Numbers(one_table=len(sheets) == 1 and not tables[0].turned)
    nameless = [
        NamelessCells(table, [place for group in groups for place in found[t, group][0].values()])
        for t, table in enumerate(tables)
    ]
    rows = _rows([one.table for one in nameless], sheets, names, numbers, shop)
    stored = any(table.stored for table in tables)
    whole = TextTable(tables[0].file, tables[0].sha256, names, rows, stored)
    coded = code(whole, {name: place for place, name in enumerate(names)}, progress)
    only = {column_key(name) for name in shop.intake.only}
    unused = [
        name
        for t, table in enumerate(tables)
        for name in table.header
        if all(name in found[t, group][1] for group in groups) and column_key(name) not in only
    ]
    found_beside = [
        (table.label, one.columns()) for table, one in zip(tables, nameless, strict=True)
    ]
    coded = replace(coded, misfits=numbers.misfits)
    return coded, numbers.origins(sheets), numbers.left_out, unused, found_beside


def _alike(tables: Sequence[TextTable], found: dict[tuple[int, str], dict[str, int]]) -> None:
    """Refuse a sheet that lacks a column which the log's other sheets have."""
    for (t, group), places in found.items():
        for (other, same), others in found.items():
            lacks = [name for name in others if name in _EVERYWHERE and name not in places]
            if group == same and lacks:
                raise RecordsError(
                    f"{tables[t].label}: the column '{lacks[0]}' is missing, which "
                    f"{tables[other].label} has; give both the same columns, or leave a sheet out "
                    "by [intake] sheets."
                )


def _rows(
    tables: Sequence[TextTable],
    sheets: Sequence[Sheet],
    names: Sequence[str],
    numbers: _Numbers,
    shop: Shop,
) -> Iterator[Row]:
    """Give every entry's cells under the names; tells `numbers` what else is to be said of it."""
    per_table = len(sheets) // len(tables)
    for t, table in enumerate(tables):
        mine = range(t * per_table, (t + 1) * per_table)
        why_not = _choice(table, shop)
        width = len(table.header)
        for number, cells in table.rows:
            padded = cells + [""] * (width - len(cells))
            # A group without a cell of its own says that no head is in that position.
            held = [s for s in mine if _has_own(padded, sheets[s], shop)] or [mine[0]]
            for s in held:
                if any(cell.strip() for cell in cells[width:]):
                    numbers.misfits.append((numbers.count, too_many_cells(len(cells), width)))
                yield (
                    numbers.next(s, number, why_not(padded)),
                    _cells(padded, sheets[s], names, shop),
                )


class _Numbers:
    """Counts entries through, and keeps where each stands and what is to be said of it."""

    def __init__(self, one_table: bool) -> None:
        self.count = 0
        self.left_out: dict[int, str] = {}
        self.misfits: list[tuple[int, str]] = []
        self._one_table = one_table
        self._sheet, self._row = array("q"), array("q")

    def next(self, sheet: int, row: int, why_not: str) -> int:
        """Give an entry its number: that of its row where there is one table."""
        if why_not:
            self.left_out[self.count] = why_not
        self.count += 1
        self._sheet.append(sheet)
        self._row.append(row)
        return row if self._one_table else self.count

    def origins(self, sheets: tuple[Sheet, ...]) -> Origins:
        """Say where the entries stand."""
        if self._one_table:
            return Origins(sheets)
        return Origins(sheets, np.array(self._sheet), np.array(self._row))


def _said(sheet: Sheet, shop: Shop) -> dict[str, str]:
    """Give what is known of an entry without a cell of its own; columns of the table are blank."""
    said = dict.fromkeys(sheet.places, "")
    if sheet.group and "position" not in said:
        said["position"] = sheet.group
    if shop.intake.sheet_is and shop.intake.sheet_is not in said:
        said[shop.intake.sheet_is] = sheet.sheet
    return said


def _cells(cells: Sequence[str], sheet: Sheet, names: Sequence[str], shop: Shop) -> list[str]:
    said = _said(sheet, shop)
    return [
        cells[sheet.places[name]] if name in sheet.places else said.get(name, "") for name in names
    ]


def _has_own(cells: Sequence[str], sheet: Sheet, shop: Shop) -> bool:
    """Tell whether an entry of a group has a cell in one of the group's own columns."""
    own = shop.intake.groups.get(sheet.group, {})
    return not own or any(cells[sheet.places[name]].strip() for name in own)


class _choice:  # noqa: N801  (called like a function)
    """Says why a row of a table is not one of those that `[intake] only` chooses."""

    def __init__(self, table: TextTable, shop: Shop) -> None:
        keys = [column_key(name) for name in table.header]
        self._wanted: list[tuple[str, int, frozenset[str]]] = []
        for name, words in shop.intake.only.items():
            if column_key(name) not in keys:
                raise RecordsError(
                    f"{table.label}: there is no column '{name}'"
                    f"{nearest(name, list(table.header))}, by which [intake] only chooses rows; "
                    "correct that line."
                )
            place = keys.index(column_key(name))
            self._wanted.append((name, place, frozenset(reason_key(word) for word in words)))

    def __call__(self, cells: Sequence[str]) -> str:
        for name, place, words in self._wanted:
            if reason_key(cells[place]) not in words:
                return f"{name} is {quoted(cells[place].strip())}, which [intake] only leaves out"
        return ""


def _filled_down(coded: Coded, origins: Origins, shop: Shop) -> Coded:
    """Repeat what stands above in blank cells of the columns named, within a sheet."""
    codes = dict(coded.codes)
    for name in shop.intake.fill_down:
        if name not in codes or not coded.rows_read:
            continue
        blank = _blank(coded, name)
        last = np.maximum.accumulate(np.where(blank, -1, np.arange(coded.rows_read)))
        sheet_of = origins.sheet_of
        sheet = np.zeros(len(blank)) if sheet_of is None else sheet_of[coded.rows - 1]
        known = (last >= 0) & (sheet[np.maximum(last, 0)] == sheet)
        codes[name] = np.where(known, codes[name][last], codes[name])
    return replace(coded, codes=codes)


def _blank(coded: Coded, name: str) -> np.ndarray:
    """Tell which entries have a blank cell in a column."""
    texts = np.array([not text.strip() for text in coded.texts[name]], dtype=bool)
    return np.asarray(texts[coded.codes[name]])


def _always(coded: Coded, shop: Shop) -> Coded:
    """Write what the settings say of every entry where its cell is blank or missing."""
    always = dict(shop.intake.always)
    if "head_type" not in coded.codes and len(shop.head_types) == 1:
        always.setdefault("head_type", next(iter(shop.head_types)))
    if not always:
        return coded
    codes, texts = dict(coded.codes), dict(coded.texts)
    for name, value in always.items():
        if name in codes:
            texts[name] = [text if text.strip() else value for text in texts[name]]
        else:
            codes[name], texts[name] = np.zeros(coded.rows_read, dtype=np.int64), [value]
    return replace(coded, codes=codes, texts=texts)
