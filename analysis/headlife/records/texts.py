"""What does a cell say as plain text, whatever keyboard it came from?

Trims it, brings full-width and other compatible characters to their plain form (Unicode NFKC),
digits of any script to 0 to 9 and every kind of dash to one. It never decides what a text means.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from typing import Final

_VALUE_SHOWN: Final = 40  # characters of a cell quoted in a sentence
# What a spreadsheet shows where a formula has no result; the last is ours, for a formula whose
# result was never stored in the file.
UNSTORED_FORMULA: Final = "#FORMULA!"
SPREADSHEET_ERRORS: Final = frozenset(
    {"#REF!", "#N/A", "#VALUE!", "#NAME?", "#DIV/0!", "#NULL!", "#NUM!", "#SPILL!", "#CALC!"}
    | {UNSTORED_FORMULA}
)
# Hyphens, dashes and minus signs of Unicode (category Pd, and U+2212), and apostrophes.
_DASHES: Final = "\u2010\u2011\u2012\u2013\u2014\u2015\u2043\u2212\ufe58\ufe63\uff0d\u058a\u30a0"
_APOSTROPHES: Final = "\u2019\u2018\u02bc\u00b4`\u2032"
_ALIKE: Final = str.maketrans(
    {**dict.fromkeys(_DASHES, "-"), **dict.fromkeys(_APOSTROPHES, "'"), "\ufeff": " "}
)


@dataclass(frozen=True)
class Problem:
    """Why a cell cannot be read, and what to do; the sentence follows the column's name."""

    sentence: str


def clean(text: str) -> str:
    """Trim a cell, no-break spaces and byte-order marks included; single spaces within."""
    # Nearly every cell is clean, and a large table has millions.
    if text.isascii() and text.isprintable() and "  " not in text and text.strip() == text:
        return text
    return " ".join(text.replace("\ufeff", " ").split())


def plain(text: str) -> str:
    """Write a cell in plain characters: one width, one kind of digit, dash and apostrophe."""
    if text.isascii():
        return clean(text).replace("`", "'")
    alike = unicodedata.normalize("NFKC", text.translate(_ALIKE))
    return clean("".join(map(_digit, alike)))


def _digit(character: str) -> str:
    if character.isascii():
        return character
    value = unicodedata.decimal(character, -1)
    return character if value < 0 else str(value)


def spreadsheet_error(text: str) -> bool:
    """Tell whether a cell shows a failed formula."""
    return text[:1] == "#" and text.upper() in SPREADSHEET_ERRORS


def hidden_character(text: str) -> str | None:
    """Name the first control or direction-changing character of a text, if there is one."""
    for character in text:
        if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Co", "Cn"):
            return f"U+{ord(character):04X}"
    return None


def quoted(text: str) -> str:
    """Quote a cell for a sentence: shortened, invisible characters named."""
    shown = text if len(text) <= _VALUE_SHOWN else text[: _VALUE_SHOWN - 3] + "..."
    return "'" + "".join(c if c.isprintable() else f"<U+{ord(c):04X}>" for c in shown) + "'"
