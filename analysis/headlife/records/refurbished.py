"""When does a head that was refurbished begin a new life?

Answers by naming the later life of a serial apart and counting its hours from 0. A head whose
first row on record is already refurbished is in its first life on record.
"""

from __future__ import annotations

import numpy as np
import pandas as pd

_HOURS = ("hours_in", "hours_out", "last_good_hours")
_RANGES = ("hours_in_low", "hours_in_high", "hours_out_low", "hours_out_high")


def lives_of_their_own(rows: pd.DataFrame) -> tuple[pd.DataFrame, list[int]]:
    """Begin a new life at every installation of a refurbished head.

    Parameters
    ----------
    rows : DataFrame
        Stretches with `refurbished` where the log says so; a new life begins also at one that is
        set aside.

    Returns
    -------
    rows : DataFrame
        With `head` of later lives named apart, and hours counted from where that life began.
    places : list of int
        Stretches whose hours lie below those at which their life began.
    """
    if "refurbished" not in rows or not rows["refurbished"].any():
        return rows, []
    heads = rows["head"].to_numpy(dtype=object).copy()
    codes, _ = pd.factorize(rows["head"])
    start = rows["date_in"].to_numpy().astype("datetime64[D]").astype(np.int64)
    order = np.lexsort((np.arange(len(rows)), start, codes))
    anew = rows["refurbished"].to_numpy()
    first = np.r_[True, codes[order][1:] != codes[order][:-1]]
    life = np.ones(len(rows), dtype=np.int64)
    zero = np.zeros(len(rows))
    hours_in = rows["hours_in"].to_numpy(dtype=float)
    now, offset = 1, 0.0
    for n, i in enumerate(order.tolist()):
        if first[n]:
            now, offset = 1, 0.0
        if anew[i]:
            now += 0 if first[n] else 1
            offset = float(np.nan_to_num(hours_in[i]))
        life[i], zero[i] = now, offset
    for i in np.flatnonzero((life > 1) & (codes >= 0)).tolist():
        heads[i] = f"{heads[i]} (life {life[i]})"
    shifted = {name: rows[name] - zero for name in (*_HOURS, *_RANGES) if name in rows}
    below = (rows["hours_in"] < zero).to_numpy()
    return rows.assign(head=heads, **shifted), [int(place) for place in rows.index[below]]
