"""Which comes first in the dates of a table, day or month? Each column as a whole settles it.

Answers from the distinct texts of all columns of dates: the format or the order that the settings
state; else the one order that all cells with the same mark allow, in the column and then in the
table. Where cells allow several, or contradict each other, those with two readings are problems
that name the line of the settings to write; no cell is guessed by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, datetime
from typing import Any, Final

from headlife.plain_text import plain
from headlife.records.cells import Problem, quoted
from headlife.records.dates import (
    A_WEEK,
    ORDERS,
    DateReadings,
    Order,
    date_readings,
    year_in_range,
)
from headlife.records.written import Columns, Written, and_more, blank_words
from headlife.shop import Intake

Cells = Mapping[int, DateReadings]
"""Place of a text in its column -> its readings."""
Hands = Mapping[tuple[str, str], Cells]
"""Column and mark -> the cells written so: what one hand wrote, as far as can be told."""

_FORMAT_DIGITS: Final = (("%Y", "####"), ("%y", "##"), ("%d", "#"), ("%m", "#"))


def read_dates(
    columns: Columns, intake: Intake, stored: bool = False, today: date | None = None
) -> Written:
    """Read all columns of dates of a table.

    Parameters
    ----------
    columns : mapping of str to sequence of str
        The distinct texts of each column.
    intake : Intake
        `date_format` and `date_order` settle the order where they are stated.
    stored : bool
        True when the file stores dates as such: a day written year first is then no text.
    today : date, optional
        Years of two digits are not read as a year after the next one; default: the computer's.

    Returns
    -------
    Written
        Moments; a cell without a clock is midnight.
    """
    latest = (today or date.today()).year + 1  # noqa: DTZ011
    blank = blank_words(intake)
    stated = _StatedFormat(intake.date_format, stored)
    values: dict[str, list[Any]] = {}
    hands: dict[tuple[str, str], dict[int, DateReadings]] = {}
    for column, texts in columns.items():
        found: list[Any] = []
        values[column] = found
        for i, text in enumerate(texts):
            reading = stated.read(text) or date_readings(text, tuple(intake.languages))
            if isinstance(reading, DateReadings) and not stated.is_about(reading):
                reading = _not_after(reading, latest)
                hands.setdefault((column, reading.mark), {})[i] = reading
                found.append(_checked(reading.under(None)))
            elif isinstance(reading, DateReadings):
                found.append(stated.refusal)
            elif isinstance(reading, datetime):
                found.append(_checked(reading))
            else:
                found.append(None if plain(text).casefold() in blank else reading)
    orders = {hand: intake.date_order or _proved(hand, hands) for hand in hands}
    for (column, mark), cells in hands.items():
        for i, reading in cells.items():
            if reading.differ:
                day = reading.under(orders[column, mark])
                values[column][i] = _open(reading) if day is None else _checked(day)
    return Written(
        values,
        tuple(sorted({order for order in map(_only, _numeric(hands).values()) if order})),
        tuple(_notes(columns, hands, orders, intake.date_order)),
        settled=tuple(sorted(_settled(hands, orders) if intake.date_order is None else ())),
        questions=tuple(_questions(columns, hands, values)),
    )


def _settled(hands: Hands, orders: Mapping[tuple[str, str], Order | None]) -> set[str]:
    """Give the orders by which unclear cells were read."""
    return {
        str(orders[hand])
        for hand, cells in _numeric(hands).items()
        if orders[hand] and any(cell.differ for cell in cells.values())
    }


class _StatedFormat:
    """The format that the settings state, for cells of its form."""

    def __init__(self, date_format: str | None, stored: bool) -> None:
        self._format = date_format
        self._form = date_format or ""
        for code, digits in _FORMAT_DIGITS:
            self._form = self._form.replace(code, digits)
        # A stored date shows year-month-day too, whatever people type beside it.
        self._unsure = stored and self._form == "####-#-#" and date_format != "%Y-%m-%d"

    def read(self, text: str) -> datetime | Problem | None:
        """Read a text by the format; None when it does not fit."""
        if self._format is None:
            return None
        try:
            day = datetime.strptime(plain(text), self._format).replace(tzinfo=None)  # noqa: DTZ007
        except ValueError:
            return None
        if self._unsure:
            return Problem(
                "may be a stored date or a text in the stated format, which look the same; format "
                "the whole column as dates, and take date_format out of the settings"
            )
        return day

    def is_about(self, reading: DateReadings) -> bool:
        """Tell whether a text that did not fit has the form of the format."""
        return self._format is not None and reading.form == self._form

    @property
    def refusal(self) -> Problem:
        """Say that a text of the format's form is no day in it."""
        return Problem(
            f"is no day in the stated format {self._format}; correct it, or [intake] date_format "
            "in the settings"
        )


def _checked(day: datetime | None) -> datetime | Problem | None:
    return None if day is None else year_in_range(day) or day


def _not_after(reading: DateReadings, latest: int) -> DateReadings:
    """Leave out what lies after the latest year, where another reading does not."""
    if not reading.differ:
        return reading
    past = tuple(one for one in reading.days if one[1].year <= latest)
    return DateReadings(past or reading.days, reading.form)


def _numeric(hands: Hands) -> Hands:
    """Give the cells whose order is a question: numbers with a mark between them."""
    return {hand: cells for hand, cells in hands.items() if hand[1]}


def _possible(cells: Cells) -> set[Order]:
    """Give the orders that every cell allows."""
    allowed = ({order for order, _ in cell.days} for cell in cells.values())
    return set(ORDERS).intersection(*allowed)


def _only(cells: Cells) -> Order | None:
    orders = _possible(cells)
    return orders.pop() if len(orders) == 1 else None


def _proved(hand: tuple[str, str], hands: Hands) -> Order | None:
    """Give the one order that all cells with this mark allow, in the column or in the table."""
    orders = _possible(hands[hand])
    if len(orders) > 1 and hand[1]:
        alike = [_possible(cells) for (_, mark), cells in hands.items() if mark == hand[1]]
        orders = orders.intersection(*alike)
    return orders.pop() if len(orders) == 1 else None


def _open(reading: DateReadings) -> Problem:
    lines = " or ".join(f'{day:%Y-%m-%d} (date_order = "{order}")' for order, day in reading.days)
    return Problem(
        f"can be {lines}, and the other cells do not tell which; state the line that is right in "
        "the settings, under [intake]"
    )


def _notes(
    columns: Columns,
    hands: Hands,
    orders: Mapping[tuple[str, str], Order | None],
    stated: Order | None,
) -> Iterator[str]:
    """Say what was found out, and where two hands wrote."""
    weeks = [
        columns[hand[0]][i]
        for hand, cells in hands.items()
        for i, reading in cells.items()
        if reading.form == A_WEEK
    ]
    if weeks:
        yield f"Weeks such as {quoted(weeks[0])} are read as their Thursday, the day in the middle."
    told: set[Order] = set()
    for hand, cells in _numeric(hands).items():
        single = _single(columns[hand[0]], cells)
        if len(single) > 1 or (stated and set(single) - {stated}):
            both = " and ".join(f"the {order} ({quoted(text)})" for order, text in single.items())
            yield (
                f"Dates in {hand[0]} are written with {both}"
                + (f", the settings say {stated}" if stated else "")
                + "; each was read in the only way it can be."
            )
        order = orders[hand]
        unclear = [i for i, reading in cells.items() if reading.differ]
        if stated is None and order and unclear and order not in told:
            told.add(order)
            yield (
                f"Dates such as {quoted(columns[hand[0]][unclear[0]])} are read {order}, as "
                f"{quoted(_proof(columns, hands, hand, order))} shows."
            )


def _single(texts: Any, cells: Cells) -> dict[Order, str]:
    """Give, by order, the first text that allows no other."""
    found: dict[Order, str] = {}
    for i, reading in cells.items():
        if len(reading.days) == 1:
            found.setdefault(reading.days[0][0], texts[i])
    return found


def _proof(columns: Columns, hands: Hands, hand: tuple[str, str], order: Order) -> str:
    """Give a text that allows as few orders besides this one as any."""
    alike = [key for key in hands if key[1] == hand[1]]
    fewest = min(
        (
            (len(reading.days), key != hand, columns[key[0]][i])
            for key in alike
            for i, reading in hands[key].items()
            if order in dict(reading.days)
        ),
    )
    return fewest[2]


def _questions(columns: Columns, hands: Hands, values: Mapping[str, list[Any]]) -> Iterable[str]:
    for (column, _), cells in hands.items():
        unclear = [
            i
            for i, reading in cells.items()
            if reading.differ and isinstance(values[column][i], Problem)
        ]
        if unclear:
            first = unclear[0]
            text, more = quoted(columns[column][first]), and_more(len(unclear) - 1)
            yield f"{column} {text} {values[column][first].sentence}{more}"
