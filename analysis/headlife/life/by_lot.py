"""Which lives do forecasts take where lots differ? Each lot's own, and which one is bought now.

From the evidence of every lot and that of all heads of a type and role: the life learned from all
of them, beside it that of each lot as partial pooling leaves it (`headlife.life.lots`), drawn
together. Lot here is any group of heads bought together. Never simulates and never judges.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from headlife.life.evidence import Evidence
from headlife.life.groups import Group, GroupEvidence, groups_in
from headlife.life.lot_life import OneOfLots
from headlife.life.lots import lot_lives
from headlife.shop.columns import OF_PURCHASES

if TYPE_CHECKING:
    import pandas as pd

    from headlife.life.lot_life import LotLife
    from headlife.life.posterior import Life

FloatArray = NDArray[np.float64]


# A group is no longer bought once none of its heads came for so many of its own mean gaps between
# heads; where they come at random, one still bought is silent for so long with a chance of exp(-3).
SILENT_GAPS: Final = 3.0


@dataclass(frozen=True)
class Purchased:
    """One part of a division by purchases: when it was last bought, and how much of it is now."""

    group: Group
    """The part."""
    newest: pd.Timestamp
    """Day on which its newest head was bought or, where no row says, first went in."""
    share: float
    """Share of the heads bought now that are of it, by how often they came [-]; 0 where it is no
    longer bought."""


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
        The lots that new heads are of, with the share of each [-]; mostly the one with the newest
        head alone.
    """

    pooled: Life
    evidence: Mapping[Group, Evidence]
    bought_now: Mapping[Group, float]

    @cached_property
    def lots(self) -> dict[Group, LotLife]:
        """The life of each lot, under the prior of forecasts."""
        found = lot_lives(list(self.evidence.values()), "forecast")
        return dict(zip(self.evidence, found, strict=True))

    @property
    def new_heads(self) -> LotLife | OneOfLots:
        """The life of a new head."""
        return self.of_one_of(self.bought_now)

    def of_one_of(self, shares: Mapping[Group, float]) -> LotLife | OneOfLots:
        """Give the life of a head that is of one of some lots.

        Parameters
        ----------
        shares : mapping of Group to float
            Chance that it is of each [-], summing to 1.

        Returns
        -------
        LotLife or OneOfLots
            That of the lot where there is but one.
        """
        lives = [self.lots[lot] for lot in shares]
        return lives[0] if len(lives) == 1 else OneOfLots(lives, list(shares.values()))

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


def by_purchase(parts: Iterable[GroupEvidence]) -> tuple[Purchased, ...]:
    """Order groups of heads bought together by their newest head, what is bought now first.

    The group with the newest head is bought now, and beside it every other one that was still
    bought after that one began and has not been silent for long since.

    Parameters
    ----------
    parts : iterable of GroupEvidence
        Parts of one division.

    Returns
    -------
    tuple of Purchased
        Of two with a head of the same day the one that began later comes first; none where the
        parts are no purchases, such as printers.
    """
    known = [
        (one.bought, one.group, one.heads)
        for one in parts
        if one.bought is not None and any(name in OF_PURCHASES for name in one.group.columns)
    ]
    if not known:
        return ()
    known.sort(reverse=True)
    (newest, since), first, _ = known[0]
    a_day = {first: 1.0}
    for (last, begun), group, heads in known:
        gap = (last - begun).days / max(heads - 1, 1)
        still = group == first or (last > since and (newest - last).days <= SILENT_GAPS * gap)
        if still and gap > 0:
            a_day[group] = 1.0 / gap
    total = sum(a_day.values())
    return tuple(
        Purchased(group, last, a_day.get(group, 0.0) / total) for (last, _), group, _ in known
    )


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
    lots = by_purchase(parts)
    now = {one.group: one.share for one in lots if one.share > 0}
    return LifeByLot(life, {one.group: of[one.group] for one in lots}, now)
