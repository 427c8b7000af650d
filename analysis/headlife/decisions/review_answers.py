"""What does a quarterly review answer? Every answer in one object, with what it was made from.

Values only: `decisions.review` works them out, and everything shown to people is read from here.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final, Literal

from headlife.case import Provenance
from headlife.decisions.newest import Newest
from headlife.decisions.rating import RatingVerdict, Verdict
from headlife.decisions.spares.levels import StockAnswer
from headlife.decisions.standing import Standing
from headlife.display import shows_itself
from headlife.fleet.practised import Practised
from headlife.life.groups import Group, GroupEvidence
from headlife.life.strata import Comparison

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    import pandas as pd

    from headlife.fleet.state import Fleet
    from headlife.life.by_lot import LifeByLot, Purchased
    from headlife.life.lot_life import LotLife
    from headlife.life.posterior import Life


What = Literal["single lives", "other heads", "circulation"]

SINGLE_LIVES: Final[What] = "single lives"
OTHER_HEADS: Final[What] = "other heads"
CIRCULATION: Final[What] = "circulation"


@shows_itself
@dataclass(frozen=True)
class Stratum:
    """One group of heads: its evidence, the posteriors of its modes and its rating's verdict."""

    group: Group
    """Which heads."""
    evidence: GroupEvidence
    """What their lives say, by failure mode."""
    modes: dict[str, Life]
    """Posterior of every failure mode: the primary one, and others that have occurred."""
    life: Life | None
    """Posterior of the primary mode; None when these heads have not run at all yet."""
    verdict: RatingVerdict | None
    """Verdict on the rating by the primary mode; None without a life."""
    failures: dict[str, int]
    """Failures by mode [heads]; the primary mode is always listed."""
    in_service: int
    """Heads in service [heads]."""
    lives: pd.DataFrame
    """Lives of this group, one row per head; none where they were reduced file by file."""
    leans_on: LotLife | None = None
    """For one part of several: its life as it leans on the others', by which it is judged."""

    @property
    def too_young(self) -> bool:
        """Whether one part of several has run too little to be judged: the others would speak."""
        if self.leans_on is None or self.verdict is None:
            return False
        return self.leans_on.too_young(self.verdict.share)

    @property
    def can_be_judged(self) -> bool:
        """Whether these heads have run enough for a verdict of their own."""
        return self.verdict is not None and not self.too_young

    @property
    def name(self) -> str:
        """The group as people write it."""
        return self.group.name

    @property
    def head_type(self) -> str:
        """Head type."""
        return self.group.head_type

    @property
    def role(self) -> str:
        """Model or support."""
        return self.group.role

    @property
    def rated_hours(self) -> float:
        """The vendor's rated life [h]."""
        return self.evidence.rated_hours

    @property
    def heads(self) -> int:
        """Number of lives [heads]."""
        return self.evidence.heads


@dataclass(frozen=True)
class Division:
    """A head type and role divided by further columns, such as the lot."""

    group: Group
    """The heads that are divided."""
    columns: tuple[str, ...]
    """The columns they are divided by."""
    parts: tuple[Stratum, ...]
    """Answers on the rating for each part, by the columns' values."""
    comparison: Comparison | None
    """Whether the parts differ; None where fewer than two of them have run."""
    purchases: tuple[Purchased, ...] = ()
    """Its parts by their newest head, what is bought now first; none where they are no
    purchases."""

    @property
    def bought_now(self) -> tuple[Purchased, ...]:
        """Its parts that are bought now."""
        return tuple(one for one in self.purchases if one.share > 0)

    def part(self, group: Group) -> Stratum:
        """Give the answers on one part.

        Parameters
        ----------
        group : Group
            One of its parts.

        Returns
        -------
        Stratum
            Its answers.
        """
        return next(part for part in self.parts if part.group == group)


@dataclass(frozen=True)
class Answers:
    """What a review answers from evidence and fleet."""

    strata: tuple[Stratum, ...]
    """Answers on the rating, by head type and role."""
    divisions: tuple[Division, ...]
    """Answers on the rating by the further columns of `[review] groups`."""
    modes: Mapping[Group, Sequence[Life | LifeByLot]]
    """Lives by head type and role, the primary failure mode first, with each lot's own where lots
    are told apart: what spares, watch list and policies are worked out from."""
    stock: tuple[StockAnswer, ...]
    """Answers on spares, by head type."""
    watch: pd.DataFrame
    """Heads in service by their chance of finishing the build, worst first."""
    left_out: tuple[LeftOut, ...]
    """What the records, reduced as they were, could not tell."""

    @property
    def judged(self) -> tuple[Stratum, ...]:
        """Every group with answers on its rating: head types and roles, then their parts."""
        return (*self.strata, *(part for one in self.divisions for part in one.parts))

    @property
    def told(self) -> tuple[Stratum, ...]:
        """Those of `judged` that say something of their own: no part that is all heads again."""
        parts = (part for one in self.divisions if len(one.parts) > 1 for part in one.parts)
        return (*self.strata, *parts)

    @property
    def deciding(self) -> tuple[Stratum, ...]:
        """Of every head type and role the groups whose verdict says what to do; `decisive`."""
        return tuple(part for one in self.strata for part in self.decisive(one))

    def decisive(self, stratum: Stratum) -> tuple[Stratum, ...]:
        """Give the groups whose verdict says what to do about the rating of a head type and role.

        Parameters
        ----------
        stratum : Stratum
            Of a head type and role.

        Returns
        -------
        tuple of Stratum
            What is bought now, by the first of `[review] groups` that tells lots or other purchases
            apart and of which some can be judged; else the group itself.
        """
        now = self.bought_now(stratum, lambda part: part.can_be_judged)
        return tuple(part for part, _ in now) or (stratum,)

    def bought_now(
        self, stratum: Stratum, speaks: Callable[[Stratum], bool]
    ) -> tuple[tuple[Stratum, float], ...]:
        """Give what is bought now of a head type and role, by the first division that tells it.

        Parameters
        ----------
        stratum : Stratum
            Of a head type and role.
        speaks : callable
            Whether a part can say what is asked.

        Returns
        -------
        tuple of tuple
            Parts that can, with the share of each [-]; none where none is told apart.
        """
        for one in self.divisions:
            # A single part is all heads once more.
            if one.group == stratum.group and len(one.parts) > 1:
                now = ((one.part(bought.group), bought.share) for bought in one.bought_now)
                if found := tuple(part for part in now if speaks(part[0])):
                    return found
        return ()


@shows_itself
@dataclass(frozen=True)
class Review(Provenance, Answers):
    """Every answer of one quarterly review, with what it was made from."""

    set_aside: pd.DataFrame
    """Rows not used, and why."""
    findings: pd.DataFrame
    """Doubts about rows that were used."""
    lives: pd.DataFrame
    """One row per head life; none where lives were reduced file by file."""
    in_service: pd.DataFrame
    """One row per occupied position."""
    fleet: Fleet
    """Positions and part-used heads on the shelf."""
    build_hours: float
    """Length of the build the watch list is about [h]."""
    last_quarter: pd.DataFrame
    """What was forecast a quarter ago beside what happened, one row per head type, as
    `Backtest.quarters` has it; empty where the records are too short."""
    standings: Mapping[Group, Standing] = field(default_factory=dict)
    """How the verdict of every group stands over time and what would overturn it; empty where
    lives were reduced file by file."""
    practised: tuple[Practised, ...] = ()
    """What is stated and what is done, by head type; empty where the record was too large."""
    newest: tuple[Newest, ...] = ()
    """How the newest purchases have fared, by head type and role; empty where lots or years of
    purchase are judged for themselves, and where lives were reduced file by file."""

    def stated_verdict(self, stratum: Stratum) -> Verdict | None:
        """Give the verdict that is stated for a group: what would be overturned by little is not.

        Parameters
        ----------
        stratum : Stratum
            A group of heads.

        Returns
        -------
        str or None
            holds, falls short or not settled; None where nothing has run.
        """
        return stated_verdict(stratum, self.standings.get(stratum.group))


def stated_verdict(stratum: Stratum, standing: Standing | None) -> Verdict | None:
    """Give the verdict that is stated for a group: what would be overturned by little is not.

    Parameters
    ----------
    stratum : Stratum
        A group of heads.
    standing : Standing or None
        How its verdict stands; None where that is not known.

    Returns
    -------
    str or None
        holds, falls short or not settled; None where nothing has run.
    """
    if stratum.verdict is None:
        return None
    if standing is None or stratum.verdict.verdict != standing.overturn.verdict:
        return stratum.verdict.verdict
    return standing.verdict


@dataclass(frozen=True)
class LeftOut:
    """One thing that an answer leaves out."""

    what: What
    """single lives: curves, plots, answers both ways and the forecast of a quarter ago; other
    heads: checks that need the rows of all heads; circulation: which head went in after which."""
    rows: int = 0
    """Rows on record from which it is left out [-]; 0 where that is not the cause."""
