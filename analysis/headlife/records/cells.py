"""Read one cell: a name, a date or an hour reading, or a sentence saying why it cannot be.

Answers from the cell's text alone. It never guesses: a date that could be read two ways, a
number with a thousands separator or a name with an invisible character comes back as a
`Problem`, with what to do about it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any, Final

MOST_HOURS: Final = 1_000_000.0  # more than a century of printing: a slip, not a reading
LONGEST_NAME: Final = 200  # characters
_VALUE_SHOWN: Final = 40  # characters of a cell quoted in a sentence
# What a spreadsheet shows where a formula has no result; the last is ours, for a formula whose
# result was never stored in the file.
UNSTORED_FORMULA: Final = "#FORMULA!"
SPREADSHEET_ERRORS: Final = frozenset(
    {"#REF!", "#N/A", "#VALUE!", "#NAME?", "#DIV/0!", "#NULL!", "#NUM!", "#SPILL!", "#CALC!"}
    | {UNSTORED_FORMULA}
)
_LEAP_YEAR: Final = 2024
_EXACT_WHOLE: Final = 1e15  # above this a float no longer shows single units
_EARLIEST_YEAR: Final = 1980
_LATEST_YEAR: Final = 2200

# Yes and no in the languages of `shop.columns`; common practice, no source.
_YES: Final = frozenset(
    {"yes", "y", "x", "1", "true", "ja", "j", "oui", "o", "sí", "si", "s", "sì", "tak", "t"}
    | {"sim", "はい", "有", "○", "✓", "✔"}
)
_NO: Final = frozenset(
    {"no", "n", "0", "false", "nein", "non", "nee", "nie", "não", "nao", "いいえ", "無", "×", "-"}
)

_NUMBER = re.compile(r"[+-]?[0-9]+(\.[0-9]*)?([eE][+-]?[0-9]{1,3})?\Z")
_ISO = re.compile(
    r"([0-9]{4})-([0-9]{1,2})-([0-9]{1,2})([T ][0-9]{2}:[0-9]{2}(:[0-9]{2}(\.[0-9]{1,9})?)?)?\Z"
)


@dataclass(frozen=True)
class Problem:
    """Why a cell cannot be read, and what to do; the sentence follows the column's name."""

    sentence: str


_SPREADSHEET_ERROR: Final = Problem(
    "is an error of the spreadsheet, not a value; mend the cell's formula"
)


def clean(text: str) -> str:
    """Trim a cell, no-break spaces and byte-order marks included; single spaces within."""
    # Nearly every cell is clean, and a large table has millions.
    if text.isascii() and text.isprintable() and "  " not in text and text.strip() == text:
        return text
    return " ".join(text.replace("\ufeff", " ").split())


def read_name(text: str) -> str | Problem | None:
    """Read a serial, a type, a printer or another name; None when the cell is blank."""
    plain = text.isascii() and text.isprintable()
    name = clean(text) if plain else unicodedata.normalize("NFC", clean(text))
    if not name:
        return None
    if len(name) > LONGEST_NAME:
        return Problem(f"is {len(name)} characters long; write a name of at most {LONGEST_NAME}")
    if name[0] == "#" and name.upper() in SPREADSHEET_ERRORS:
        return _SPREADSHEET_ERROR
    hidden = None if plain else hidden_character(name)
    if hidden:
        return Problem(f"holds an invisible character ({hidden}); type the name again")
    return name


def read_note(text: str) -> str | None:
    """Read a remark; kept as written, trimmed."""
    return text.strip() or None


def hidden_character(text: str) -> str | None:
    """Name the first control or direction-changing character of a text, if there is one."""
    for character in text:
        if unicodedata.category(character) in ("Cc", "Cf", "Cs", "Co", "Cn"):
            return f"U+{ord(character):04X}"
    return None


def read_role(text: str, words: Mapping[str, str] | None = None) -> str | Problem | None:
    """Read a role: model or support, in any capitals, or a word the settings give for one."""
    role = clean(text).casefold()
    own = {clean(word).casefold(): meaning for word, meaning in (words or {}).items()}
    role = own.get(role, role)
    if role in ("", "model", "support"):
        return role or None
    return Problem(
        "is not a role; write model or support, or add a line to [roles] in the settings"
    )


def read_yes(text: str) -> bool | Problem | None:
    """Read a yes or a no; None when the cell is blank."""
    word = clean(text).casefold().rstrip(".")
    if not word:
        return None
    if word in _YES or word in _NO:
        return word in _YES
    return Problem("is neither yes nor no; write yes or no, or leave it blank for no")


def read_hours(text: str, decimal: str = ".") -> float | Problem | None:
    """Read an hour reading [h]; None when the cell is blank."""
    number = clean(text)
    if not number:
        return None
    if number.upper() in SPREADSHEET_ERRORS:
        return _SPREADSHEET_ERROR
    if decimal == ",":
        if "." in number:
            return Problem(
                "has a point, but the settings say that the decimal mark is a comma; "
                "write hours without a thousands separator, for example 1234,5"
            )
        number = number.replace(",", ".")
    elif "," in number:
        return Problem(
            "has a comma; write hours with a decimal point and no thousands separator, for "
            'example 1234.5, or state [intake] decimal = "," in the settings'
        )
    if not _NUMBER.match(number):
        return Problem(
            f"is not a number; write the head's hour reading, for example 1234{decimal}5"
        )
    hours = float(number)
    if hours < 0:
        return Problem("is negative; write the head's own hour reading, 0 or more")
    if hours > MOST_HOURS:
        return Problem("is more than a million hours; write the head's own hour reading")
    return hours


def read_date(text: str, date_format: str | None = None) -> datetime | Problem | None:
    """Read a date, year-month-day or in the stated format; None when the cell is blank."""
    written = clean(text)
    if not written:
        return None
    if written.upper() in SPREADSHEET_ERRORS:
        return _SPREADSHEET_ERROR
    try:
        date = _date(written, date_format)
    except ValueError:
        return Problem("is not a date of the calendar; correct the day or the month")
    if date is None:
        return Problem(_not_a_date(written, date_format))
    if not _EARLIEST_YEAR <= date.year <= _LATEST_YEAR:
        return Problem(
            f"lies outside the years {_EARLIEST_YEAR} to {_LATEST_YEAR}; correct the year"
        )
    return date


def _date(written: str, date_format: str | None) -> datetime | None:
    iso = _ISO.match(written)
    if iso:
        year, month, day = (int(iso[i]) for i in (1, 2, 3))
        clock = iso[4]
        if clock is None:
            return datetime(year, month, day)  # noqa: DTZ001
        return datetime.fromisoformat(f"{year:04d}-{month:02d}-{day:02d}T{clock[1:16]}")
    if date_format is None or not written.isascii():
        return None
    try:
        return datetime.strptime(written, date_format).replace(tzinfo=None)  # noqa: DTZ007
    except ValueError:
        return None


def _not_a_date(written: str, date_format: str | None) -> str:
    if date_format is not None:
        return (
            f"is neither a date like 2026-03-31 nor one of the stated format {date_format}; "
            "write it in one of the two"
        )
    numbers = re.match(r"([0-9]{1,2})[./-]([0-9]{1,2})[./-][0-9]{2,4}\Z", written)
    if numbers:
        first, second = int(numbers[1]), int(numbers[2])
        readings = {(d, m) for d, m in ((first, second), (second, first)) if _exists(d, m)}
        if not readings:
            return "is not a date of the calendar; correct the day or the month"
        several = "can be read in more than one way" if len(readings) > 1 else "is not year first"
        return (
            f"{several}; write dates as year-month-day, for example 2026-03-31, or state the "
            'format in the settings, for example [intake] date_format = "%d.%m.%Y"'
        )
    return "is not a date; write it as year-month-day, for example 2026-03-31"


def _exists(day: int, month: int) -> bool:
    """Tell whether any year has that day."""
    try:
        datetime(_LEAP_YEAR, month, day)  # noqa: DTZ001
    except ValueError:
        return False
    return True


def quoted(text: str) -> str:
    """Quote a cell for a sentence: shortened, invisible characters named."""
    shown = text if len(text) <= _VALUE_SHOWN else text[: _VALUE_SHOWN - 3] + "..."
    return "'" + "".join(c if c.isprintable() else f"<U+{ord(c):04X}>" for c in shown) + "'"


def as_typed(value: Any, decimal: str) -> str:
    """Write a stored value as a person would type it; a missing one is blank.

    Parameters
    ----------
    value : object
        What a workbook or a Parquet file holds in a cell.
    decimal : str
        Decimal mark of numbers.

    Returns
    -------
    str
        Dates as year-month-day, numbers in full, whole ones without decimals.
    """
    if value is None or value != value:  # not a number: how some programs write a blank
        return ""
    if isinstance(value, datetime):
        # Spreadsheets keep times of day only to about a microsecond.
        moment = value.replace(microsecond=0)
        day = moment.date().isoformat()
        return day if moment.time() == time(0) else moment.isoformat()
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, float):
        whole = value.is_integer() and abs(value) < _EXACT_WHOLE
        number = str(int(value)) if whole else repr(value)
        return number.replace(".", decimal)
    if isinstance(value, date):
        return value.isoformat()
    return value.decode() if isinstance(value, bytes) else str(value)
