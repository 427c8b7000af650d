"""Read a record spread over many files, a part at a time, and keep each head's rows together.

Answers what stands in each of its `pieces`, which partition every row belongs to (all rows of one
head to the same one, by a hash of its serial or, in a log without serials, of its printer) and what
the records of one partition are. Cells are read, rows checked and heads followed by the very
functions that read one table; only checks that need rows of several heads are left out. Knows
nothing of who runs it: each function works on its own, on any machine.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from headlife.errors import RecordsError
from headlife.records.cells import as_typed, name_text
from headlife.records.columns import Coded, code, match_columns, recogniser
from headlife.records.entries import log_of
from headlife.records.intake import TextTable, open_table
from headlife.records.parquet import plain_values
from headlife.records.record_set import Records
from headlife.records.table import records_of
from headlife.records.unread import NamelessCells
from headlife.scale.pieces import Piece, parquet_file
from headlife.shop import Shop
from headlife.shop.columns import METER_COLUMNS

if TYPE_CHECKING:
    import pyarrow as pa

# The printer's meter too: only all rows of a printer together would tell what it says.
_NOT_NEEDED: Final = ("note", *METER_COLUMNS)
# Columns that may tell hours; nothing else does in a folder.
HOURS_TOLD: Final = ("hours_in", "hours_out", "hours_run")
_ROW: Final = "row"
_FILE: Final = "file"
_MISFIT: Final = "misfit"
_MANY_TEXTS: Final = 1_000  # distinct texts from which a dictionary is not worth sending along


@dataclass(frozen=True)
class PieceFacts:
    """What is known of a piece after reading it, without its rows."""

    file: int
    """Place of the file among all [-]."""
    rows: int
    """Rows read [rows]."""
    last_row: int
    """Row number of the last row, as a spreadsheet shows it."""
    sha256: str
    """SHA-256 of the file's bytes; empty but for the first piece of a file."""
    nameless: tuple[str, ...] = ()
    """Columns that have no name and hold something, which are not read; of CSV files."""
    hours: tuple[str, ...] = HOURS_TOLD
    """Columns that tell the hours of heads."""


def read_piece(piece: Piece, shop: Shop, partitions: int) -> tuple[list[pa.Table], PieceFacts]:
    """Read one piece and deal its rows out to partitions by the serial of the head.

    Parameters
    ----------
    piece : Piece
        From `list_pieces`.
    shop : Shop
        The settings; they name columns, delimiter and encoding.
    partitions : int
        Number of partitions [-].

    Returns
    -------
    tuple of (list of pa.Table, PieceFacts)
        Its rows and what is known of it.

    Raises
    ------
    RecordsError
        The piece cannot be read, or a column is missing.
    """
    nameless: tuple[str, ...] = ()
    if piece.group is None:
        table, nameless = _read_csv(piece, shop)
    else:
        table = _read_group(piece, shop)
    rows = table.column(_ROW).to_numpy()
    facts = PieceFacts(
        file=piece.file,
        rows=len(rows),
        last_row=int(rows[-1]) if len(rows) else 1,
        sha256=_sha256(piece.path) if piece.rows_before == 0 else "",
        nameless=nameless,
        hours=tuple(name for name in HOURS_TOLD if name in table.column_names),
    )
    # Without serials a head is known by its printer.
    name = "printer" if shop.intake.without_serials else "head"
    home = _home(table.column(name), name, partitions)
    order = np.argsort(home, kind="stable")
    bounds = np.searchsorted(home[order], np.arange(partitions + 1))
    # Taken one by one, each is a copy of its own rows; a slice would send all of them along.
    return [table.take(order[bounds[i] : bounds[i + 1]]) for i in range(partitions)], facts


def _home(names: pa.ChunkedArray, column: str, partitions: int) -> np.ndarray:
    """Partition of every row: the same for the same name, on any machine, in any run."""
    codes, texts = _codes(names, column)
    # Serials are compared as they are read: in plain characters, trimmed, with single spaces.
    plain = np.array([name_text(text) for text in texts], dtype=object)
    hashes = pd.util.hash_array(plain, categorize=False)
    return np.asarray((hashes % np.uint64(partitions)).astype(np.int64)[codes])


def _places(table: TextTable, shop: Shop) -> dict[str, int]:
    """Find the columns of a file of which each row tells the head's own hours."""
    places, _ = match_columns(table, shop)
    told = {name for name in HOURS_TOLD if name in places}
    # Beside both counters of a head the printer's meter tells nothing of it that is needed.
    by_meter = bool({*METER_COLUMNS} & set(places)) and not told >= {"hours_in", "hours_out"}
    plain = told & {"hours_out", "hours_run"} and {"date_out", "reason"} <= set(places)
    if by_meter or not plain or not shop.intake.by_stretches_and_counters:
        raise RecordsError(
            f"{table.file}: many files are read where each row is a stretch with the head's own "
            "hours (hours_in and hours_out, hours_out alone, or hours_run); other shapes and "
            "clocks ([intake] shape, sheets, hours, as_of, the printer's meter and the like) need "
            "the rows of a printer and of its heads together. Put all rows into one table and "
            "review that, or read each log alone with headlife evidence and pool the files."
        )
    if shop.intake.without_serials and "hours_out" in told and shop.intake.hours is None:
        # One table would be asked, from heads that follow one another; here nobody compares them.
        raise RecordsError(
            f"{table.file}: many files without serials are read once [intake] says whose hours "
            'these are; state hours = "head" if they are each head\'s own counter.'
        )
    return places


def _sha256(path: str) -> str:
    with open(path, "rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def _read_csv(piece: Piece, shop: Shop) -> tuple[pa.Table, tuple[str, ...]]:
    import pyarrow as pa

    table = open_table(piece.path, shop.intake, recogniser(shop))
    places = _places(table, shop)
    nameless = NamelessCells(table, places.values())
    coded = code(nameless.table, {n: p for n, p in places.items() if n not in _NOT_NEEDED}, None)
    misfit = np.full(coded.rows_read, None, dtype=object)
    for index, sentence in coded.misfits:
        misfit[index] = sentence
    columns: dict[str, Any] = {
        name: pa.DictionaryArray.from_arrays(codes.astype(np.int32), pa.array(coded.texts[name]))
        for name, codes in coded.codes.items()
    }
    if "head" in columns:
        columns["head"] = columns["head"].cast(pa.string())
    columns |= {
        _ROW: coded.rows,
        _FILE: np.full(coded.rows_read, piece.file, dtype=np.int32),
        _MISFIT: pa.array(misfit, pa.string()),
    }
    return pa.table(columns), tuple(nameless.columns())


def _read_group(piece: Piece, shop: Shop) -> pa.Table:
    import pyarrow as pa

    path = Path(piece.path)
    source = parquet_file(path)
    header = tuple(source.schema_arrow.names)
    places = _places(TextTable(path.name, "", header, iter(())), shop)
    wanted = {name: header[place] for name, place in places.items() if name not in _NOT_NEEDED}
    try:
        group = source.read_row_group(piece.group, columns=list(wanted.values()))
    except (pa.ArrowException, OSError) as problem:
        raise RecordsError(
            f"{path.name}: row group {piece.group} cannot be read ({problem}); write it again."
        ) from None
    columns: dict[str, Any] = {
        name: _plain(group.column(own), path.name, own) for name, own in wanted.items()
    }
    # A spreadsheet would show the header as row 1.
    columns[_ROW] = np.arange(group.num_rows, dtype=np.int64) + piece.rows_before + 2
    columns[_FILE] = np.full(group.num_rows, piece.file, dtype=np.int32)
    columns[_MISFIT] = pa.nulls(group.num_rows, pa.string())
    return pa.table(columns)


def _plain(column: pa.ChunkedArray, file: str, name: str) -> pa.ChunkedArray:
    """Give a column as text, numbers or times; anything else is no cell of a table."""
    import pyarrow as pa

    kind = column.type
    if pa.types.is_dictionary(kind):
        few = max((len(chunk.dictionary) for chunk in column.chunks), default=0) < _MANY_TEXTS
        return column if few else column.cast(kind.value_type)
    if pa.types.is_string(kind) or pa.types.is_timestamp(kind) or pa.types.is_boolean(kind):
        return column
    if pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_date(kind):
        return column
    if pa.types.is_large_string(kind) or pa.types.is_null(kind) or pa.types.is_decimal(kind):
        return column.cast(pa.string())
    raise RecordsError(
        f"{file}: the column '{name}' holds {kind} values; write text, numbers or dates."
    )


def _codes(column: pa.ChunkedArray, name: str) -> tuple[np.ndarray, list[str]]:
    """Codes into the distinct cells of a column, and these as they would be written."""
    import pyarrow as pa

    if pa.types.is_dictionary(column.type):
        column = column.cast(column.type.value_type)
    encoded = column.combine_chunks().dictionary_encode(null_encoding="encode")
    values = plain_values("A Parquet file", name, encoded.dictionary)
    if pa.types.is_string(encoded.dictionary.type):
        texts = ["" if value is None else value for value in values]
    else:
        texts = [as_typed(value) for value in values]
    codes = np.asarray(encoded.indices.to_numpy(zero_copy_only=False), dtype=np.int64)
    return codes, texts


def number_rows(facts: Sequence[PieceFacts]) -> np.ndarray:
    """Rows of all files that stand before each file, so that rows can be numbered through.

    Parameters
    ----------
    facts : sequence of PieceFacts
        What is known of every file, in order.

    Returns
    -------
    array
        Rows before each file, (files,).
    """
    last: np.ndarray = np.ones(max(fact.file for fact in facts) + 1, dtype=np.int64)
    for fact in facts:
        last[fact.file] = max(last[fact.file], fact.last_row)
    return np.concatenate([[0], np.cumsum(last)])


def partition_records(
    tables: Sequence[pa.Table],
    rows_before: np.ndarray,
    shop: Shop,
    source: str,
    newest: np.datetime64 | None = None,
) -> Records | None:
    """Make the records of one partition from its rows of every piece.

    Parameters
    ----------
    tables : sequence of pyarrow.Table
        From `read_piece`, one for each piece, in the order of the pieces.
    rows_before : array of int
        From `number_rows`; row numbers then run through all files.
    shop : Shop
        The settings.
    source : str
        What to call the whole record in messages.
    newest : datetime64, optional
        The last day of all partitions that is no slip of the year; rows after it are set aside.

    Returns
    -------
    Records or None
        None when no row falls into this partition.

    Raises
    ------
    RecordsError
        As for `read_records`.
    """
    coded = _joined(tables, rows_before)
    if coded is None:
        return None
    log = log_of(coded, shop)
    return records_of(log, shop, source, "", within_heads=True, newest=newest)


def _joined(tables: Sequence[pa.Table], rows_before: np.ndarray) -> Coded | None:
    """Put the rows of all pieces under one another, blank rows left out."""
    filled = [table for table in tables if table.num_rows]
    if not filled:
        return None
    names = list(dict.fromkeys(name for table in filled for name in table.column_names))
    stacked = {name: _stacked([_column(t, name) for t in filled], name) for name in names}
    rows = stacked.pop(_ROW).to_numpy() + rows_before[stacked.pop(_FILE).to_numpy()]
    misfit = stacked.pop(_MISFIT)
    pairs = {name: _codes(column, name) for name, column in stacked.items()}
    written = np.zeros(len(rows), dtype=bool)
    for codes, texts in pairs.values():
        if written.all():
            break
        written |= np.array([bool(text.strip()) for text in texts])[codes]
    new_place = np.cumsum(written) - 1
    if not written.any():
        return None
    return Coded(
        rows[written],
        {name: codes[written] for name, (codes, _) in pairs.items()},
        {name: texts for name, (_, texts) in pairs.items()},
        [
            (int(new_place[i]), str(sentence))
            for i, sentence in enumerate(
                misfit.to_pylist() if misfit.null_count < len(rows) else ()
            )
            if sentence is not None
        ],
        stored=True,  # no file proves how the cells of another were typed
    )


def _column(table: pa.Table, name: str) -> pa.ChunkedArray:
    """Give a column of a piece; one that this file lacks is blank."""
    import pyarrow as pa

    if name in table.column_names:
        return table.column(name)
    return pa.chunked_array([pa.nulls(table.num_rows, pa.string())])


def _stacked(parts: Sequence[pa.ChunkedArray], name: str) -> pa.ChunkedArray:
    """Put columns under one another; where the files' types differ, as text."""
    import pyarrow as pa

    plain = [p.cast(p.type.value_type) if pa.types.is_dictionary(p.type) else p for p in parts]
    if len({part.type for part in plain}) > 1:
        plain = [_as_text(part, name) for part in plain]
    return pa.chunked_array([chunk for part in plain for chunk in part.chunks], plain[0].type)


def _as_text(column: pa.ChunkedArray, name: str) -> pa.ChunkedArray:
    import pyarrow as pa

    codes, texts = _codes(column, name)
    return pa.chunked_array(
        [pa.DictionaryArray.from_arrays(codes, pa.array(texts, pa.string())).cast(pa.string())]
    )
