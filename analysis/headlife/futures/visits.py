"""How many heads does each printer use, week by week and in every future? Counted visit by visit.

From printers as they stand at the start, through the engine: heads that failed, were swapped by
plan or along with the other, and that changed with the material, by head type, role and site.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.futures.calendar import LEAST_HOURS, Clock, slower, usage_factor
from headlife.futures.draws import Hours, Index
from headlife.futures.engine import refuse_short_runs, steps
from headlife.futures.position import HeadKind, Place, Position
from headlife.futures.position_state import Out
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
# Printers whose weeks differ by less than one in so many have the same weeks.
_PATTERN: Final = 1e6


@dataclass(frozen=True)
class Printer:
    """A printer, or several that differ in ages and print hours alone, and what they will run."""

    positions: tuple[Position, ...]
    """The positions, in any order, each with its places."""
    weekly_hours: Floats
    """Print hours in each week ahead [h]."""
    usage_sd: float | Floats = 0.0
    """Spread of a printer's own average print hours over the horizon, as a share of them [-]."""
    usage: Hours | None = None
    """Factor on the print hours in every future, (draws,) [-]: what printers share; None: 1."""
    hours: Floats | None = None
    """Print hours of each of several printers over `weekly_hours` [-]; None: there is one."""

    @property
    def places(self) -> tuple[Place, ...]:
        """Head type, role and site of the heads in it."""
        return tuple(position.places[0] for position in self.positions)

    def in_futures(self, some: slice) -> Printer:
        """Return the same in some of the futures.

        Parameters
        ----------
        some : slice
            Which.

        Returns
        -------
        Printer
            With the lives of those futures.
        """

        def part(kind: HeadKind) -> HeadKind:
            return replace(kind, lives=kind.lives.part(some))

        return replace(
            self,
            positions=tuple(replace(p, kinds=[part(k) for k in p.kinds]) for p in self.positions),
            usage=None if self.usage is None else self.usage[some],
        )


def stacked(printers: Sequence[Printer]) -> list[Printer]:
    """Put printers together that differ in ages and print hours alone.

    Parameters
    ----------
    printers : sequence of Printer
        Single printers; those that are alike share the lists of their kinds.

    Returns
    -------
    list of Printer
        Each of many printers.
    """
    alike: dict[Any, list[Printer]] = {}
    for printer in printers:
        total = max(float(printer.weekly_hours.sum()), LEAST_HOURS)
        pattern = np.rint(printer.weekly_hours / total * _PATTERN).astype(np.int64)
        kinds = tuple(id(position.kinds) for position in printer.positions)
        alike.setdefault((kinds, pattern.tobytes()), []).append(printer)
    found = []
    for same in alike.values():
        hours = np.array([printer.weekly_hours.sum() for printer in same])
        positions = [
            replace(
                first,
                ages=np.concatenate([p.positions[place].ages for p in same]),
                changes_per_hour=np.array([[p.positions[place].changes_per_hour] for p in same]),
            )
            for place, first in enumerate(same[0].positions)
        ]
        own = hours / hours[0] if hours[0] > 0 else np.ones(hours.size)
        sd = np.array([printer.usage_sd for printer in same])
        found.append(replace(same[0], positions=tuple(positions), usage_sd=sd, hours=own))
    return found


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
        busiest = 1.0 if printer.hours is None else float(printer.hours.max())
        for position in printer.positions:
            for kind, place in zip(position.kinds, position.places, strict=True):
                refuse_short_runs(kind.policy, busiest * float(printer.weekly_hours.sum()))
                if place not in swaps:
                    whole = np.int16 if printer.hours is None else np.int32
                    swaps[place] = {
                        name: np.zeros((draws, weeks), dtype=whole) for name in (*KINDS, CHANGED)
                    }
        if not weeks:
            continue
        clock = Clock(printer.weekly_hours)
        pace = slower(_factor(printer, draws, rng))
        for step in steps(printer.positions, draws, clock.horizon, rng, pace):
            week = clock.week(step.steady_hours)
            for position, out in zip(printer.positions, step.out, strict=True):
                _count(position.places, out, step.who, week, swaps, printer.hours is not None)
    return swaps


def _factor(printer: Printer, draws: int, rng: np.random.Generator) -> Hours | None:
    """Factor on the print hours of every path [-]; None where there is none."""
    hours = None if printer.hours is None else printer.hours[:, None]
    factors = [usage_factor(printer.usage_sd, draws, rng), printer.usage, hours]
    product: Hours | None = None
    for factor in factors:
        if factor is not None:
            product = factor if product is None else product * factor
    if product is None or printer.hours is None:
        return product
    return np.broadcast_to(product, (printer.hours.size, draws)).astype(np.float32).ravel()


def _count(
    places: Sequence[Place], out: Out, who: Any, week: Index, swaps: Swaps, several: bool
) -> None:
    """Count what happened in one position, of one printer or of several."""
    what = (
        (FAILED, out.failed, out.kind),
        (PLANNED, out.planned, out.kind),
        (JOINED, out.joined, out.kind),
        (CHANGED, out.changed, out.kind_in),
    )
    for number, place in enumerate(places):
        for name, flags, kind in what:
            at = (flags if kind is None else flags & (kind == number)).nonzero()[0]
            tally = swaps[place][name]
            if several:
                # Several printers may swap in one week of one future.
                cell = week[at] if who is ... else who[at] * tally.shape[1] + week[at]
                tally += np.bincount(cell, minlength=tally.size).reshape(tally.shape)
            else:
                tally[0 if who is ... else who[at], week[at]] += 1
