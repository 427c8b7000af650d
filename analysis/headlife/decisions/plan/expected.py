"""What is expected over the builds of a printer: visits, heads, failures, spoiled builds?

From the printer and what is swapped when: a course of swaps that holds while no head fails, or
fixed ages. The heads are followed through all builds with their chances; nothing is drawn. Never
decides.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from headlife.decisions.plan.courses import KEEP, USED, Choice, SparesLeft
from headlife.decisions.plan.one_printer import (
    EVEN,
    Counts,
    PrinterBuilds,
    all_survive,
    along,
    before,
    is_due,
    new_slot,
    running,
)
from headlife.numbers import Floats


@dataclass(frozen=True)
class Expected:
    """What is expected to happen over the builds."""

    visits: float
    """Visits [-]."""
    heads: Floats
    """New heads put in at each place [heads]."""
    used: float
    """Part-used heads put in [heads]."""
    used_cost: float
    """What these are charged with [currency]."""
    failures: Floats
    """Heads that fail at each place [heads]."""
    spoiled: Floats
    """Chance that each build is spoiled by a head that fails [-]."""
    overdue: Floats
    """Builds begun past the swap age of each head [-]."""
    end: float
    """What the heads in place at the end will still cost [currency]."""

    def costs(self, printer: PrinterBuilds) -> dict[str, float]:
        """Price what is expected.

        Parameters
        ----------
        printer : PrinterBuilds
            The printer.

        Returns
        -------
        dict of str to float
            `visits`, `heads`, `failed` and `end`; `overdue`, what builds begun past a swap age are
            charged with, which nobody pays [currency].
        """
        places = printer.places
        return {
            "visits": printer.visit * self.visits,
            "heads": self.used_cost
            + sum(place.new_head * n for place, n in zip(places, self.heads, strict=True)),
            "failed": float(printer.spoiled @ self.spoiled)
            + sum(p.waiting * n for p, n in zip(places, self.failures, strict=True)),
            "end": self.end,
            "overdue": sum(printer.overdue_cost(i) * float(n) for i, n in enumerate(self.overdue)),
        }


def expected(
    printer: PrinterBuilds,
    course: Sequence[Choice] | None = None,
    swaps: Sequence[Counts] | None = None,
) -> Expected:
    """Follow the heads through the builds, failures included.

    Parameters
    ----------
    printer : PrinterBuilds
        Its builds and heads.
    course : sequence of tuple of int, optional
        What goes in at each gap while no head fails.
    swaps : sequence of array of int, optional
        After a failure, or without a course: the heads that are swapped for new ones in each gap,
        as bits, by slots; default what is best.

    Returns
    -------
    Expected
        Visits, heads, failures and spoiled builds.
    """
    swaps = printer.after_failure.swaps if swaps is None else swaps
    followed = _Followed(printer, course is not None)
    for gap in range(printer.hours.size):
        followed.swap(gap, swaps[gap])
        if course is not None:
            followed.keep_course(gap, course[gap])
        followed.run(gap)
    return followed.expected


class _Followed:
    """The chances of all ages of a printer's heads, from build to build."""

    def __init__(self, printer: PrinterBuilds, on_course: bool) -> None:
        self._printer, self._spares = printer, SparesLeft(printer)
        self._places = len(printer.places)
        self._visits = self._used = self._used_cost = 0.0
        self._heads, self._failures = np.zeros(self._places), np.zeros(self._places)
        self._spoiled, self._overdue = np.zeros(printer.hours.size), np.zeros(self._places)
        # Chance of every pair of slots; of the course without a failure apart.
        self._others = np.zeros([one.ages.shape[1] for one in printer.slots])
        self._state, self._smooth = (0,) * self._places, 1.0 if on_course else 0.0
        self._others[self._state] = 1.0 - self._smooth

    def swap(self, gap: int, swaps: Counts) -> None:
        """Swap where there was a failure, or no course, for new heads."""
        at = before(self._printer, gap)
        for bits in range(1, 2**self._places):
            moved = np.zeros_like(self._others)
            moved[at] = np.where(swaps == bits, self._others[at], 0.0)
            self._visits += float(moved.sum())
            self._others = self._others - moved
            for place in range(self._places):
                if bits >> place & 1:
                    self._heads[place] += moved.sum()
                    moved = _all_at(moved, place, self._new(place, gap))
            self._others = self._others + moved

    def keep_course(self, gap: int, choice: Choice) -> None:
        """Swap as the course says, where no head has failed yet."""
        self._visits += self._smooth * any(one != KEEP for one in choice)
        for place, one in enumerate(choice):
            if one >= USED:
                self._used += self._smooth
                self._used_cost += self._smooth * self._printer.places[place].used[one - USED].cost
            elif one != KEEP:
                self._heads[place] += self._smooth
        self._state = tuple(
            old if one == KEEP else self._spares.slot(place, one, gap)
            for place, (old, one) in enumerate(zip(self._state, choice, strict=True))
        )

    def run(self, gap: int) -> None:
        """Run a build; heads that fail are replaced by new ones."""
        whole = self._others.copy()
        whole[self._state] += self._smooth
        ahead = all_survive(self._printer, gap)
        there_can_be = running(self._printer, gap)
        self._spoiled[gap] = float((whole[there_can_be] * (1.0 - ahead)).sum())
        self._visits += self._spoiled[gap]
        for place, slots in enumerate(self._printer.slots):
            own = whole.sum(axis=tuple(i for i in range(self._places) if i != place))
            self._failures[place] += float(own @ (1.0 - slots.survives[gap]))
            self._overdue[place] += float(own @ slots.overdue[gap])
        for place, slots in enumerate(self._printer.slots):
            survive = along(slots.survives[gap], place, self._places)
            whole = whole * survive + _all_at(
                whole * (1.0 - survive), place, self._new(place, gap + 1)
            )
        self._smooth *= float(ahead[self._state])
        self._others = whole
        self._others[self._state] -= self._smooth

    def _new(self, place: int, gap: int) -> int:
        return new_slot(self._printer.places[place], gap)

    @property
    def expected(self) -> Expected:
        """What has been added up."""
        whole = self._others.copy()
        whole[self._state] += self._smooth
        end = float((whole * self._printer.after_failure.values[-1]).sum())
        return Expected(
            self._visits,
            self._heads + self._failures,
            self._used,
            self._used_cost,
            self._failures,
            self._spoiled,
            self._overdue,
            end,
        )


def swaps_at(
    printer: PrinterBuilds,
    due: Sequence[tuple[float, float]],
    join: Sequence[tuple[float, float]],
) -> list[Counts]:
    """Say which heads are swapped in which gap by fixed ages, each place waiting or not as it does.

    A head past the age that must not be passed in the next build comes out before it.

    Parameters
    ----------
    printer : PrinterBuilds
        Its builds and heads.
    due : sequence of (float, float)
        Age from which each head is swapped, the one in place and those that go in [h].
    join : sequence of (float, float)
        Age from which each is swapped along with the other, likewise [h].

    Returns
    -------
    list of array of int
        Heads swapped in each gap, as bits, by slots.
    """
    places, found = len(printer.places), []
    due_at, join_from = (
        [_by_slot(ages, one.ages.shape[1]) for ages, one in zip(own, printer.slots, strict=True)]
        for own in (due, join)
    )
    for gap, hours in enumerate(printer.hours):
        at = before(printer, gap)
        asked = [
            along(
                (is_due(one.ages[gap], hours, age, place.waits) | ~one.sound[gap])[own], i, places
            )
            for i, (one, age, place, own) in enumerate(
                zip(printer.slots, due_at, printer.places, at, strict=True)
            )
        ]
        joined = [
            along((one.ages[gap] >= age - EVEN)[at[i]], i, places)
            for i, (one, age) in enumerate(zip(printer.slots, join_from, strict=True))
        ]
        anyone = np.any(np.broadcast_arrays(*asked), axis=0)
        bits: Any = 0
        for place in range(places):
            bits = bits + ((asked[place] | (anyone & joined[place])).astype(np.int64) << place)
        found.append(np.broadcast_to(bits, anyone.shape))
    return found


def _by_slot(ages: tuple[float, float], slots: int) -> Floats:
    """Lay ages out by slot, of which the first is the head in place."""
    now, new = ages
    return np.where(np.arange(slots) == 0, now, new)


def _all_at(values: Floats, place: int, slot: int) -> Floats:
    """Move everything along one place's axis to one slot."""
    moved = np.zeros_like(values)
    at = tuple(slot if i == place else slice(None) for i in range(values.ndim))
    moved[at] = values.sum(axis=place)
    return moved
