"""Which hours can one cell mean? Its readings under a decimal point and under a decimal comma.

Answers from the cell's text alone: marks of thousands (comma, point, space, apostrophe), the word
for hours in nine languages, hours and minutes, digits of any script. A text that means the same
under both decimal marks, or something under one only, has one reading; the others are settled by
their column (`pens`), never here.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final, Literal

from headlife.plain_text import plain
from headlife.records.cells import SPREADSHEET_ERROR, Problem, spreadsheet_error

Decimal = Literal[".", ","]

MOST_HOURS: Final = 1_000_000.0  # more than a century of printing: a slip, not a reading
_MINUTES_PER_HOUR: Final = 60.0
_LONGEST: Final = 60  # characters; the longest number with its unit is far shorter
# The word for hours in nine languages, as people abbreviate it; common practice, no source.
_UNITS: Final = re.compile(
    r"(h|hrs?|hours?|std|stunden?|heures?|horas?|or[ae]|u|uur|uren|g|godz|godzin|godziny|時間)\Z"
)
_OTHER_UNITS: Final = re.compile(
    r"(d|days?|tage?|jours?|d[ií]as?|giorn[oi]|dag|dagen|dni|min|mins|minutes?|minuten|minuti"
    r"|minutos?|s|sec|分|日|秒)\Z"
)

# Nearly every cell is one of these, and a large table has millions: one reading, whatever the mark
# of the others. A point and exactly three digits can be a mark of thousands.
_PLAIN: Final = re.compile(r"[0-9]{1,15}(\.[0-9]{1,2}|\.[0-9]{4,17})?\Z")
_CLOCK: Final = re.compile(r"([0-9]{1,6}) ?[:h] ?([0-5][0-9])(:[0-5][0-9])?( ?min)?\Z")


def _pattern(decimal: str, thousands: str) -> re.Pattern[str]:
    grouped = "|".join(rf"[1-9][0-9]{{0,2}}(?:{mark}[0-9]{{3}})+" for mark in (thousands, " ", "'"))
    return re.compile(rf"([+-]?(?:{grouped}|[0-9]+))(?:{decimal}([0-9]*))?(e[+-]?[0-9]{{1,3}})?\Z")


_NUMBER: Final[dict[Decimal, re.Pattern[str]]] = {
    ".": _pattern(r"\.", ","),
    ",": _pattern(",", r"\."),
}


@dataclass(frozen=True, slots=True)
class HourReadings:
    """What one cell means under either decimal mark; None where it is no number under it."""

    point: float | None
    """Its hours when the decimal mark is a point [h]."""
    comma: float | None
    """Its hours when the decimal mark is a comma [h]."""

    @property
    def settles(self) -> Decimal | None:
        """The decimal mark that this cell alone proves, if it proves one."""
        if self.point is None:
            return ","
        return "." if self.comma is None else None

    @property
    def differ(self) -> bool:
        """True when the cell means one thing with a point and another with a comma."""
        return self.point is not None and self.comma is not None and self.point != self.comma

    def under(self, decimal: Decimal | None) -> float | None:
        """Give the hours under a decimal mark, or its only reading; None when that is open [h].

        Parameters
        ----------
        decimal : Decimal or None
            The decimal mark; None where none is settled.

        Returns
        -------
        float or None
            The hours [h]; None when they are open.
        """
        if self.differ:
            return {".": self.point, ",": self.comma}[decimal] if decimal else None
        return self.comma if self.point is None else self.point


def hour_readings(text: str) -> HourReadings | Problem | None:
    """Read an hour reading under both decimal marks.

    Parameters
    ----------
    text : str
        A cell as written.

    Returns
    -------
    HourReadings or Problem or None
        None when the cell is blank.
    """
    if _PLAIN.match(text):
        hours = float(text)
        return HourReadings(hours, None if "." in text else hours)
    written = plain(text).casefold()
    if not written:
        return None
    if spreadsheet_error(written):
        return SPREADSHEET_ERROR
    if len(written) > _LONGEST:
        return _no_number()
    clock = _CLOCK.match(written)
    if clock:
        hours = float(clock[1]) + float(clock[2]) / _MINUTES_PER_HOUR
        return HourReadings(hours, hours)
    number = _without_unit(written)
    if isinstance(number, Problem):
        return number
    point, comma = (_value(number, mark) for mark in _NUMBER)
    if point is None and comma is None:
        return _no_number()
    return HourReadings(point, comma)


def hours_in_range(hours: float) -> Problem | None:
    """Say what is wrong with a number that no head's counter can show.

    Parameters
    ----------
    hours : float
        Hours [h].

    Returns
    -------
    Problem or None
        What is wrong; None when nothing is.
    """
    if hours < 0:
        return Problem("is negative; write the hour reading, 0 or more")
    if hours > MOST_HOURS:
        return Problem("is more than a million hours; write the hour reading")
    return None


def _value(number: str, decimal: Decimal) -> float | None:
    parts = _NUMBER[decimal].match(number)
    if parts is None:
        return None
    whole = re.sub("[^0-9+-]", "", parts[1])
    return float(f"{whole}.{parts[2] or 0}{parts[3] or ''}")


def _without_unit(written: str) -> str | Problem:
    """Take the word for hours off the end of a number; marks at the end say nothing."""
    body = written.rstrip(" .)]")
    digits = body.rstrip("abcdefghijklmnopqrstuvwxyzíáä時間分日秒")
    unit = body[len(digits) :]
    if not unit:
        return written.rstrip(" .,")
    if _UNITS.match(unit):
        return digits.rstrip(" [(.,")
    if _OTHER_UNITS.match(unit) and any(c.isdigit() for c in digits):
        return Problem(f"is given in '{unit}', not in hours; write print hours, for example 1234.5")
    return _no_number()


def _no_number() -> Problem:
    return Problem("is not a number; write the hour reading, for example 1234.5")
