"""Which pieces is a record spread over many files made of, each to be read at one go?

From Parquet and CSV files and folders of them. A folder that holds rows in a form not read here is
refused, since they would be lost without a word. Reads no row.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from headlife.alike import missing_file
from headlife.errors import RecordsError
from headlife.records.folders import in_folder

PARQUET: Final = (".parquet", ".pq")
CSV: Final = (".csv", ".tsv", ".txt")
# May hold rows too, and is not read here: left in a folder it would be lost without a word.
_OTHER_TABLES: Final = (
    *(".xlsx", ".xlsm", ".xls", ".ods", ".numbers", ".feather", ".arrow", ".orc", ".json"),
    *(".gz", ".bz2", ".xz", ".zst", ".zip", ".7z", ".tar"),
)
# What headlife itself writes beside a log.
_OWN: Final = (".check.csv", ".check.xlsx", ".evidence.json", ".actions.csv")
_NAMED: Final = 3  # files named in one sentence before "and more"
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


def _files(path: Path) -> list[Path]:
    if path.is_dir():
        return _files_in(path)
    if not path.exists():
        raise RecordsError(f"The file '{path}' does not exist{missing_file(path)}.")
    if path.suffix.lower() not in PARQUET + CSV:
        raise RecordsError(
            f"{path.name}: many files are read as Parquet or CSV only; save this one as either."
        )
    return [path]


def _files_in(folder: Path) -> list[Path]:
    """List the files of a folder; one that holds rows in a form not read here is named."""
    found = [one for one in in_folder(folder) if not one.name.lower().endswith(_OWN)]
    inside = [one for one in found if one.suffix.lower() in PARQUET + CSV and not one.is_dir()]
    left = [one.name for one in found if one.is_dir() and _holds_tables(one)]
    left += [one.name for one in found if one.suffix.lower() in _OTHER_TABLES and one.is_file()]
    if left:
        more = f" and {len(left) - _NAMED} more" if len(left) > _NAMED else ""
        raise RecordsError(
            f"The folder {folder} holds {', '.join(left[:_NAMED])}{more} as well, whose rows would "
            "be left out: of a folder only its own Parquet and CSV files are read. Save them as "
            "CSV or Parquet in the folder, or move them elsewhere."
        )
    if not inside:
        raise RecordsError(f"The folder {folder} holds no Parquet or CSV file.")
    return inside


def _holds_tables(folder: Path) -> bool:
    kinds = PARQUET + CSV + _OTHER_TABLES
    return any(
        # A link may lead back to where we are.
        _holds_tables(one) if one.is_dir() and not one.is_symlink() else one.suffix.lower() in kinds
        for one in in_folder(folder)
    )


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
