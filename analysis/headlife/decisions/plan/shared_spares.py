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
from math import prod
from typing import Any, Final, NamedTuple

import numpy as np

from headlife.decisions.plan.courses import (
    KEEP,
    MISSING,
    NEW,
    NOT_THERE,
    USED,
    Choice,
    Courses,
    Prices,
    courses,
    gaps_with_swaps,
)
from headlife.decisions.plan.expected import expected
from headlife.decisions.plan.one_printer import PrinterBuilds, is_due

# Part-used heads that a place chooses from where they are short.
_CHOICES: Final = 3
_MANY_BUILDS: Final = 16  # of one printer, from which on a place chooses from one
_MOST_AMOUNTS: Final = 100  # of new heads from all stocks that a printer may take
_SAME: Final = 1e-9
_DIGITS: Final = 6  # of costs that are the same
_ROUNDS: Final = 12  # of looking for better courses
_CLOSE: Final = 1e-4  # of the bound to what the courses so far cost, as a share


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
    """One course of one printer, and what it takes."""

    printer: int
    found: Courses
    number: int
    cost: float
    new: Mapping[int, int]
    used: tuple[str, ...]

    @property
    def course(self) -> tuple[Choice, ...]:
        return self.found.course(self.number)


def share_spares(printers: Sequence[PrinterBuilds], limits: Sequence[Limit]) -> SharedSpares:
    """Choose a course of swaps for each printer within the spares there are.

    Where they are too few for every head at its swap age, or at a limit, it is settled first which
    of them run on into which build, or lack a spare, as few as can be; then what costs least with
    these.

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
    shared, columns = _share(printers, limits, ())
    waiting = [
        _without_spare(one, few, course)
        for one, few, course in zip(printers, shared.printers, shared.courses, strict=True)
    ]
    same = {i for i, one in enumerate(waiting) if one is printers[i]}
    if len(same) == len(printers):
        return shared
    shared, _ = _share(waiting, limits, [column for column in columns if column.printer in same])
    found = tuple(
        _with_missing(one, other, course)
        for one, other, course in zip(printers, waiting, shared.courses, strict=True)
    )
    missing = sum(option == MISSING for one in found for *_, option in gaps_with_swaps(one))
    return replace(shared, courses=found, missing=missing, binding=True)


def _without_spare(
    printer: PrinterBuilds, few: PrinterBuilds, course: Sequence[Choice]
) -> PrinterBuilds:
    """Take away what a course (of `few`) cannot keep to: swap ages, and stocks without a head."""
    swaps = {(gap, place): option for gap, place, option in gaps_with_swaps(course)}
    swap_at = [np.array(np.broadcast_to(one.swap_at, printer.hours.shape)) for one in few.places]
    stock = [list(one.stock) for one in few.places]
    changed = False
    for number, place in enumerate(few.places):
        age = place.age
        for gap, hours in enumerate(printer.hours):
            option = swaps.get((gap, number), KEEP)
            if option != KEEP:
                age = place.used[option - USED].age if option >= USED else 0.0
            if option == MISSING:
                stock[number][gap], changed = None, True
            if is_due(age, hours, swap_at[number][gap], place.waits):
                swap_at[number][gap], changed = np.inf, True
            age += hours
    if not changed:
        return printer
    places = tuple(
        replace(one, swap_at=ages, stock=tuple(numbers))
        for one, ages, numbers in zip(printer.places, swap_at, stock, strict=True)
    )
    return replace(printer, places=places)


def _with_missing(
    printer: PrinterBuilds, waiting: PrinterBuilds, course: Sequence[Choice]
) -> tuple[Choice, ...]:
    """Mark new heads as missing where their stock was taken away."""
    if waiting is printer:
        return tuple(course)
    found = [list(choice) for choice in course]
    for gap, place, option in gaps_with_swaps(course):
        stock = (one.places[place].stock for one in (printer, waiting))
        before, now = (numbers[gap] if numbers else None for numbers in stock)
        if option == NEW and before is not None and now is None:
            found[gap][place] = MISSING
    return tuple(tuple(choice) for choice in found)


def _share(
    printers: Sequence[PrinterBuilds], limits: Sequence[Limit], known: Sequence[_Column]
) -> tuple[SharedSpares, list[_Column]]:
    """Choose the courses; printers with columns that are known keep these, their own best first."""
    stocks = 1 + max((number for limit in limits for number in limit.stocks), default=-1)
    free = Prices(stocks=(0.0,) * stocks)
    own = {number: [c for c in known if c.printer == number] for number in range(len(printers))}
    alone = [
        own[number][0] if own[number] else _priced(number, one, free)[0]
        for number, one in enumerate(printers)
    ]
    bound = sum(column.cost for column in alone)
    if _fits(alone, limits):
        best = tuple(column.course for column in alone)
        return SharedSpares(best, tuple(printers), bound, 0, bound, False), []
    reduced = _with_few_used(printers, alone)
    columns, others = list(alone), []
    for number, one in enumerate(reduced):
        most = _most(one, alone[number], limits)
        columns += own[number][1:] or _columns(number, one, alone[number], most)
        others += _unlisted(printers[number], one, alone[number], most)
    bound = max(bound, _improve(columns, printers, limits, stocks))
    chosen = _choose(columns, len(printers), limits)
    # No choice can be below the best of what is listed and of what the rest costs at least.
    below = _choose([*columns, *others], len(printers), limits)
    bound = max(bound, sum(one.cost for one in below))
    missing = sum(option == MISSING for one in chosen for *_, option in gaps_with_swaps(one.course))
    cost = sum(column.cost for column in chosen) - NOT_THERE * missing
    if missing:
        bound = sum(column.cost for column in alone)
    shared = SharedSpares(
        tuple(one.course for one in chosen),
        tuple(one.found.printer for one in chosen),
        cost,
        missing,
        min(bound, cost),
        True,
    )
    return shared, columns


def _priced(number: int, printer: PrinterBuilds, prices: Prices) -> tuple[_Column, float]:
    """Take a printer's best course at prices; give with it what it pays."""
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
    return _Column(number, found, 0, cost, new, tuple(used)), pays


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
            few = _CHOICES if printer.hours.size < _MANY_BUILDS else 1
            first = max(min(turn[names] + 1, len(own)) - few, 0)
            turn[names] += 1
            places.append(replace(place, used=own[first : first + few]))
        reduced.append(replace(printer, places=tuple(places)))
    return tuple(reduced)


def _most(printer: PrinterBuilds, alone: _Column, limits: Sequence[Limit]) -> dict[int, int]:
    """Say how many new heads a printer's courses are listed for, by stock."""
    own = sorted({stock for one in printer.places for stock in one.stock if stock is not None})
    swaps = 1 + sum(1 for _ in gaps_with_swaps(alone.course))
    there = [min((x.heads for x in limits if stock in x.stocks), default=swaps) for stock in own]
    return dict(zip(own, _fewer([min(n, swaps) for n in there]), strict=True))


def _unlisted(
    printer: PrinterBuilds, few: PrinterBuilds, alone: _Column, most: Mapping[int, int]
) -> list[_Column]:
    """Stand for the courses that are not listed: as cheap as the best of all, taking the least."""
    if not any(True for _ in gaps_with_swaps(alone.course)):
        return []
    listed = {one.name for place in few.places for one in place.used}
    names = sorted({one.name for place in printer.places for one in place.used} - listed)
    more = [alone._replace(new={stock: heads + 1}, used=()) for stock, heads in most.items()]
    return [*more, *(alone._replace(new={}, used=(name,)) for name in names)]


def _columns(
    number: int, printer: PrinterBuilds, alone: _Column, most: Mapping[int, int]
) -> list[_Column]:
    """List a printer's courses of which none takes more spares and costs more than another."""
    if not any(True for _ in gaps_with_swaps(alone.course)):
        return []
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
        _Column(
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


class _Table(NamedTuple):
    """Columns as arrays: costs, which printer each is of, what each takes of what there is."""

    costs: Any
    one_each: Any
    takes: Any
    there: Any
    names: list[str]


def _table(columns: Sequence[_Column], printers: int, limits: Sequence[Limit]) -> _Table:
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
    return _Table(costs, one_each, takes, there, names)


def _choose(columns: Sequence[_Column], printers: int, limits: Sequence[Limit]) -> list[_Column]:
    """Choose one course for each printer at the least total."""
    from scipy.optimize import Bounds, LinearConstraint, milp

    table = _table(columns, printers, limits)
    found = milp(
        table.costs,
        constraints=[
            LinearConstraint(table.one_each, 1.0, 1.0),
            LinearConstraint(table.takes, -np.inf, table.there),
        ],
        integrality=np.ones(len(columns)),
        bounds=Bounds(0.0, 1.0),
        options={"mip_rel_gap": 0.0},
    )
    chosen = [columns[i] for i in np.flatnonzero(found.x > 0.5).tolist()]
    return sorted(chosen, key=lambda column: column.printer)


def _improve(
    columns: list[_Column],
    printers: Sequence[PrinterBuilds],
    limits: Sequence[Limit],
    stocks: int,
) -> float:
    """Add courses that are best at what spares are worth; give the highest bound found.

    Column generation: what one more of each spare would be worth to the courses so far is what
    printers are charged with next. Lagrange's bound is what all then pay, less that worth.
    """
    from scipy.optimize import linprog

    bound = -np.inf
    for _ in range(_ROUNDS):
        table = _table(columns, len(printers), limits)
        relaxed = linprog(
            table.costs,
            table.takes,
            table.there,
            table.one_each,
            np.ones(len(printers)),
            bounds=(0.0, 1.0),
        )
        worth = np.maximum(-relaxed.ineqlin.marginals, 0.0).tolist()
        of_limit, of_name = worth[: len(limits)], worth[len(limits) :]
        of_stock = [
            sum(w for w, limit in zip(of_limit, limits, strict=True) if stock in limit.stocks)
            for stock in range(stocks)
        ]
        prices = Prices(of_stock, dict(zip(table.names, of_name, strict=True)))
        best = [_priced(number, one, prices) for number, one in enumerate(printers)]
        returned = sum(w * limit.heads for w, limit in zip(of_limit, limits, strict=True))
        bound = max(bound, sum(pays for _, pays in best) - returned - sum(of_name))
        known = {(one.printer, round(one.cost, _DIGITS)) for one in columns}
        new = [one for one, _ in best if (one.printer, round(one.cost, _DIGITS)) not in known]
        if not new or bound >= relaxed.fun * (1.0 - _CLOSE):
            break
        columns += new
    return bound
