"""Does one head type take the place of another, head by head?

From which head followed which in a position: of the latest heads of a type that were used up, how
many were followed by heads of one other type. Forecasts take a head to be followed by one of its
type; where a shop goes over to another type, that is to be said. Forecasts nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

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
        By head type; none where heads are followed by heads of their type.
    """
    rows = rows.sort_values(["place", "date_in", "date_out", "row"], ignore_index=True)
    place, types = rows["place"].to_numpy(), rows["head_type"].to_numpy()
    followed = np.r_[place[1:] == place[:-1], False] if len(rows) else np.zeros(0, bool)
    out = np.flatnonzero(rows["used_up"].to_numpy(dtype=bool) & followed)
    out = out[np.argsort(rows["date_out"].to_numpy()[out], kind="stable")]
    found = []
    for name in sorted({str(one) for one in types[out]}):
        latest = out[types[out] == name][-_LATEST:]
        names, counts = np.unique(types[latest + 1].astype(str), return_counts=True)
        most = int(np.argmax(counts))
        if names[most] != name and counts[most] >= _FEWEST:
            found.append(GivesWay(name, str(names[most]), int(counts[most]), latest.size))
    return tuple(found)
