"""What does one partition of a large record hold? Numbers that add, and the heads still in.

From the records of one partition (every row of its heads) to a `Part`: evidence by group and
mode, counts, and what it adds to the fleet. Parts are put together in their own order, so the
answer has the same digits whoever made them. Knows nothing of who runs it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.case import shop_evidence
from headlife.errors import RecordsError
from headlife.fleet.reduction import FleetPart, Habits, Stints, fleet_of, fleet_part, last_day
from headlife.life.reduction import add_evidence
from headlife.records.as_of import day_of, refuse_long_after, whole_days
from headlife.records.audit import across_heads, findings_frame, over_time
from headlife.records.cells import quoted
from headlife.records.checks import plausible_until
from headlife.records.doubts import first_mentions, spellings
from headlife.records.lives import lives
from headlife.records.record_set import settled
from headlife.records.whose_clock import Suspicion, whose_clock

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.state import Fleet
    from headlife.life.groups import GroupEvidence
    from headlife.records.findings import Finding
    from headlife.records.record_set import Records
    from headlife.records.written import ReadAs
    from headlife.shop import Shop


# Of a record of up to so many rows all are kept and compared: what rows of different heads say
# together. It takes about 1.2 GB.
MOST_ROWS_COMPARED: Final = 1_000_000
# Up to so many a line is kept for every row: which head followed which.
MOST_ROWS_FOLLOWED: Final = 2_000_000


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
    mentions: dict[str, pd.DataFrame]
    """Its heads and printers, each with the row that names it first."""
    rows: pd.DataFrame | None
    """Its `Records.to_compare`; None where the record is too large to keep them."""
    notes: tuple[str, ...]
    """`Records.notes`."""
    read_as: ReadAs
    """`Records.read_as`."""
    evidence: tuple[GroupEvidence, ...] = ()
    """Evidence by group."""
    fleet: FleetPart | None = None
    """What it adds to the fleet; None where none of its heads was on record on the day."""
    late_days: tuple[int, ...] = ()
    """The newest day up to today on which a row ends, and all such days after it (days since
    1970)."""


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
    """Doubts about the rows used; about those of different heads where every row was kept."""
    evidence: tuple[GroupEvidence, ...]
    """Evidence by group."""
    fleet: Fleet
    """Heads in service and on the shelf, and how the shop works."""
    day: pd.Timestamp
    """The day asked for, or the last on record."""
    notes: tuple[str, ...]
    """Sentences about how the rows are written; their cells are examples."""
    newest: np.datetime64 | None = None
    """The last day before some after today that stand apart; None where none does."""


def make_part(
    records: Records | None, as_of: Any = None, rows_of_all: int = 0
) -> tuple[Part | None, Stints | None, int]:
    """Reduce the records of one partition.

    Parameters
    ----------
    records : Records or None
        From `partition_records`.
    as_of : date, optional
        Look at the records as they were known on this day.
    rows_of_all : int
        Rows of all partitions, above which not all is kept [rows].

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
    counts = (
        *(records.rows_read, len(rows), records.set_aside, records.findings),
        first_mentions(rows),
        *(
            records.to_compare if rows_of_all <= MOST_ROWS_COMPARED else None,
            records.notes,
            records.read_as,
        ),
    )
    late = _late_days(rows)
    day = None if as_of is None else day_of(as_of)
    begun = not rows.empty and (day is None or bool((whole_days(rows["date_in"]) <= day).any()))
    if not begun:
        return Part(*counts, late_days=late), None, 0
    known = lives(records, as_of)
    fleet, stints = fleet_part(records, as_of, known, rows_of_all <= MOST_ROWS_FOLLOWED)
    part = Part(*counts, shop_evidence(known, records.shop), fleet, late)
    return part, stints, stints.last


def _late_days(rows: pd.DataFrame) -> tuple[int, ...]:
    days = np.unique(rows["date_out"].to_numpy().astype("datetime64[D]"))
    now = np.searchsorted(days, np.datetime64(date.today(), "D"), side="right")  # noqa: DTZ011
    return tuple(days[max(int(now) - 1, 0) :].astype(np.int64).tolist())


def _newest_of(parts: Sequence[Part | None]) -> np.datetime64 | None:
    """Find the last day of all partitions before some after today that stand apart."""
    days = [day for part in parts if part is not None for day in part.late_days]
    return plausible_until(
        np.array(days, dtype="datetime64[D]"),
        date.today(),  # noqa: DTZ011
    )


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
        There is no row at all, none that can be used, nothing was on record on the day, it is more
        than a year after the newest row, hours may be another clock's, or parts were read in
        different ways.
    """
    some = [part for part in parts if part is not None]
    if not some:
        raise RecordsError(f"{source}: there is a header and no rows; add an installation.")
    settled([*_other_hands(some)], source)
    fleets = [part.fleet for part in some if part.fleet is not None]
    if not fleets:
        raise RecordsError(
            f"{source}: nothing that can be used was on record"
            + (f" on {day_of(as_of)}; choose a later day." if as_of is not None else ".")
        )
    day = last_day(latest, as_of)
    refuse_long_after(day.to_datetime64(), np.datetime64(latest, "D"), source)
    rows = _every_row(some)
    clock = Suspicion() if rows is None else whose_clock(rows[rows["by_counter"]], shop)
    settled(clock.questions, source)
    if rows is not None and not rows["used"].all():
        clock = whose_clock(rows[rows["by_counter"] & rows["used"]], shop)
    across = _compared(some, rows, shop, clock.findings)
    return Whole(
        rows_read=sum(part.rows_read for part in some),
        accepted=sum(part.accepted for part in some),
        set_aside=_below([part.set_aside for part in some]).sort_values("row", ignore_index=True),
        findings=_below([*(part.findings for part in some), *across]),
        evidence=add_evidence([part.evidence for part in some], shop.head_types),
        fleet=fleet_of(fleets, [one for one in habits if one is not None], shop, source, day),
        day=day,
        notes=max((part.notes for part in some), key=len),
        newest=_newest_of(some),
    )


def _other_hands(parts: Sequence[Part]) -> Iterator[str]:
    """Ask where unclear cells were read as other cells of their part are written, not all are."""
    for line in ("decimal", "date_order"):
        proved = {way for part in parts for way in part.read_as[line][0]}
        by = {way for part in parts for way in part.read_as[line][1]}
        if by and len(proved | by) > 1:
            ways = " and ".join(quoted(way) for way in sorted(proved | by))
            yield (
                f"cells that can be read in two ways stand beside others written with {ways}; "
                f"state [intake] {line} for those that can be read in two ways"
            )


def _every_row(parts: Sequence[Part]) -> pd.DataFrame | None:
    """Put the rows of all parts below each other as one table has them; None where not kept."""
    kept = [part.rows for part in parts if part.rows is not None and len(part.rows)]
    if not kept:
        return None
    names = dict.fromkeys(("head", "printer"), object)  # categories of other parts are other ones
    below = _below([rows.astype(names) for rows in kept])
    return below.sort_values("row", ignore_index=True)


def _compared(
    parts: Sequence[Part], rows: pd.DataFrame | None, shop: Shop, found: Sequence[Finding]
) -> Iterator[pd.DataFrame]:
    """Find what is doubtful in all rows together."""
    yield _alike_names(parts)
    if rows is not None:
        today = date.today()  # noqa: DTZ011
        used = rows[rows["used"]]
        yield findings_frame([*found, *across_heads(used, shop), *over_time(used, today)])


def _alike_names(parts: Sequence[Part]) -> pd.DataFrame:
    """Names that look alike, wherever they stand."""
    mentions = {
        name: _below([part.mentions[name] for part in parts])
        .sort_values("row", ignore_index=True)
        .drop_duplicates(name)
        for name in parts[0].mentions
    }
    return findings_frame(spellings(mentions))


def _below(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Put tables below each other; empty ones have no types to agree with."""
    import pandas as pd

    return pd.concat([t for t in tables if len(t)] or tables[:1], ignore_index=True)
