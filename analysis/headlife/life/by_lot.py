"""Which lives do forecasts take where lots differ? Each lot's own, and which one is bought now.

From the evidence of every lot and that of all heads of a type and role: the life learned from all
of them, beside it that of each lot as partial pooling leaves it (`headlife.life.lots`), drawn
together. Lot here is any group of heads bought together. Never simulates and never judges.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from headlife.life.evidence import Evidence
from headlife.life.groups import Group, GroupEvidence, groups_in
from headlife.life.lots import lot_lives
from headlife.shop.columns import OF_PURCHASES

if TYPE_CHECKING:
    import pandas as pd

    from headlife.life.lot_life import LotLife
    from headlife.life.posterior import Life

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class LifeByLot:
    """The life of a head type and role, and that of each of its lots.

    Attributes
    ----------
    pooled
        One life for all lots.
    evidence
        What the heads of each lot say.
    bought_now
        The lot with the newest head.
    """

    pooled: Life
    evidence: Mapping[Group, Evidence]
    bought_now: Group

    @cached_property
    def lots(self) -> dict[Group, LotLife]:
        """The life of each lot, under the prior of forecasts."""
        found = lot_lives(list(self.evidence.values()), "forecast")
        return dict(zip(self.evidence, found, strict=True))

    @property
    def new_heads(self) -> LotLife:
        """The life of new heads."""
        return self.lots[self.bought_now]

    @property
    def to_forecast(self) -> Life:
        """One life for all lots, under the prior of forecasts."""
        return self.pooled.to_forecast

    def draw(self, n: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Draw shapes [-] and scales [h] of the one life for all lots, as `Life.draw` does.

        Parameters
        ----------
        n : int
            How many.
        rng : numpy.random.Generator
            Source of random numbers.

        Returns
        -------
        tuple of array of float
            Shapes [-] and scales [h], (n,) each.
        """
        return self.pooled.draw(n, rng)

    def draw_lots(
        self, n: int, rng: np.random.Generator
    ) -> dict[Group, tuple[FloatArray, FloatArray]]:
        """Draw shapes [-] and scales [h] of every lot, together.

        Parameters
        ----------
        n : int
            How many.
        rng : numpy.random.Generator
            Source of random numbers.

        Returns
        -------
        dict of Group to tuple of array of float
            Shapes [-] and scales [h] of each lot, (n,) each.
        """
        node, shared = rng.random(n), rng.standard_normal(n)
        return {
            group: life.at(node, shared, rng.standard_normal(n))
            for group, life in self.lots.items()
        }


def lots_of(heads: pd.DataFrame, lots: Collection[Group]) -> list[Group | None]:
    """Give the lot of every head.

    Parameters
    ----------
    heads : pandas.DataFrame
        With `head_type`, `role` and, where they are known, the columns that lots are told apart by.
    lots : collection of Group
        Those whose lives are known, all of one division.

    Returns
    -------
    list of Group or None
        None where no lot is told apart, or the lot's life in this role is not known.
    """
    found: list[Group | None] = [None] * len(heads)
    further = next((lot.columns[2:] for lot in lots), ())
    if not further or not set(further) <= set(heads.columns):
        return found
    for lot, own in groups_in(heads.reset_index(drop=True), further).items():
        if lot in lots:
            for number in own.index.tolist():
                found[number] = lot
    return found


def newest_first(parts: Iterable[GroupEvidence]) -> list[tuple[Group, pd.Timestamp]]:
    """Order groups of heads bought together by their newest head.

    Parameters
    ----------
    parts : iterable of GroupEvidence
        Parts of one division.

    Returns
    -------
    list of (Group, pandas.Timestamp)
        What is bought now first, each with the day on which its newest head was bought or, where
        no row says, first went in. Of two with a head of the same day the one that began later
        comes first; none where the parts are no purchases, such as printers.
    """
    found = [
        (one.bought, one.group)
        for one in parts
        if one.bought is not None and any(name in OF_PURCHASES for name in one.group.columns)
    ]
    return [(group, last) for (last, _), group in sorted(found, reverse=True)]


def lives_by_lot(
    lives: Mapping[Group, Sequence[Life]],
    evidence: Iterable[GroupEvidence],
    divisions: Iterable[Sequence[str]],
    mode: str,
) -> dict[Group, list[Life | LifeByLot]]:
    """Put the lives of lots beside the one for all, where heads are divided by purchases.

    Parameters
    ----------
    lives : mapping of Group to a sequence of Life
        The competing modes of each head type and role, the primary one first.
    evidence : iterable of GroupEvidence
        Of every head type and role, and of their divisions.
    divisions : iterable of sequence of str
        Columns that heads are divided by, as `[review] groups` names them; the first division by
        purchases is used.
    mode : str
        The primary mode, which lots may differ in; the others are one life for all.

    Returns
    -------
    dict of Group to list of Life or LifeByLot
        The same lives; the first of each is a `LifeByLot` where at least two lots have run and a
        head has failed by the mode.
    """
    asked = next((one for one in divisions if any(name in OF_PURCHASES for name in one)), None)
    by_group: dict[Group, list[GroupEvidence]] = {}
    for one in evidence:
        if asked is not None and one.group.columns[2:] == tuple(asked):
            by_group.setdefault(one.group.pooled, []).append(one)
    found: dict[Group, list[Life | LifeByLot]] = {}
    for group, modes in lives.items():
        parts = by_group.get(group, [])
        found[group] = list(modes)
        ran = [part for part in parts if part.modes]
        if modes and len(ran) > 1 and modes[0].evidence.all_failures > 0:
            found[group][0] = _beside(modes[0], parts, mode)
    return found


def _beside(life: Life, parts: Sequence[GroupEvidence], mode: str) -> LifeByLot:
    nothing = Evidence.from_lives([], [], [], reference_hours=life.evidence.reference_hours)
    of = {part.group: part.modes.get(mode, nothing) for part in parts}
    # By their days, so that it does not matter what lots are called.
    lots = [group for group, _ in newest_first(parts)]
    return LifeByLot(life, {group: of[group] for group in lots}, lots[0])
