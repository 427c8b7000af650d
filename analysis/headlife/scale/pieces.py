"""Which pieces is a record spread over many files made of, each to be read at one go?

From Parquet and CSV files and folders of them. Reads no row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from headlife.alike import missing_file
from headlife.errors import RecordsError
from headlife.records.folders import CSV, PARQUET, log_files

# Rows that one process reads and answers as one table; their review takes about 20 s and 0.6 GB.
ROWS_OF_A_TABLE: Final = 400_000
_CSV_ROW_BYTES: Final = 100  # about; only the number of partitions rests on it


@dataclass(frozen=True)
class Piece:
    """A part of a file that is read at one go: a row group of a Parquet file, or a CSV file."""

    path: str
    """The file."""
    file: int
    """Place of the file among all [-]."""
    group: int | None
    """Row group of a Parquet file; None for a CSV file, which is read whole."""
    rows_before: int
    """Rows of the file that stand before this piece [rows]."""
    rows: int
    """Rows, for a CSV file an estimate from its size [rows]."""


def list_pieces(paths: Sequence[str | Path]) -> list[Piece]:
    """List the pieces of files and folders.

    Parameters
    ----------
    paths : sequence of str or Path
        Parquet and CSV files, and folders of them; files of a folder are taken by name.

    Returns
    -------
    list of Piece
        The pieces, in order.

    Raises
    ------
    RecordsError
        A file is missing or of another kind, a folder holds none, or a file is named twice.
    """
    files = [file for path in paths for file in _files(Path(path))]
    for file in files:
        if not file.is_file():
            raise RecordsError(f"{file} is a device, a pipe or no file; save it as a file first.")
    if not files:
        raise RecordsError("There are no records to read: name at least one file or folder.")
    real = [file.resolve() for file in files]
    for place, file in enumerate(real):
        if file in real[:place]:
            raise RecordsError(f"The file {files[place]} is named twice; its rows count once only.")
    return [piece for place, file in enumerate(files) for piece in _pieces_of(file, place)]


def fits_one_table(paths: Sequence[str | Path]) -> bool:
    """Tell whether a log is read and answered as one table rather than in parts.

    Parameters
    ----------
    paths : sequence of str or Path
        As for `list_pieces`.

    Returns
    -------
    bool
        True for one folder or file of few enough rows.

    Raises
    ------
    RecordsError
        As for `list_pieces`.
    """
    return len(paths) == 1 and sum(p.rows for p in list_pieces(paths)) <= ROWS_OF_A_TABLE


def _files(path: Path) -> list[Path]:
    if path.is_dir():
        return log_files(path)
    if not path.exists():
        raise RecordsError(f"The file '{path}' does not exist{missing_file(path)}.")
    if path.suffix.lower() not in PARQUET + CSV:
        raise RecordsError(
            f"{path.name}: many files are read as Parquet or CSV only; save this one as either."
        )
    return [path]


def _pieces_of(path: Path, file: int) -> list[Piece]:
    if path.suffix.lower() in CSV:
        return [Piece(str(path), file, None, 0, path.stat().st_size // _CSV_ROW_BYTES)]
    meta = parquet_file(path).metadata
    sizes = [meta.row_group(group).num_rows for group in range(meta.num_row_groups)]
    before = np.cumsum([0, *sizes])
    return [
        Piece(str(path), file, group, int(before[group]), size) for group, size in enumerate(sizes)
    ]


def parquet_file(path: Path) -> Any:
    """Open a Parquet file.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    pyarrow.parquet.ParquetFile
        The file, its rows not read yet.

    Raises
    ------
    RecordsError
        It is no sound Parquet file.
    """
    import pyarrow.parquet as pq
    from pyarrow import ArrowException

    try:
        return pq.ParquetFile(path)
    except (ArrowException, OSError) as problem:
        raise RecordsError(
            f"{path.name}: this is not a sound Parquet file ({problem}); write it again."
        ) from None
