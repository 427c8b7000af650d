"""What happens at a two-head printer from visit to visit, when the lives of its heads are given?

From ages, lives and a policy for each head: who comes out at each visit, and
after how many print hours. Draws no life and prices nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from headlife.numbers import Floats
from headlife.shop.policy import Policy

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
    policies: Sequence[tuple[Policy, Policy]],
) -> Iterator[Visit]:
    """Walk printers from visit to visit, as long as the lives last.

    Between builds, a visit ends one build and starts the next: a build spoilt by a failing head is
    started again.

    Parameters
    ----------
    ages : array of float
        Present age of both heads [h], 2 x policies x printers.
    lives : array of float
        Age at which each head will fail [h], k x 2 x policies x printers: first the present heads,
        then the new ones in the order in which they are put in.
    policies : sequence of pairs of Policy
        When the two heads of a printer are swapped.

    Yields
    ------
    Visit
        Ends before a printer needs a head more than `lives` holds.
    """
    ages = np.array(ages, float)

    def each(name: str) -> Floats:
        return np.array([[getattr(one, name) for one in heads] for heads in policies]).T[..., None]

    swap_ages, build, early = each("swap_at"), each("build_hours"), each("never_past").astype(bool)
    last_start = np.where(early, swap_ages - build + build * _EVEN, swap_ages)
    along = np.minimum(last_start, each("join_from")) * (1.0 - _EVEN)
    used = np.zeros(ages.shape, np.intp)
    place = np.indices(ages.shape, sparse=True)
    life = np.array(lives[0])
    hours = np.zeros(ages.shape[1:])
    for _ in range(lives.shape[0] - 1):
        to_failure = life - ages
        to_swap = np.maximum(swap_ages - ages, 0.0)
        if build.any():
            # inf / build stays inf; a head due now comes out now.
            builds = to_swap / np.where(build > 0, build, 1.0)
            ends = np.where(early, np.floor(builds + _EVEN), np.ceil(builds - _EVEN)) * build
            to_swap = np.where(build > 0, ends, to_swap)
        step = np.minimum(to_failure.min(axis=0), to_swap.min(axis=0))
        ages += step
        hours = hours + step
        failed = to_failure <= step
        swapped = failed | (ages >= along)
        yield Visit(hours, failed, swapped)
        used += swapped
        ages[swapped] = 0.0
        life = np.where(swapped, lives[(used, *place)], life)
