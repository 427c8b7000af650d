"""Which files did a person put into a folder, and which of them hold the rows of a log?

From the folder's names, without what a system or a program leaves there. A folder of a log that
holds rows in a form not read from folders is refused, since they would be lost without a word.
Opens no file.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from headlife.errors import RecordsError

PARQUET: Final = (".parquet", ".pq")
CSV: Final = (".csv", ".tsv", ".txt")
# May hold rows too, and is not read from a folder: left in it, it would be lost without a word.
_OTHER_TABLES: Final = (
    *(".xlsx", ".xlsm", ".xls", ".ods", ".numbers", ".feather", ".arrow", ".orc", ".json"),
    *(".gz", ".bz2", ".xz", ".zst", ".zip", ".7z", ".tar"),
)
# What headlife itself writes beside a log.
_OWN: Final = (".check.csv", ".check.xlsx", ".evidence.json", ".actions.csv")
_NAMED: Final = 3  # files named in one sentence before "and more"
# What a spreadsheet program leaves while a workbook is open, a Mac when it copies or packs, Windows
# when it shows the folder; seen in folders of such systems.
_LEFT_THERE: Final = ("~$", ".", "__macosx", "thumbs.db", "ehthumbs.db", "desktop.ini", "icon\r")


def in_folder(folder: Path) -> list[Path]:
    """List what a person put into a folder: files and folders, sorted by name.

    Parameters
    ----------
    folder : Path
        The folder.

    Returns
    -------
    list of Path
        Everything in it but hidden names, locks of open workbooks and what systems leave there.

    Raises
    ------
    RecordsError
        The folder cannot be looked into.
    """
    try:
        found = sorted(folder.iterdir())
    except OSError as problem:
        raise RecordsError(
            f"The folder {folder} cannot be looked into ({problem.strerror}); ask whoever may for "
            "the right to, or copy its files elsewhere."
        ) from None
    return [one for one in found if not one.name.casefold().startswith(_LEFT_THERE)]


def log_files(folder: Path) -> list[Path]:
    """List the files of a log that is a folder of them.

    Parameters
    ----------
    folder : Path
        The folder.

    Returns
    -------
    list of Path
        Its Parquet and CSV files, by name.

    Raises
    ------
    RecordsError
        It holds none, or rows in a form that is not read from a folder.
    """
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
