"""When do heads come out of their printers, and why? The one engine behind every forecast.

From the positions of printers, where the lives of their heads come from, the policy of each and
the print hours ahead: visit by visit, in many futures at once, which heads fail, are swapped by
plan or along with another, or change with the material. A path is one printer in one future; all
paths go a step at a time. Who asks sums up what the steps give: swaps by week, evidence, rates.
It knows print hours and no weeks, sums nothing and prices nothing.

Heads of one printer share its visits: when one is due the other may be swapped along, since one
calibration serves both. Where swaps wait for builds, a visit ends one build and starts the next. A
change of material puts in a head that is in circulation, and the old one goes back to the shelf.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, Final, NamedTuple

import numpy as np

from headlife.errors import DecisionError
from headlife.futures.draws import Hours, Index
from headlife.futures.position import Position
from headlife.futures.position_state import Flags, Out, PathsAhead, PositionState
from headlife.futures.rules import rules_of
from headlife.shop.policy import Policy

# A path that swaps this many heads in one position is stopped there. Only a posterior that
# allows lives of minutes gets here (one early failure, shape far below 1); a shop that saw it
# would stop the printer, and the simulation must end.
MOST_SWAPS: Final = 400


class Step(NamedTuple):
    """The next visit, or change of material, of every path that has one."""

    hours: Hours
    """Print hours since the start [h]."""
    steady_hours: Hours
    """The same as hours of steady use [h]."""
    who: Any
    """The draw that each path belongs to; an ellipsis where there is only one."""
    paths: Any
    """The paths, printers x draws counted through; None where nobody asked for them."""
    out: Sequence[Out]
    """What happened in each position."""


def steps(
    positions: Sequence[Position],
    draws: int,
    horizon: float,
    rng: np.random.Generator,
    pace: Hours | None = None,
    traced: bool = False,
) -> Iterator[Step]:
    """Go from visit to visit until no path has another one within its print hours.

    Parameters
    ----------
    positions : sequence of Position
        The positions of a printer, alike in all paths.
    draws : int
        Futures of each printer [-].
    horizon : float
        Print hours ahead at steady use [h]; infinite where the asker stops.
    rng : numpy.random.Generator
        Source of every random number.
    pace : array of float, optional
        What turns the print hours of each path into hours of steady use [-].
    traced : bool
        Whether paths, and the ages of heads that come out, are asked for.

    Yields
    ------
    Step
    """
    paths = _Paths(positions, draws, horizon, rng, pace, traced)
    for _ in range(2 * MOST_SWAPS * len(positions)):
        # A life beyond single precision is an endless one.
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            step = paths.step()
        if step is None:
            return
        yield step


def refuse_short_runs(policy: Policy, hours: float) -> None:
    """Refuse a swap age so low that a position would swap hundreds of heads.

    Parameters
    ----------
    policy : Policy
        When heads are swapped.
    hours : float
        Print hours ahead of the busiest position [h].

    Raises
    ------
    DecisionError
        In one sentence.
    """
    if hours > MOST_SWAPS * policy.comes_out_at:
        raise DecisionError(
            f"Swapping heads at {policy.comes_out_at:g} h means more than {MOST_SWAPS} swaps of "
            f"one position in {hours:g} print hours; give a higher age."
        )


class _Paths:
    """The paths that are still going."""

    def __init__(
        self,
        positions: Sequence[Position],
        draws: int,
        horizon: float,
        rng: np.random.Generator,
        pace: Hours | None,
        traced: bool,
    ) -> None:
        printers = max(len(position.ages) for position in positions)
        self._paths = np.arange(printers * draws) if traced else None
        self._who: Any = ... if draws == 1 else np.tile(np.arange(draws), printers)
        self._horizon, self._pace = horizon, pace
        rules = [
            rules_of(tuple(kind.policy for kind in position.kinds), position.ages.dtype.char)
            for position in positions
        ]
        builds = any(own.builds for own in rules)
        ahead = PathsAhead(
            shape=(printers, draws),
            longest=horizon if pace is None else horizon / float(pace.min()),
            aged=traced or builds or any(own.join for own in rules),
            # Builds are counted from the last visit: when the youngest head was put in.
            begun=np.minimum.reduce([position.ages for position in positions]) if builds else None,
        )
        with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
            self._places = [
                PositionState(position, own, ahead, rng)
                for position, own in zip(positions, rules, strict=True)
            ]
        # One position whose head is replaced at every step.
        self._alone = len(positions) == 1 and not self._places[0].changes_material

    def step(self) -> Step | None:
        """Go to the next event of every path; None when no path has one."""
        events = [place.next_event() for place in self._places]
        now = events[0] if len(events) == 1 else np.minimum.reduce(events)
        steady = now if self._pace is None else now * self._pace
        inside = (steady <= self._horizon).nonzero()[0]
        if not inside.size:
            return None
        if inside.size < now.size:
            now = self._keep(inside, now)
            steady = now if self._pace is None else steady[inside]
            if not self._alone:
                events = [hours[inside] for hours in events]
        if self._alone:
            out = [self._places[0].swap_all(now, self._who, self._paths)]
        else:
            out = self._happen(events, now)
        return Step(now, steady, self._who, self._paths, out)

    def _keep(self, inside: Index, now: Hours) -> Hours:
        """Forget the paths that have reached the end."""
        if self._who is not ...:
            self._who = self._who[inside]
        if self._paths is not None:
            self._paths = self._paths[inside]
        if self._pace is not None:
            self._pace = self._pace[inside]
        left: Hours = now[inside]
        for place in self._places:
            place.keep(inside, now, left, self._alone)
        return left

    def _happen(self, events: Sequence[Hours], now: Hours) -> list[Out]:
        """Let the first event of every path happen, and swap heads along where it is a visit."""
        mine = _first_of(events)
        changing = np.zeros(now.size, dtype=bool)
        for place, own in zip(self._places, mine, strict=True):
            if place.changes_material:
                changing |= own & place.is_change()
        return [
            place.come_out(own, changing, now, self._who, self._paths)
            for place, own in zip(self._places, mine, strict=True)
        ]


def _first_of(events: Sequence[Hours]) -> list[Flags]:
    """Say for each position in which paths its event is the first."""
    if len(events) == 2:
        second = events[1] < events[0]
        return [~second, second]
    first = np.argmin(events, axis=0)
    return [first == number for number in range(len(events))]
