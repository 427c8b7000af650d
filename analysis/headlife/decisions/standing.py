"""How do the verdicts of a review stand: over all quarters so far, and what would overturn them?

From a case and its groups of heads: every group's evidence as it was known at each quarter end,
judged over time (`headlife.decisions.looks`), and what would overturn today's verdict
(`headlife.decisions.overturn`). Where heads were reduced file by file neither can be told. Never
fits a forecast and says nothing in words.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from headlife.decisions.looks import VerdictHistory, quarter_ends, verdict_history
from headlife.decisions.other_readings import due_hours, other_readings
from headlife.decisions.overturn import (
    Overturn,
    opinion_of_kinds,
    pulled_before_time,
    what_would_overturn,
)
from headlife.decisions.rating import NOT_SETTLED, Verdict
from headlife.errors import RecordsError
from headlife.life.kinds import kinds_of_life
from headlife.life.reduction import mode_evidence
from headlife.records.lives import lives

if TYPE_CHECKING:
    import pandas as pd

    from headlife.case import Case
    from headlife.life.evidence import Evidence
    from headlife.life.groups import Group
    from headlife.numbers import Floats


@dataclass(frozen=True)
class Standing:
    """How the verdict of one group stands."""

    history: VerdictHistory
    """The verdict at every quarter end, and whether it is confirmed."""
    overturn: Overturn
    """What would overturn today's verdict."""

    @property
    def verdict(self) -> Verdict:
        """What is said today: "holds" only where more than a few pulled heads must be doubted."""
        return NOT_SETTLED if self.overturn.pulled.few else self.overturn.verdict


def standings(case: Case, groups: Sequence[Group]) -> dict[Group, Standing]:
    """Tell of every group how its verdict stands.

    Parameters
    ----------
    case : Case
        Records, settings and day.
    groups : sequence of Group
        Groups with a verdict.

    Returns
    -------
    dict of Group to Standing
        Those of them that have run by the day of the case.

    Raises
    ------
    HeadlifeError
        A claim in the settings that makes no sense.
    """
    first = case.records.accepted["date_in"].min().date()
    ends = quarter_ends(first, case.day.date())
    days = ends if ends and ends[-1] == case.day.date() else (*ends, case.day.date())
    tables = [_known(case, day) for day in days[:-1]]
    found = {}
    for group in groups:
        parts = [None if table is None else _Part.of(table, group, case) for table in tables]
        today = _Part.of(case.lives, group, case)
        if today.evidence is not None:
            found[group] = _standing(case, days, [*parts, today], group)
    return found


def _known(case: Case, day: Any) -> pd.DataFrame | None:
    """Lives as they were known on a day; None before the first record."""
    try:
        return lives(case.records, day)
    except RecordsError:
        return None


@dataclass(frozen=True)
class _Part:
    """What was known of one group on one day."""

    entry: Floats
    exit: Floats
    failed: Any
    last_good: Floats
    suspended: Any
    evidence: Evidence | None

    @classmethod
    def of(cls, table: pd.DataFrame, group: Group, case: Case) -> _Part:
        own = table[group.rows(table)]
        own = own[own["exit_hours"] > own["entry_hours"]]
        primary = case.shop.review.primary_mode
        rated = case.shop.rated_hours_of(group.head_type, group.further)
        entry, exit_, good = (
            own[name].to_numpy(dtype=np.float64)
            for name in ("entry_hours", "exit_hours", "last_good_hours")
        )
        return cls(
            entry,
            exit_,
            np.equal(own["mode"].to_numpy(dtype=object), primary).astype(bool),
            good,
            own["suspension"].notna().to_numpy(dtype=bool),
            mode_evidence(own, rated, [primary]).get(primary),
        )


def _standing(
    case: Case, days: Sequence[Any], parts: Sequence[_Part | None], group: Group
) -> Standing:
    shop = case.shop
    rated, claim = shop.rated_hours_of(group.head_type, group.further), shop.claim

    def second_opinion(look: int, chance: float) -> float:
        part = parts[look]
        if part is None:
            return chance
        kinds = kinds_of_life(
            part.entry, part.exit, part.failed, rated, claim.share, part.last_good
        )
        return opinion_of_kinds(chance, kinds, claim.confidence)

    today = parts[-1]
    assert today is not None
    return Standing(
        verdict_history(
            days,
            [None if part is None else part.evidence for part in parts],
            rated,
            claim.share,
            claim.confidence,
            second_opinion=second_opinion,
        ),
        what_would_overturn(
            today.entry,
            today.exit,
            today.failed,
            pulled_before_time(today.exit, today.suspended, due_hours(case, group)),
            rated,
            claim.share,
            claim.confidence,
            today.last_good,
            other_readings(case, group),
        ),
    )
