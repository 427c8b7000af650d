"""What does one partition of a large record hold? Numbers that add, and the heads still in.

From the records of one partition (every row of its heads) to a `Part`: evidence by stratum and
mode, counts, and the little that the fleet's present state needs from each partition. Parts are
put together in their own order, so the answer has the same digits whoever made them. Knows
nothing of who runs it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.errors import RecordsError
from headlife.life.reduction import add_strata, stratum_evidence

if TYPE_CHECKING:
    import pandas as pd

    from headlife.life.site_evidence import StratumEvidence
    from headlife.records.record_set import Records
    from headlife.shop import Shop

_OPEN_COLUMNS: Final = (
    *("head", "head_type", "role", "site", "printer", "position"),
    *("date_in", "date_out", "hours_out", "reason", "material", "date_first"),
)


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
    heads: int
    """Lives [heads]."""
    on_shelf: int
    """Part-used heads that wait on the shelf [heads]."""
    strata: tuple[StratumEvidence, ...]
    """Evidence by head type and role."""
    open_rows: pd.DataFrame
    """Last installations without a removal."""
    starts: pd.Series
    """Latest start by printer and position."""
    last_day: Any
    """Last day on record, or known on the as-of day."""


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
    heads: int
    """Lives [heads]."""
    on_shelf: int
    """Part-used heads that wait on the shelf [heads]."""
    strata: tuple[StratumEvidence, ...]
    """Evidence by head type and role."""
    positions: pd.DataFrame
    """Heads in service, as `records.lives.in_service` gives them."""
    day: Any
    """The day asked for, or the last on record."""


def make_part(records: Records | None, as_of: Any = None) -> tuple[Part | None, pd.DataFrame, int]:
    """Reduce the records of one partition.

    Parameters
    ----------
    records : Records or None
        From `partition_records`.
    as_of : date, optional
        Look at the records as they were known on this day.

    Returns
    -------
    Part or None
        None when the partition has no row at all.
    DataFrame
        Its stints for `usage_sums`, which must wait for the last day of all partitions.
    int
        The last day of its own (days since 1970).
    """
    from headlife.records.as_of import day_of, known_on, whole_days
    from headlife.records.lives import lives, open_installations
    from headlife.records.places import latest_starts
    from headlife.records.usage import stints

    if records is None:
        return None, _no_stints(), 0
    rows = records.accepted
    day = None if as_of is None else day_of(as_of)
    begun = not rows.empty and (day is None or bool((whole_days(rows["date_in"]) <= day).any()))
    if not begun:
        return _empty(records), _no_stints(), 0
    known = lives(records, as_of)
    used = stints(records, as_of)
    last = used["day_out"].max()
    # Heads that nobody wrote down as removed; whether their position went to another head only
    # all partitions together can tell.
    in_still = known.loc[known["mode"].isna() & known["suspension"].isna(), "head"]
    theirs = replace(records, accepted=rows[rows["head"].isin(in_still)])
    here = open_installations(theirs, as_of)[0] if len(in_still) else rows.iloc[:0]
    used["printer"] = used["printer"].astype("category")
    part = Part(
        rows_read=records.rows_read,
        accepted=len(rows),
        set_aside=records.set_aside,
        findings=records.findings,
        heads=len(known),
        on_shelf=int(known["on_shelf"].sum()),
        strata=stratum_evidence(known, records.shop),
        # Names as plain texts: categories of other partitions are other ones.
        open_rows=here[[name for name in _open_columns(records.shop) if name in here]]
        .astype({"head": object, "printer": object})
        .reset_index(drop=True),
        starts=latest_starts(known_on(records, as_of)),
        last_day=np.datetime64(int(last), "D"),
    )
    return part, used, int(last)


def _open_columns(shop: Shop) -> tuple[str, ...]:
    from headlife.records.frames import OF_THE_HEAD

    return (*_OPEN_COLUMNS, *OF_THE_HEAD, *shop.own_columns)


def _no_stints() -> pd.DataFrame:
    import pandas as pd

    return pd.DataFrame({"printer": [], "day_in": [], "day_out": [], "run": []})


def _empty(records: Records) -> Part:
    """Count rows of a partition from which nothing was known on the day."""
    import pandas as pd

    return Part(
        rows_read=records.rows_read,
        accepted=len(records.accepted),
        set_aside=records.set_aside,
        findings=records.findings,
        heads=0,
        on_shelf=0,
        strata=(),
        open_rows=pd.DataFrame(columns=list(_OPEN_COLUMNS)),
        starts=pd.Series(dtype=np.int64),
        last_day=None,
    )


def put_together(
    parts: Sequence[Part | None],
    sums: Sequence[pd.DataFrame],
    shop: Shop,
    source: str,
    as_of: Any = None,
) -> Whole:
    """Add all parts.

    Parameters
    ----------
    parts : sequence of Part or None
        In the order of the partitions.
    sums : sequence of DataFrame
        `usage_sums` of every partition's stints.
    shop : Shop
        The settings.
    source : str
        What to call the record in messages.
    as_of : date, optional
        As for `make_part`.

    Returns
    -------
    Whole

    Raises
    ------
    RecordsError
        There is no row at all, none that can be used, or nothing was on record on the day.
    """
    from headlife.records.as_of import day_of
    from headlife.records.lives import carried_forward

    some = [part for part in parts if part is not None]
    if not some:
        raise RecordsError(f"{source}: there is a header and no rows; add an installation.")
    full = [part for part in some if part.heads]
    set_aside = _under_one_another([part.set_aside for part in some])
    if not full:
        raise RecordsError(
            f"{source}: nothing that can be used was on record"
            + (f" on {day_of(as_of)}; choose a later day." if as_of is not None else ".")
        )
    last = max(part.last_day for part in full) if as_of is None else day_of(as_of)
    return Whole(
        rows_read=sum(part.rows_read for part in some),
        accepted=sum(part.accepted for part in some),
        set_aside=set_aside.sort_values("row", ignore_index=True),
        findings=_under_one_another([part.findings for part in some]),
        heads=sum(part.heads for part in full),
        on_shelf=sum(part.on_shelf for part in full),
        strata=add_strata([part.strata for part in full], shop),
        positions=carried_forward(_still_in(full), last, _weekly(sums, shop, source), shop),
        day=last,
    )


def _still_in(parts: Sequence[Part]) -> pd.DataFrame:
    """Open installations whose position no other head was given later."""
    import pandas as pd

    from headlife.records.places import superseded

    starts = pd.concat([part.starts for part in parts])
    latest = starts.groupby(level=0, sort=False).max()
    here = _under_one_another([part.open_rows for part in parts])
    return here[~superseded(here, latest)]


def _under_one_another(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Stack tables; empty ones have no types to agree with."""
    import pandas as pd

    return pd.concat([t for t in tables if len(t)] or tables[:1], ignore_index=True)


def _weekly(sums: Sequence[pd.DataFrame], shop: Shop, source: str) -> dict[str, float]:
    import pandas as pd

    from headlife.records.usage import learned_hours, stated_usage

    added = pd.concat([each for each in sums if len(each)]).groupby(level=0).sum()
    learned = learned_hours(added)
    return learned | stated_usage(shop, learned, source)
