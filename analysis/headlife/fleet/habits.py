"""How does the shop really swap: how often to change material, and how late after a head is due?

From installations: the rate of changes of material for each role, which head type follows which,
and the print hours that heads run past the age at which the settings have them swapped. A head
that goes to the shelf does not wear there, and another, part-used one wears instead: where
material is changed often, the print hours spread over all heads in circulation. Never forecasts.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from headlife.units import DAYS_PER_WEEK, WEEKS_PER_YEAR

if TYPE_CHECKING:
    import pandas as pd

# Replacements on record below which a longer stretch of records is looked at.
FEWEST_REPLACEMENTS: Final = 8
_DAY: Final = np.timedelta64(1, "D")


@dataclass(frozen=True)
class MaterialChanges:
    """Changes of material, by role."""

    per_week: dict[str, float] = field(default_factory=dict)
    """Changes of one position in a week, by role [1/week]."""
    following: dict[tuple[str, str], dict[str, float]] = field(default_factory=dict)
    """For a role and the head type taken out: probability of each type put in [-]."""
    new_at_change: dict[str, float] = field(default_factory=dict)
    """By role, share of changes of material at which a new head is taken [-]."""
    new_after_use: dict[str, float] = field(default_factory=dict)
    """By role, share of used-up heads that a new one replaces; a part-used one from the shelf
    replaces the others [-]."""


def material_changes(stints: pd.DataFrame, reusable: Collection[str]) -> MaterialChanges:
    """Learn how often material is changed and what follows.

    Parameters
    ----------
    stints : pandas.DataFrame
        Installations with `head, printer, position, role, head_type, date_in, date_out,
        hours_in, reason` and `suspension`.
    reusable : collection of str
        Kinds of suspension after which a head goes to the shelf to be used again.

    Returns
    -------
    MaterialChanges
        Empty where no head was ever taken out for such a reason.
    """
    if stints.empty:
        return MaterialChanges()
    rows = stints.sort_values(["printer", "position", "date_in", "date_out"], kind="stable")
    weeks = (rows["date_out"].to_numpy() - rows["date_in"].to_numpy()) / _DAY / DAYS_PER_WEEK
    changed = rows["suspension"].isin(reusable).to_numpy(dtype=bool)
    place = list(zip(rows["printer"], rows["position"], strict=True))
    roles, types = rows["role"].to_numpy(), rows["head_type"].to_numpy()
    per_week: dict[str, float] = {}
    following: dict[tuple[str, str], dict[str, float]] = {}
    for role in sorted(set(roles)):
        mine = roles == role
        length = float(weeks[mine].sum())
        count = int((changed & mine).sum())
        if not count or not length:
            continue
        per_week[str(role)] = count / length
        counts: dict[str, dict[str, float]] = {}
        for at in np.flatnonzero(changed & mine):
            after = at + 1
            if after < len(rows) and place[after] == place[at] and roles[after] == role:
                own = counts.setdefault(str(types[at]), {})
                own[str(types[after])] = own.get(str(types[after]), 0.0) + 1.0
        for head_type in sorted(set(types[mine])):
            following[str(role), str(head_type)] = _smoothed(counts, str(head_type))
    used_up = rows["reason"].notna().to_numpy(dtype=bool) & ~changed
    return MaterialChanges(
        per_week,
        following,
        new_at_change={role: _share_new(rows, changed, place, role) for role in per_week},
        new_after_use={role: _share_new(rows, used_up, place, role) for role in per_week},
    )


def _share_new(
    rows: pd.DataFrame,
    out: npt.NDArray[np.bool_],
    place: list[tuple[str, str]],
    role: str,
) -> float:
    """Share of removals after which a head goes in that was never in before.

    Those of the last year count, or all where these are few; half a case with a new head is added,
    so that without any record every head is a new one.
    """
    by_head = rows.sort_values(["date_in", "hours_in"], kind="stable")
    first = (~by_head["head"].duplicated()).reindex(rows.index).to_numpy(dtype=bool)
    at = np.flatnonzero(out & (rows["role"] == role).to_numpy(dtype=bool))
    at = np.array([i for i in at if i + 1 < len(rows) and place[i + 1] == place[i]], dtype=np.intp)
    recent = rows["date_out"].to_numpy()[at] > (
        rows["date_out"].max() - np.timedelta64(int(WEEKS_PER_YEAR * DAYS_PER_WEEK), "D")
    )
    if recent.sum() >= FEWEST_REPLACEMENTS:
        at = at[recent]
    return float((first[at + 1].sum() + 0.5) / (at.size + 0.5))


def swap_lag(stints: pd.DataFrame, reusable: Collection[str], swap_age: Any) -> float:
    """Mean print hours from the age at which heads are due until they are swapped.

    Hours run past that age by all heads over planned swaps after it, the estimate for a constant
    rate; heads still running and heads that failed count with the hours they ran. With no such
    swap yet one is assumed.

    Parameters
    ----------
    stints : pandas.DataFrame
        Installations of one head type with `hours_in, hours_out` [h], `reason`, `mode` and
        `suspension`.
    reusable : collection of str
        Kinds of suspension that are no planned swap.
    swap_age : float or array of float
        Age at which the settings have heads swapped, for all or for each installation [h].

    Returns
    -------
    float
        [h]
    """
    past = stints["hours_out"] - np.maximum(stints["hours_in"], swap_age)
    run = float(past.clip(lower=0.0).sum())
    planned = stints["suspension"].notna() & ~stints["suspension"].isin(reusable)
    late = int((planned & (stints["hours_out"] >= swap_age)).sum())
    return run / max(late, 1)


def _smoothed(counts: dict[str, dict[str, float]], head_type: str) -> dict[str, float]:
    """Shares of the types that follow one type, with the shares after any type as one case."""
    overall: dict[str, float] = {}
    for own in counts.values():
        for name, count in own.items():
            overall[name] = overall.get(name, 0.0) + count
    total = sum(overall.values())
    if not total:
        return {head_type: 1.0}
    mine = counts.get(head_type, {})
    seen = sum(mine.values())
    return {
        name: (mine.get(name, 0.0) + count / total) / (seen + 1.0)
        for name, count in sorted(overall.items())
    }
