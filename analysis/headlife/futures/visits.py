"""When will a printer be visited, and which of its heads are swapped then? Seeded, week by week.

The heads of one printer share its print hours and its visits: when one is due, the other may be
swapped along if it is old enough, since one calibration serves both. Between visits a change of
material may put another head in place, part-used like those in circulation, and the old one goes
back to the shelf. From drawn parameters of every stratum, present ages, the print hours of each
week and the policies. Like `paths`, which serves positions that have nothing to do with each
other, it never fits and never sums up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from headlife.errors import DecisionError
from headlife.futures.draws import Floats32, Index, ModeDraws, remaining_hours
from headlife.futures.paths import LEAST_FACTOR, MOST_SWAPS, Clock
from headlife.numbers import Floats

Tally = npt.NDArray[np.int16]
Stratum = tuple[str, str]
Place = tuple[str, str, str]

FAILED: Final = "failed"
PLANNED: Final = "planned"
JOINED: Final = "joined"
KINDS: Final = (FAILED, PLANNED, JOINED)
CHANGED: Final = "changed"


@dataclass(frozen=True)
class HeadKind:
    """A head type as a position may hold it."""

    head_type: str
    """Head type."""
    swap_age: float = np.inf
    """Age at which it is due although it works [h]."""
    swap_lag: float = 0.0
    """Mean print hours from then until it is swapped, exponentially spread [h]."""
    join_age: float = np.inf
    """Age from which it is swapped along when its printer is visited anyway [h]."""
    in_circulation: tuple[float, ...] = (0.0,)
    """Ages of the heads of this type and role that the shop has in use or waiting; one of them
    comes in when material is changed to this type [h]."""


@dataclass(frozen=True)
class Slot:
    """One position of a printer, and the head in it."""

    role: str
    """model or support."""
    site: str
    """Where its printer stands."""
    age_hours: float
    """Present age of its head [h]."""
    kinds: tuple[HeadKind, ...]
    """The type in place, first, and those that a change of material may put in."""
    changes_per_hour: float = 0.0
    """Changes of material for each print hour [1/h]."""
    change_to: tuple[tuple[float, ...], ...] = ()
    """Probability that a change from one of `kinds` (row) is to another or the same [-]."""

    def group(self, kind: int) -> Place:
        """Head type, role and site: what swaps are counted by."""
        return self.kinds[kind].head_type, self.role, self.site


@dataclass(frozen=True)
class Printer:
    """A printer with the heads in it and the print hours it will run."""

    slots: tuple[Slot, ...]
    """Its positions, in any order."""
    weekly_hours: Floats
    """Print hours in each week ahead [h]."""
    usage_sd: float = 0.0
    """Spread of the printer's average print hours over the horizon, as a share of them [-]."""


@dataclass(frozen=True)
class VisitPaths:
    """Heads swapped, by group, kind, draw and week."""

    swaps: dict[Place, dict[str, Tally]]
    """For each head type, role and site: heads that failed, were swapped at the policy's age,
    or were swapped along at a visit for another head, and heads that went in at a change of
    material [heads], draws x weeks."""
    draws: int
    """Number of draws [-]."""
    weeks: int
    """Number of weeks [-]."""


def simulate_visits(
    printers: Sequence[Printer],
    drawn: Mapping[Stratum, Sequence[ModeDraws]],
    rng: np.random.Generator,
) -> VisitPaths:
    """Simulate printers over the weeks given.

    Parameters
    ----------
    printers : sequence of Printer
        All with the same number of weeks.
    drawn : mapping of stratum to modes
        Drawn parameters of the competing modes of every stratum in the printers.
    rng : numpy.random.Generator
        Source of every random number.

    Returns
    -------
    VisitPaths

    Raises
    ------
    DecisionError
        A swap age is so low that a printer would swap hundreds of heads.
    """
    draws = next(iter(drawn.values()))[0].shape.size
    weeks = printers[0].weekly_hours.size
    swaps: dict[Place, dict[str, Tally]] = {}
    for printer in printers:
        for slot in printer.slots:
            for kind in range(len(slot.kinds)):
                if slot.group(kind) not in swaps:
                    swaps[slot.group(kind)] = {
                        name: np.zeros((draws, weeks), dtype=np.int16) for name in (*KINDS, CHANGED)
                    }
        if weeks:
            # A life beyond single precision is an endless one.
            with np.errstate(over="ignore", divide="ignore"):
                _Printer(printer, drawn, draws, rng).run(swaps)
    return VisitPaths(swaps, draws, weeks)


class _Printer:
    """One printer through all draws; hours are print hours from now."""

    def __init__(
        self,
        printer: Printer,
        drawn: Mapping[Stratum, Sequence[ModeDraws]],
        draws: int,
        rng: np.random.Generator,
    ) -> None:
        self._rng = rng
        self._who: Index = np.arange(draws)
        self._clock = Clock(printer.weekly_hours)
        # Turns print hours into those of steady usage, in every draw.
        factor = usage_factor(printer.usage_sd, draws, rng)
        self._steady = None if factor is None else 1.0 / np.maximum(factor, LEAST_FACTOR)
        _check_swap_ages(printer)
        self._positions = [_Position(slot, drawn, draws, rng) for slot in printer.slots]

    def run(self, swaps: dict[Place, dict[str, Tally]]) -> None:
        """Go from event to event until no draw has another one within the weeks."""
        for _ in range(2 * MOST_SWAPS * len(self._positions)):
            due = np.array([position.next_event() for position in self._positions])
            now = due.min(axis=0)
            inside = np.flatnonzero(self._at_steady_usage(now) <= self._clock.horizon)
            if not inside.size:
                return
            self._who, now = self._who[inside], now[inside]
            first = due[:, inside].argmin(axis=0)
            for position in self._positions:
                position.keep(inside)
            self._happen(first, now, swaps)

    def _at_steady_usage(self, hours: Floats32) -> Floats32:
        """Print hours without the spread of usage, of the draws still going [h]."""
        return hours if self._steady is None else np.asarray(hours * self._steady[self._who])

    def _happen(self, first: Index, now: Floats32, swaps: dict[Place, dict[str, Tally]]) -> None:
        """Let the first position's event happen, and swap others along where it is a visit."""
        changing = np.zeros(first.size, dtype=bool)
        for place, position in enumerate(self._positions):
            changing |= (first == place) & position.is_change()
        week = self._clock.week(self._at_steady_usage(now))
        for place, position in enumerate(self._positions):
            mine = first == place
            along = ~mine & ~changing & position.old_enough(now)
            position.swap(mine & ~changing, along, now, week, self._who, swaps)
            if changing.any():
                position.change(np.flatnonzero(mine & changing), now, week, self._who, swaps)


class _Position:
    """One position of a printer through the draws that are still going."""

    def __init__(
        self,
        slot: Slot,
        drawn: Mapping[Stratum, Sequence[ModeDraws]],
        draws: int,
        rng: np.random.Generator,
    ) -> None:
        self._slot = slot
        self._rng = rng
        self._modes = [drawn[kind.head_type, slot.role] for kind in slot.kinds]
        self._swap_age = np.array([kind.swap_age for kind in slot.kinds], dtype=np.float32)
        self._join_age = np.array([kind.join_age for kind in slot.kinds], dtype=np.float32)
        everyone = np.arange(draws)
        ages = np.full(draws, slot.age_hours, dtype=np.float32)
        self._kind = np.zeros(draws, dtype=np.intp)
        self._born = -ages
        self._fails = remaining_hours(self._modes[0], ages, everyone, rng)
        self._swaps = self._until_swap(0, ages)
        self._changes = np.full(draws, np.inf, dtype=np.float32)
        if slot.changes_per_hour > 0:
            self._changes = self._until_change(draws)

    def next_event(self) -> Floats32:
        """Print hours at which something happens next here [h]."""
        return np.asarray(np.minimum(np.minimum(self._fails, self._swaps), self._changes))

    def is_change(self) -> npt.NDArray[np.bool_]:
        """Whether that is a change of material."""
        return np.asarray(self._changes < np.minimum(self._fails, self._swaps))

    def old_enough(self, now: Floats32) -> npt.NDArray[np.bool_]:
        """Whether the head in place may be swapped along."""
        return np.asarray(now - self._born >= self._join_age[self._kind])

    def keep(self, inside: Index) -> None:
        """Forget the draws that have reached the end."""
        self._kind, self._born = self._kind[inside], self._born[inside]
        self._fails, self._swaps = self._fails[inside], self._swaps[inside]
        self._changes = self._changes[inside]

    def swap(
        self,
        due: npt.NDArray[np.bool_],
        along: npt.NDArray[np.bool_],
        now: Floats32,
        week: Index,
        who: Index,
        swaps: dict[Place, dict[str, Tally]],
    ) -> None:
        """Count and replace heads that are due or go along; a new head is of the same type."""
        fails = due & (self._fails <= self._swaps)
        for kind in range(len(self._slot.kinds)):
            here = self._kind == kind
            tally = swaps[self._slot.group(kind)]
            for name, what in ((FAILED, fails), (PLANNED, due & ~fails), (JOINED, along)):
                at = np.flatnonzero(what & here)
                tally[name][who[at], week[at]] += 1
            new = np.flatnonzero((due | along) & here)
            self._put_in(new, kind, np.zeros(new.size, dtype=np.float32), now, who)

    def change(
        self,
        changing: Index,
        now: Floats32,
        week: Index,
        who: Index,
        swaps: dict[Place, dict[str, Tally]],
    ) -> None:
        """Put in a head that is in circulation, of the type the next material needs."""
        if not changing.size:
            return
        table = np.cumsum(np.array(self._slot.change_to), axis=1)
        drawn = self._rng.random(changing.size)
        to = (drawn[:, None] > table[self._kind[changing]]).sum(axis=1)
        to = np.minimum(to, len(self._slot.kinds) - 1)
        for kind, what in enumerate(self._slot.kinds):
            new = changing[to == kind]
            swaps[self._slot.group(kind)][CHANGED][who[new], week[new]] += 1
            pool = np.array(what.in_circulation, dtype=np.float32)
            self._put_in(new, kind, pool[self._rng.integers(0, pool.size, new.size)], now, who)
        self._changes[changing] = now[changing] + self._until_change(changing.size)

    def _put_in(self, new: Index, kind: int, ages: Floats32, now: Floats32, who: Index) -> None:
        if not new.size:
            return
        self._kind[new] = kind
        self._born[new] = now[new] - ages
        left = remaining_hours(self._modes[kind], ages, who[new], self._rng)
        self._fails[new] = now[new] + left
        self._swaps[new] = now[new] + self._until_swap(kind, ages)

    def _until_swap(self, kind: int, ages: Floats32) -> Floats32:
        """Print hours until heads of these ages are swapped by plan [h]."""
        wait = np.maximum(self._swap_age[kind] - ages, np.float32(0))
        lag = self._slot.kinds[kind].swap_lag
        if lag > 0 and np.isfinite(self._swap_age[kind]):
            # A head past its swap age is as likely to be swapped in the next hours as before.
            wait = wait + np.float32(lag) * self._rng.standard_exponential(
                ages.size, dtype=np.float32
            )
        return np.asarray(wait)

    def _until_change(self, draws: int) -> Floats32:
        waits = self._rng.standard_exponential(draws, dtype=np.float32)
        return np.asarray(waits / np.float32(self._slot.changes_per_hour))


def usage_factor(sd: float, draws: int, rng: np.random.Generator) -> Floats32 | None:
    """Draw factors on the print hours of one printer, gamma with mean 1.

    Parameters
    ----------
    sd : float
        Their standard deviation [-]; without one there is nothing to draw.
    draws : int
        How many.
    rng : numpy.random.Generator
        Source of random numbers.

    Returns
    -------
    array of float or None
    """
    if sd <= 0:
        return None
    gamma_shape = sd**-2
    return np.asarray(rng.standard_gamma(gamma_shape, draws) / gamma_shape, dtype=np.float32)


def _check_swap_ages(printer: Printer) -> None:
    ahead = float(printer.weekly_hours.sum())
    lowest = min(kind.swap_age for slot in printer.slots for kind in slot.kinds)
    if ahead > MOST_SWAPS * lowest:
        raise DecisionError(
            f"Swapping heads at {lowest:g} h means more than {MOST_SWAPS} swaps of one position "
            f"in {ahead:g} print hours; give a higher age."
        )
