"""Before which of its builds does a printer get which heads, at the least expected cost?

One course of swaps for every amount of spares that the printer may take: exact dynamic programming
over the gaps, with the spares that are left as part of the state. A course holds while no head
fails; after a failure the rest is decided anew. Knows no calendar and no other printer.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import reduce
from itertools import product
from math import prod
from typing import Any, Final

import numpy as np

from headlife.decisions.plan.one_printer import (
    Counts,
    PrinterBuilds,
    all_survive,
    before,
    new_slot,
    running,
)
from headlife.numbers import Floats

KEEP: Final = 0
NEW: Final = 1
MISSING: Final = -1  # a new head that is needed and is not there
USED: Final = 2  # the first of the part-used heads that could go in
# Charged for a new head that is not there: more than any plan costs, so that none is missing
# where the build can be done without it [currency].
NOT_THERE: Final = 1e8
_LEAST: Final = 1e-100

Choice = Sequence[int]
"""What goes in, one for each place: `KEEP`, `NEW`, `MISSING` or `USED` and more."""


@dataclass(frozen=True)
class Courses:
    """The cheapest course of swaps for every amount of spares that the printer may take."""

    costs: Floats
    """Expected cost of each, the end included [currency]; none is missing where finite."""
    taken: Counts
    """New heads each may take from each stock [heads], (courses, stocks)."""
    used: Counts
    """Which part-used heads each may take [heads], place by place, (courses, heads)."""
    printer: PrinterBuilds = field(repr=False)
    """The printer, whose part-used heads the options are."""
    _spares: SparesLeft = field(repr=False)
    _runs: list[Floats] = field(repr=False)

    def course(self, number: int) -> tuple[Choice, ...]:
        """Give what goes in at each gap while no head fails.

        Parameters
        ----------
        number : int
            Which course.

        Returns
        -------
        tuple of tuple of int
            One choice per gap.
        """
        printer, spares = self.printer, self._spares
        state, left, chosen = (0,) * len(printer.places), number, []
        for gap, runs in enumerate(self._runs):
            best: tuple[float, Choice, tuple[int, ...], int] | None = None
            for choice in product(*(spares.options(i, gap) for i in range(len(state)))):
                after = spares.left(choice, gap)[left]
                slots = tuple(
                    old if one == KEEP else spares.slot(place, one, gap)
                    for place, (old, one) in enumerate(zip(state, choice, strict=True))
                )
                cost = spares.cost(choice, gap) + float(runs[(after, *slots)])
                cost += float(spares.charge(choice, gap, state))
                if best is None or cost < best[0] - 1e-9:
                    best = cost, choice, slots, int(after)
            assert best is not None
            _, taken, state, left = best
            chosen.append(taken)
        return tuple(chosen)


@dataclass(frozen=True)
class Prices:
    """What spares are charged with instead of being counted [currency]."""

    stocks: Sequence[float] = ()
    """A new head from each stock."""
    used: Mapping[str, float] = field(default_factory=dict)
    """A part-used head, by its name; nothing for others."""

    @property
    def none(self) -> bool:
        """Whether nothing is charged."""
        return not any(self.stocks) and not any(self.used.values())


class SparesLeft:
    """How many of its spares a printer has left, as one number, and what its choices take.

    Parameters
    ----------
    printer : PrinterBuilds
        Its builds and heads.
    most : sequence of int
        New heads that it may take at most from each stock [heads].
    prices : Prices, optional
        What spares are charged with instead of being counted.
    """

    def __init__(
        self, printer: PrinterBuilds, most: Sequence[int] = (), prices: Prices | None = None
    ) -> None:
        self._printer, self._prices = printer, prices
        used = [] if prices is not None else [1] * sum(len(one.used) for one in printer.places)
        self._sizes = tuple(n + 1 for n in (*most, *used))
        # Where the part-used heads of each place begin among the amounts.
        counts = [len(most), *(len(one.used) for one in printer.places)]
        self._first = np.cumsum(counts).tolist()
        # A course is charged in full for a swap, but pays only if it comes to pass: what it pays
        # then is set so that no course is charged more than in full.
        self._pays = None if prices is None or prices.none else _until_then(printer)
        self._left: dict[Any, Counts] = {}
        self._strides = np.array(
            [prod(self._sizes[i + 1 :]) for i in range(len(self._sizes))], dtype=np.int64
        )
        amounts = list(np.ndindex(*self._sizes))
        self.amounts: Counts = np.array(amounts, dtype=np.int64).reshape(len(amounts), -1)

    def options(self, place: int, gap: int) -> list[int]:
        """List what could go in at a place, keeping included.

        Parameters
        ----------
        place, gap : int
            Which place, before which build.

        Returns
        -------
        list of int
            Options.
        """
        one = self._printer.places[place]
        limited = self._prices is None and bool(one.stock) and one.stock[gap] is not None
        used = range(USED, USED + len(one.used))
        return [KEEP, NEW, *([MISSING] if limited else []), *used]

    def slot(self, place: int, option: int, gap: int) -> int:
        """Give the slot of a head that goes in at a gap.

        Parameters
        ----------
        place, option, gap : int
            Which place, what goes in, before which build.

        Returns
        -------
        int
            Its number among the ages of `Slots`.
        """
        return new_slot(self._printer.places[place], gap) + max(option - USED + 1, 0)

    def cost(self, choice: Choice, gap: int) -> float:
        """Price a choice: visit, heads and work, and what its spares are charged with.

        Parameters
        ----------
        choice : tuple of int
            What goes in, one for each place.
        gap : int
            Before which build.

        Returns
        -------
        float
            [currency]
        """
        total = self._printer.visit if any(one != KEEP for one in choice) else 0.0
        for place, one in zip(self._printer.places, choice, strict=True):
            if one != KEEP:
                total += place.used[one - USED].cost if one >= USED else place.new_head
            total += NOT_THERE * (one == MISSING)
        return total

    def charge(self, choice: Choice, gap: int, slots: Any = ...) -> Any:
        """Charge a choice with the prices of its spares.

        Parameters
        ----------
        choice : tuple of int
            What goes in, one for each place.
        gap : int
            Before which build.
        slots : tuple of int, optional
            Slots before; default all there can be.

        Returns
        -------
        float or array of float
            [currency]; by slots, one axis for each place.
        """
        prices, total = self._prices, 0.0
        if prices is None or self._pays is None:
            return 0.0
        for place, one in zip(self._printer.places, choice, strict=True):
            if one >= USED:
                total += prices.used.get(place.used[one - USED].name, 0.0)
            stock = place.stock[gap] if one == NEW and place.stock else None
            total += 0.0 if stock is None else prices.stocks[stock]
        return total * self._pays[gap][slots] if total else 0.0

    def left(self, choice: Choice, gap: int) -> Counts:
        """Give the number of what is left of each amount after a choice; the last: too little.

        Parameters
        ----------
        choice : tuple of int
            What goes in, one for each place.
        gap : int
            Before which build.

        Returns
        -------
        array of int
            One number for each amount.
        """
        if self._prices is not None:
            return np.zeros(1, dtype=np.int64)
        # What a choice takes: numbers of stocks, and of part-used heads with their place.
        stocks = [
            place.stock[gap] if one == NEW and place.stock else None
            for place, one in zip(self._printer.places, choice, strict=True)
        ]
        key = (*stocks, *(one if one >= USED else KEEP for one in choice))
        if key not in self._left:
            self._left[key] = self._taken(stocks, choice)
        return self._left[key]

    def _taken(self, stocks: Sequence[int | None], choice: Choice) -> Counts:
        amounts = self.amounts.copy()
        for number, (stock, one) in enumerate(zip(stocks, choice, strict=True)):
            if stock is not None:
                amounts[:, stock] -= 1
            if one >= USED:
                amounts[:, self._first[number] + one - USED] -= 1
        enough = (amounts >= 0).all(axis=1)
        flat = np.maximum(amounts, 0) @ self._strides
        return np.where(enough, flat, len(self.amounts))


def courses(
    printer: PrinterBuilds, most: Sequence[int] = (), prices: Prices | None = None
) -> Courses:
    """Find the cheapest course of swaps for every amount of spares that the printer may take.

    Parameters
    ----------
    printer : PrinterBuilds
        Its builds and heads.
    most : sequence of int
        New heads that it may take at most from each stock [heads].
    prices : Prices, optional
        Charge spares with these instead of counting them: one course, whose cost is never above
        that of any course that takes spares that are there.

    Returns
    -------
    Courses
        One for every amount up to the most, with and without each part-used head.
    """
    rest, spares = printer.after_failure, SparesLeft(printer, most, prices)
    amounts = len(spares.amounts)
    values = np.broadcast_to(rest.values[-1], (amounts, *rest.values[-1].shape))
    kept = []
    for gap in reversed(range(printer.hours.size)):
        ahead = all_survive(printer, gap)
        after = running(printer, gap)
        smooth = values[(slice(None), *after)] - rest.values[gap + 1][after]
        runs = rest.runs[gap] + ahead * smooth
        # The last row stands for spares that are not there.
        runs = np.concatenate([runs, np.full((1, *runs.shape[1:]), np.inf)])
        kept.append(runs)
        values = _best_choice(printer, spares, runs, gap)
    start = values.reshape(amounts, -1)[:, 0]
    taken, used = np.hsplit(spares.amounts, [len(most)])
    return Courses(start, taken, used, printer, spares, kept[::-1])


def _until_then(printer: PrinterBuilds) -> list[Floats]:
    """Give one over the chance that no head fails before each gap, by the slots there can be.

    Several courses may lead to a slot; the one with the highest chance counts.
    """
    each = []
    for place, slots in zip(printer.places, printer.slots, strict=True):
        chance, own = np.zeros(slots.survives.shape[1]), []
        chance[0] = 1.0
        for gap in range(printer.hours.size):
            own.append(1.0 / np.maximum(chance[: new_slot(place, gap) + 1], _LEAST))
            chance[new_slot(place, gap) : new_slot(place, gap + 1)] = chance.max()
            chance = chance * slots.survives[gap]
        each.append(own)
    return [np.asarray(reduce(np.multiply.outer, own)) for own in zip(*each, strict=True)]


def _best_choice(printer: PrinterBuilds, spares: SparesLeft, runs: Floats, gap: int) -> Floats:
    """Cost from a gap on for every amount of spares and all slots."""
    places = range(len(printer.places))
    there_can_be = before(printer, gap)
    values = runs[(slice(-1), *there_can_be)]
    for swapped in product((False, True), repeat=len(printer.places)):
        if not any(swapped):
            continue
        own = [spares.options(i, gap)[1:] if swapped[i] else [KEEP] for i in places]
        best: Any = np.inf
        for choice in product(*own):
            at: list[Any] = [slice(None)]
            for place, one in enumerate(choice):
                slot = spares.slot(place, one, gap)
                at.append(there_can_be[place] if one == KEEP else slice(slot, slot + 1))
            cost = runs[tuple(at)][spares.left(choice, gap)]
            paid = spares.cost(choice, gap) + spares.charge(choice, gap)
            best = np.minimum(best, cost + paid)
        values = np.minimum(values, best)
    return values


def gaps_with_swaps(course: Sequence[Choice]) -> Iterator[tuple[int, int, int]]:
    """List a course's swaps.

    Parameters
    ----------
    course : sequence of tuple of int
        What goes in at each gap.

    Yields
    ------
    gap, place, option : int
        One swap.
    """
    for gap, choice in enumerate(course):
        for place, one in enumerate(choice):
            if one != KEEP:
                yield gap, place, one
