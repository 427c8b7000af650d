"""What happens at a two-head printer from visit to visit, when the lives of its heads are given?

From ages, lives, swap ages, a limit and the length of builds: who comes out at each visit, and
after how many print hours. Draws no life and prices nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from headlife.numbers import Floats

Flags = npt.NDArray[np.bool_]

HEADS: Final = 2  # heads of a printer
_EVEN: Final = 1e-9  # slack of ages and build ends that are equal but for rounding


@dataclass(frozen=True)
class Visit:
    """One visit at each of many printers."""

    hours: Floats
    """Print hours since the start [h], of any shape S."""
    failed: Flags
    """Whether each head failed, 2 x S."""
    swapped: Flags
    """Whether each head was swapped, failed ones included, 2 x S."""


def walk(
    ages: Floats,
    lives: Floats,
    swap_ages: Floats,
    limits: Floats,
    build_hours: float | None = None,
    never_past: tuple[bool, bool] = (False, False),
) -> Iterator[Visit]:
    """Walk printers from visit to visit, as long as the lives last.

    Parameters
    ----------
    ages : array of float
        Present age of both heads [h], 2 x S; S is any shape, one entry per printer.
    lives : array of float
        Age at which each head will fail [h], k x 2 x S: first the present heads, then the new
        ones in the order in which they are put in.
    swap_ages : array of float
        Age at which each head is due [h], broadcast against 2 x S; infinite: never.
    limits : array of float
        Age from which the other head is swapped along [h], broadcast against S.
    build_hours : float, optional
        Heads that are due wait for the end of a build of this length [h]. A visit ends one
        build and starts the next: a build spoilt by a failing head is started again.
    never_past : pair of bool
        Heads that come out before the build that would carry them past their age.

    Yields
    ------
    Visit
        Ends before a printer needs a head more than `lives` holds.
    """
    ages = np.array(ages, float)
    swap_ages = np.broadcast_to(np.asarray(swap_ages, float), ages.shape)
    early = np.reshape(never_past, (HEADS, *[1] * (ages.ndim - 1)))
    last_start = (
        swap_ages
        if build_hours is None
        else np.where(early, swap_ages - build_hours + build_hours * _EVEN, swap_ages)
    )
    along = np.minimum(last_start, limits) * (1.0 - _EVEN)
    used = np.zeros(ages.shape, np.intp)
    place = np.indices(ages.shape, sparse=True)
    life = np.array(lives[0])
    hours = np.zeros(ages.shape[1:])
    for _ in range(lives.shape[0] - 1):
        to_failure = life - ages
        to_swap = np.maximum(swap_ages - ages, 0.0)
        if build_hours is not None:
            # inf / build stays inf; a head due now comes out now.
            builds = to_swap / build_hours
            to_swap = build_hours * np.where(
                early, np.floor(builds + _EVEN), np.ceil(builds - _EVEN)
            )
        step = np.minimum(to_failure.min(axis=0), to_swap.min(axis=0))
        ages += step
        hours = hours + step
        failed = to_failure <= step
        swapped = failed | (ages >= along)
        yield Visit(hours, failed, swapped)
        used += swapped
        ages[swapped] = 0.0
        life = np.where(swapped, lives[(used, *place)], life)
