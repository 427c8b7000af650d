"""What came of the actions of an earlier review?

From the list that was given back, the records and settings of today and today's review: heads that
were swapped, in time or late, or are still in; heads that were ordered and have arrived; ratings
that are still not settled. Believes the records and the settings, never what was decided.
"""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.actions import (
    BUILD,
    DOUBT,
    MISSING,
    ORDER,
    PRACTICE,
    RECORDS,
    SWAP,
    VENDOR,
    actions_of,
)
from headlife.decisions.rating import FALLS_SHORT, NOT_SETTLED
from headlife.records.as_of import known_on, whole_days
from headlife.records.used_up import new_heads_between

if TYPE_CHECKING:
    from collections.abc import Sequence

    from headlife.case import Case
    from headlife.decisions.review_answers import Review
    from headlife.decisions.two_ways import TwoWays
    from headlife.records.action_list import GivenBack, ListedAction

DONE: Final = "done"
LATE: Final = "late"
FAILED: Final = "failed first"
PARTLY: Final = "partly"
OPEN: Final = "open"
UNKNOWN: Final = "not known"


@dataclass(frozen=True)
class CameOf:
    """What came of one action."""

    given: GivenBack
    """The action as it was given back."""
    state: str
    """done, late, failed first, partly, open or not known."""
    day: datetime.date | None = None
    """Day on which it was done, or on which the head failed."""
    hours: float | None = None
    """Hours of the head when it came out, or today [h]."""
    ordered: int = 0
    """Heads ordered since [heads]."""
    arrived: int = 0
    """Heads arrived since [heads]."""
    verdict: str = ""
    """What is said of the rating today."""
    probability: float | None = None
    """Chance that the claim is true, today [-]."""
    left: int = 0
    """Heads or rows still in question [-]."""


def came_of(
    given: Sequence[GivenBack], case: Case, review: Review, both: TwoWays | None = None
) -> tuple[CameOf, ...]:
    """Say what came of every action that was given back.

    Parameters
    ----------
    given : sequence of GivenBack
        From `read_action_list`.
    case : Case
        Records, settings and day.
    review : Review
        Its review.
    both : TwoWays, optional
        The review with removals in doubt read both ways.

    Returns
    -------
    tuple of CameOf
        In the order of the list.
    """
    still = {(one.kind, one.about): one.heads for one in actions_of(review, case.shop, both).each}
    found = []
    for one in given:
        kind = one.action.kind
        if kind in (SWAP, BUILD):
            found.append(_swapped(one, case))
        elif kind == ORDER:
            found.append(_ordered(one, case))
        elif kind in (MISSING, PRACTICE, RECORDS, DOUBT):
            left = still.get((kind, one.action.about))
            found.append(CameOf(one, DONE if left is None else OPEN, left=left or 0))
        else:
            found.append(_judged(one, review))
    return tuple(found)


def _swapped(given: GivenBack, case: Case) -> CameOf:
    """Look for the installation that the head was in on the day."""
    action = given.action
    rows = known_on(case.records, case.as_of)
    head, printer, position = action.about
    mine = (rows["head"] == head) & (rows["printer"] == printer) & (rows["position"] == position)
    begun = whole_days(rows["date_in"]) <= _day64(action.as_of)
    own = rows[mine.to_numpy(dtype=bool) & begun].sort_values("date_in", kind="stable")
    if own.empty:
        return CameOf(given, UNKNOWN)
    last = next(own.tail(1).itertuples(index=False))
    hours = float(last.hours_out)
    if not isinstance(last.reason, str):
        return CameOf(given, OPEN, hours=hours)
    out = last.date_out.date()
    if isinstance(last.mode, str):
        return CameOf(given, FAILED, out, hours)
    return CameOf(given, DONE if out <= action.by else LATE, out, hours)


def _ordered(given: GivenBack, case: Case) -> CameOf:
    """Balance the stock: what is there now and was used since must have arrived since."""
    action = given.action
    head_type, site = action.about
    settings = case.shop.head_types.get(head_type)
    if settings is None:
        return CameOf(given, UNKNOWN)
    taken = new_heads_between(case.records, action.as_of, case.day)
    taken = taken[taken["head_type"] == head_type]
    if site:
        taken = taken[taken["site"] == site]
        on_hand = settings.on_hand_by_site.get(site, 0)
        on_order = sum(one.heads for one in settings.open_orders.values() if one.site == site)
    else:
        on_hand, on_order = settings.heads_on_hand, settings.heads_on_order
    arrived = on_hand + len(taken) - action.on_hand
    ordered = arrived + on_order - action.on_order
    if arrived < 0 or ordered < 0:
        return CameOf(given, UNKNOWN, ordered=ordered, arrived=arrived)
    # Heads that were on order already arrive first.
    mine = min(max(arrived - action.on_order, 0), action.heads)
    state = OPEN if not ordered else DONE if mine >= action.heads else PARTLY
    return CameOf(given, state, ordered=ordered, arrived=mine)


def _judged(given: GivenBack, review: Review) -> CameOf:
    """Say how the rating stands today."""
    stratum = next((one for one in review.judged if one.group.names == given.action.about), None)
    said = None if stratum is None else review.stated_verdict(stratum)
    if stratum is None or stratum.verdict is None or said is None:
        return CameOf(given, UNKNOWN)
    state = OPEN if said == _said_then(given.action) else DONE
    return CameOf(given, state, verdict=said, probability=stratum.verdict.probability)


def _said_then(action: ListedAction) -> str:
    """Give what was said of a rating when the action was asked for."""
    return FALLS_SHORT if action.kind == VENDOR else NOT_SETTLED


def _day64(day: datetime.date) -> Any:
    import numpy as np

    return np.datetime64(day, "D")
