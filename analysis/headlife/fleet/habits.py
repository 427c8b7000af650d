"""How often does the shop swap heads to change material, and what goes in then?

From installations: the rate of changes of material for each role, which head type follows which,
and, by `circulation`, how often a new head is taken. A head that goes to the shelf does not wear
there, and another, part-used one wears instead: where material is changed often, the print hours
spread over all heads in circulation. Never forecasts.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.fleet.circulation import Flags, Shelf, ShelfHabit, habit_after, heads_waiting
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    import pandas as pd

# Print hours up to which a head that is first seen is a new one: some are run in by their maker
# (common practice, no source).
_RUN_IN_HOURS: Final = 24.0
_SECOND: Final = np.timedelta64(1, "s")
_SECONDS_PER_WEEK: Final = DAYS_PER_WEEK * 86_400
# Any large odd number: keeps a printer called "left" apart from a position called so.
_ODD: Final = np.uint64(0x9E3779B97F4A7C15)


@dataclass(frozen=True)
class MaterialChanges:
    """Changes of material, by role."""

    per_week: dict[str, float] = field(default_factory=dict)
    """Changes of one position in a week, by role [1/week]."""
    following: dict[tuple[str, str], dict[str, float]] = field(default_factory=dict)
    """For a role and the head type taken out: probability of each type put in [-]."""
    new_at_change: dict[str, ShelfHabit] = field(default_factory=dict)
    """By role, how often a new head is taken at a change of material."""
    new_after_use: dict[str, ShelfHabit] = field(default_factory=dict)
    """By role, how often a new head, and not a part-used one, replaces one that is used up."""
    waiting: dict[Shelf, int] = field(default_factory=dict)
    """Part-used heads that wait, by head type, role and site [heads]."""
    lost_per_week: float = 0.0
    """Chance that a head that waits is gone a week later, other than into a printer [-]."""


def handovers(stints: pd.DataFrame, reusable: Collection[str]) -> pd.DataFrame:
    """Reduce installations to what tells which head followed which in a position.

    Parameters
    ----------
    stints : pandas.DataFrame
        Installations with `row, head, printer, position, role, head_type, date_in, date_out,
        hours_in, reason` and `suspension`, and `refurbished` where that is on record; every one
        of the heads that are in it.
    reusable : collection of str
        Kinds of suspension after which a head goes to the shelf to be used again.

    Returns
    -------
    pandas.DataFrame
        One row per installation: `place`, `head`, `row`, `date_in, date_out`, `role, head_type`,
        `site`, `changed` (taken out to change material), `used_up` (taken out for good), `first`
        (of its head), `new` (went in new or like new), `refurbished` (went in so). Those of further
        heads may be put below.
    """
    import pandas as pd

    in_turn = np.lexsort((stints["row"], stints["hours_in"], stints["date_in"]))
    heads = pd.factorize(stints["head"])[0][in_turn]
    first = np.zeros(len(stints), dtype=bool)
    first[in_turn[~pd.Series(heads).duplicated().to_numpy()]] = True
    changed = stints["suspension"].isin(reusable).to_numpy(dtype=bool)
    refurbished = np.zeros(len(stints), dtype=bool)
    if "refurbished" in stints:
        refurbished = stints["refurbished"].to_numpy(dtype=bool)
    ran = stints["hours_in"].to_numpy(dtype=np.float64) > _RUN_IN_HOURS
    printer, position, head = (
        # Alike for alike names, in whatever table they stand.
        pd.util.hash_pandas_object(stints[name].astype("category"), index=False).to_numpy()
        for name in ("printer", "position", "head")
    )
    return pd.DataFrame(
        {
            "place": printer ^ (position * _ODD),
            "head": head,
            "row": stints["row"].to_numpy(),
            "date_in": stints["date_in"].to_numpy(),
            "date_out": stints["date_out"].to_numpy(),
            "role": stints["role"].to_numpy(),
            "head_type": stints["head_type"].to_numpy(),
            # As texts: categories of other parts are other ones.
            "site": stints["site"].astype(object).fillna("") if "site" in stints else "",
            "changed": changed,
            "used_up": stints["reason"].notna().to_numpy() & ~changed,
            "first": first,
            "new": (first & ~ran) | refurbished,
            "refurbished": refurbished,
        }
    )


def material_changes(rows: pd.DataFrame) -> MaterialChanges:
    """Learn how often material is changed and what follows.

    Parameters
    ----------
    rows : pandas.DataFrame
        From `handovers`.

    Returns
    -------
    MaterialChanges
        Empty where no head was ever taken out for such a reason.
    """
    if rows.empty:
        return MaterialChanges()
    rows = rows.sort_values(["place", "date_in", "date_out", "row"], ignore_index=True)
    rows = rows.assign(changed=rows["changed"] & ~_goes_back(rows))
    seconds = (rows["date_out"].to_numpy() - rows["date_in"].to_numpy()) // _SECOND
    place, roles = rows["place"].to_numpy(), rows["role"].to_numpy()
    types = rows["head_type"].to_numpy()
    changed, used_up = rows["changed"].to_numpy(), rows["used_up"].to_numpy()
    followed = np.r_[place[1:] == place[:-1], False]
    per_week: dict[str, float] = {}
    following: dict[tuple[str, str], dict[str, float]] = {}
    for role in sorted(set(roles)):
        mine = roles == role
        length = int(seconds[mine].sum()) / _SECONDS_PER_WEEK
        count = int((changed & mine).sum())
        if not count or not length:
            continue
        per_week[str(role)] = count / length
        at = np.flatnonzero(changed & mine & followed)
        at = at[roles[at + 1] == role]
        counts = _counted(types[at], types[at + 1])
        for head_type in sorted(set(types[mine])):
            following[str(role), str(head_type)] = _smoothed(counts, str(head_type))
    if not per_week:
        return MaterialChanges()
    waiting = heads_waiting(rows)
    at_change, after_use = (
        {
            role: habit_after(rows, waiting.before_each, out & followed & (roles == role))
            for role in per_week
        }
        for out in (changed, used_up)
    )
    return MaterialChanges(
        per_week, following, at_change, after_use, waiting.now, waiting.lost_per_week
    )


def _goes_back(rows: pd.DataFrame) -> Flags:
    """Whether the next head in the place is the one that came out: none was changed."""
    place, head = rows["place"].to_numpy(), rows["head"].to_numpy()
    return np.append((place[1:] == place[:-1]) & (head[1:] == head[:-1]), False)


def _counted(before: Any, after: Any) -> dict[str, dict[str, float]]:
    """Count which head type followed which."""
    import pandas as pd

    counts: dict[str, dict[str, float]] = {}
    pairs = pd.DataFrame({"before": before, "after": after}).groupby(["before", "after"])
    for pair, own in pairs:
        counts.setdefault(str(pair[0]), {})[str(pair[1])] = float(len(own))
    return counts


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
