"""Which heads are left out because a row of theirs cannot be used, and what could they have been?

Rows are often set aside because of their value: a thousands mark only appears past 999 h. Heads
left out so are no sample of all, and an answer without them leans one way. From the rows set
aside and what else is known of their heads: lives that say the least and the most good of the
rating. It never guesses what such a row meant to say.
"""

from __future__ import annotations

from typing import Final, Literal

import numpy as np
import pandas as pd

from headlife.records.record_set import Records
from headlife.shop import reason_key

End = Literal["early", "late"]
# Own choice, no source: a head that failed "as soon as it can have" has run so much of its rating,
# where nothing is known of it; failures at 0 h would say that heads are dead when they come.
_SOONEST: Final = 0.01


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
        return _none()
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


def completed(
    lives: pd.DataFrame, left_out: pd.DataFrame, rated_hours: float, mode: str, end: End
) -> pd.DataFrame:
    """Give lives of one group with the heads left out put in, at one end of what they can be.

    Parameters
    ----------
    lives : DataFrame
        Lives of the group, as `lives` gives them.
    left_out : DataFrame
        Heads of the group that are left out, from `left_out_heads`.
    rated_hours : float
        The rating [h].
    mode : str
        The failure mode that the answer is about.
    end : {"early", "late"}
        early: those that may have failed by the mode did as soon as they can have; late: all
        reached the rating.

    Returns
    -------
    DataFrame
        Lives, those of the heads left out replaced or added.
    """
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


def _none() -> pd.DataFrame:
    columns = ("head", "head_type", "role", "entry_hours", "reached_hours", "mode")
    return pd.DataFrame({name: [] for name in (*columns, "may_have_failed")})
