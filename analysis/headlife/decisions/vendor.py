"""What may a vendor be told of one head type: does its rating hold, which heads failed too early?

From a case: the claim, heads and hours, failures before the rating with hours, days and lot, how
sure, the same by lot where the settings judge lots, and heads that failed within the warranty. It
holds nothing else of the shop: no printer, site, person, price, policy, stock, reason or note, and
not the shop's name or its files'. Ratings are judged by `decisions.ratings`, as for the review.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING

from headlife import __version__
from headlife.alike import nearest
from headlife.case import shop_evidence
from headlife.decisions.rating import RatingVerdict
from headlife.decisions.ratings import judged_ratings
from headlife.decisions.review_answers import stated_verdict
from headlife.decisions.standing import standings
from headlife.display import shows_itself
from headlife.errors import HeadlifeError
from headlife.records.of_the_head import bought_on
from headlife.shop.columns import OF_PURCHASES, VENDOR

if TYPE_CHECKING:
    from collections.abc import Mapping

    import pandas as pd

    from headlife.case import Case
    from headlife.decisions.review_answers import Division, Stratum
    from headlife.decisions.standing import Standing
    from headlife.life.by_lot import Purchased
    from headlife.life.groups import Group
    from headlife.life.strata import Comparison
    from headlife.shop.work import HeadType


@dataclass(frozen=True)
class RoleStatement:
    """What is said of the heads of one type in one role, or of one lot of them."""

    role: str
    """Model or support."""
    part: str
    """Which of them, such as "lot L7"; empty for all."""
    newest: datetime.date | None
    """Of a lot, the day on which its newest head was bought or, where no row says, first went in;
    None where that is not known, and for all heads."""
    bought_now: float
    """Share of the heads bought of late that are of this lot [-]; 0 for all heads, too."""
    heads: int
    """Heads on record [heads]."""
    print_hours: float
    """Hours they ran [h]."""
    failures: int
    """Heads that failed by the mode the rating is about [heads]."""
    before_rating: int
    """Those of them that failed before their rated hours [heads]."""
    verdict: RatingVerdict | None
    """What the lives say of the rating; None where none has run."""
    stated: str | None
    """The verdict as it is stated: one that little would overturn is "not settled"."""
    confirmed_on: datetime.date | None
    """First quarter end on which today's verdict was confirmed; None where it is not, or where the
    heads of one vendor among several are looked at."""
    too_young: bool
    """Whether a lot has run too little to be judged."""


@dataclass(frozen=True)
class DividedStatement:
    """What is said of the lots, or other purchases, of one role."""

    role: str
    """Model or support."""
    columns: tuple[str, ...]
    """What they are told apart by."""
    comparison: Comparison | None
    """Whether they differ; None where fewer than two of them have run."""
    parts: tuple[RoleStatement, ...]
    """Each of them, the one with the newest head first."""


@shows_itself
@dataclass(frozen=True)
class VendorStatement:
    """What may be told a vendor about one head type."""

    head_type: str
    """Head type."""
    vendor: str | None
    """The vendor whose heads these are, where the records name several."""
    as_of: datetime.date
    """Day on which the records are looked at."""
    first: datetime.date
    """Day on which the first of these heads was put in."""
    rated_hours: float
    """The vendor's rated life [h]."""
    mode: str
    """The failure mode that the rating is about."""
    roles: tuple[RoleStatement, ...]
    """By role."""
    divided: tuple[DividedStatement, ...]
    """By role, lots or other purchases that `[review] groups` tells apart, and ratings that
    changed; empty where there are none."""
    early: pd.DataFrame
    """Failures before the rating, by day: `head, role, lot, date_first` (day it was put in),
    `date_last` (day it failed), `exit_hours` [h]."""
    warranty_hours: float | None
    """Hours that are warranted [h]."""
    warranty_months: int | None
    """Months that are warranted [months]."""
    warranted: pd.DataFrame
    """Heads that failed within the warranty, as `early`; empty where none is stated."""
    version: str
    """Version of headlife."""


_COLUMNS = ["head", "role", "lot", "date_first", "date_last", "exit_hours"]


def vendor_statement(case: Case, head_type: str, vendor: str | None = None) -> VendorStatement:
    """Say what may be told a vendor about one head type.

    Parameters
    ----------
    case : Case
        Records, settings and day.
    head_type : str
        One of the settings' head types.
    vendor : str, optional
        The vendor, where the records name several for this type.

    Returns
    -------
    VendorStatement
        The statement.

    Raises
    ------
    HeadlifeError
        No such head type or vendor, no head of it on record, or several vendors and none named.

    Examples
    --------
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> said = hl.vendor_statement(case, "Fibre")
    >>> said.roles[0].verdict.verdict, len(said.early)
    ('falls short', 8)
    """
    settings = _settings(case, head_type)
    lives = case.lives[(case.lives["head_type"] == head_type).to_numpy(dtype=bool)]
    lives = _of_vendor(lives, head_type, vendor)
    primary = case.shop.review.primary_mode
    failed = lives[(lives["mode"] == primary).to_numpy(dtype=bool)]
    failed = failed.sort_values(["date_last", "head"], kind="stable", ignore_index=True)
    early = failed["exit_hours"] < failed["rated_hours"]
    evidence = [
        one for one in shop_evidence(lives, case.shop) if _may_be_told(one.group.columns[2:], lives)
    ]
    strata, divisions = judged_ratings(evidence, case.shop, lives)
    judged = [*strata, *(part for one in divisions for part in one.parts)]
    groups = [one.group for one in judged if one.life is not None]
    # Where the shop has other vendors' heads, a quarter's look would be one at theirs, too.
    say = _Say(failed[early], standings(case, groups) if vendor is None else {})
    return VendorStatement(
        head_type=head_type,
        vendor=vendor,
        as_of=case.day.date(),
        first=lives["date_first"].min().date(),
        rated_hours=settings.rated_hours,
        mode=primary,
        roles=tuple(map(say.of, strata)),
        # A single lot is all heads once more.
        divided=tuple(say.divided(one) for one in divisions if len(one.parts) > 1),
        early=failed.loc[early, _COLUMNS].reset_index(drop=True),
        warranty_hours=settings.warranty_hours,
        warranty_months=settings.warranty_months,
        warranted=failed.loc[_within(failed, settings), _COLUMNS].reset_index(drop=True),
        version=__version__,
    )


def _settings(case: Case, head_type: str) -> HeadType:
    known = case.shop.head_types
    if head_type not in known:
        raise HeadlifeError(
            f"'{head_type}' is no head type of the settings"
            f"{nearest(head_type, list(known))}; they know {', '.join(known)}."
        )
    return known[head_type]


def _of_vendor(lives: pd.DataFrame, head_type: str, vendor: str | None) -> pd.DataFrame:
    """Keep the heads of one vendor: nobody is told of another's."""
    names = sorted({str(name) for name in lives["vendor"].dropna()})
    if vendor is not None:
        if vendor not in names:
            found = ", ".join(names) or "none"
            raise HeadlifeError(
                f"No {head_type} head on record is of the vendor '{vendor}'"
                f"{nearest(vendor, names)}; on record: {found}."
            )
        lives = lives[(lives["vendor"] == vendor).to_numpy(dtype=bool)]
    elif len(names) > 1:
        raise HeadlifeError(
            f"{head_type} heads on record come from several vendors ({', '.join(names)}); name the "
            "one that this is for with --vendor, so that it is told of no other's heads."
        )
    if lives.empty:
        raise HeadlifeError(f"No {head_type} head is on record.")
    return lives


def _within(failed: pd.DataFrame, settings: HeadType) -> pd.Series[bool]:
    """Whether each failure was within the warranty; none where no warranty is stated."""
    import pandas as pd

    hours, months = settings.warranty_hours, settings.warranty_months
    stated = hours is not None or months is not None
    inside = pd.Series(stated, index=failed.index, dtype=bool)
    if hours is not None:
        inside &= failed["exit_hours"] <= hours
    if months is not None:
        inside &= failed["date_last"] <= bought_on(failed) + pd.DateOffset(months=months)
    return inside


def _may_be_told(columns: tuple[str, ...], lives: pd.DataFrame) -> bool:
    """Whether heads may be told apart by columns: only by what the vendor sold, where it is known.

    The vendor itself tells none of its heads from others.
    """
    if not columns:
        return True
    return (
        set(columns) <= set(OF_PURCHASES)
        and columns != (VENDOR,)
        and all(bool(lives[name].notna().any()) for name in columns)
    )


@dataclass(frozen=True)
class _Say:
    """Takes from the answers of a review what may be told."""

    early: pd.DataFrame
    standings: Mapping[Group, Standing]

    def of(self, one: Stratum, bought: Purchased | None = None) -> RoleStatement:
        """Say it of all heads of a role, or of one lot."""
        standing = self.standings.get(one.group)
        stated = stated_verdict(one, standing)
        history = None if standing is None or stated is None else standing.history
        confirmed = history is not None and stated is not None and history.confirmed(stated)
        return RoleStatement(
            role=one.role,
            part=one.group.part,
            newest=None if bought is None else bought.newest.date(),
            bought_now=0.0 if bought is None else bought.share,
            heads=one.heads,
            print_hours=one.evidence.print_hours,
            failures=next(iter(one.failures.values())),
            before_rating=int(one.group.rows(self.early).sum()),
            verdict=one.verdict,
            stated=stated,
            confirmed_on=history.confirmed_on if confirmed and history is not None else None,
            too_young=one.too_young,
        )

    def divided(self, one: Division) -> DividedStatement:
        """Say it of every lot."""
        bought = {each.group: each for each in one.purchases}
        parts = [self.of(one.part(group), each) for group, each in bought.items()]
        others = [self.of(part) for part in one.parts if part.group not in bought]
        return DividedStatement(one.group.role, one.columns, one.comparison, (*parts, *others))
