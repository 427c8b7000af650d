"""Which files did a person put into a folder, and which did a system or a program leave there?

From the folder's names. Opens no file, and goes into no folder below.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from headlife.errors import RecordsError

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
