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

from headlife.decisions.plan.courses import KEEP, USED, Choice, Spares
from headlife.decisions.plan.one_printer import EVEN, Counts, PrinterBuilds, all_survive, along
from headlife.numbers import Floats


@dataclass(frozen=True)
class Expected:
    """What is expected to happen over the builds."""

    visits: float
    """Visits [-]."""
    heads: Floats
    """New heads put in at each place [heads]."""
    used: Floats
    """Part-used heads put in at each place [heads]."""
    failures: Floats
    """Heads that fail at each place [heads]."""
    spoiled: Floats
    """Chance that each build is spoiled by a head that fails [-]."""
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
            `visits`, `heads`, `failed` and `end` [currency].
        """
        places = printer.places
        return {
            "visits": printer.visit * self.visits,
            "heads": sum(
                place.new_head * new + place.used_head * used
                for place, new, used in zip(places, self.heads, self.used, strict=True)
            ),
            "failed": float(printer.spoiled @ self.spoiled)
            + sum(p.waiting * n for p, n in zip(places, self.failures, strict=True)),
            "end": self.end,
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
    places = len(printer.places)
    shape = tuple(one.ages.shape[1] for one in printer.slots)
    visits, heads, used, failures = 0.0, np.zeros(places), np.zeros(places), np.zeros(places)
    spoiled = np.zeros(printer.hours.size)
    # Chance of every pair of slots; of the course without a failure apart.
    state, smooth, others = (0,) * places, 1.0, np.zeros(shape)
    if course is None:
        smooth, others[state] = 0.0, 1.0
    spares = Spares(printer)
    for gap in range(printer.hours.size):
        for bits in range(1, 2**places):
            there = swaps[gap] == bits
            moved = np.where(there, others, 0.0)
            visits += float(moved.sum())
            others = others - moved
            for place in range(places):
                if bits >> place & 1:
                    heads[place] += moved.sum()
                    moved = _all_at(moved, place, 1 + gap)
            others = others + moved
        if course is not None:
            choice = course[gap]
            visits += smooth * any(one != KEEP for one in choice)
            for place, one in enumerate(choice):
                (used if one >= USED else heads)[place] += smooth * (one != KEEP)
            state = tuple(
                old if one == KEEP else spares.slot(one, gap)
                for old, one in zip(state, choice, strict=True)
            )
        whole = others.copy()
        whole[state] += smooth
        ahead = all_survive(printer, gap)
        spoiled[gap] = float((whole * (1.0 - ahead)).sum())
        for place, slots in enumerate(printer.slots):
            gone = whole.sum(axis=tuple(i for i in range(places) if i != place))
            failed = float(gone @ (1.0 - slots.survives[gap]))
            failures[place] += failed
            heads[place] += failed
        visits += spoiled[gap]
        for place, slots in enumerate(printer.slots):
            survive = along(slots.survives[gap], place, places)
            whole = whole * survive + _all_at(whole * (1.0 - survive), place, 2 + gap)
        smooth *= float(ahead[state])
        others = whole
        others[state] -= smooth
    others[state] += smooth
    end = float((others * printer.after_failure.values[-1]).sum())
    return Expected(visits, heads, used, failures, spoiled, end)


def swaps_at(printer: PrinterBuilds, due: Sequence[float], join: Sequence[float]) -> list[Counts]:
    """Say which heads are swapped in which gap by fixed ages.

    A head past the age that must not be passed in the next build comes out before it.

    Parameters
    ----------
    printer : PrinterBuilds
        Its builds and heads.
    due : sequence of float
        Age from which each head is swapped [h].
    join : sequence of float
        Age from which each is swapped along with the other [h].

    Returns
    -------
    list of array of int
        Heads swapped in each gap, as bits, by slots.
    """
    places, found = len(printer.places), []
    for gap in range(printer.hours.size):
        asked = [
            along((one.ages[gap] >= age - EVEN) | ~one.sound[gap], i, places)
            for i, (one, age) in enumerate(zip(printer.slots, due, strict=True))
        ]
        joined = [
            along(one.ages[gap] >= age - EVEN, i, places)
            for i, (one, age) in enumerate(zip(printer.slots, join, strict=True))
        ]
        anyone = np.any(np.broadcast_arrays(*asked), axis=0)
        bits: Any = 0
        for place in range(places):
            bits = bits + ((asked[place] | (anyone & joined[place])).astype(np.int64) << place)
        found.append(np.broadcast_to(bits, anyone.shape))
    return found


def _all_at(values: Floats, place: int, slot: int) -> Floats:
    """Move everything along one place's axis to one slot."""
    moved = np.zeros_like(values)
    at = tuple(slot if i == place else slice(None) for i in range(values.ndim))
    moved[at] = values.sum(axis=place)
    return moved
