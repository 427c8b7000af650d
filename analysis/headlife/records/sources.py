"""Which sheets and files hold the log, and what stands in a single cell of them?

Answers from the path given and the settings' `[intake]`: one table, several sheets, further
files beside it. It opens them and interprets nothing.
"""

from __future__ import annotations

import hashlib
import unicodedata
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from headlife.alike import nearest
from headlife.errors import RecordsError
from headlife.records.cells import named, quoted
from headlife.records.columns import recogniser
from headlife.records.folders import log_files
from headlife.records.intake import TextTable, is_workbook, open_table, plain_rows
from headlife.shop import Intake, Shop

_ENOUGH_NAMES: Final = 2
_FILES_NAMED: Final = 4  # each by its name in one sentence


def open_tables(path: str | Path, shop: Shop) -> list[TextTable]:
    """Open the tables of a log.

    Parameters
    ----------
    path : str or Path
        Its table, or the first of them.
    shop : Shop
        The settings: `[intake] sheets` and `more_files`.

    Returns
    -------
    list of TextTable
        In order; their rows are still to be read.

    Raises
    ------
    RecordsError
        A file or sheet is missing, is no table, or does not look like one of the log.
    """
    files = files_of(path, shop.intake)
    twice = [file.name for file in files if [f.resolve() for f in files].count(file.resolve()) > 1]
    if twice:
        raise RecordsError(
            f"{twice[0]} is read twice; name each file of the log once, on the command line or in "
            "[intake] more_files."
        )
    return [table for file in files for table in _tables(file, shop)]


def files_of(path: str | Path, intake: Intake) -> list[Path]:
    """List the files of a log.

    Parameters
    ----------
    path : str or Path
        Its table, the first of them, or a folder of them.
    intake : Intake
        Its settings name others.

    Returns
    -------
    list of Path
        In order. A name whose accents the disk writes in another way is the file of that name.
    """
    first = Path(path)
    more = [_on_disk(beside(first) / name) for name in intake.more_files]
    if not first.is_dir():
        return [first, *more]
    readings = intake.readings.file if intake.readings else None
    inside = [file for file in log_files(first) if file.name != readings]
    return [*inside, *(file for file in more if file not in inside)]


def beside(log: Path) -> Path:
    """Give the folder in which further files of a log are named.

    Parameters
    ----------
    log : Path
        Its table, or a folder of them.

    Returns
    -------
    Path
        The folder.
    """
    return log if log.is_dir() else log.parent


def _on_disk(path: Path) -> Path:
    if path.name.isascii() or path.exists():
        return path
    try:
        alike = [one for one in path.parent.iterdir() if _composed(one) == _composed(path)]
    except OSError:
        return path
    return alike[0] if len(alike) == 1 else path


def _composed(path: Path) -> str:
    return unicodedata.normalize("NFC", path.name)


def _tables(path: Path, shop: Shop) -> list[TextTable]:
    intake, recognise = shop.intake, recogniser(shop)
    if intake.sheets is None or not is_workbook(path):
        return [open_table(path, intake, recognise)]
    opened = []
    for sheet in _sheets(path, intake):
        of_sheet = intake.model_copy(update={"sheet": sheet})
        table = replace(open_table(path, of_sheet, recognise), sheet=sheet)
        if recognise(table.header) < _ENOUGH_NAMES:
            raise RecordsError(
                f"{table.label}: no row of it names the log's columns, unlike the other sheets; "
                'give it the same header, or name the sheets of the log, [intake] sheets = ["..."].'
            )
        opened.append(table)
    return opened


def _sheets(path: Path, intake: Intake) -> list[str]:
    from headlife.records.workbook import sheet_names

    if intake.sheets != "all":
        wanted, there = list(intake.sheets or ()), sheet_names(path, hidden=True)
        for name in wanted:
            if name not in there:
                raise RecordsError(
                    f"{path.name}: there is no sheet {quoted(name)}{nearest(name, there)}; "
                    f"correct [intake] sheets, the sheets are {named(there)}."
                )
        return wanted
    elsewhere = {intake.readings.sheet if intake.readings else None}
    elsewhere.add(intake.as_of_cell[0] if intake.as_of_cell else None)
    return [name for name in sheet_names(path) if name not in elsewhere]


def source_name(tables: Sequence[TextTable]) -> str:
    """Name the files of a log.

    Parameters
    ----------
    tables : sequence of TextTable
        Tables of the log.

    Returns
    -------
    str
        The words.
    """
    files = list(dict.fromkeys(table.file for table in tables))
    if len(files) > _FILES_NAMED:
        return f"{len(files):,} files, {files[0]} to {files[-1]}"
    return files[0] if len(files) == 1 else f"{', '.join(files[:-1])} and {files[-1]}"


def source_hash(tables: Sequence[TextTable]) -> str:
    """SHA-256 of the file's bytes; of several, of their hashes one after the other.

    Parameters
    ----------
    tables : sequence of TextTable
        Tables of the log.

    Returns
    -------
    str
        The hash, in hexadecimal.
    """
    hashes = list(dict.fromkeys(table.sha256 for table in tables))
    return hashes[0] if len(hashes) == 1 else hashlib.sha256("".join(hashes).encode()).hexdigest()


def cell_text(path: str | Path, intake: Intake, sheet: str | None, row: int, column: int) -> str:
    """Give what stands in one cell.

    Parameters
    ----------
    path : str or Path
        The file.
    intake : Intake
        The settings.
    sheet : str or None
        Its sheet; None for the one the records are in.
    row, column : int
        From 1.

    Returns
    -------
    str
        The text.

    Raises
    ------
    RecordsError
        The cell is blank or does not exist.
    """
    path = Path(path)
    wanted = intake.model_copy(update={"sheet": sheet or intake.sheet})
    for number, cells in plain_rows(path, wanted, lambda cells: 0):
        if number == row and column <= len(cells) and cells[column - 1].strip():
            return cells[column - 1]
        if number > row:
            break
    where = f"sheet '{sheet}', " if sheet else ""
    raise RecordsError(
        f"{path.name}, {where}row {row}, column {column}: the cell is blank, and [intake] as_of "
        "says that it holds the day; write the day there, or correct that line."
    )
