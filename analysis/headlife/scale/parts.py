"""What does one partition of a large record hold? Numbers that add, and the heads still in.

From the records of one partition (every row of its heads) to a `Part`: evidence by group and
mode, counts, and what it adds to the fleet. Parts are put together in their own order, so the
answer has the same digits whoever made them. Knows nothing of who runs it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from headlife.case import shop_evidence
from headlife.errors import RecordsError
from headlife.fleet.reduction import FleetPart, Habits, Stints, fleet_of, fleet_part, last_day
from headlife.life.reduction import add_evidence
from headlife.records.as_of import day_of, whole_days
from headlife.records.lives import lives

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.state import Fleet
    from headlife.life.groups import GroupEvidence
    from headlife.records.record_set import Records
    from headlife.shop import Shop


@dataclass(frozen=True)
class Part:
    """What one partition adds to the answers."""

    rows_read: int
    """Rows that are not blank [rows]."""
    accepted: int
    """Rows used [rows]."""
    set_aside: pd.DataFrame
    """Rows not used, and why."""
    findings: pd.DataFrame
    """Doubts about rows of the same head."""
    evidence: tuple[GroupEvidence, ...] = ()
    """Evidence by group."""
    fleet: FleetPart | None = None
    """What it adds to the fleet; None where none of its heads was on record on the day."""


@dataclass(frozen=True)
class Whole:
    """All parts together."""

    rows_read: int
    """Rows that are not blank [rows]."""
    accepted: int
    """Rows used [rows]."""
    set_aside: pd.DataFrame
    """Rows not used, and why, by row number."""
    findings: pd.DataFrame
    """Doubts about rows of the same head."""
    evidence: tuple[GroupEvidence, ...]
    """Evidence by group."""
    fleet: Fleet
    """Heads in service and on the shelf, and how the shop works."""
    day: pd.Timestamp
    """The day asked for, or the last on record."""


def make_part(
    records: Records | None, as_of: Any = None, circulation: bool = True
) -> tuple[Part | None, Stints | None, int]:
    """Reduce the records of one partition.

    Parameters
    ----------
    records : Records or None
        From `partition_records`.
    as_of : date, optional
        Look at the records as they were known on this day.
    circulation : bool
        Whether to keep which head followed which, a line for every row.

    Returns
    -------
    Part or None
        None when the partition has no row at all.
    Stints or None
        What must wait for the last day of all partitions.
    int
        The last day of its own (days since 1970).
    """
    if records is None:
        return None, None, 0
    rows = records.accepted
    counts = records.rows_read, len(rows), records.set_aside, records.findings
    day = None if as_of is None else day_of(as_of)
    begun = not rows.empty and (day is None or bool((whole_days(rows["date_in"]) <= day).any()))
    if not begun:
        return Part(*counts), None, 0
    known = lives(records, as_of)
    fleet, stints = fleet_part(records, as_of, known, circulation)
    return Part(*counts, shop_evidence(known, records.shop), fleet), stints, stints.last


def add_habits(stints: Stints | None, latest: int, shop: Shop, as_of: Any = None) -> Habits | None:
    """Add up what waited for the last day of all partitions (days since 1970).

    Parameters
    ----------
    stints : Stints or None
        Stays of heads, summed over the partitions.
    latest : int
        Last day of the records, in days since 1970.
    shop : Shop
        The settings.
    as_of : str or date, optional
        Day of the answer; None for the last.

    Returns
    -------
    Habits or None
        How the shop swaps; None where nothing is known.
    """
    return None if stints is None else stints.sums(latest, last_day(latest, as_of), shop)


def put_together(
    parts: Sequence[Part | None],
    habits: Sequence[Habits | None],
    latest: int,
    shop: Shop,
    source: str,
    as_of: Any = None,
) -> Whole:
    """Add all parts.

    Parameters
    ----------
    parts : sequence of Part or None
        In the order of the partitions.
    habits : sequence of Habits or None
        From `add_habits`, in the same order.
    latest : int
        Last day of all partitions (days since 1970).
    shop : Shop
        The settings.
    source : str
        What to call the record in messages.
    as_of : date, optional
        As for `make_part`.

    Returns
    -------
    Whole
        What the whole record says.

    Raises
    ------
    RecordsError
        There is no row at all, none that can be used, or nothing was on record on the day.
    """
    some = [part for part in parts if part is not None]
    if not some:
        raise RecordsError(f"{source}: there is a header and no rows; add an installation.")
    fleets = [part.fleet for part in some if part.fleet is not None]
    if not fleets:
        raise RecordsError(
            f"{source}: nothing that can be used was on record"
            + (f" on {day_of(as_of)}; choose a later day." if as_of is not None else ".")
        )
    day = last_day(latest, as_of)
    return Whole(
        rows_read=sum(part.rows_read for part in some),
        accepted=sum(part.accepted for part in some),
        set_aside=_below([part.set_aside for part in some]).sort_values("row", ignore_index=True),
        findings=_below([part.findings for part in some]),
        evidence=add_evidence([part.evidence for part in some], shop.head_types),
        fleet=fleet_of(fleets, [one for one in habits if one is not None], shop, source, day),
        day=day,
    )


def _below(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Put tables below each other; empty ones have no types to agree with."""
    import pandas as pd

    return pd.concat([t for t in tables if len(t)] or tables[:1], ignore_index=True)
