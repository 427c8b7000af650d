"""Read a Parquet table as rows of plain text.

Answers from the stored columns, batch by batch: dates as year-month-day, numbers in full. Its
unpacked size is bounded before it is read. It never interprets what a cell means.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final

from headlife.errors import RecordsError
from headlife.records.cells import as_typed, quoted
from headlife.records.header import Row
from headlife.shop import Intake

MOST_UNPACKED_BYTES: Final = 2 * 2**30  # as the file itself declares
_MOST_COLUMNS: Final = 1_000
_ROWS_PER_BATCH: Final = 20_000


def parquet_rows(path: Path, intake: Intake) -> Iterator[Row]:
    """Read a Parquet file; its column names come first, as row 1.

    Parameters
    ----------
    path : Path
        A Parquet file with plain (not nested) columns.
    intake : Intake
        `decimal` is how numbers are written into the text.

    Yields
    ------
    (int, list of str)
        Row number, counted as in a spreadsheet (names 1, first row 2), and cells.

    Raises
    ------
    RecordsError
        When the file is damaged, too large unpacked or has nested columns.
    """
    import pyarrow as pa
    import pyarrow.parquet as pq

    number = 1
    try:
        names = _check_size(path, pq.ParquetFile(path))
        file = pq.ParquetFile(path, read_dictionary=names)
        yield number, list(names)
        for batch in file.iter_batches(batch_size=_ROWS_PER_BATCH):
            columns = [
                _texts(path.name, name, column)
                for name, column in zip(names, batch.columns, strict=True)
            ]
            for cells in zip(*columns, strict=True):
                number += 1
                yield number, list(cells)
    except (pa.ArrowException, OSError, UnicodeDecodeError) as problem:
        text = str(problem).splitlines()[0] if str(problem) else type(problem).__name__
        raise RecordsError(
            f"{path.name}: the Parquet file cannot be read ({quoted(text)}); write it again."
        ) from None


def _check_size(path: Path, file: Any) -> list[str]:
    """Refuse what is too large or nested; return the names of the columns."""
    import pyarrow as pa

    meta = file.metadata
    unpacked = sum(meta.row_group(i).total_byte_size for i in range(meta.num_row_groups))
    if unpacked > MOST_UNPACKED_BYTES or meta.num_columns > _MOST_COLUMNS:
        raise RecordsError(
            f"{path.name}: the Parquet file unpacks to {unpacked / 2**20:,.0f} MB in "
            f"{meta.num_columns:,} columns; at most {MOST_UNPACKED_BYTES / 2**20:,.0f} MB in "
            f"{_MOST_COLUMNS:,} columns can be read, split it."
        )
    for column in file.schema_arrow:
        if pa.types.is_nested(column.type):
            raise RecordsError(
                f"{path.name}, column {quoted(column.name)}: a cell holds a list or a table "
                "of its own; write plain columns."
            )
    return [str(name) for name in file.schema_arrow.names]


def _texts(file: str, name: str, column: Any) -> list[str]:
    import pyarrow as pa

    if pa.types.is_dictionary(column.type):
        # Each distinct text is written once, so that a tiny file cannot unfold into a huge one.
        known = [as_typed(value) for value in plain_values(file, name, column.dictionary)]
        try:
            return ["" if i is None else known[i] for i in column.indices.to_pylist()]
        except IndexError:
            raise RecordsError(
                f"{file}, column {quoted(name)}: it is damaged, cells point to texts that are not "
                "in it; write it again."
            ) from None
    return [as_typed(value) for value in plain_values(file, name, column)]


def plain_values(file: str, name: str, column: Any) -> list[Any]:
    """Give the cells of a Parquet column as Python has them.

    Parameters
    ----------
    file, name : str
        Names of the file and the column, for the message.
    column : pyarrow.Array
        Cells of one plain type.

    Returns
    -------
    list
        One value for each cell; None where it is blank.

    Raises
    ------
    RecordsError
        A time is in no calendar or of no known time zone, or a text is no UTF-8.
    """
    try:
        return list(column.to_pylist())
    except UnicodeDecodeError:
        wrong = "texts that are no UTF-8"
    except (OverflowError, ValueError, KeyError):
        # A time zone that nobody knows is a KeyError of the library of time zones.
        wrong = f"values of type {column.type} that are no days of any calendar"
    raise RecordsError(
        f"{file}, column {quoted(name)}: it holds {wrong}; write it again as text or plain dates."
    )
