"""How does a text look in plain characters, whatever keyboard it was typed on?

Trims it, brings full-width and other compatible characters to their plain form (Unicode NFKC),
digits of any script to 0 to 9, and every kind of dash and apostrophe to one. Records and settings
are compared so. It never decides what a text means.
"""

from __future__ import annotations

import unicodedata
from typing import Final

# Hyphens, dashes and minus signs of Unicode (category Pd, and U+2212), and apostrophes.
_DASHES: Final = "\u2010\u2011\u2012\u2013\u2014\u2015\u2043\u2212\ufe58\ufe63\uff0d\u058a\u30a0"
_LONGEST: Final = 500  # characters
_APOSTROPHES: Final = "\u2019\u2018\u02bc\u00b4`\u2032"
_ALIKE: Final = str.maketrans(
    {**dict.fromkeys(_DASHES, "-"), **dict.fromkeys(_APOSTROPHES, "'"), "\ufeff": " "}
)


def clean(text: str) -> str:
    """Trim a cell, no-break spaces and byte-order marks included; single spaces within.

    Parameters
    ----------
    text : str
        As it was written.

    Returns
    -------
    str
        The text, trimmed.
    """
    # Nearly every cell is clean, and a large table has millions.
    if text.isascii() and text.isprintable() and "  " not in text and text.strip() == text:
        return text
    return " ".join(text.replace("\ufeff", " ").split())


def plain(text: str) -> str:
    """Write a cell in plain characters: one width, one kind of digit, dash and apostrophe.

    What is longer than any name, date or number is only trimmed, so that no cell costs much time.

    Parameters
    ----------
    text : str
        As it was written.

    Returns
    -------
    str
        The text in plain characters.
    """
    if text.isascii() or len(text) > _LONGEST:
        return clean(text).replace("`", "'")
    alike = unicodedata.normalize("NFKC", text.translate(_ALIKE))
    return clean("".join(map(_digit, alike)))


def _digit(character: str) -> str:
    if character.isascii():
        return character
    value = unicodedata.decimal(character, -1)
    return character if value < 0 else str(value)
