"""When will a printer be visited, and which of its heads are swapped then? Seeded, week by week.

The heads of one printer share its print hours and its visits: when one is due, the other may be
swapped along if it is old enough, since one calibration serves both. From drawn parameters of
every stratum, present ages, the print hours of each week and the policies. Like `paths`, which
serves positions that have nothing to do with each other, it never fits and never sums up.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from headlife.decisions.checks import Floats
from headlife.decisions.paths import MOST_SWAPS, Clock, Floats32, Index, ModeDraws, new_lives
from headlife.errors import DecisionError

Tally = npt.NDArray[np.int16]
Stratum = tuple[str, str]
Group = tuple[str, str, str]

FAILED: Final = "failed"
PLANNED: Final = "planned"
JOINED: Final = "joined"
KINDS: Final = (FAILED, PLANNED, JOINED)


@dataclass(frozen=True)
class HeadInPlace:
    """A head in one position of a printer."""

    head_type: str
    """Head type."""
    role: str
    """model or support."""
    site: str
    """Where its printer stands."""
    age_hours: float
    """Present age [h]."""
    swap_age: float = np.inf
    """Age at which it is swapped although it works [h]."""
    join_age: float = np.inf
    """Age from which it is swapped along when its printer is visited anyway [h]."""

    @property
    def stratum(self) -> Stratum:
        """Head type and role."""
        return self.head_type, self.role

    @property
    def group(self) -> Group:
        """Head type, role and site: what swaps are counted by."""
        return self.head_type, self.role, self.site


@dataclass(frozen=True)
class Printer:
    """A printer with the heads in it and the print hours it will run."""

    heads: tuple[HeadInPlace, ...]
    """Heads in place, in any order."""
    weekly_hours: Floats
    """Print hours in each week ahead [h]."""
    usage_sd: float = 0.0
    """Spread of the printer's average print hours over the horizon, as a share of them [-]."""


@dataclass(frozen=True)
class VisitPaths:
    """Heads swapped, by group, kind, draw and week."""

    swaps: dict[Group, dict[str, Tally]]
    """For each head type, role and site: heads that failed, were swapped at the policy's age,
    or were swapped along at a visit for another head [heads], draws x weeks."""
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
    swaps: dict[Group, dict[str, Tally]] = {}
    for printer in printers:
        for head in printer.heads:
            if head.group not in swaps:
                swaps[head.group] = {
                    kind: np.zeros((draws, weeks), dtype=np.int16) for kind in KINDS
                }
        if weeks:
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
        self._heads = printer.heads
        self._modes = [drawn[head.stratum] for head in printer.heads]
        factor = usage_factor(printer.usage_sd, draws, rng)
        self._clock = Clock(printer.weekly_hours, factor)
        ahead = float(printer.weekly_hours.sum())
        lowest = min(head.swap_age for head in printer.heads)
        if ahead > MOST_SWAPS * lowest:
            raise DecisionError(
                f"Swapping heads at {lowest:g} h means more than {MOST_SWAPS} swaps of one "
                f"position in {ahead:g} print hours; give a higher age."
            )
        self._who: Index = np.arange(draws)
        self._born = np.array(
            [np.full(draws, -head.age_hours, dtype=np.float32) for head in printer.heads]
        )
        self._fails = np.array(
            [
                remaining_hours(modes, head.age_hours, rng)
                for head, modes in zip(printer.heads, self._modes, strict=True)
            ]
        )
        self._swaps = np.maximum(self._born + self._column("swap_age"), np.float32(0))

    def _column(self, name: str) -> Floats32:
        """One number of every head, as a column beside the draws."""
        values = [[getattr(head, name)] for head in self._heads]
        return np.array(values, dtype=np.float32)

    def run(self, swaps: dict[Group, dict[str, Tally]]) -> None:
        """Go from visit to visit until no draw has another one within the weeks."""
        for _ in range(MOST_SWAPS * len(self._heads)):
            due = np.minimum(self._fails, self._swaps)
            now = due.min(axis=0)
            inside = np.flatnonzero(now <= self._clock.within(self._who))
            if not inside.size:
                return
            self._keep(inside)
            self._visit(due[:, inside].argmin(axis=0), now[inside], swaps)

    def _keep(self, inside: Index) -> None:
        self._who = self._who[inside]
        self._born, self._fails, self._swaps = (
            values[:, inside] for values in (self._born, self._fails, self._swaps)
        )

    def _visit(self, first: Index, now: Floats32, swaps: dict[Group, dict[str, Tally]]) -> None:
        """Swap the head that is due and those that are old enough to be swapped along."""
        week = self._clock.week(now, self._who)
        for place, head in enumerate(self._heads):
            is_due = first == place
            fails = is_due & (self._fails[place] <= self._swaps[place])
            tally = swaps[head.group]
            tally[FAILED][self._who, week] += fails
            tally[PLANNED][self._who, week] += is_due & ~fails
            replaced = is_due
            if head.join_age < np.inf:
                along = ~is_due & (now - self._born[place] >= np.float32(head.join_age))
                tally[JOINED][self._who, week] += along
                replaced = is_due | along
            self._replace(place, np.flatnonzero(replaced), now)

    def _replace(self, place: int, who: Index, now: Floats32) -> None:
        start = now[who]
        self._born[place, who] = start
        self._fails[place, who] = start + new_lives(self._modes[place], self._who[who], self._rng)
        self._swaps[place, who] = start + np.float32(self._heads[place].swap_age)


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


def remaining_hours(modes: Sequence[ModeDraws], age: float, rng: np.random.Generator) -> Floats32:
    """Hours that a head of this age still runs, one for each draw [h]."""
    draws = modes[0].shape.size
    everyone = np.arange(draws)
    if age <= 0:
        return new_lives(modes, everyone, rng)
    left = np.full(draws, np.inf, dtype=np.float32)
    log_age = np.float32(np.log(age))
    for mode in modes:
        # H(age) may be beyond single precision for a head far into its wear-out: it fails at once.
        start = np.exp(np.minimum(mode.shape * (log_age - mode.log_scale), np.float32(80)))
        reached = np.log(start + rng.standard_exponential(draws, dtype=np.float32))
        end = np.exp(np.minimum(reached * mode.inverse_shape + mode.log_scale, np.float32(85)))
        left = np.minimum(left, np.maximum(end - np.float32(age), np.float32(0)))
    return left
