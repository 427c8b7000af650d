"""What may a vendor be told of one head type: does its rating hold, which heads failed too early?

From a case: the claim, heads and hours, failures before the rating with hours, days and lot, how
sure, and heads that failed within the warranty. It holds nothing else of the shop: no printer,
site, person, price, policy, stock, reason or note, and not the shop's name or its files'.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING

from headlife import __version__
from headlife.alike import nearest
from headlife.case import shop_evidence
from headlife.decisions.rating import RatingVerdict, judge_rating
from headlife.decisions.standing import standings
from headlife.display import shows_itself
from headlife.errors import HeadlifeError
from headlife.life.groups import GroupEvidence, fit_modes
from headlife.records.of_the_head import bought_on

if TYPE_CHECKING:
    import pandas as pd

    from headlife.case import Case
    from headlife.shop.work import HeadType


@dataclass(frozen=True)
class RoleStatement:
    """What is said of the heads of one type in one role."""

    role: str
    """Model or support."""
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
    evidence = [one for one in shop_evidence(lives, case.shop) if not one.group.further]
    return VendorStatement(
        head_type=head_type,
        vendor=vendor,
        as_of=case.day.date(),
        first=lives["date_first"].min().date(),
        rated_hours=settings.rated_hours,
        mode=primary,
        roles=tuple(_role(one, case, failed[early], whole=vendor is None) for one in evidence),
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


def _role(evidence: GroupEvidence, case: Case, early: pd.DataFrame, whole: bool) -> RoleStatement:
    group, claim, primary = evidence.group, case.shop.claim, case.shop.review.primary_mode
    modes = fit_modes(evidence, primary)
    life = modes.get(primary)
    verdict = None
    if life is not None:
        verdict = judge_rating(life, evidence.rated_hours, claim.share, claim.confidence)
    standing = standings(case, [group]).get(group) if whole and verdict is not None else None
    history = None if standing is None else standing.history
    said = None if verdict is None else verdict.verdict
    confirmed = history is not None and verdict is not None and history.standing == "confirmed"
    return RoleStatement(
        role=group.role,
        heads=evidence.heads,
        print_hours=evidence.print_hours,
        failures=round(evidence.modes[primary].all_failures) if modes else 0,
        before_rating=int((early["role"] == group.role).sum()),
        verdict=verdict,
        stated=said if standing is None else standing.verdict,
        confirmed_on=history.confirmed_on if confirmed and history is not None else None,
    )
