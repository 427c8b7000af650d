"""How is a long name shortened so that a figure keeps its room? In its middle.

From names as people wrote them, in any script; gives names.
"""

from __future__ import annotations

import unicodedata
from typing import Final

import numpy as np

_LABEL: Final = 24  # characters of a name beside an axis


def as_label(name: object) -> str:
    """Shorten a name beside an axis, so that it leaves room for what is drawn.

    Parameters
    ----------
    name : object
        As it was written.

    Returns
    -------
    str
        The name, or its two ends and an ellipsis between.
    """
    return shortened(str(name), _LABEL)


def shortened(text: str, most: int) -> str:
    """Shorten a name in its middle: what tells one from another mostly stands at its end.

    Parameters
    ----------
    text : str
        The name.
    most : int
        Widths of a letter that it may take; a character of East Asian scripts takes two.

    Returns
    -------
    str
        The name, or its beginning, an ellipsis and its end.
    """
    wide = _widths(text)
    if sum(wide) <= most:
        return text
    begun, ended = most // 3, most - most // 3 - 1
    first = int(np.searchsorted(np.cumsum(wide), begun, side="right"))
    last = int(np.searchsorted(np.cumsum(wide[::-1]), ended, side="right"))
    return f"{text[:first].rstrip()}\N{HORIZONTAL ELLIPSIS}{text[len(text) - last :].lstrip()}"


def _widths(text: str) -> list[int]:
    return [1 + (unicodedata.east_asian_width(one) in "WF") for one in text]


def width(text: str) -> int:
    """Measure a text in widths of a letter.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    int
        How many it takes; a character of East Asian scripts takes two.
    """
    return sum(_widths(text))
