"""What will the heads of a printer still cost after the last build of a plan, by their ages?

From the lives, the costs and the usual build. Each head alone is a renewal problem with a closed
answer (cost per build by renewal-reward, value of an age by going back from the oldest one);
value iteration over both heads then lets them share visits. Relative to two new heads, beyond the
long-run cost per build. Knows no printer and no day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt

from headlife.decisions.plan.one_printer import Reaches, along, is_due
from headlife.numbers import Floats

Index = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

_STEPS: Final = 4  # of the grid of ages, in a build
_MOST_BUILDS: Final = 30  # in the longest age of the grid; shorter builds are taken together
_AGES: Final = 2.0  # longest age of the grid, in ratings; older heads count as so old
_ROUNDS: Final = 40  # of the search for the cost per build; it ends within ten
_CLOSE: Final = 1e-10
_LEAST: Final = 1e-12


class EndHead(NamedTuple):
    """One head of a printer in the long run."""

    reaches: Reaches
    """Share of new heads that reach an age."""
    limit: float
    """Age that must not be passed [h]; infinite where none."""
    rated_hours: float
    """Its rating [h]."""
    new_head: float
    """A new head and the work to put it in [currency]."""
    swap_at: float = np.inf
    """Age that it does not pass [h]; infinite where none."""
    waits: bool = False
    """Whether it may pass that in a build, and comes out at its end."""
    waiting: float = 0.0
    """Expected standstill for want of a spare when it fails [currency]."""


@dataclass(frozen=True)
class EndValue:
    """What heads will still cost, on a grid of their ages."""

    step: float
    """Step of the grid [h]."""
    table: Floats
    """Cost beyond that of new heads [currency], one axis for each head."""

    def __call__(self, ages: Sequence[Floats]) -> Floats:
        """Give the value of all pairs of ages, straight between the points of the grid.

        Parameters
        ----------
        ages : sequence of array of float
            Ages of each head [h].

        Returns
        -------
        array of float
            [currency], one axis for each head.
        """
        values = self.table
        for axis, own in enumerate(ages):
            last = values.shape[axis] - 1
            place = np.clip(own / self.step, 0.0, last)
            low = np.minimum(place.astype(np.intp), last - 1)
            share = (place - low).reshape(*(-1 if i == axis else 1 for i in range(values.ndim)))
            below, above = np.take(values, low, axis), np.take(values, low + 1, axis)
            values = below + share * (above - below)
        return values


def end_value(
    heads: Sequence[EndHead], build_hours: float, visit: float, spoiled: float
) -> EndValue:
    """Work out what heads will still cost, by their ages.

    Parameters
    ----------
    heads : sequence of EndHead
        The heads of a printer.
    build_hours : float
        Length of the usual build [h].
    visit : float
        Calibration and checks at the end of a visit [currency].
    spoiled : float
        What is lost with a build in which a head fails [currency].

    Returns
    -------
    EndValue
        On a grid of a quarter of the usual build.
    """
    oldest = _AGES * max(one.rated_hours for one in heads)
    shortest = min(min(one.limit, one.rated_hours) for one in heads)
    build = build_hours * max(ceil(oldest / _MOST_BUILDS / build_hours), 1)
    build = min(build, shortest)
    step = build / _STEPS
    ages = step * np.arange(ceil(oldest / step) + 1, dtype=np.float64)
    then = np.minimum(np.arange(ages.size) + _STEPS, ages.size - 1)
    survives = [_survives(one, ages, then) for one in heads]
    runs_on = [
        (ages + build <= one.limit + _LEAST * build) & ~is_due(ages, build, one.swap_at, one.waits)
        for one in heads
    ]
    total, rate = np.zeros((ages.size,) * len(heads)), 0.0
    for axis, (one, share, sound) in enumerate(zip(heads, survives, runs_on, strict=True)):
        values, own = _alone(one, share, sound, then, visit, spoiled)
        total = total + along(values, axis, len(heads))
        rate += own
    if len(heads) > 1:
        for _ in range(ceil(ages.size / _STEPS)):
            total = _one_build(total, heads, survives, runs_on, then, visit, spoiled) - rate
            total -= total[(0,) * len(heads)]
    return EndValue(step, total)


def _survives(head: EndHead, ages: Floats, then: Index) -> Floats:
    """Share of heads of each age that survive a build [-]; the oldest as those before."""
    share = np.maximum(head.reaches(ages), _LEAST)
    survives = np.minimum(share[then] / share, 1.0)
    whole = np.flatnonzero(then - np.arange(ages.size) == _STEPS)
    survives[whole[-1] + 1 :] = survives[whole[-1]]
    return np.asarray(survives, float)


def _alone(
    head: EndHead, survives: Floats, sound: Flags, then: Index, visit: float, spoiled: float
) -> tuple[Floats, float]:
    """Value of every age of one head, and its cost per build, by renewal-reward.

    With a cost per build given the values follow from the oldest age down; the cost is right where
    a new head, put in for nothing, is worth as much as one that has just been put in (Howard,
    Dynamic Programming and Markov Processes, 1960, chapter 4, for two choices).
    """
    fresh = head.new_head + visit
    lost = (1.0 - survives) * (fresh + head.waiting + spoiled)
    rate = 0.0
    for _ in range(_ROUNDS):
        values, builds = _values_at(rate, lost, survives, sound, then, fresh)
        gain = values[0] / builds
        rate += gain
        if abs(gain) <= _CLOSE * fresh:
            break
    return values - values[0], rate


def _values_at(
    rate: float, lost: Floats, survives: Floats, sound: Flags, then: Index, fresh: float
) -> tuple[Floats, float]:
    """Cost until the next new head, beyond `rate` for every build, and builds from new."""
    values, builds = np.full(survives.size, fresh), np.zeros(survives.size)
    last = survives.size - 1
    for k in range(last, -1, -1):
        if not sound[k]:
            continue
        if then[k] == k:  # the oldest age of the grid stays as it is
            runs_on = (lost[k] - rate) / max(1.0 - survives[k], _LEAST)
            run, more = runs_on, 1.0 / max(1.0 - survives[k], _LEAST)
        else:
            run = lost[k] - rate + survives[k] * values[then[k]]
            more = 1.0 + survives[k] * builds[then[k]]
        if run < fresh or k == 0:
            values[k], builds[k] = run, more
    return values, float(builds[0])


def _one_build(
    values: Floats,
    heads: Sequence[EndHead],
    survives: Sequence[Floats],
    runs_on: Sequence[Flags],
    then: Index,
    visit: float,
    spoiled: float,
) -> Floats:
    """Go back by a build: what is best before it, given what heads are worth after it."""
    places = len(heads)
    run, ahead = values, np.ones(1)
    for axis in range(places):
        share = along(survives[axis], axis, places)
        run = share * np.take(run, then, axis) + (1.0 - share) * np.take(run, [0], axis)
        run = run + (1.0 - share) * (heads[axis].new_head + heads[axis].waiting)
        ahead = ahead * share
    run = run + (1.0 - ahead) * (visit + spoiled)
    for axis in range(places):
        run = np.where(along(runs_on[axis], axis, places), run, np.inf)
    best = run
    for bits in range(1, 2**places):
        there = [i for i in range(places) if bits >> i & 1]
        at = tuple(slice(0, 1) if i in there else slice(None) for i in range(places))
        best = np.minimum(best, run[at] + visit + sum(heads[i].new_head for i in there))
    return best
