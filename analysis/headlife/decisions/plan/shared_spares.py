"""Which printer takes which spare, where there are too few for what each would do alone?

From the courses of swaps of every printer, each with its cost and the spares it takes, and the
spares there are by the day they are there: one course for each printer at the least total cost, by
integer programming (`scipy.optimize.milp`), and a bound that no choice can be below. Knows no
heads.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

import numpy as np

from headlife.decisions.plan.courses import (
    MISSING,
    NEW,
    NOT_THERE,
    USED,
    Choice,
    Prices,
    courses,
    gaps_with_swaps,
)
from headlife.decisions.plan.one_printer import PrinterBuilds

# Part-used heads that a place chooses from where they are short.
_CHOICES: Final = 3
_SAME: Final = 1e-9


class Limit(NamedTuple):
    """New heads there are by a day, and the stocks that are taken from them."""

    stocks: frozenset[int]
    """Stocks that take from these heads: what came before serves later as well."""
    heads: int
    """How many [heads]."""


@dataclass(frozen=True)
class SharedSpares:
    """One course of swaps for each printer, within the spares there are."""

    courses: tuple[tuple[Choice, ...], ...]
    """What goes in at each gap of each printer; the options of `printers`."""
    printers: tuple[PrinterBuilds, ...]
    """The printers, with the part-used heads that each chose from."""
    cost: float
    """Total of the expected costs, without what a missing head is charged with [currency]."""
    missing: int
    """New heads that are needed and not there [heads]."""
    bound: float
    """Total that no choice within these spares is below [currency]."""
    binding: bool
    """Whether the spares held a printer back from what it would do alone."""


class _Column(NamedTuple):
    """One course of one printer."""

    printer: int
    course: tuple[Choice, ...]
    cost: float
    new: Mapping[int, int]
    used: tuple[str, ...]


def share_spares(printers: Sequence[PrinterBuilds], limits: Sequence[Limit]) -> SharedSpares:
    """Choose a course of swaps for each printer within the spares there are.

    Parameters
    ----------
    printers : sequence of PrinterBuilds
        Their builds and heads; the stocks of all places are numbered together.
    limits : sequence of Limit
        New heads there are.

    Returns
    -------
    SharedSpares
        Each printer's own best where the spares serve all; else the best of all together.
    """
    stocks = 1 + max((number for limit in limits for number in limit.stocks), default=-1)
    free = Prices(stocks=(0.0,) * stocks)
    alone = [_priced(number, one, free) for number, one in enumerate(printers)]
    bound = sum(column.cost for column in alone)
    if _fits(alone, limits):
        own = tuple(column.course for column in alone)
        return SharedSpares(own, tuple(printers), bound, 0, bound, False)
    reduced = _with_few_used(printers, alone)
    columns = [
        column
        for number, one in enumerate(reduced)
        for column in _columns(number, one, alone[number], limits)
    ]
    chosen, worth = _choose(columns, len(printers), limits)
    missing = sum(option == MISSING for c in chosen for *_, option in gaps_with_swaps(c.course))
    cost = sum(column.cost for column in chosen) - NOT_THERE * missing
    if not missing:
        bound = max(bound, _priced_bound(printers, limits, worth, stocks))
    own = tuple(column.course for column in chosen)
    return SharedSpares(own, reduced, cost, missing, min(bound, cost), True)


def _priced(number: int, printer: PrinterBuilds, prices: Prices) -> _Column:
    """Take a printer's best course at prices."""
    found = courses(printer, prices=prices)
    return _column(number, printer, found.course(0), float(found.costs[0]))


def _column(
    number: int, printer: PrinterBuilds, course: tuple[Choice, ...], cost: float
) -> _Column:
    new: Counter[int] = Counter()
    used = []
    for gap, place, option in gaps_with_swaps(course):
        one = printer.places[place]
        stock = one.stock[gap] if one.stock else None
        if option == NEW and stock is not None:
            new[stock] += 1
        if option >= USED:
            used.append(one.used[option - USED].name)
    return _Column(number, course, cost, new, tuple(used))


def _fits(columns: Sequence[_Column], limits: Sequence[Limit]) -> bool:
    """Whether the spares serve all these courses."""
    used = Counter(name for column in columns for name in column.used)
    return all(n == 1 for n in used.values()) and all(
        sum(column.new.get(stock, 0) for column in columns for stock in limit.stocks) <= limit.heads
        for limit in limits
    )


def _with_few_used(
    printers: Sequence[PrinterBuilds], alone: Sequence[_Column]
) -> tuple[PrinterBuilds, ...]:
    """Let each place choose from a few part-used heads, the next place from the next ones.

    A place that would swap nothing with every spare at hand swaps nothing with fewer.
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
            first = max(min(turn[names] - 1, len(own) - _CHOICES), 0)
            turn[names] += 1
            places.append(replace(place, used=own[first : first + _CHOICES]))
        reduced.append(replace(printer, places=tuple(places)))
    return tuple(reduced)


def _columns(
    number: int, printer: PrinterBuilds, alone: _Column, limits: Sequence[Limit]
) -> list[_Column]:
    """List a printer's courses of which none takes more spares and costs more than another."""
    if not any(True for _ in gaps_with_swaps(alone.course)):
        return [alone]
    own = sorted({stock for one in printer.places for stock in one.stock if stock is not None})
    renumbered = {stock: i for i, stock in enumerate(own)}
    local = replace(
        printer,
        places=tuple(
            replace(one, stock=tuple(None if s is None else renumbered[s] for s in one.stock))
            for one in printer.places
        ),
    )
    swaps = 1 + sum(1 for _ in gaps_with_swaps(alone.course))
    there = [min((x.heads for x in limits if stock in x.stocks), default=swaps) for stock in own]
    found = courses(local, [min(n, swaps) for n in there])
    amounts = np.hstack([found.taken, found.used])
    kept: list[int] = []
    for i in np.argsort(amounts.astype(bool).sum(axis=1) + 1e-3 * amounts.sum(axis=1)):
        takes_less = [
            k
            for k in kept
            if ((amounts[k] == amounts[i]) | (amounts[k] == 0) | _fewer(found, k, i)).all()
        ]
        if all(found.costs[i] < found.costs[k] - _SAME for k in takes_less):
            kept.append(int(i))
    return [_column(number, printer, found.course(i), float(found.costs[i])) for i in kept]


def _fewer(found: Any, one: int, other: int) -> Any:
    """Where one amount of new heads is below another; part-used heads are not ordered."""
    fewer = found.taken[one] <= found.taken[other]
    return np.concatenate([fewer, np.zeros(found.used.shape[1], dtype=bool)])


def _choose(
    columns: Sequence[_Column], printers: int, limits: Sequence[Limit]
) -> tuple[list[_Column], dict[Any, float]]:
    """Choose one course for each printer; give what one more of each limit would be worth."""
    from scipy.optimize import Bounds, LinearConstraint, linprog, milp

    costs = np.array([column.cost for column in columns])
    one_each = np.zeros((printers, len(columns)))
    one_each[[column.printer for column in columns], np.arange(len(columns))] = 1.0
    names = sorted({name for column in columns for name in column.used})
    takes = np.array(
        [[sum(c.new.get(s, 0) for s in limit.stocks) for c in columns] for limit in limits]
        + [[c.used.count(name) for c in columns] for name in names],
        dtype=float,
    ).reshape(-1, len(columns))
    there = np.array([limit.heads for limit in limits] + [1] * len(names), dtype=float)
    found = milp(
        costs,
        constraints=[LinearConstraint(one_each, 1.0, 1.0), LinearConstraint(takes, -np.inf, there)],
        integrality=np.ones(len(columns)),
        bounds=Bounds(0.0, 1.0),
        options={"mip_rel_gap": 0.0},
    )
    chosen = [columns[i] for i in np.flatnonzero(found.x > 0.5).tolist()]
    relaxed = linprog(costs, takes, there, one_each, np.ones(printers), bounds=(0.0, 1.0))
    worth = np.maximum(-relaxed.ineqlin.marginals, 0.0).tolist()
    return (
        sorted(chosen, key=lambda column: column.printer),
        dict(zip([*range(len(limits)), *names], worth, strict=True)),
    )


def _priced_bound(
    printers: Sequence[PrinterBuilds],
    limits: Sequence[Limit],
    worth: Mapping[Any, float],
    stocks: int,
) -> float:
    """Total that no choice is below: spares charged with what they are worth, less that worth.

    Lagrange's bound. A swap is charged with its chance to come to pass, which is never more than
    once.
    """
    of_stock = [
        sum(worth[i] for i, limit in enumerate(limits) if stock in limit.stocks)
        for stock in range(stocks)
    ]
    used = {name: value for name, value in worth.items() if isinstance(name, str)}
    prices = Prices(of_stock, used)
    charged = sum(float(courses(one, prices=prices).costs[0]) for one in printers)
    returned = sum(worth[i] * limit.heads for i, limit in enumerate(limits))
    return charged - returned - sum(used.values())
