"""What does a column of hours count, by its name: hours, minutes, seconds, or no time at all?

Answers from the names alone that a shop's settings give its columns of hours, and the `unit` that
they state. Where a name speaks of something else and no unit is stated, it asks; a number is never
taken for hours because it is a number.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache
from typing import Final

from headlife.plain_text import plain
from headlife.records.cells import quoted
from headlife.shop import Shop
from headlife.shop.columns import COLUMNS

# Unit that `[intake] unit` may state -> of it in an hour.
PER_HOUR: Final[Mapping[str, float]] = {"hours": 1.0, "minutes": 60.0, "seconds": 3600.0}
# What a name speaks of -> words for it in nine languages as people write them over a column; common
# practice, no source. A word that ends with a hyphen is the beginning of one.
_WORDS: Final[Mapping[str, str]] = {
    "hours": """h hr hrs hour hours std stunden stunde betriebsstunden heure heures hora horas
        ora ore uur uren godz godzin godziny 時間 horamètre horometro horímetro horimetro
        contaore""",
    "minutes": "min mins minute- minuten minut- minutos minuti 分 分数",
    "seconds": "sec secs seconds sek sekunden secondes segundos secondi seconden sekund- 秒",
    "days": "days tage jours días dias giorni dagen dni 日数",
    "kilograms": """kg kgs kilo- gram- weight gewicht poids peso
        waga 重量""",
    "layers": "layer layers schicht- couches capas strati lagen warstw- camadas 層数",
    "jobs": """jobs prints builds parts cycles druckjobs aufträge auftraege drucke bauteile
        impressions trabajos impresiones lavori stampe printjobs prace wydruk- trabalhos
        impressões""",
}


def other_unit(name: str) -> str | None:
    """Tell what else than hours a column counts, by its name.

    Parameters
    ----------
    name : str
        The column's name.

    Returns
    -------
    str or None
        What its name speaks of; None where that is hours, or nothing.
    """
    words = re.findall(r"[^\W\d_]+", plain(name).casefold())
    said = [what for what in _WORDS if any(_patterns()[what].match(word) for word in words)]
    return said[0] if said and said[0] != "hours" else None


@cache
def _patterns() -> dict[str, re.Pattern[str]]:
    return {
        what: re.compile(
            "|".join(
                re.escape(word[:-1]) if word.endswith("-") else rf"{re.escape(word)}\Z"
                for word in words.split()
            )
        )
        for what, words in _WORDS.items()
    }


def unit_questions(shop: Shop, there: Iterable[str]) -> tuple[str, ...]:
    """Ask about columns of hours whose names speak of something else.

    Parameters
    ----------
    shop : Shop
        The settings.
    there : iterable of str
        Standard columns that the log has.

    Returns
    -------
    tuple of str
        What must be stated; empty where the settings state the unit.
    """
    if shop.intake.unit is not None:
        return ()
    names = [*shop.columns.items()]
    names += [pair for own in shop.intake.groups.values() for pair in own.items()]
    present = {name for name in there if COLUMNS[name].kind == "hours"}
    found: dict[str, list[str]] = {}
    for standard, own in names:
        if standard in present and (unit := other_unit(own)):
            found.setdefault(unit, []).append(own)
    return tuple(_question(unit, own) for unit, own in found.items())


def _question(unit: str, names: list[str]) -> str:
    listed = " and ".join(quoted(name) for name in dict.fromkeys(names))
    if unit in PER_HOUR:
        return (
            f"the column {listed} seems to hold {unit}, not hours; state what it holds, "
            f'unit = "{unit}" or unit = "hours", under [intake]'
        )
    return (
        f"the column {listed} seems to count {unit}, and lives are in print hours; where it does, "
        "name a column of hours instead or, where there is none, leave it out of [columns] and "
        "state the print hours a week, [intake] weekly_hours; where it holds hours after all, "
        'state unit = "hours" under [intake]'
    )
