"""Which days can one cell mean? Its readings with the year, the day or the month first.

Answers from the cell's text alone: numbers with any mark between them, month names in nine
languages (and others that the settings name; from the Unicode locale data that babel carries),
two-digit years, Japanese dates, a clock behind the day. A text that is one day of the calendar
under every order it allows has one reading; the others are settled by their column (`pens`), never
here.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from functools import cache
from typing import Final, Literal

from headlife.plain_text import plain
from headlife.records.cells import SPREADSHEET_ERROR, Problem, spreadsheet_error
from headlife.shop.columns import LANGUAGES

Order = Literal["year first", "day first", "month first"]
ORDERS: Final[tuple[Order, ...]] = ("year first", "day first", "month first")

EARLIEST_YEAR: Final = 1980
_LATEST_YEAR: Final = 2200
_LONGEST: Final = 60  # characters; the longest date with weekday and clock is far shorter
_FULL_YEAR: Final = 4  # digits
_MOST_WORDS: Final = 8
# First year of a Japanese era is its year 1 (from memory: Heisei 1989, Reiwa 2019).
_ERAS: Final = {"平成": 1988, "令和": 2018, "h": 1988, "r": 2018}
# Words and endings between the parts of a date in nine languages; common practice, no source.
_BETWEEN: Final = re.compile(
    r"(de|del|di|do|da|den|der|van|of|the|le|il|el|la|en|am|r|roku|st|nd|rd|th|er|ro|º|ª|o|a|e)\Z"
)

_ISO: Final = re.compile(r"([0-9]{4})-([0-9]{2})-([0-9]{2})\Z")
_NUMERIC: Final = re.compile(r"([0-9]{1,4}) ?([./-]| ) ?([0-9]{1,2}) ?\2 ?([0-9]{1,4})\.?\Z")
_COMPACT: Final = re.compile(r"[0-9]{8}\Z")
_JAPANESE: Final = re.compile(
    r"(?:(平成|令和|[hr])([0-9]{1,2}|元)|([0-9]{2,4}))[年.]([0-9]{1,2})[月.]([0-9]{1,2})日?"
    r"(?: ?\(?[月火水木金土日](?:曜日?)?\)?)?\Z"
)
_CLOCK: Final = re.compile(
    r"(?P<day>.*?[^ t,])[ t,]+(?P<hour>[0-9]{1,2})(?:[:.]|h ?)(?P<minute>[0-9]{2})"
    r"(?::(?P<second>[0-9]{2})(?:[.,][0-9]{1,9})?)? ?(?P<half>[ap]\.?m\.?)?(?:uhr|h)?"
    r"(?:z|[+-][0-9]{2}:?[0-9]{2})?\Z"
)
# A calendar week, "KW 12/2024" or ISO 8601's "2024-W12", perhaps with its day; words that stand
# before its number in nine languages: common practice, no source.
_WEEK: Final = re.compile(
    r"(?:(?P<year>[0-9]{4})[ /-]?(?:kw|w|cw|wk)[ .-]?(?P<week>[0-9]{1,2})(?:-(?P<day>[1-7]))?"
    r"|(?:kw|cw|w|wk|week|woche|kalenderwoche|sem|semaine|semana|settimana|tydz|tydzień)"
    r"[. ]{0,2}(?P<week2>[0-9]{1,2})(?: of)?[ ,./-]{1,2}(?P<year2>[0-9]{4}|[0-9]{2})"
    r"|(?P<year3>[0-9]{4})年 ?第?(?P<week3>[0-9]{1,2})週)\Z"
)
_MIDDLE_OF_WEEK: Final = 4  # Thursday, by which ISO 8601 also counts a week to its year
A_WEEK: Final = "week"
# A month or a quarter, and a day without its year; what stands there in nine languages is common
# practice, no source.
_QUARTER: Final = re.compile(
    r"(q|t|k)[1-4][ /-]?'?([0-9]{4}|[0-9]{2})\Z|[0-9]{4}[ /-]?(q|t|k)[1-4]\Z"
)
_MONTH_IN_NUMBERS: Final = re.compile(
    r"(19|20)[0-9]{2} ?[/-] ?(0?[1-9]|1[0-2])\Z|(0?[1-9]|1[0-2]) ?[./-] ?(19|20)[0-9]{2}\Z"
)
_DAY_AND_MONTH: Final = re.compile(r"[0-9]{1,2} ?[./-] ?[0-9]{1,2} ?[./-]?\Z")
NO_DAY: Final = Problem(
    "names a month or a quarter and no day; write the day or, where nobody knows it any more, one "
    "in the middle of that time, for example 2026-03-15"
)
NO_YEAR: Final = Problem("has no year; write it as year-month-day, for example 2026-03-31")
_WORD: Final = re.compile(r"[0-9]+|[^\W\d_]+")
_FIRST_WORD: Final = re.compile(r"([^\W\d_]{1,12})[.,]{0,2} ?")
# What people write besides the locale data: common practice, no source.
_ALSO: Final = {"sept": 9, "sep": 9, "mrz": 3, "maerz": 3, "jun": 6, "jul": 7, "juill": 7}
_ROMAN: Final = {
    name: month
    for month, name in enumerate(
        ("i", "ii", "iii", "iv", "v", "vi", "vii", "viii", "ix", "x", "xi", "xii"), start=1
    )
}
_WIDTHS: Final = ("wide", "abbreviated")
_CONTEXTS: Final = ("format", "stand-alone")


@dataclass(frozen=True, slots=True)
class DateReadings:
    """What one cell means under each order of its parts that gives a day of the calendar."""

    days: tuple[tuple[Order, datetime], ...]
    """Order and the moment it gives; an order that gives none is left out."""
    form: str
    """How it is written, with # for digits: "####-#-#", "#.#.##", "########"; "words"; or
    "week", of which the Thursday is taken where no day of it is written."""

    @property
    def mark(self) -> str:
        """The mark between the numbers of a day that is not written year first, else nothing."""
        return "" if self.form.startswith("####") else self.form.strip("#")[:1].strip("w")

    @property
    def differ(self) -> bool:
        """True when two orders give two days."""
        return len({day for _, day in self.days}) > 1

    def under(self, order: Order | None) -> datetime | None:
        """Give the day under an order, or its only reading; None when that is open.

        Parameters
        ----------
        order : Order or None
            Which order of day and month.

        Returns
        -------
        datetime or None
            The day; None when it is open.
        """
        if not self.differ:
            return self.days[0][1]
        return dict(self.days).get(order) if order else None


def date_readings(text: str, languages: tuple[str, ...] = ()) -> DateReadings | Problem | None:
    """Read a date under every order of its parts.

    Parameters
    ----------
    text : str
        A cell as written.
    languages : tuple of str
        Languages of month names besides the nine that are known anyway.

    Returns
    -------
    DateReadings or Problem or None
        None when the cell is blank.
    """
    iso = _ISO.match(text)
    if iso:
        return _readings([("year first", iso[1], iso[2], iso[3])], "####-#-#", "0:00")
    written = plain(text).casefold()
    if not written:
        return None
    if spreadsheet_error(written):
        return SPREADSHEET_ERROR
    if len(written) > _LONGEST:
        return _no_date()
    day, clock = _split_clock(written)
    parts, form = _parts(day, languages)
    return _readings(parts, form, clock) if parts else _no_date(written, languages)


def year_in_range(day: datetime) -> Problem | None:
    """Say what is wrong with a year that no log of printers has.

    Parameters
    ----------
    day : datetime
        The day.

    Returns
    -------
    Problem or None
        What is wrong; None when nothing is.
    """
    if not EARLIEST_YEAR <= day.year <= _LATEST_YEAR:
        return Problem(
            f"lies outside the years {EARLIEST_YEAR} to {_LATEST_YEAR}; correct the year"
        )
    return None


Parts = list[tuple[Order, str, str, str]]


def _parts(day: str, languages: tuple[str, ...]) -> tuple[Parts, str]:
    """Give order, year, month and day as written, for each order the text allows."""
    japanese = _JAPANESE.match(day)
    if japanese and ("年" in day or japanese[1]):
        year = japanese[3] or str(_ERAS[japanese[1]] + int(japanese[2].replace("元", "1")))
        return [("year first", year, japanese[4], japanese[5])], "####年#月#日"
    if week := _WEEK.match(day):
        return _of_week(week), "####-w#-#" if week["day"] else A_WEEK
    numeric = _NUMERIC.match(day) or _NUMERIC.match(_without_weekday(day, languages))
    if numeric:
        return _numeric(numeric[1], numeric[3], numeric[4], numeric[2])
    if _COMPACT.match(day):
        orders: Parts = [
            ("year first", day[:4], day[4:6], day[6:]),
            ("day first", day[4:], day[2:4], day[:2]),
            ("month first", day[4:], day[:2], day[2:4]),
        ]
        return [one for one in orders if EARLIEST_YEAR <= int(one[1]) <= _LATEST_YEAR], "########"
    return list(_named(day, languages)), "words"


def _of_week(week: re.Match[str]) -> Parts:
    """Give the day of a calendar week: the one written, else the middle one."""
    year = week["year"] or week["year2"] or week["year3"]
    number = week["week"] or week["week2"] or week["week3"]
    try:
        day = date.fromisocalendar(_year(year), int(number), int(week["day"] or _MIDDLE_OF_WEEK))
    except ValueError:
        return [("year first", year, "0", "0")]  # no week of the calendar
    return [("year first", str(day.year), str(day.month), str(day.day))]


def _without_weekday(day: str, languages: tuple[str, ...]) -> str:
    first = _FIRST_WORD.match(day)
    if first is None:
        return day

    return day[first.end() :] if _is_weekday(first[1], languages) else day


def _numeric(first: str, second: str, third: str, mark: str) -> tuple[Parts, str]:
    if len(first) == _FULL_YEAR:
        return [("year first", first, second, third)], f"####{mark}#{mark}#"
    last: Parts = [("day first", third, second, first), ("month first", third, first, second)]
    if len(third) == _FULL_YEAR:
        return last, f"#{mark}#{mark}####"
    if len(first) > 2 or len(third) != 2:  # a year of three digits, or of one
        return [], ""
    return [("year first", first, second, third), *last], f"#{mark}#{mark}##"


def _named(day: str, languages: tuple[str, ...]) -> Iterator[tuple[Order, str, str, str]]:
    """Read day, month name and year in any order; a year of two digits comes last."""
    words = _WORD.findall(day)[: _MOST_WORDS + 1]
    numbers = [word for word in words if word.isdigit()]
    named = [word for word in words if not word.isdigit() and not _BETWEEN.match(word)]
    if sum(_month_of(word, languages) is not None for word in named) > 1:
        # "mar. 14 mars": the first is a day of the week, if it can be one.
        named = named[1:] if _is_weekday(named[0], languages) else named
    months = [month for word in named if (month := _month_of(word, languages))]
    rest = [word for word in named if not _month_of(word, languages)]
    if len(months) != 1 or len(numbers) != 2 or len(words) > _MOST_WORDS:
        return
    if not all(_is_weekday(word, languages) for word in rest):
        return
    if len(numbers[0]) == _FULL_YEAR:
        numbers.reverse()
    if len(numbers[0]) <= 2 and len(numbers[1]) in (2, _FULL_YEAR):
        yield "day first", numbers[1], str(months[0]), numbers[0]


def _split_clock(written: str) -> tuple[str, str]:
    """Take the time of day off the end of a date; "0:00" where there is none."""
    timed = _CLOCK.match(written) if ":" in written or " " in written or "t" in written else None
    if timed is None:
        return written, "0:00"
    hour = int(timed["hour"])
    if timed["half"]:
        hour = hour % 12 + (12 if timed["half"].startswith("p") else 0)
    return timed["day"], f"{hour}:{timed['minute']}:{timed['second'] or '0'}"


def _readings(parts: Parts, form: str, clock: str) -> DateReadings | Problem:
    hour, minute, second, *_ = (int(part) for part in f"{clock}:0".split(":"))
    days: list[tuple[Order, datetime]] = []
    for order, year, month, day in parts:
        try:
            moment = datetime(_year(year), int(month), int(day), hour, minute, second)  # noqa: DTZ001
        except ValueError:
            continue
        days.append((order, moment))
    if not days:
        return Problem("is not a date of the calendar; correct the day or the month")
    return DateReadings(tuple(days), form)


def _year(digits: str) -> int:
    """Give the year of two digits its century: 80 to 99 lie in the last one."""
    year = int(digits)
    if len(digits) > 2:
        return year
    return year + (1900 if year >= EARLIEST_YEAR % 100 else 2000)


def _no_date(written: str = "", languages: tuple[str, ...] = ()) -> Problem:
    if re.fullmatch(r"[34][0-9]{4}(\.[0-9]+)?", written):
        return Problem(
            "is the day number of a spreadsheet; format the column as a date there, and save it "
            "again"
        )
    words = _WORD.findall(written)[: _MOST_WORDS + 1]
    numbers = [word for word in words if word.isdigit()]
    if len(words) == 2 and len(numbers) == 1 and any(_month_of(w, languages) for w in words):
        return NO_DAY if len(numbers[0]) == _FULL_YEAR else NO_YEAR
    if _QUARTER.match(written) or _MONTH_IN_NUMBERS.match(written):
        return NO_DAY
    if _DAY_AND_MONTH.match(written):
        return NO_YEAR
    return Problem("is not a date; write it as year-month-day, for example 2026-03-31")


def _month_of(word: str, languages: tuple[str, ...] = ()) -> int | None:
    """Give the month that a word names, in the nine languages or the ones stated besides."""
    return _months(languages).get(_key(word))


def _is_weekday(word: str, languages: tuple[str, ...] = ()) -> bool:
    """Tell whether a word names a day of the week."""
    return _key(word) in _weekdays(languages)


def _key(word: str) -> str:
    """Return a word as it is compared: without case, accents or points."""
    parts = unicodedata.normalize("NFKD", word.casefold().replace("ł", "l"))
    return "".join(c for c in parts if not unicodedata.combining(c) and c != ".")


@cache
def _months(languages: tuple[str, ...]) -> dict[str, int]:
    # Stated languages come first: where the nine would name another month, they do not count.
    own = _agreed(_names("months", languages))
    return {**_ROMAN, **_ALSO, **_agreed(_names("months", LANGUAGES)), **own}


@cache
def _weekdays(languages: tuple[str, ...]) -> frozenset[str]:
    names = (name for name, _ in _names("days", (*LANGUAGES, *languages)))
    return frozenset(part for name in names for part in name.split("-"))


def _names(what: str, languages: Iterable[str]) -> Iterable[tuple[str, int]]:
    from babel import Locale

    for language in languages:
        locale = Locale.parse(language)
        for context in _CONTEXTS:
            for width in _WIDTHS:
                for number, name in getattr(locale, what)[context][width].items():
                    if not name[:1].isdigit():
                        yield _key(name), int(number)


def _agreed(names: Iterable[tuple[str, int]]) -> dict[str, int]:
    found: dict[str, set[int]] = {}
    for name, number in names:
        found.setdefault(name, set()).add(number)
    return {name: min(numbers) for name, numbers in found.items() if len(numbers) == 1}
