"""How many heads does each printer use, week by week and in every future? Counted visit by visit.

From printers as they stand at the start, through the engine: heads that failed, were swapped by
plan or along with the other, and that changed with the material, by head type, role and site.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.futures.calendar import Clock, slower, usage_factor
from headlife.futures.draws import Hours, Index
from headlife.futures.engine import refuse_short_runs, steps
from headlife.futures.position import Flags, Out, Place, Position
from headlife.numbers import Floats

# Head type and role.
Stratum = tuple[str, str]
# Numbers of heads.
Counts = npt.NDArray[Any]
# Heads of one place and kind of swap, draws x weeks.
Tally = npt.NDArray[np.int16]
Swaps = dict[Place, dict[str, Tally]]

FAILED: Final = "failed"
PLANNED: Final = "planned"
JOINED: Final = "joined"
KINDS: Final = (FAILED, PLANNED, JOINED)
CHANGED: Final = "changed"


@dataclass(frozen=True)
class Printer:
    """A printer with the heads in it and the print hours it will run."""

    positions: tuple[Position, ...]
    """Its positions, in any order, each with its places."""
    weekly_hours: Floats
    """Print hours in each week ahead [h]."""
    usage_sd: float = 0.0
    """Spread of the printer's own average print hours over the horizon, as a share of them [-]."""
    usage: Hours | None = None
    """Factor on its print hours in every future, (draws,) [-]: what printers share; None: 1."""

    @property
    def places(self) -> tuple[Place, ...]:
        """Head type, role and site of the heads in it."""
        return tuple(position.places[0] for position in self.positions)


def count_swaps(printers: Sequence[Printer], draws: int, rng: np.random.Generator) -> Swaps:
    """Simulate printers over the weeks given.

    Parameters
    ----------
    printers : sequence of Printer
        All with the same number of weeks.
    draws : int
        Futures, as many as their lives have draws [-].
    rng : numpy.random.Generator
        Source of every random number.

    Returns
    -------
    dict of place to dict of {"failed", "planned", "joined", "changed"} to array of int
        Heads, draws x weeks; "changed" are those that went in at a change of material.

    Raises
    ------
    DecisionError
        A swap age is so low that a printer would swap hundreds of heads.
    """
    swaps: Swaps = {}
    for printer in printers:
        weeks = printer.weekly_hours.size
        for position in printer.positions:
            for kind, place in zip(position.kinds, position.places, strict=True):
                refuse_short_runs(kind.policy, float(printer.weekly_hours.sum()))
                if place not in swaps:
                    swaps[place] = {
                        name: np.zeros((draws, weeks), dtype=np.int16) for name in (*KINDS, CHANGED)
                    }
        if not weeks:
            continue
        clock = Clock(printer.weekly_hours)
        own = usage_factor(printer.usage_sd, draws, rng)
        shared = printer.usage
        pace = slower(own if shared is None else shared if own is None else own * shared)
        for step in steps(printer.positions, draws, clock.horizon, rng, pace):
            week = clock.week(step.steady_hours)
            for position, out in zip(printer.positions, step.out, strict=True):
                _count(position.places, out, step.who, week, swaps)
    return swaps


def _count(places: Sequence[Place], out: Out, who: Index, week: Index, swaps: Swaps) -> None:
    """Count what happened in one position."""
    what = (
        (FAILED, out.failed, out.kind),
        (PLANNED, out.planned, out.kind),
        (JOINED, out.joined, out.kind),
        (CHANGED, out.changed, out.kind_in),
    )
    for number, place in enumerate(places):
        for name, flags, kind in what:
            at = np.flatnonzero(_of_kind(flags, kind, number))
            swaps[place][name][who[at], week[at]] += 1


def _of_kind(flags: Flags, kind: Index | None, number: int) -> Flags:
    return flags if kind is None else flags & (kind == number)
