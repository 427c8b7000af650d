"""Which decimal mark do the hours of a table have? Each column as a whole settles its cells.

Answers from the distinct texts of all columns of hours: the mark that the settings state; else
the one that other cells of the column prove; else the one that the other columns prove. Where
nothing proves it, the cell is a problem that names the line of the settings to write; no cell is
guessed by itself.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from headlife.plain_text import plain
from headlife.records.cells import Problem, quoted
from headlife.records.hours import Decimal, HourReadings, hour_readings, hours_in_range
from headlife.records.written import Columns, Written, and_more, blank_words
from headlife.shop import Intake

_FIRST_MARKED: Final = 1000.0  # the smallest number that people write a mark of thousands in [h]
# A cell of hours and minutes, or with a word for hours, is in hours whatever the others hold.
_TELLS_HOURS: Final = re.compile(r"[^\W\d_]|:")
_NAMES: Final[dict[Decimal, str]] = {".": "point", ",": "comma"}

Unclear = Mapping[str, Sequence[tuple[int, HourReadings]]]
"""Column -> place and readings of the texts that mean two things."""
Proofs = Mapping[str, Mapping[Decimal, str]]
"""Column -> decimal mark -> the first text that proves it."""


def read_hours(
    columns: Columns, intake: Intake, stored: bool = False, per_hour: float = 1.0
) -> Written:
    """Read all columns of hours of a table.

    Parameters
    ----------
    columns : mapping of str to sequence of str
        The distinct texts of each column.
    intake : Intake
        `decimal` settles the mark where it is stated.
    stored : bool
        True when the file stores numbers as such (a workbook, Parquet): digits with a point are
        then no proof of how people type.
    per_hour : float
        How many of what plain numbers count are an hour: 60 where they are minutes [1/h].

    Returns
    -------
    Written
        Hours [h].
    """
    blank = blank_words(intake)
    values: dict[str, list[Any]] = {}
    unclear: dict[str, list[tuple[int, HourReadings]]] = {}
    proofs: dict[str, dict[Decimal, str]] = {}
    units: dict[tuple[str, int], float] = {}
    for column, texts in columns.items():
        found: list[Any] = []
        values[column] = found
        unclear[column], proofs[column] = [], {}
        for i, text in enumerate(texts):
            reading = hour_readings(text)
            if not isinstance(reading, HourReadings):
                found.append(None if plain(text).casefold() in blank else reading)
                continue
            own = 1.0 if _TELLS_HOURS.search(text) else per_hour
            found.append(_checked(reading.under(None), own))
            if reading.differ:
                unclear[column].append((i, reading))
                units[column, i] = own
            elif reading.settles and not (stored and _may_be_stored(text)):
                proofs[column].setdefault(reading.settles, text)
    marks = {column: intake.decimal or _proved(column, proofs) for column in columns}
    for column, cells in unclear.items():
        for i, reading in cells:
            hours = reading.under(marks[column])
            values[column][i] = (
                _open(reading) if hours is None else _checked(hours, units[column, i])
            )
    return Written(
        values,
        tuple(_together(proofs.values())),
        tuple(_notes(columns, unclear, marks, proofs, intake.decimal)),
        settled=tuple(sorted(_settled(unclear, marks) if intake.decimal is None else ())),
        questions=tuple(_questions(columns, unclear, marks, values)),
    )


def _settled(unclear: Unclear, marks: Mapping[str, Decimal | None]) -> set[str]:
    """Give the marks by which unclear cells were read."""
    return {str(marks[name]) for name, cells in unclear.items() if cells and marks[name]}


def _may_be_stored(text: str) -> bool:
    """Tell whether a number may come from the file rather than from a keyboard."""
    return text.replace(".", "", 1).isdecimal()


def _checked(read: float | None, per_hour: float) -> float | Problem | None:
    if read is None:
        return None
    hours = read / per_hour
    return hours_in_range(hours) or hours


def _together(proofs: Iterable[Mapping[Decimal, str]]) -> dict[Decimal, str]:
    found: dict[Decimal, str] = {}
    for proof in proofs:
        found = {**proof, **found}
    return found


def _proved(column: str, proofs: Proofs) -> Decimal | None:
    """Give the mark that the column's own cells prove, or those of all columns; else None."""
    for proof in (proofs[column], _together(proofs.values())):
        if proof:
            return next(iter(proof)) if len(proof) == 1 else None
    return None


def _open(reading: HourReadings) -> Problem:
    return Problem(
        f"can be {reading.point:g} h or {reading.comma:g} h, and the other cells do not tell "
        f'which; state [intake] decimal = "." in the settings for {reading.point:g}, or '
        f'decimal = "," for {reading.comma:g}'
    )


def _notes(
    columns: Columns,
    unclear: Unclear,
    marks: Mapping[str, Decimal | None],
    proofs: Proofs,
    stated: Decimal | None,
) -> Iterable[str]:
    """Say what was found out, and where two hands wrote."""
    proved = _together(proofs.values())
    against = [mark for mark in proved if stated and mark != stated]
    if len(proved) > 1 or against:
        both = " and ".join(
            f"with a decimal {_NAMES[mark]} ({quoted(text)})" for mark, text in proved.items()
        )
        yield (
            f"Hours are written {both}"
            + (f", the settings say a {_NAMES[stated]}" if stated else "")
            + "; each was read in the only way it can be."
        )
    if stated:
        return
    told: set[Decimal] = set()
    for column, cells in unclear.items():
        mark = marks[column]
        if cells and mark and mark not in told:
            told.add(mark)
            by = proofs[column].get(mark) or proved[mark]
            yield (
                f"Hours such as {quoted(columns[column][cells[0][0]])} are read with a decimal "
                f"{_NAMES[mark]}, which {quoted(by)} proves."
            )
    if set(proved) == {","} and not told:
        yield f"Hours are read with a decimal comma, as in {quoted(proved[','])}."


def _questions(
    columns: Columns,
    unclear: Unclear,
    marks: Mapping[str, Decimal | None],
    values: Mapping[str, list[Any]],
) -> Iterable[str]:
    """Ask about columns that stay unclear, unless most readings past 999 h are clear.

    Only a number of four digits can have a mark of thousands: without the unclear cells the long
    lives would be missing, and with them the answer.
    """
    read = [value for column in values.values() for value in column if isinstance(value, float)]
    clear = sum(hours >= _FIRST_MARKED for hours in read)
    for column, cells in unclear.items():
        if marks[column] is None and len(cells) > clear:
            i, reading = cells[0]
            text = quoted(columns[column][i])
            yield f"{column} {text} {_open(reading).sentence}{and_more(len(cells) - 1)}"
