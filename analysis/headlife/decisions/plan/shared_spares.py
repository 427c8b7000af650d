"""Which printer takes which spare, where there are too few for what each would do alone?

From every printer's courses of swaps (`listed_courses`) and the spares there are by the day they
are there: one course for each printer at the least total cost, by integer programming
(`scipy.optimize.milp`), and a bound that no choice can be below. Knows no heads.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, Final, NamedTuple

import numpy as np

from headlife.decisions.plan.courses import (
    KEEP,
    MISSING,
    NEW,
    NOT_THERE,
    USED,
    Choice,
    Prices,
    gaps_with_swaps,
)
from headlife.decisions.plan.listed_courses import (
    CourseColumn,
    Limit,
    Listing,
    best_at,
    listing,
    most_listed,
    with_few_used,
    with_more,
)
from headlife.decisions.plan.one_printer import PrinterBuilds, is_due

_DIGITS: Final = 6  # of costs that are the same
_ROUNDS: Final = 12  # of looking for better courses
_CLOSE: Final = 1e-4  # of the bound to what the courses so far cost, as a share
_MORE: Final = 4  # times that courses are listed with more spares
_NEAR: Final = 2e-3  # of the bound to what is chosen, as a share, from which on they are not


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
    shared, lists = _share(printers, limits, {})
    waiting = [
        _without_spare(one, few, course)
        for one, few, course in zip(printers, shared.printers, shared.courses, strict=True)
    ]
    same = {i for i, one in enumerate(waiting) if one is printers[i]}
    if len(same) == len(printers):
        return shared
    shared, _ = _share(waiting, limits, {i: one for i, one in lists.items() if i in same})
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
    # By place, of the head in place and of those that go in.
    swap_at = [
        [np.array(np.broadcast_to(ages, printer.hours.shape)) for ages in one.swap_ages]
        for one in few.places
    ]
    # Numbered as all printers number them; the options a course was found with number their own.
    stock = [list(one.stock) for one in printer.places]
    changed = False
    for number, place in enumerate(few.places):
        age, went_in = place.age, 0
        for gap, hours in enumerate(printer.hours):
            option = swaps.get((gap, number), KEEP)
            if option != KEEP:
                age = place.used[option - USED].age if option >= USED else 0.0
                went_in = 1
            if option == MISSING:
                stock[number][gap], changed = None, True
            if is_due(age, hours, swap_at[number][went_in][gap], place.waits):
                for ages in swap_at[number]:
                    ages[gap] = np.inf
                changed = True
            age += hours
    if not changed:
        return printer
    places = tuple(
        replace(one, swap_at_now=now, swap_at=new, stock=tuple(numbers))
        for one, (now, new), numbers in zip(printer.places, swap_at, stock, strict=True)
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
    printers: Sequence[PrinterBuilds], limits: Sequence[Limit], known: Mapping[int, Listing]
) -> tuple[SharedSpares, dict[int, Listing]]:
    """Choose the courses; printers whose courses are known keep these."""
    stocks = 1 + max((number for limit in limits for number in limit.stocks), default=-1)
    free = Prices(stocks=(0.0,) * stocks)
    alone = [
        known[number].alone if number in known else best_at(number, one, free)[0]
        for number, one in enumerate(printers)
    ]
    least = sum(column.cost for column in alone)
    if _fits(alone, limits):
        best = tuple(column.course for column in alone)
        return SharedSpares(best, tuple(printers), least, 0, least, False), {}
    lists = {
        number: known[number]
        if number in known
        else listing(
            number, printers[number], few, alone[number], most_listed(few, alone[number], limits)
        )
        for number, few in enumerate(with_few_used(printers, alone))
    }
    found = [*alone, *(column for one in lists.values() for column in one.listed)]
    improved = _improve(found, printers, limits, stocks)
    chosen, below = _choose_with_more(found, printers, lists, limits)
    missing = sum(option == MISSING for one in chosen for *_, option in gaps_with_swaps(one.course))
    cost = sum(column.cost for column in chosen) - NOT_THERE * missing
    shared = SharedSpares(
        tuple(one.course for one in chosen),
        tuple(one.found.printer for one in chosen),
        cost,
        missing,
        min(least if missing else max(least, improved, below), cost),
        True,
    )
    return shared, lists


def _choose_with_more(
    columns: list[CourseColumn],
    printers: Sequence[PrinterBuilds],
    lists: dict[int, Listing],
    limits: Sequence[Limit],
) -> tuple[list[CourseColumn], float]:
    """Choose, and list more courses where those not listed might make it cheaper.

    No choice can be below the best of what is listed and of what the rest costs at least.
    """
    for turn in range(_MORE + 1):
        chosen = _choose(columns, len(printers), limits)
        others = [one for of in lists.values() for one in of.others]
        best = _choose([*columns, *others], len(printers), limits)
        below, cost = (sum(column.cost for column in own) for own in (best, chosen))
        stand_ins = [one for one in best if any(one is other for other in others)]
        if turn == _MORE or not stand_ins or cost - below <= _NEAR * abs(cost):
            break
        for number in sorted({one.printer for one in stand_ins}):
            wanted = [one for one in stand_ins if one.printer == number]
            lists[number] = with_more(lists[number], printers[number], wanted)
            columns += lists[number].listed
    return chosen, below


def _fits(columns: Sequence[CourseColumn], limits: Sequence[Limit]) -> bool:
    """Whether the spares serve all these courses."""
    used = Counter(name for column in columns for name in column.used)
    return all(n == 1 for n in used.values()) and all(
        sum(column.new.get(stock, 0) for column in columns for stock in limit.stocks) <= limit.heads
        for limit in limits
    )


class _Table(NamedTuple):
    """Columns as arrays: costs, which printer each is of, what each takes of what there is."""

    costs: Any
    one_each: Any
    takes: Any
    there: Any
    names: list[str]


def _table(columns: Sequence[CourseColumn], printers: int, limits: Sequence[Limit]) -> _Table:
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


def _choose(
    columns: Sequence[CourseColumn], printers: int, limits: Sequence[Limit]
) -> list[CourseColumn]:
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
    columns: list[CourseColumn],
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
        best = [best_at(number, one, prices) for number, one in enumerate(printers)]
        returned = sum(w * limit.heads for w, limit in zip(of_limit, limits, strict=True))
        bound = max(bound, sum(pays for _, pays in best) - returned - sum(of_name))
        known = {(one.printer, round(one.cost, _DIGITS)) for one in columns}
        new = [one for one, _ in best if (one.printer, round(one.cost, _DIGITS)) not in known]
        if not new or bound >= relaxed.fun * (1.0 - _CLOSE):
            break
        columns += new
    return bound
