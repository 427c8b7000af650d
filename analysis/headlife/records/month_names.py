"""Which month or weekday does a word name? In the languages that shops write.

Answers from the Unicode locale data that the library babel carries (CLDR: full and abbreviated
names, as they stand in a date and alone). A word that names two months in the languages asked for
names none.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable
from functools import cache
from typing import Final

from headlife.shop.columns import LANGUAGES

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


def month_of(word: str, languages: tuple[str, ...] = ()) -> int | None:
    """Give the month that a word names, in the nine languages or the ones stated besides.

    Parameters
    ----------
    word : str
        The word.
    languages : tuple of str, optional
        Further languages.

    Returns
    -------
    int or None
        The month, 1 to 12; None when it names none.
    """
    return _months(languages).get(_key(word))


def is_weekday(word: str, languages: tuple[str, ...] = ()) -> bool:
    """Tell whether a word names a day of the week.

    Parameters
    ----------
    word : str
        The word.
    languages : tuple of str, optional
        Further languages.

    Returns
    -------
    bool
        True where it does.
    """
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
