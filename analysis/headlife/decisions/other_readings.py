"""How else could the lives behind a verdict be read? What nobody read, and what was left out.

From a case and a group: the same heads with hours that were worked out at the least and the most
they can be, and with the heads put in that are left out because a row of theirs cannot be used.
Rows are often set aside because of their value (a thousands mark only appears past 999 h), so heads
left out are no sample of all: they are put in as lives that say the least and the most good of the
rating. It never guesses what such a row meant to say. Whether a verdict hangs on one of them is
`overturn`'s to say.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np
import pandas as pd

from headlife.life.reduction import mode_evidence
from headlife.records.as_of import known_on
from headlife.records.places import cause_not_written
from headlife.records.record_set import Records
from headlife.shop import reason_key
from headlife.shop.policy_book import policies_on

if TYPE_CHECKING:
    import pandas as pd

    from headlife.case import Case
    from headlife.life.evidence import Evidence
    from headlife.life.groups import Group

About = Literal["hours worked out", "heads left out", "removals in doubt", "reasons not written"]
HOURS: Final[About] = "hours worked out"
LEFT_OUT: Final[About] = "heads left out"
NO_REASON: Final[About] = "reasons not written"
# A head is not due yet below this share of the age at which the shop swaps it.
_EARLY: Final = 0.95
# A head that failed at start-up has run for at least so much, as rows of the log must say too [h].
_LEAST_RUN: Final = 0.1
_NAMES: Final[dict[End, str]] = {
    "early": "failed as soon as they can have",
    "late": "reached the rating",
}
End = Literal["early", "late"]
# Own choice, no source: a head that failed "as soon as it can have" has run so much of its rating,
# where nothing is known of it; failures at 0 h would say that heads are dead when they come.
_SOONEST: Final = 0.01


@dataclass(frozen=True)
class OtherReading:
    """The heads of a group, read in another way."""

    about: About
    """What is read in another way."""
    name: str
    """How it is read."""
    heads: int
    """How many heads it is about [heads]."""
    evidence: Evidence
    """What the lives say then."""


def other_readings(case: Case, group: Group) -> tuple[OtherReading, ...]:
    """Read the lives of a group in the other ways that the records allow.

    Parameters
    ----------
    case : Case
        Records, settings and day.
    group : Group
        Which heads.

    Returns
    -------
    tuple of OtherReading
        Empty where every hour was read and no head is left out.
    """
    lives = case.lives[group.rows(case.lives)]
    return (
        *_hours(case, lives, group),
        *_without_a_reason(case, lives, group),
        *_left_out(case, lives, group),
    )


def due_hours(case: Case, group: Group) -> float:
    """Give the age from which the shop swaps heads of a group anyhow.

    Parameters
    ----------
    case : Case
        Records, settings and day.
    group : Group
        Which heads.

    Returns
    -------
    float
        The age [h].
    """
    policy = policies_on(case.shop, case.day).of(group.head_type, group.role)
    notice = case.shop.head_types[group.head_type].notice_hours
    return min(notice, _EARLY * policy.swap_at)


def _hours(case: Case, lives: pd.DataFrame, group: Group) -> Iterator[OtherReading]:
    off = (lives["exit_high"] > lives["exit_low"]).to_numpy()
    if not off.any():
        return
    for column, name in (("exit_low", "at the least"), ("exit_high", "at the most")):
        hours = np.maximum(lives[column], lives["entry_hours"] + _LEAST_RUN)
        read = lives.assign(exit_hours=hours, exit_low=hours, exit_high=hours)
        evidence = _evidence(case, read, group)
        if evidence is not None:
            yield OtherReading(HOURS, name, int(off.sum()), evidence)


def _without_a_reason(case: Case, lives: pd.DataFrame, group: Group) -> Iterator[OtherReading]:
    """Heads that came out early with no reason on record, as if they had failed then."""
    rows = known_on(case.records, case.as_of)
    out = lives["head"].isin(rows.loc[cause_not_written(rows), "head"])
    out &= (lives["exit_hours"] < due_hours(case, group)).to_numpy()
    if not out.any():
        return
    mode = case.shop.review.primary_mode
    evidence = _evidence(case, lives.assign(mode=lives["mode"].where(~out, mode)), group)
    if evidence is not None:
        yield OtherReading(NO_REASON, "as failures", int(out.sum()), evidence)


def _left_out(case: Case, lives: pd.DataFrame, group: Group) -> Iterator[OtherReading]:
    out = left_out_heads(case.records)
    if out.empty:
        return
    # What cannot be read may be of this group too.
    mine = out["head_type"].isna() | (out["head_type"] == group.head_type)
    mine &= out["role"].isna() | (out["role"] == group.role)
    if not mine.any():
        return
    rated, mode = (
        case.shop.rated_hours_of(group.head_type, group.further),
        case.shop.review.primary_mode,
    )
    for end, name in _NAMES.items():
        evidence = _evidence(case, _completed(lives, out[mine], rated, mode, end), group)
        if evidence is not None:
            yield OtherReading(LEFT_OUT, name, int(mine.sum()), evidence)


def _evidence(case: Case, lives: pd.DataFrame, group: Group) -> Evidence | None:
    mode = case.shop.review.primary_mode
    return mode_evidence(
        lives, case.shop.rated_hours_of(group.head_type, group.further), [mode]
    ).get(mode)


def left_out_heads(records: Records) -> pd.DataFrame:
    """List the heads of which a row was set aside.

    Parameters
    ----------
    records : Records
        From `read_records`.

    Returns
    -------
    DataFrame
        `head`, `head_type` and `role` (None where they cannot be read), `entry_hours` and
        `reached_hours` [h] (what rows that were used tell of it, 0 without any), `mode` (the
        failure mode of its last reason, None where that was no failure) and `may_have_failed`
        (the reason was a failure, or nobody knows what it was); one row a head, or a row whose
        head cannot be read.
    """
    aside = records.set_aside
    if aside.empty:
        return _no_heads()
    unknown = "\n" + aside["row"].astype(str)  # a row whose serial cannot be read is its own head
    heads = aside["head"].where(aside["head"].notna(), unknown)
    grouped = aside.groupby(heads, sort=True)
    found = grouped[["head", "head_type", "role", "reason"]].last().reset_index(drop=True)
    used = records.accepted.groupby("head", observed=True)
    entry, reached = used["hours_in"].min(), used["hours_out"].max()
    meant = [_meaning(records, reason) for reason in found["reason"]]
    return found.assign(
        entry_hours=found["head"].map(entry).fillna(0.0).to_numpy(dtype=float),
        reached_hours=found["head"].map(reached).fillna(0.0).to_numpy(dtype=float),
        mode=np.array([mode for mode, _ in meant], dtype=object),
        may_have_failed=np.array([may for _, may in meant], dtype=bool),
    ).drop(columns="reason")


def _completed(
    lives: pd.DataFrame, left_out: pd.DataFrame, rated_hours: float, mode: str, end: End
) -> pd.DataFrame:
    """Give lives of one group with the heads left out put in, at one end of what they can be."""
    entry = left_out["entry_hours"].to_numpy(dtype=float)
    reached = left_out["reached_hours"].to_numpy(dtype=float)
    by_mode = left_out["mode"].isna().to_numpy() | (left_out["mode"] == mode).to_numpy()
    failed = (left_out["may_have_failed"].to_numpy() & by_mode) & (end == "early")
    soonest = np.maximum(reached, entry + _SOONEST * rated_hours)
    late = np.maximum(reached, rated_hours)
    exit_ = np.where(failed, soonest, reached) if end == "early" else late
    added = pd.DataFrame(
        {
            "head": left_out["head"].to_numpy(),
            "entry_hours": entry,
            "exit_hours": exit_,
            "exit_low": exit_,
            "exit_high": exit_,
            "last_good_hours": np.full(len(left_out), np.nan),
            "mode": np.array([mode if one else None for one in failed.tolist()], dtype=object),
        }
    )
    kept = lives[~lives["head"].isin(left_out["head"].dropna())]
    return pd.concat([kept[list(added.columns)], added], ignore_index=True)


def _meaning(records: Records, reason: str | None) -> tuple[str | None, bool]:
    """Tell the failure mode of a reason, and whether it may have been a failure."""
    if reason is None or reason != reason:
        return None, False  # still in service, or the table tells no reason
    table, meaning = records.shop.reasons.known.get(reason_key(reason), ("", ""))
    if table == "suspensions":
        return None, False
    return (meaning, True) if table else (None, True)


def _no_heads() -> pd.DataFrame:
    columns = ("head", "head_type", "role", "entry_hours", "reached_hours", "mode")
    return pd.DataFrame({name: [] for name in (*columns, "may_have_failed")})
