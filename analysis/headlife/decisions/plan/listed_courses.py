"""Which courses of swaps of one printer come into question where spares are shared?

Each is a column of the choice to be made: its cost and the spares it takes. From a printer and the
new heads there are; chooses nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import prod
from typing import Final, NamedTuple

import numpy as np

from headlife.decisions.plan.courses import (
    NEW,
    USED,
    Choice,
    Courses,
    Prices,
    courses,
    gaps_with_swaps,
)
from headlife.decisions.plan.expected import expected
from headlife.decisions.plan.one_printer import PrinterBuilds

# Part-used heads that a place chooses from where they are short.
_CHOICES: Final = 3
_MANY_BUILDS: Final = 16  # of one printer, from which on a place chooses from one
_MOST_AMOUNTS: Final = 100  # of new heads from all stocks that a printer may take
_SAME: Final = 1e-9


class Limit(NamedTuple):
    """New heads there are by a day, and the stocks that are taken from them."""

    stocks: frozenset[int]
    """Stocks that take from these heads: what came before serves later as well."""
    heads: int
    """How many [heads]."""


class CourseColumn(NamedTuple):
    """One course of one printer, and what it takes."""

    printer: int
    """Which printer."""
    found: Courses
    """The courses that it is one of."""
    number: int
    """Which of them."""
    cost: float
    """Its expected cost [currency]."""
    new: Mapping[int, int]
    """New heads that it takes, by stock."""
    used: tuple[str, ...]
    """Part-used heads that it takes, by name."""

    @property
    def course(self) -> tuple[Choice, ...]:
        """What goes in at each gap."""
        return self.found.course(self.number)


def best_at(number: int, printer: PrinterBuilds, prices: Prices) -> tuple[CourseColumn, float]:
    """Take a printer's best course at prices.

    Parameters
    ----------
    number : int
        Which printer.
    printer : PrinterBuilds
        Its builds and heads.
    prices : Prices
        What spares are charged with.

    Returns
    -------
    CourseColumn
        The course.
    float
        What the printer pays, prices included [currency].
    """
    found = courses(printer, prices=prices)
    course, pays = found.course(0), float(found.costs[0])
    cost = pays if prices.none else sum(expected(printer, course).costs(printer).values())
    new: Counter[int] = Counter()
    used = []
    for gap, place, option in gaps_with_swaps(course):
        one = printer.places[place]
        stock = one.stock[gap] if one.stock else None
        if option == NEW and stock is not None:
            new[stock] += 1
        if option >= USED:
            used.append(one.used[option - USED].name)
    return CourseColumn(number, found, 0, cost, new, tuple(used)), pays


def with_few_used(
    printers: Sequence[PrinterBuilds], alone: Sequence[CourseColumn]
) -> tuple[PrinterBuilds, ...]:
    """Let each place choose from a few part-used heads, the next place from the next ones.

    A place that would swap nothing with every spare at hand swaps nothing with fewer.

    Parameters
    ----------
    printers : sequence of PrinterBuilds
        The printers.
    alone : sequence of CourseColumn
        What each would do with every spare at hand.

    Returns
    -------
    tuple of PrinterBuilds
        The printers, with fewer options.
    """
    turn: Counter[tuple[str, ...]] = Counter()
    reduced = []
    for printer, column in zip(printers, alone, strict=True):
        swapped = {place for _, place, _ in gaps_with_swaps(column.course)}
        places = []
        for number, place in enumerate(printer.places):
            own = tuple(sorted(place.used, key=lambda one: (one.age, one.name)))
            if number not in swapped:
                own = ()
            names = tuple(one.name for one in own)
            few = _CHOICES if printer.hours.size < _MANY_BUILDS else 1
            first = max(min(turn[names] + 1, len(own)) - few, 0)
            turn[names] += 1
            places.append(replace(place, used=own[first : first + few]))
        reduced.append(replace(printer, places=tuple(places)))
    return tuple(reduced)


def most_listed(
    printer: PrinterBuilds, alone: CourseColumn, limits: Sequence[Limit]
) -> dict[int, int]:
    """Say how many new heads a printer's courses are listed for, by stock.

    Parameters
    ----------
    printer : PrinterBuilds
        The printer.
    alone : CourseColumn
        What it would do with every spare at hand.
    limits : sequence of Limit
        New heads there are.

    Returns
    -------
    dict of int to int
        Heads, by the number of their stock.
    """
    own = sorted({stock for one in printer.places for stock in one.stock if stock is not None})
    swaps = 1 + sum(1 for _ in gaps_with_swaps(alone.course))
    there = [min((x.heads for x in limits if stock in x.stocks), default=swaps) for stock in own]
    return dict(zip(own, _fewer([min(n, swaps) for n in there]), strict=True))


class Listing(NamedTuple):
    """The courses of one printer that come into question, and what stands for all others."""

    printer: PrinterBuilds
    """The printer with the options that courses are listed for."""
    alone: CourseColumn
    """What it would do with every spare at hand."""
    most: Mapping[int, int]
    """New heads that courses are listed for, by stock."""
    listed: Sequence[CourseColumn]
    """Courses, without `alone`, of which none takes more spares and costs more than another."""
    others: Sequence[CourseColumn]
    """For each spare of which a course that is not listed takes more, one as cheap as `alone`."""


def listing(
    number: int,
    printer: PrinterBuilds,
    few: PrinterBuilds,
    alone: CourseColumn,
    most: Mapping[int, int],
) -> Listing:
    """List a printer's courses.

    Parameters
    ----------
    number : int
        Which printer.
    printer, few : PrinterBuilds
        The printer with all its options, and with those to list courses for.
    alone : CourseColumn
        What it would do with every spare at hand.
    most : mapping of int to int
        New heads to list courses for at most, by stock.

    Returns
    -------
    Listing
        No courses where the printer alone swaps nothing.
    """
    if not any(True for _ in gaps_with_swaps(alone.course)):
        return Listing(few, alone, most, (), ())
    there = {one.name for place in few.places for one in place.used}
    pairs = zip(printer.places, few.places, strict=True)
    names = {one.name for place, own in pairs if own.used for one in place.used} - there
    more = [alone._replace(new={stock: heads + 1}, used=()) for stock, heads in most.items()]
    others = [*more, *(alone._replace(new={}, used=(name,)) for name in sorted(names))]
    return Listing(few, alone, most, _listed(number, few, most), others)


def with_more(of: Listing, printer: PrinterBuilds, wanted: Sequence[CourseColumn]) -> Listing:
    """List a printer's courses again, with the spares that some of `others` stand for.

    Parameters
    ----------
    of : Listing
        Its courses so far.
    printer : PrinterBuilds
        The printer with all its options.
    wanted : sequence of CourseColumn
        Some of `others`.

    Returns
    -------
    Listing
        Its courses with these.
    """
    names = {name for one in wanted for name in one.used}
    most = dict(of.most) | {stock: heads for one in wanted for stock, heads in one.new.items()}
    places = tuple(
        replace(few, used=(*few.used, *(one for one in every.used if one.name in names)))
        if few.used
        else few
        for few, every in zip(of.printer.places, printer.places, strict=True)
    )
    few = replace(of.printer, places=places)
    return listing(of.alone.printer, printer, few, of.alone, most)


def _listed(number: int, printer: PrinterBuilds, most: Mapping[int, int]) -> list[CourseColumn]:
    own = list(most)
    renumbered = {stock: i for i, stock in enumerate(own)}
    local = replace(
        printer,
        places=tuple(
            replace(one, stock=tuple(None if s is None else renumbered[s] for s in one.stock))
            for one in printer.places
        ),
    )
    found = courses(local, list(most.values()))
    amounts = np.hstack([found.taken, found.used])
    kept: list[int] = []
    for i in np.argsort(amounts.sum(axis=1), kind="stable").tolist():
        less = (amounts[kept] <= amounts[i]).all(axis=1)
        if (found.costs[i] < found.costs[kept][less] - _SAME).all():
            kept.append(i)
    names = [one.name for place in printer.places for one in place.used]
    return [
        CourseColumn(
            number,
            found,
            i,
            float(found.costs[i]),
            dict(zip(own, found.taken[i].tolist(), strict=True)),
            tuple(name for name, n in zip(names, found.used[i].tolist(), strict=True) if n),
        )
        for i in kept
    ]


def _fewer(most: list[int]) -> list[int]:
    """Take fewer of each, one at least, where there would be more amounts than time allows."""
    while prod(n + 1 for n in most) > _MOST_AMOUNTS and max(most) > 1:
        most = [min(n, max(most) - 1) for n in most]
    return most
