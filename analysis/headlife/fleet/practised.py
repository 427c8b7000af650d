"""Does the shop do what its settings say: when heads are swapped, and both heads in one visit?

From records and settings: for every head type, the policy that its installations follow, since
when and how late, beside the one in the settings; and from which age the other head of a printer
is swapped along. Where they clearly differ forecasts follow what is done, until the shop says that
its settings are true ([policy] confirmed). Never forecasts.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.fleet.joint_visits import JointVisits, joint_visits, visits_with_another
from headlife.fleet.practice import EARLY, Practice, practised_policy
from headlife.records.as_of import whole_days
from headlife.shop.policy_book import (
    ROLES,
    PolicyBook,
    PolicyRule,
    PolicyRules,
    policies_after,
    policies_on,
)

if TYPE_CHECKING:
    import pandas as pd

    from headlife.shop import Shop
    from headlife.shop.policy import Policy

# A difference is told from this probability on, and from so many heads or visits.
CLEAR: Final = 0.95
FEWEST: Final = 3
_WORDS: Final = {"at the notice": "notice", "at the rating": "rating", "run to failure": "failure"}
_ZERO: Final = datetime.date(1970, 1, 1)
JOIN_SHARES: Final = (0.5, 0.6, 0.7, 0.8, 0.9)  # of the due age, from which heads may be joined


@dataclass(frozen=True)
class Practised:
    """What is stated and what is done, for one head type."""

    head_type: str
    """Head type."""
    stated: Policy
    """The policy in the settings on the day."""
    practice: Practice
    """The policy that the installations follow."""
    visits: JointVisits
    """Whether both heads are swapped in one visit, and from which age on."""
    since: datetime.date | None
    """Day from which the policy has been practised; None where no change is seen."""
    confirmed: bool = False
    """Whether the shop says that its settings are true: then forecasts follow them."""

    @property
    def other_policy(self) -> bool:
        """Whether another policy than the stated one is clearly practised."""
        told = max(self.practice.reached, self.practice.taken_working)
        return not self.practice.as_stated and self.practice.chance >= CLEAR and told >= FEWEST

    @property
    def other_visits(self) -> bool:
        """Whether heads are clearly swapped along though the settings do not say so."""
        unsaid = math.isinf(self.stated.join_from) and math.isfinite(self.visits.join_from)
        return unsaid and self.visits.chance >= CLEAR and self.visits.joined >= FEWEST

    @property
    def settings(self) -> dict[str, Any]:
        """What `[policy]` would say as practised; empty where that is not clearly otherwise."""
        change: dict[str, Any] = {}
        if self.other_policy:
            practice = self.practice
            change["swap_at"] = _WORDS.get(practice.policy, practice.swap_at)
        if self.other_visits:
            change["join_from"] = self.visits.join_from
        return change


def installations(rows: pd.DataFrame, reusable: Collection[str]) -> pd.DataFrame:
    """Reduce accepted rows to what tells how heads are swapped.

    Parameters
    ----------
    rows : pandas.DataFrame
        Accepted rows, as they were known on the day.
    reusable : collection of str
        Kinds of suspension after which a head goes to the shelf to be used again.

    Returns
    -------
    pandas.DataFrame
        One row per installation that ran: `row, head_type, printer, position, hours_in, hours_out`
        [h], `day_in, day_out` [days since 1970], `used_up`, `working` (taken out working and used
        up). Those of further heads may be put below.
    """
    rows = rows[rows["hours_out"] > rows["hours_in"]]
    kept = rows["suspension"].isin(reusable).to_numpy(dtype=bool)
    names = ["row", "head_type", "printer", "position", "hours_in", "hours_out"]
    return rows[names].assign(
        printer=rows["printer"].astype(object),  # categories of other parts are other ones
        day_in=whole_days(rows["date_in"]).astype(float),
        day_out=whole_days(rows["date_out"]).astype(float),
        used_up=rows["reason"].notna().to_numpy(dtype=bool) & ~kept,
        working=rows["suspension"].notna().to_numpy(dtype=bool) & ~kept,
    )


def practised(rows: pd.DataFrame, shop: Shop, day: pd.Timestamp) -> tuple[Practised, ...]:
    """Compare what is stated with what is done, for every head type on record.

    Parameters
    ----------
    rows : pandas.DataFrame
        From `installations`, of all heads.
    shop : Shop
        Its settings.
    day : pandas.Timestamp
        The day.

    Returns
    -------
    tuple of Practised
        Head types in the settings' order; those whose policy differs by role or printer, and
        those without an installation, are left out.
    """
    types = [name for name in shop.head_types if (rows["head_type"] == name).any()]
    book = policies_on(shop, day)
    stated = {name: _one_policy(book, name, rows) for name in types}
    # Where there is no swap age, the rating is what a head is old by.
    due = {
        name: min(shop.rated_hours[name], policy.comes_out_at if policy else math.inf)
        for name, policy in stated.items()
    }
    table = _planned(rows, rows["head_type"].map(due).to_numpy(dtype=np.float64))
    return tuple(
        _compared(shop, book, name, policy, table[table["head_type"] == name])
        for name, policy in stated.items()
        if policy is not None
    )


def as_practised(
    found: Sequence[Practised], shop: Shop, day: pd.Timestamp
) -> tuple[PolicyBook, dict[str, float]]:
    """Give what forecasts follow: what is done, where that clearly is not what is stated.

    Parameters
    ----------
    found : sequence of Practised
        What is stated and what is done.
    shop : Shop
        The settings; with `confirmed` in [policy] forecasts follow them whatever was done.
    day : pandas.Timestamp
        The day.

    Returns
    -------
    PolicyBook
        The policies.
    dict of str to float
        How late heads are swapped [h], by head type, where the way of working has changed: learned
        since then.
    """
    asked = [one for one in found if not one.confirmed]
    own = [one for one in asked if one.settings]
    changed = [one for one in asked if one.practice.as_stated and one.since is not None]
    changed += [one for one in own if one.other_policy]
    stated = policies_after(shop, day)
    rules = {one.head_type: PolicyRule(**one.settings) for one in own}
    if rules:
        by_type = (day.date(), PolicyRules(head_types=rules))
        stated = replace(stated, rules=(*stated.rules, by_type))
    return stated, {one.head_type: one.practice.lag_hours for one in changed}


def _one_policy(book: PolicyBook, head_type: str, rows: pd.DataFrame) -> Policy | None:
    """Give the policy of a head type where it is the same in every role and printer."""
    printers = [str(name) for name in rows["printer"].unique()]
    ages = {book.of(head_type, role, name).comes_out_at for role in ROLES for name in printers}
    return book.of(head_type) if len(ages) == 1 else None


def _planned(rows: pd.DataFrame, due: Any) -> pd.DataFrame:
    """Tell which heads were taken out by plan: working, used up, and not along with another."""
    out = rows["used_up"].to_numpy()
    # A head taken out before it was due together with the other one came along.
    together = rows[out].groupby(["printer", "day_out"])["position"].transform("nunique")
    with_other = together.reindex(rows.index).fillna(1).to_numpy() > 1
    early = rows["hours_out"].to_numpy() < EARLY * due
    return rows.assign(due=due, planned=rows["working"].to_numpy() & ~(with_other & early))


def _compared(
    shop: Shop, book: PolicyBook, head_type: str, stated: Policy, own: pd.DataFrame
) -> Practised:
    settings = shop.head_types[head_type]
    # What was done before the day from which the stated policy holds says nothing against it.
    begun = book.since(head_type)
    first = -math.inf if begun == datetime.date.min else float((begun - _ZERO).days)
    offered = {
        "at the notice": settings.notice_hours,
        "at the rating": settings.rated_hours,
        "run to failure": math.inf,
    }
    name = next((n for n, age in offered.items() if age == stated.comes_out_at), stated.name)
    offered[name] = stated.comes_out_at
    practice = practised_policy(
        own["hours_in"], own["hours_out"], own["day_in"], own["day_out"], own["planned"],
        offered, name, settings.rated_hours, first,
    )  # fmt: skip
    own = own[own["day_out"] > first]
    other, too, _ = visits_with_another(
        own["printer"], own["position"], own["day_in"], own["day_out"],
        own["hours_in"], own["hours_out"], own["used_up"], own["due"],
    )  # fmt: skip
    due = min(settings.rated_hours, stated.comes_out_at)
    since = practice.since
    return Practised(
        head_type=head_type,
        stated=stated,
        practice=practice,
        visits=joint_visits(other, too, [share * due for share in JOIN_SHARES]),
        confirmed=shop.policy.confirmed,
        since=None if since is None else _ZERO + datetime.timedelta(days=math.ceil(since)),
    )
