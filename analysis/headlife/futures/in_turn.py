"""Where lots differ in life, how long does the head in place run, and how long those after it?

From the lives of the lots, drawn together, and the lot of every head in place: a source of lives
as the engine asks for them, the head in place by its own lot's and new heads by the one's bought
now, or by one of those bought side by side. Fits nothing and simulates nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from headlife.futures.draws import DrawnLife, DrawnLives, Hours, ModeDraws
from headlife.futures.visits import Stratum
from headlife.life.by_lot import LifeByLot, lots_of
from headlife.life.groups import Group
from headlife.seeds import generator

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class OneOfLives:
    """Lives of new heads each of which may be of one of several lots."""

    lots: Sequence[DrawnLives]
    """Lives of each lot, draw by draw."""
    shares: Sequence[float]
    """Chance that a head is of it [-], summing to 1."""

    def part(self, draws: slice) -> OneOfLives:
        """As in `Lives`."""
        return OneOfLives([one.part(draws) for one in self.lots], self.shares)

    def stretched(self, times: float) -> OneOfLives:
        """As in `DrawnLives`."""
        return OneOfLives([one.stretched(times) for one in self.lots], self.shares)

    def within(self, hours: float) -> OneOfLives:
        """As in `Lives`."""
        return OneOfLives([one.within(hours) for one in self.lots], self.shares)

    def new(self, size: int, who: Any, paths: Any, rng: np.random.Generator) -> Hours:
        """As in `Lives`."""
        lives = np.array([one.new(size, who, paths, rng) for one in self.lots])
        which = np.searchsorted(np.cumsum(self.shares)[:-1], rng.random(size), side="right")
        return np.asarray(lives[which, np.arange(size)])


@dataclass(frozen=True)
class CountedFrom:
    """Lives of heads in place whose ages are counted from another age than 0."""

    lives: DrawnLives | CountedFrom
    """The lives, by true ages."""
    hours: float
    """What is added to every age [h]."""

    def part(self, draws: slice) -> CountedFrom:
        """As in `Lives`."""
        return CountedFrom(self.lives.part(draws), self.hours)

    def stretched(self, times: float) -> CountedFrom:
        """As in `DrawnLives`."""
        return CountedFrom(self.lives.stretched(times), self.hours * times)

    def within(self, hours: float) -> CountedFrom:
        """As in `Lives`."""
        return CountedFrom(self.lives.within(hours), self.hours)

    def remaining(self, ages: Hours, who: Any, rng: np.random.Generator) -> Hours:
        """As in `Lives`."""
        true = np.maximum(ages - ages.dtype.type(self.hours), ages.dtype.type(0))
        return self.lives.remaining(true, who, rng)


@dataclass(frozen=True)
class LivesInTurn:
    """Lives of a head in place of one lot, and of the new heads that follow, of another."""

    in_place: DrawnLives | CountedFrom
    """Of the heads in place, and of part-used ones that go in at a change of material."""
    new_heads: DrawnLives | OneOfLives
    """Of new heads."""

    def part(self, draws: slice) -> LivesInTurn:
        """As in `Lives`."""
        return LivesInTurn(self.in_place.part(draws), self.new_heads.part(draws))

    def stretched(self, times: float) -> LivesInTurn:
        """Return lives that are so many times as long.

        Parameters
        ----------
        times : float
            How many [-].

        Returns
        -------
        LivesInTurn
            Those lives.
        """
        return LivesInTurn(self.in_place.stretched(times), self.new_heads.stretched(times))

    def within(self, hours: float) -> LivesInTurn:
        """As in `Lives`."""
        return LivesInTurn(self.in_place.within(hours), self.new_heads.within(hours))

    def remaining(self, ages: Hours, who: Any, rng: np.random.Generator) -> Hours:
        """As in `Lives`."""
        return self.in_place.remaining(ages, who, rng)

    def new(self, size: int, who: Any, paths: Any, rng: np.random.Generator) -> Hours:
        """As in `Lives`."""
        return self.new_heads.new(size, who, paths, rng)


@dataclass(frozen=True)
class DrawnLots:
    """Drawn parameters of lots that differ in life; empty where none are told apart."""

    modes: Mapping[Group, Sequence[ModeDraws]] = field(default_factory=dict)
    """The competing modes of every lot, draw by draw."""
    bought_now: Mapping[Stratum, Mapping[Group, float]] = field(default_factory=dict)
    """The lots that new heads are of, with the share of each [-], by head type and role."""

    @classmethod
    def of_lives(
        cls,
        lives: Mapping[Stratum, Sequence[DrawnLife]],
        drawn: Mapping[Stratum, Sequence[ModeDraws]],
        seed: int,
    ) -> DrawnLots:
        """Draw the lots' parameters; modes other than the first are the same for all.

        Parameters
        ----------
        lives : mapping of Stratum to a sequence of Life
            The competing modes of every head type and role; the first may be a `LifeByLot`.
        drawn : mapping of Stratum to a sequence of ModeDraws
            What was drawn for them without regard to lots.
        seed : int
            Same seed, same draws.

        Returns
        -------
        DrawnLots
            The lots.
        """
        modes: dict[Group, Sequence[ModeDraws]] = {}
        bought_now = {}
        for stratum, (life, *_) in lives.items():
            if not isinstance(life, LifeByLot):
                continue
            first, *others = drawn[stratum]
            lots = life.draw_lots(first.shape.size, generator(seed, "lots", *stratum))
            for lot, parameters in lots.items():
                own = ModeDraws.from_parameters(*parameters, first.shape.dtype)
                modes[lot] = [own, *others]
            bought_now[stratum] = life.bought_now
        return cls(modes, bought_now)

    def of_heads(self, positions: pd.DataFrame) -> list[Group | None]:
        """Give the lot of the head in every position.

        Parameters
        ----------
        positions : pandas.DataFrame
            As `Fleet.positions`.

        Returns
        -------
        list of Group or None
            None where no lot is told apart, or the lot's life in this role is not known.
        """
        return lots_of(positions, self.modes)

    def new_heads(self, stratum: Stratum) -> list[tuple[float, Sequence[ModeDraws]]]:
        """Give the modes of new heads, draw by draw; none where lots are not told apart.

        Parameters
        ----------
        stratum : Stratum
            Head type and role.

        Returns
        -------
        list of (float, sequence of ModeDraws)
            The competing modes of each lot that they may be of, with its share [-].
        """
        return [(share, self.modes[lot]) for lot, share in self.bought_now.get(stratum, {}).items()]

    def lives(
        self, stratum: Stratum, lot: Group | None, pooled: DrawnLives
    ) -> DrawnLives | LivesInTurn:
        """Give the lives of a position: of the head in place, and of those that follow.

        Parameters
        ----------
        stratum : Stratum
            Head type and role.
        lot : Group or None
            That of the head in place; None: not told apart.
        pooled : DrawnLives
            Lives without regard to lots.

        Returns
        -------
        DrawnLives or LivesInTurn
            The lives.
        """
        newest = self.new_heads(stratum)
        if not newest:
            return pooled
        here = pooled if lot is None else DrawnLives(self.modes[lot])
        lives, shares = [DrawnLives(modes) for _, modes in newest], [share for share, _ in newest]
        return LivesInTurn(here, lives[0] if len(lives) == 1 else OneOfLives(lives, shares))
