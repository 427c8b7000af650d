"""How does one position stand at the start, and what heads may it hold?

The present age of its head, the kinds of head that may be in it, where their lives come from, the
policy of each, and how often its material is changed: what the engine is given, for one printer or
for many that are alike. Does nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

import numpy as np

from headlife.futures.draws import Hours, Index
from headlife.shop.policy import Policy

# Head type, role and site.
Place = tuple[str, str, str]


class Lives(Protocol):
    """Where lives come from: drawn, or given."""

    def remaining(self, ages: Hours, who: Any, rng: np.random.Generator) -> Hours:
        """Print hours that heads of these ages still run [h].

        Parameters
        ----------
        ages : Hours
            Present ages [h].
        who : index
            Which draws.
        rng : numpy.random.Generator
            Source of the random numbers.

        Returns
        -------
        Hours
            Print hours [h].
        """

    def new(self, size: int, who: Any, paths: Any, rng: np.random.Generator) -> Hours:
        """Print hours that new heads last [h]; infinite where it does not matter how long.

        Parameters
        ----------
        size : int
            How many.
        who : index
            Which draws.
        paths : index
            Which paths.
        rng : numpy.random.Generator
            Source of the random numbers.

        Returns
        -------
        Hours
            Print hours [h], (size,).
        """

    def part(self, draws: slice) -> Lives:
        """Return some of the draws.

        Parameters
        ----------
        draws : slice
            Which.

        Returns
        -------
        Lives
            Those draws.
        """

    def within(self, hours: float) -> Lives:
        """Return the same lives where only those that end within some hours matter [h].

        Parameters
        ----------
        hours : float
            The longest that matters [h].

        Returns
        -------
        Lives
            The same lives.
        """


@dataclass(frozen=True)
class HeadKind:
    """A kind of head as a position may hold it."""

    lives: Lives
    """Where its lives come from."""
    policy: Policy = field(default_factory=Policy)
    """When it is swapped."""
    lag: float = 0.0
    """Mean print hours from when it is due until it is swapped, exponentially spread [h]."""
    in_circulation: tuple[float, ...] = (0.0,)
    """Ages of the heads of this kind in use or waiting; one of them comes in when material is
    changed to this kind [h]."""


@dataclass(frozen=True)
class Position:
    """One position of many paths."""

    ages: Hours
    """Present age of the head in it [h], printers x 1 or printers x draws; its precision is that
    of the whole path."""
    kinds: Sequence[HeadKind]
    """The kind in place, first, and those that a change of material may put in."""
    in_place: Index | None = None
    """Number of the kind in place, one per path; the first everywhere when left out."""
    changes_per_hour: float | Hours = 0.0
    """Changes of material for each print hour [1/h], one for all or printers x 1."""
    change_to: Sequence[Sequence[float]] = ()
    """Probability that a change from one of `kinds` (row) is to another or the same [-]."""
    places: Sequence[Place] = ()
    """What swaps of each kind are counted under."""
