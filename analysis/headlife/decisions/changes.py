"""What changed since an earlier day: verdicts, heads, lives, stock levels, heads to look after?

From the same records, as they were known on both days, and two settings files where there are two.
Each difference is told with where it comes from. Judges no change.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from headlife.case import Case, Provenance
from headlife.decisions.backtest import forecast_beside
from headlife.decisions.due import LEAVE, heads_due
from headlife.decisions.review import quarterly_review
from headlife.decisions.review_answers import Review, Stratum
from headlife.decisions.spares.exchange import (
    StockChange,
    StockState,
    stock_changes,
    with_stocks_at_work,
)
from headlife.display import shows_itself
from headlife.errors import HeadlifeError
from headlife.quarters import quarter_of
from headlife.records.as_of import known_on
from headlife.shop.differences import SettingChange, setting_changes

if TYPE_CHECKING:
    import pandas as pd

    from headlife.life.groups import Group
    from headlife.progress import Progress
    from headlife.shop import Shop

# Tables by which rows are read: with others than today's the records would be other ones.
_READ_BY: Final = ("name", "intake", "columns", "own_columns", "roles", "positions", "reasons")
_REMOVAL_COLUMNS: Final = (
    "head", "head_type", "role", "printer", "position", "date_out", "hours_out", "reason", "mode",
    "suspension",
)  # fmt: skip


@dataclass(frozen=True)
class GroupChange:
    """What changed of one head type and role, or of one lot or other part of it."""

    group: Group
    """Which heads."""
    verdict_before: str | None
    """What was said of its rating then; None where none had run."""
    verdict_now: str | None
    """What is said today."""
    probability_before: float
    """Chance then that the claim is true; NaN where unknown [-]."""
    probability_now: float
    """Chance today [-]."""
    heads: int
    """Heads that came on record since [heads]."""
    hours: float
    """Print hours added to the evidence since [h]."""
    failures: dict[str, int]
    """Failures since, by mode, of which some may be older rows read anew [heads]."""
    confirmed_since: bool
    """Whether the verdict was confirmed since."""
    bought_since: bool
    """Whether it is one of the purchases bought now and was none then."""

    @property
    def as_then(self) -> bool:
        """Whether nothing came on record of it and nothing else is said of it."""
        came = self.heads or self.hours or any(self.failures.values())
        said = self.verdict_now != self.verdict_before or self.confirmed_since or self.bought_since
        return not (came or said)


@shows_itself
@dataclass(frozen=True)
class Changes(Provenance):
    """What changed since an earlier day."""

    since: pd.Timestamp
    """The earlier day."""
    groups: tuple[GroupChange, ...]
    """By head type and role, then their parts where `[review] groups` tells some apart."""
    removals: pd.DataFrame
    """Heads taken out since, oldest first: `head, head_type, role, printer, position, date_out,
    hours_out` [h], `reason, mode` (of a failure), `suspension`."""
    stock: tuple[StockChange, ...]
    """Stock levels, and why they changed."""
    new: pd.DataFrame
    """Heads with something to do now and nothing then, as `DueList.heads`."""
    gone: pd.DataFrame
    """Heads with something to do then and nothing now, as then, with `went`: the day on which the
    head came out and its `reason`, both empty where it is still in place."""
    forecasts: pd.DataFrame
    """What would have been said then of the time since, beside what happened, as
    `Backtest.quarters`."""
    settings: tuple[SettingChange, ...]
    """What the earlier settings file says otherwise; empty without one."""
    not_exchanged: tuple[str, ...]
    """Tables of it by which rows are read: the records were read by today's."""


def changes_since(
    case: Case,
    since: Any = None,
    earlier: Shop | None = None,
    progress: Progress | None = None,
) -> Changes:
    """Tell what changed since an earlier day.

    Parameters
    ----------
    case : Case
        Records, settings and day.
    since : date, optional
        The earlier day; default the last quarter end before the day of the case.
    earlier : Shop, optional
        The settings of that day, from `read_shop`; default the present ones.
    progress : callable, optional
        Called with (step, done, total).

    Returns
    -------
    Changes
        Same case, day and settings, same changes.

    Raises
    ------
    HeadlifeError
        The earlier day is not before the day of the case, or nothing was on record then.

    Examples
    --------
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> changes = hl.changes_since(case)
    >>> changes.since.date().isoformat(), len(changes.removals)
    ('2026-06-30', 22)
    """
    import pandas as pd

    if since is None:
        day = quarter_of(case.day.date()).first - datetime.timedelta(days=1)
    else:
        day = pd.Timestamp(since).date()
    if day >= case.day.date():
        raise HeadlifeError(
            f"--since {day} is not before the day of the review, {case.day.date()}; choose an "
            "earlier day."
        )
    shop, unread = _as_then(case.shop, earlier)
    then = Case(case.records, shop, pd.Timestamp(day))
    then = Case(case.records, with_stocks_at_work(shop, then.fleet.positions), then.as_of)
    now = quarterly_review(case, progress=progress)
    before = quarterly_review(then, progress=progress)
    new, gone = _looked_after(before, now, then, case)
    return Changes(
        **vars(case.provenance),
        since=then.day,
        groups=_groups(before, now),
        removals=_removals(case, then.day),
        stock=stock_changes(_state(before, then), _state(now, case)),
        new=new,
        gone=gone,
        forecasts=pd.DataFrame(forecast_beside(then.with_(new_printers={}), case.day)),
        settings=() if earlier is None else setting_changes(earlier, case.shop),
        not_exchanged=unread,
    )


def _as_then(shop: Shop, earlier: Shop | None) -> tuple[Shop, tuple[str, ...]]:
    """Today's settings with what an earlier file decided otherwise; and what cannot be taken."""
    if earlier is None:
        return shop, ()
    unlike = shop.tables_unlike(earlier)
    taken = {name: getattr(earlier, name) for name in unlike if name not in _READ_BY}
    if "head_types" in taken:
        # A type that the earlier settings did not have yet is told as such, and kept.
        taken["head_types"] = dict(shop.head_types) | dict(earlier.head_types)
    changed = shop.with_(**taken) if taken else shop
    return changed, tuple(name for name in unlike if name in _READ_BY)


def _state(review: Review, case: Case) -> StockState:
    return StockState(review.fleet, case.modes, case.shop, review.as_of, review.stock)


def _groups(before: Review, now: Review) -> tuple[GroupChange, ...]:
    known = {one.group: one for one in before.judged}
    newly = _bought(now) - _bought(before)
    found = []
    for one in now.judged:
        old, standing = known.get(one.group), now.standings.get(one.group)
        confirmed = None if standing is None else standing.history.confirmed_on
        found.append(
            GroupChange(
                group=one.group,
                verdict_before=None if old is None else before.stated_verdict(old),
                verdict_now=now.stated_verdict(one),
                probability_before=_chance(old),
                probability_now=_chance(one),
                heads=one.heads - (0 if old is None else old.heads),
                hours=one.evidence.print_hours - (0.0 if old is None else old.evidence.print_hours),
                failures={
                    mode: count - (0 if old is None else old.failures.get(mode, 0))
                    for mode, count in one.failures.items()
                },
                confirmed_since=confirmed is not None and confirmed > before.as_of.date(),
                bought_since=one.group in newly,
            )
        )
    return tuple(found)


def _bought(review: Review) -> set[Group]:
    return {bought.group for one in review.divisions for bought in one.bought_now}


def _chance(stratum: Stratum | None) -> float:
    verdict = None if stratum is None else stratum.verdict
    return float("nan") if verdict is None else verdict.probability


def _removals(case: Case, since: pd.Timestamp) -> pd.DataFrame:
    rows = known_on(case.records, case.as_of)
    # What happens during a day is known at its end.
    out = rows[rows["reason"].notna() & (rows["date_out"].dt.normalize() > since)]
    found: pd.DataFrame = out[list(_REMOVAL_COLUMNS)].sort_values(
        ["date_out", "head"], kind="stable", ignore_index=True
    )
    return found


def _looked_after(
    before: Review, now: Review, then: Case, case: Case
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Heads with something to do that had nothing, and the other way round."""
    old, new = (
        heads[heads["action"] != LEAVE]
        for heads in (
            heads_due(before.watch, before.fleet, then.shop, then.day),
            heads_due(now.watch, now.fleet, case.shop, case.day),
        )
    )
    came = new[~new["head"].isin(old["head"])].reset_index(drop=True)
    left = old[~old["head"].isin(new["head"])].reset_index(drop=True)
    out = _removals(case, then.day).drop_duplicates("head").set_index("head")
    return came, left.assign(
        went=left["head"].map(out["date_out"]), reason=left["head"].map(out["reason"])
    )
