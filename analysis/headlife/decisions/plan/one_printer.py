"""What do the builds ahead cost a printer at best, from any ages of its heads on?

From its heads, what could go in for them, its builds and what things cost. A head's age follows
from where it came from and the gap before a build in which it went in, so every age that can occur
is a slot and nothing is rounded. Exact dynamic programming over the gaps, both heads together,
with new heads as many as are wanted: what is done after a failure. Knows no calendar and no spares.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property, reduce
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt

from headlife.numbers import Floats

EVEN: Final = 1e-6  # hours by which rounding may pass a limit [h]
_LEAST: Final = 1e-200  # of a share, so that ratios of shares stay numbers

Reaches = Callable[[Floats], Floats]
"""Share of heads that reach an age [-], by age [h]."""
Counts = npt.NDArray[np.int64]


class UsedHead(NamedTuple):
    """A part-used head that could go in."""

    name: str
    """Its serial."""
    age: float
    """Its age [h]."""
    reaches: Reaches
    """Share of such heads that reach an age."""


@dataclass(frozen=True)
class Place:
    """One head of a printer and what could go in for it."""

    age: float
    """Present age [h]."""
    reaches: Reaches
    """Share of heads of that age that reach a later one."""
    new_reaches: Reaches
    """Share of new heads that reach an age."""
    limits: Floats
    """Age that must not be passed in each build [h]; infinite where none."""
    new_head: float
    """A new head and the work to put it in [currency]."""
    used_head: float
    """The work to put a part-used head in [currency]."""
    waiting: float = 0.0
    """Expected standstill for want of a spare when the head fails [currency]."""
    used: tuple[UsedHead, ...] = ()
    """Part-used heads that could go in; one of them at most does."""
    stock: tuple[int | None, ...] = ()
    """For each gap the number of the stock that a new head is taken from; None: no limit."""


@dataclass(frozen=True)
class PrinterBuilds:
    """The builds of one printer in their order, its heads and what things cost."""

    places: tuple[Place, ...]
    """Its heads."""
    hours: Floats
    """Print hours of each build [h]."""
    visit: float
    """Calibration and checks at the end of a visit [currency]."""
    spoiled: Floats
    """What is lost with each build when a head fails in it, lateness included [currency]."""
    end_value: Callable[[Sequence[Floats]], Floats]
    """What heads of these ages will still cost after the last build [currency]."""

    @cached_property
    def slots(self) -> tuple[Slots, ...]:
        """Ages that each place can have."""
        return tuple(_slots(place, self.hours) for place in self.places)

    @cached_property
    def after_failure(self) -> AfterFailure:
        """What the rest costs at best with new heads, from any ages on."""
        return _after_failure(self)


class Slots(NamedTuple):
    """Every age that the head of one place can have: slot by slot, before each build."""

    ages: Floats
    """[h], (builds + 1, slots); slot 0 is the head in place, 1 + i a new one put in at gap i."""
    survives: Floats
    """Share that survives each build [-], (builds, slots)."""
    sound: npt.NDArray[np.bool_]
    """Whether the build stays within the place's limit, (builds, slots)."""


class AfterFailure(NamedTuple):
    """The best that can be done with new heads, from any ages on."""

    values: list[Floats]
    """Expected cost from each gap on and after the last build [currency], by slots."""
    runs: list[Floats]
    """The same from the start of each build on, heads chosen."""
    swaps: list[Counts]
    """Number of the heads swapped in each gap, as bits, by slots."""


def _slots(place: Place, hours: Floats) -> Slots:
    """List the ages that a place can have: its head, new ones and part-used ones by their gap."""
    passed = np.concatenate([[0.0], np.cumsum(hours)])
    since = np.maximum(passed[:, None] - passed[None, :], 0.0)
    parts = [(place.reaches, place.age + passed[:, None]), (place.new_reaches, since)]
    parts += [(one.reaches, one.age + since[:, :-1]) for one in place.used]
    shares = [
        np.maximum(reaches(ages.ravel()), _LEAST).reshape(ages.shape) for reaches, ages in parts
    ]
    ages, share = np.hstack([ages for _, ages in parts]), np.hstack(shares)
    return Slots(
        ages,
        np.clip(share[1:] / share[:-1], _LEAST, 1.0),
        ages[:-1] + hours[:, None] <= place.limits[:, None] + EVEN,
    )


def _after_failure(printer: PrinterBuilds) -> AfterFailure:
    places, builds = len(printer.places), printer.hours.size
    values = [printer.end_value([one.ages[-1] for one in printer.slots])]
    runs, swaps = [], []
    for gap in reversed(range(builds)):
        run = values[-1]
        for place, slots in enumerate(printer.slots):
            survive = along(slots.survives[gap], place, places)
            run = survive * run + (1.0 - survive) * np.take(run, [2 + gap], axis=place)
        ahead = all_survive(printer, gap)
        run = run + (1.0 - ahead) * (printer.visit + printer.spoiled[gap])
        for i, (own, slots) in enumerate(zip(printer.places, printer.slots, strict=True)):
            failed = along(1.0 - slots.survives[gap], i, places)
            run = run + failed * (own.new_head + own.waiting)
            run = np.where(along(slots.sound[gap], i, places), run, np.inf)
        best, which = run, np.zeros(run.shape, dtype=np.int64)
        for bits in range(1, 2**places):
            there = [i for i in range(places) if bits >> i & 1]
            at = tuple(
                slice(1 + gap, 2 + gap) if i in there else slice(None) for i in range(places)
            )
            cost = run[at] + printer.visit + sum(printer.places[i].new_head for i in there)
            which = np.where(cost < best, bits, which)
            best = np.minimum(best, cost)
        runs.append(run)
        swaps.append(which)
        values.append(best)
    return AfterFailure(values[::-1], runs[::-1], swaps[::-1])


def along(values: Any, place: int, places: int) -> Any:
    """Lay one place's values along its own axis.

    Parameters
    ----------
    values : array
        Values over its slots or ages.
    place, places : int
        Which place, and how many there are.

    Returns
    -------
    array
        The same values, with one axis for each place.
    """
    return values.reshape(*(-1 if i == place else 1 for i in range(places)))


def all_survive(printer: PrinterBuilds, gap: int) -> Floats:
    """Give the chance that no head fails in a build.

    Parameters
    ----------
    printer : PrinterBuilds
        Its builds and heads.
    gap : int
        Which build.

    Returns
    -------
    array of float
        Chances [-], one axis for each place.
    """
    shares = [one.survives[gap] for one in printer.slots]
    return np.asarray(reduce(np.multiply.outer, shares))
