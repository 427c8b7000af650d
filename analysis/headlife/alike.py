"""Which known word, or which file, may be meant by one that is not known?

From what was written and what there is. It proposes and never puts one in the place of another.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from difflib import get_close_matches
from pathlib import Path
from typing import Final

_LONGEST_LIKE: Final = 200  # signs of a word that may be like another
_CLOSE: Final = 0.6  # share of matching characters from which a word is suggested


def nearest(word: str, known: Sequence[str]) -> str:
    """Return " (did you mean '...'?)" when one of the known words is close, else nothing.

    Parameters
    ----------
    word : str
        What was written.
    known : sequence of str
        What could have been meant.

    Returns
    -------
    str
        The question in brackets, after a space, or an empty text.
    """
    close = closest(word, known)
    return f" (did you mean '{close}'?)" if close else ""


def missing_file(path: Path) -> str:
    """Say of a file that is not there which one beside it may be meant; follows "does not exist".

    Parameters
    ----------
    path : Path
        As the person wrote it.

    Returns
    -------
    str
        The end of a sentence, without its point.
    """
    written = str(path)
    try:
        if os.sep == "/" and "\\" in written:
            if Path(written.replace("\\", "/")).exists():
                return "; write / in place of \\, as every computer reads it"
            return "; a path with \\ is one of Windows: write it with / and as it is named here"
        if path.is_symlink():
            return f"; it is a link, and what it leads to is not there: {os.readlink(path)}"
        beside = [one.name for one in path.parent.iterdir()]
    except OSError:
        beside = []
    return f"{nearest(path.name, beside)}; check its name and folder"


def closest(word: str, known: Sequence[str], alike: float = _CLOSE) -> str | None:
    """Return the known word that is most like a word, capitals aside, when one is close.

    Parameters
    ----------
    word : str
        What was written.
    known : sequence of str
        What could have been meant.
    alike : float, optional
        Smallest likeness [-] that counts as close, from 0 to 1.

    Returns
    -------
    str or None
        The known word; None when none is close.
    """
    if len(word) > _LONGEST_LIKE:
        return None
    folded = {name.casefold(): name for name in known}
    close = get_close_matches(word.casefold(), list(folded), n=1, cutoff=alike)
    return folded[close[0]] if close else None
