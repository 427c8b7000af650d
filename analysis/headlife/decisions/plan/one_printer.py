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
# What a build begun past a head's swap age is charged with, in new heads with their visit: waiting
# with a swap saves less, so that a head runs on only where no spare is there.
_OVERDUE: Final = 3.0

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
    cost: float
    """What it would save another time, and the work to put it in [currency]."""


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
    """Age that must not be passed in each build [h]; infinite where none. This and all that
    follows is about heads that go in, and about the one in place unless that is stated apart."""
    new_head: float
    """A new head and the work to put it in [currency]."""
    swap_at: float | Floats = np.inf
    """Age that the head does not pass while a spare is there [h], one for all builds or for each;
    infinite: none."""
    waits: bool = False
    """Whether a head may pass its swap age in a build, and comes out at its end."""
    waiting: float = 0.0
    """Expected standstill for want of a spare when the head fails [currency]."""
    used: tuple[UsedHead, ...] = ()
    """Part-used heads that could go in, each once."""
    stock: tuple[int | None, ...] = ()
    """For each gap the number of the stock that a new head is taken from; None: no limit."""
    limits_now: Floats | None = None
    """The limits of the head in place, where it is of another type."""
    swap_at_now: float | Floats | None = None
    """Its swap age, where it is of another type [h]."""
    later: float = 0.0
    """So much later a head that goes in is used up than the one in place [h]."""

    @property
    def limit_ages(self) -> tuple[Floats, Floats]:
        """Limits of the head in place, and of heads that go in [h]."""
        return (self.limits if self.limits_now is None else self.limits_now), self.limits

    @property
    def swap_ages(self) -> tuple[float | Floats, float | Floats]:
        """Swap age of the head in place, and of heads that go in [h]."""
        return (self.swap_at if self.swap_at_now is None else self.swap_at_now), self.swap_at


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

    def overdue_cost(self, place: int) -> float:
        """Charge a build begun past a head's swap age.

        Parameters
        ----------
        place : int
            Which head.

        Returns
        -------
        float
            [currency]
        """
        return _OVERDUE * (self.places[place].new_head + self.visit)

    def worth(self, ages: Sequence[Floats]) -> Floats:
        """Give what heads will still cost after the last build, that in place the first of each.

        Parameters
        ----------
        ages : sequence of array of float
            Ages at each place, that of the head in place first [h].

        Returns
        -------
        array of float
            [currency], one axis for each place.
        """
        as_new = [np.array(own) for own in ages]
        for own, place in zip(as_new, self.places, strict=True):
            own[0] = max(own[0] + place.later, 0.0)
        return self.end_value(as_new)

    @cached_property
    def slots(self) -> tuple[Slots, ...]:
        """Ages that each place can have."""
        return tuple(_slots(place, self.hours) for place in self.places)

    @cached_property
    def after_failure(self) -> AfterFailure:
        """What the rest costs at best with new heads, from any ages on."""
        return _after_failure(self)


class Slots(NamedTuple):
    """Every age that the head of one place can have: slot by slot, before each build.

    Slot 0 is the head in place; then come, gap by gap, a new head put in there and each part-used
    one, so that what can have happened by a gap stands first.
    """

    ages: Floats
    """[h], (builds + 1, slots)."""
    survives: Floats
    """Share that survives each build [-], (builds, slots)."""
    sound: npt.NDArray[np.bool_]
    """Whether the build stays within the place's limit, (builds, slots)."""
    overdue: npt.NDArray[np.bool_]
    """Whether by its swap age the head comes out before the build, (builds, slots)."""


class AfterFailure(NamedTuple):
    """The best that can be done with new heads, from any ages on."""

    values: list[Floats]
    """Expected cost from each gap on and after the last build [currency], by the slots that there
    can be before its swaps."""
    runs: list[Floats]
    """The same from the start of each build on, by the slots that there can be after them."""
    swaps: list[Counts]
    """Number of the heads swapped in each gap, as bits, by slots before them."""


def is_due(ages: Any, hours: Any, swap_at: Any, waits: bool) -> Any:
    """Say whether heads come out before a build by their swap age.

    A new head never does, however long the build.

    Parameters
    ----------
    ages : float or array
        Ages when the build begins [h].
    hours : float or array
        Print hours of the build [h].
    swap_at : float or array
        The swap age [h].
    waits : bool
        Whether a head may pass it in a build, and comes out at its end.

    Returns
    -------
    bool or array
        Likewise.
    """
    reached = ages >= swap_at - EVEN
    return reached if waits else reached | ((ages > 0) & (ages + hours > swap_at + EVEN))


def new_slot(place: Place, gap: int) -> int:
    """Give the slot of a new head that goes in at a gap; those of part-used ones follow.

    Before the swaps of a gap no later slot can be, after them none from the next gap's on.

    Parameters
    ----------
    place : Place
        The place.
    gap : int
        Which gap; the number of builds for after the last one.

    Returns
    -------
    int
        Its number.
    """
    return 1 + gap * (1 + len(place.used))


def before(printer: PrinterBuilds, gap: int) -> tuple[slice, ...]:
    """Take the slots that there can be before the swaps of a gap.

    Parameters
    ----------
    printer : PrinterBuilds
        Its builds and heads.
    gap : int
        Which gap.

    Returns
    -------
    tuple of slice
        One for each place.
    """
    return tuple(slice(new_slot(one, gap) + 1) for one in printer.places)


def running(printer: PrinterBuilds, gap: int) -> tuple[slice, ...]:
    """Take the slots that there can be in the build after a gap.

    Parameters
    ----------
    printer : PrinterBuilds
        Its builds and heads.
    gap : int
        Which gap.

    Returns
    -------
    tuple of slice
        One for each place.
    """
    return tuple(slice(new_slot(one, gap + 1)) for one in printer.places)


def _slots(place: Place, hours: Floats) -> Slots:
    """List the ages that a place can have: its head, new ones and part-used ones by their gap."""
    passed = np.concatenate([[0.0], np.cumsum(hours)])
    since = np.maximum(passed[:, None] - passed[None, :], 0.0)
    parts = [(place.reaches, place.age + passed[:, None])]
    for gap in range(hours.size + 1):
        parts.append((place.new_reaches, since[:, gap : gap + 1]))
        if gap < hours.size:
            parts += [(one.reaches, one.age + since[:, gap : gap + 1]) for one in place.used]
    ages = np.hstack([own for _, own in parts])
    shares = [np.maximum(reaches(own), _LEAST) for reaches, own in parts]
    share = np.hstack(shares)
    now, new = (np.reshape(one, (-1, 1)) for one in place.swap_ages)
    limits_now, limits = (one[:, None] for one in place.limit_ages)
    first = np.arange(ages.shape[1]) == 0
    return Slots(
        ages,
        np.clip(share[1:] / share[:-1], _LEAST, 1.0),
        ages[:-1] + hours[:, None] <= np.where(first, limits_now, limits) + EVEN,
        is_due(ages[:-1], hours[:, None], np.where(first, now, new), place.waits),
    )


def _after_failure(printer: PrinterBuilds) -> AfterFailure:
    places, builds = len(printer.places), printer.hours.size
    values = [printer.worth([one.ages[-1] for one in printer.slots])]
    runs, swaps = [], []
    for gap in reversed(range(builds)):
        run, there_can_be = values[-1], running(printer, gap)
        for i, slots in enumerate(printer.slots):
            own = there_can_be[i]
            survive = along(slots.survives[gap, own], i, places)
            fresh = np.take(run, [new_slot(printer.places[i], gap + 1)], axis=i)
            stays = run[tuple(own if k == i else slice(None) for k in range(places))]
            run = survive * stays + (1.0 - survive) * fresh
        ahead = all_survive(printer, gap)
        run = run + (1.0 - ahead) * (printer.visit + printer.spoiled[gap])
        for i, (place, slots) in enumerate(zip(printer.places, printer.slots, strict=True)):
            failed = along(1.0 - slots.survives[gap, there_can_be[i]], i, places)
            run = run + failed * (place.new_head + place.waiting)
            overdue = printer.overdue_cost(i) * slots.overdue[gap, there_can_be[i]]
            run = run + along(overdue, i, places)
            run = np.where(along(slots.sound[gap, there_can_be[i]], i, places), run, np.inf)
        best = run[before(printer, gap)]
        which = np.zeros(best.shape, dtype=np.int64)
        for bits in range(1, 2**places):
            there = [i for i in range(places) if bits >> i & 1]
            at = list(before(printer, gap))
            for i in there:
                at[i] = slice(at[i].stop - 1, at[i].stop)
            cost = run[tuple(at)] + printer.visit + sum(printer.places[i].new_head for i in there)
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
        Chances [-], one axis for each place, by the slots that there can be in the build.
    """
    there_can_be = running(printer, gap)
    shares = [one.survives[gap, own] for one, own in zip(printer.slots, there_can_be, strict=True)]
    return np.asarray(reduce(np.multiply.outer, shares))
