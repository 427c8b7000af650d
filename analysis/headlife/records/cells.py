"""Read one cell as plain text: a name, a role, a yes or no, a remark, or why it cannot be.

Answers from the cell's text in plain characters, so that a serial is the same whatever keyboard it
came from. It never guesses: a name with an invisible character comes back as a `Problem`, with
what to do about it. Hours and dates are read by `hours` and `dates`.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any, Final

from headlife.plain_text import clean, plain

LONGEST_NAME: Final = 200  # characters
_EXACT_WHOLE: Final = 1e15  # above this a float no longer shows single units
_LONGEST_ROUND: Final = 3  # decimals of a number that could be taken for a group of thousands
_NAMED: Final = 12  # names listed in one sentence
_VALUE_SHOWN: Final = 40  # characters of a cell quoted in a sentence
# What a spreadsheet shows where a formula has no result; the last is ours, for a formula whose
# result was never stored in the file.
UNSTORED_FORMULA: Final = "#FORMULA!"
SPREADSHEET_ERRORS: Final = frozenset(
    {"#REF!", "#N/A", "#VALUE!", "#NAME?", "#DIV/0!", "#NULL!", "#NUM!", "#SPILL!", "#CALC!"}
    | {UNSTORED_FORMULA}
)
# Yes and no in the languages of `shop.columns`; common practice, no source.
_YES: Final = frozenset(
    {"yes", "y", "x", "1", "true", "ja", "j", "oui", "o", "sí", "si", "s", "sì", "tak", "t"}
    | {"sim", "はい", "有", "○", "✓", "✔"}
)
_NO: Final = frozenset(
    {"no", "n", "0", "false", "nein", "non", "nee", "nie", "não", "nao", "いいえ", "無", "×", "-"}
)


@dataclass(frozen=True)
class Problem:
    """Why a cell cannot be read, and what to do; the sentence follows the column's name."""

    sentence: str
    """What is wrong, and what to do."""


def spreadsheet_error(text: str) -> bool:
    """Tell whether a cell shows a failed formula.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    bool
        True where it does.
    """
    return text[:1] == "#" and text.upper() in SPREADSHEET_ERRORS


SPREADSHEET_ERROR: Final = Problem(
    "is an error of the spreadsheet, not a value; mend the cell's formula"
)


def _hidden_character(text: str) -> str | None:
    """Name the first control or direction-changing character of a text, if there is one."""
    for character in text:
        if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Co", "Cn"):
            return f"U+{ord(character):04X}"
    return None


def quoted(text: str) -> str:
    """Quote a cell for a sentence: shortened, invisible characters named.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str
        The quotation.
    """
    shown = text if len(text) <= _VALUE_SHOWN else text[: _VALUE_SHOWN - 3] + "..."
    return "'" + "".join(c if c.isprintable() else f"<U+{ord(c):04X}>" for c in shown) + "'"


def named(names: Sequence[str], between: str = ", ") -> str:
    """List names for a sentence: the first of them, and how many more there are.

    Parameters
    ----------
    names : sequence of str
        The names.
    between : str
        What stands between two.

    Returns
    -------
    str
        The list.
    """
    more = len(names) - _NAMED
    listed = between.join(map(quoted, names[:_NAMED]))
    return f"{listed} and {more:,} more" if more > 0 else listed


def name_text(text: str) -> str:
    """Write a name as it is compared: plain characters, trimmed, single spaces.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str
        The name.
    """
    if text.isascii() and text.isprintable():
        return clean(text)
    return plain(text)


# Letters of the Cyrillic and Greek alphabets that look like Latin ones, small as they are compared,
# and letters that look like digits; from memory of the Unicode charts.
_LOOKS_LIKE: Final = str.maketrans(
    "\u0430\u0432\u0435\u043a\u043c\u043d\u043e\u0440\u0441\u0442\u0445\u0443\u0456\u0458\u0455"
    "\u03b1\u03b2\u03b5\u03b6\u03b7\u03b9\u03ba\u03bc\u03bd\u03bf\u03c1\u03c4\u03c5\u03c7"
    "oil _./",
    "abekmh0pctxy1jsabezh1kmn0ptyx011----",
    # Signs that are put to a serial by hand, and accents that stand alone.
    "*#!?()[]'\"" + "".join(map(chr, range(0x300, 0x370))),
)
# Marks that do not part two numbers, and zeros before a number.
_SAYS_NOTHING: Final = re.compile(r"(?<![0-9])-+|-+(?![0-9])|(?<![0-9])0+(?=[0-9])")
_LABEL: Final = re.compile(r"(?<=[^\s(\[]) ?[(\[][^()\[\]0-9]{2,}[)\]]\Z")
_POINT_ZERO: Final = re.compile(r"(?<=[0-9])\.0+\Z")


def alike_key(name: str) -> str:
    """Return what names that look alike have in common.

    They differ only in capitals, spaces, dashes, points or slashes (but "1-12" is not "11-2"), in
    zeros before a number, in ".0" after it, in letters that look the same, or in what is put to a
    name by hand: signs such as "*", or words in brackets behind it.

    Parameters
    ----------
    name : str
        The name.

    Returns
    -------
    str
        What is compared.
    """
    name = _LABEL.sub("", name) if name[-1:] in ")]" else name
    number = _POINT_ZERO.sub("", name) if name[-1:] == "0" else name
    return _SAYS_NOTHING.sub("", number.casefold().translate(_LOOKS_LIKE))


def read_name(text: str) -> str | Problem | None:
    """Read a serial, a type, a printer or another name; None when the cell is blank.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str or Problem or None
        The name, what is wrong with it, or None.
    """
    name = name_text(text)
    if not name:
        return None
    if len(name) > LONGEST_NAME:
        return Problem(f"is {len(name)} characters long; write a name of at most {LONGEST_NAME}")
    if spreadsheet_error(name):
        return SPREADSHEET_ERROR
    hidden = None if name.isascii() and name.isprintable() else _hidden_character(name)
    if hidden:
        return Problem(f"holds an invisible character ({hidden}); type the name again")
    return name


def read_note(text: str) -> str | None:
    """Read a remark; kept as written, trimmed.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str or None
        The remark; None when blank.
    """
    return text.strip() or None


def read_role(text: str, words: Mapping[str, str] | None = None) -> str | Problem | None:
    """Read a role: model or support, in any capitals, or a word the settings give for one.

    Parameters
    ----------
    text : str
        The text.
    words : mapping of str to str, optional
        The shop's own words for the roles.

    Returns
    -------
    str or Problem or None
        The role, what is wrong, or None.
    """
    role = plain(text).casefold()
    own = {plain(word).casefold(): meaning for word, meaning in (words or {}).items()}
    role = own.get(role, role)
    if role in ("", "model", "support"):
        return role or None
    return Problem(
        "is not a role; write model or support, or add a line to [roles] in the settings"
    )


def read_yes(text: str) -> bool | Problem | None:
    """Read a yes or a no; None when the cell is blank.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    bool or Problem or None
        Yes or no, what is wrong, or None.
    """
    word = plain(text).casefold().rstrip(".")
    if not word:
        return None
    if word in _YES or word in _NO:
        return word in _YES
    return Problem("is neither yes nor no; write yes or no, or leave it blank for no")


def as_typed(value: Any) -> str:
    """Write a stored value as text that reads back as the same value; a missing one is blank.

    Parameters
    ----------
    value : object
        What a workbook or a Parquet file holds in a cell.

    Returns
    -------
    str
        Dates as year-month-day, durations as hours and minutes, numbers with a decimal point,
        whole ones without decimals.
    """
    if value is None or value != value:  # not a number: how some programs write a blank
        return ""
    if isinstance(value, datetime):
        # Spreadsheets keep times of day only to about a microsecond.
        moment = value.replace(microsecond=0)
        day = moment.date().isoformat()
        return day if moment.time() == time(0) else moment.isoformat()
    if isinstance(value, timedelta):  # a cell shown as hours:minutes
        minutes, seconds = divmod(round(value.total_seconds()), 60)
        return f"{minutes // 60}:{minutes % 60:02d}:{seconds:02d}"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        return _number(value)
    if isinstance(value, date):
        return value.isoformat()
    return value.decode() if isinstance(value, bytes) else str(value)


def _number(value: float) -> str:
    if value.is_integer() and abs(value) < _EXACT_WHOLE:
        return str(int(value))
    number = repr(value)
    # One decimal more, so that nobody takes the three of a stored number for thousands.
    return number + "0" if len(number.partition(".")[2]) == _LONGEST_ROUND else number
