"""Does one head type take the place of another, head by head?

From which head followed which in a position: of the latest heads of a type that were used up, how
many were followed by heads of one other type. A shop that goes over to another type needs no more
heads of the one that goes. Forecasts nothing.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.fleet.on_hand import NO_SITE

if TYPE_CHECKING:
    import pandas as pd

# Of the latest so many heads used up so many were followed by the other type. Own choice: where two
# types share a position by turns, half each, that happens with a chance of 11 %.
_LATEST: Final = 6
_FEWEST: Final = 5


@dataclass(frozen=True)
class GivesWay:
    """One head type that another one replaces."""

    head_type: str
    """The type that is replaced."""
    role: str
    """In this role."""
    to: str
    """The type that goes in instead."""
    heads: int
    """Heads so replaced [heads]."""
    of: int
    """Of so many of the latest that were used up [heads]."""


def giving_way(rows: pd.DataFrame) -> tuple[GivesWay, ...]:
    """Find the head types that another type takes the place of.

    Parameters
    ----------
    rows : pandas.DataFrame
        From `habits.handovers`.

    Returns
    -------
    tuple of GivesWay
        By head type and role; none where heads are followed by heads of their type, or two types
        take turns.
    """
    rows = rows.sort_values(["place", "date_in", "date_out", "row"], ignore_index=True)
    place, types = rows["place"].to_numpy(), rows["head_type"].to_numpy()
    followed = np.r_[place[1:] == place[:-1], False] if len(rows) else np.zeros(0, bool)
    out = np.flatnonzero(rows["used_up"].to_numpy(dtype=bool) & followed)
    out = out[np.argsort(rows["date_out"].to_numpy()[out], kind="stable")]
    roles = rows["role"].to_numpy()
    out = out[roles[out] == roles[out + 1]]
    found = {}
    for name, role in sorted({(str(types[at]), str(roles[at])) for at in out}):
        latest = out[(types[out] == name) & (roles[out] == role)][-_LATEST:]
        names, counts = np.unique(types[latest + 1].astype(str), return_counts=True)
        most = int(np.argmax(counts))
        if names[most] != name and counts[most] >= _FEWEST:
            to = str(names[most])
            found[name, role] = GivesWay(name, role, to, int(counts[most]), latest.size)
    return tuple(
        one
        for one in found.values()
        if (one.to, one.role) not in found or found[one.to, one.role].to != one.head_type
    )


def successors(
    giving_way: Iterable[GivesWay], known: Collection[tuple[str, str]] | None = None
) -> dict[tuple[str, str], str]:
    """Give the type that follows each head type and role, where it is another one.

    Parameters
    ----------
    giving_way : iterable of GivesWay
        From `giving_way`.
    known : collection of (str, str), optional
        Head types and roles with a life; where the new type has none yet, none follows. Default:
        every type follows.

    Returns
    -------
    dict of (str, str) to str
        Head type and role -> head type.
    """
    return {
        (one.head_type, one.role): one.to
        for one in giving_way
        if known is None or {(one.head_type, one.role), (one.to, one.role)} <= set(known)
    }


def counted_as(rows: pd.DataFrame, follows: Mapping[tuple[str, str], str]) -> pd.Series[str]:
    """Give the type that the next head will be of, head by head.

    Parameters
    ----------
    rows : pandas.DataFrame
        Heads or installations, with their `head_type` and `role`.
    follows : mapping of (str, str) to str
        From `successors`.

    Returns
    -------
    pandas.Series
        Head types, by the rows' index: their own, where none takes their place.
    """
    own = rows["head_type"]
    if not follows:
        return own
    kinds = zip(own, rows["role"], strict=True)
    return own.__class__([follows.get(kind, kind[0]) for kind in kinds], rows.index, dtype=object)


def as_followed(
    positions: pd.DataFrame,
    follows: Mapping[tuple[str, str], str],
    rated_hours: Mapping[str, float],
) -> pd.DataFrame:
    """Write heads that give way as heads of the type that follows them, due when they are.

    Each at the same share of the rating, so that it comes out when the head in place does, whatever
    share of the rating heads are swapped at.

    Parameters
    ----------
    positions : pandas.DataFrame
        Heads in service, with their `head_type`, `role` and `age_hours` [h].
    follows : mapping of (str, str) to str
        From `successors`.
    rated_hours : mapping of str to float
        Rating of every head type [h].

    Returns
    -------
    pandas.DataFrame
        The same rows, with `head_type` and `age_hours` [h] of the type that goes in next.
    """
    to = counted_as(positions, follows)
    ratio = to.map(rated_hours) / positions["head_type"].map(rated_hours)
    return positions.assign(head_type=to, age_hours=positions["age_hours"] * ratio)


def sites_with(
    positions: pd.DataFrame, head_type: str, follows: Mapping[tuple[str, str], str]
) -> list[str]:
    """List the sites where heads of a type are at work, or take the place of those at work.

    Parameters
    ----------
    positions : pandas.DataFrame
        Heads in service, with their `head_type`, `role` and `site`.
    head_type : str
        Head type.
    follows : mapping of (str, str) to str
        From `successors`.

    Returns
    -------
    list of str
        By name.
    """
    kinds = zip(positions["head_type"], positions["role"], strict=True)
    mine = [head_type in (own, follows.get((own, role))) for own, role in kinds]
    return sorted(set(positions["site"].fillna(NO_SITE)[np.array(mine, dtype=bool)]))
