"""Which printers stood still for much of the time while a head was in them?

From the print hours a week of installations, each beside the others of its printer and beside what
the other printers did meanwhile. A record shows how much a head ran, not when: a printer that
stopped weeks ago shows as a head that ran little. Such a stop is no swing of print hours; taken for
one, it would be a swing that every printer may have. Learns nothing of those that print.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from headlife.numbers import Floats
from headlife.units import DAYS_PER_WEEK

Index = npt.NDArray[np.intp]

# An installation so long [weeks], of a printer with so many of them, tells that the printer stood
# still for part of it where its log hours a week lie so far under what the printer does when it
# prints (a quartile: half of a few may be of the stop), and so many usual deviations under what the
# others did meanwhile. Own choices; of 495 shops without a stop eight were taken to have one
# (`studies.changing_shops`, rows counters and workload, seed 101).
_LONG_WEEKS: Final = 8.0
_FEWEST: Final = 4
_LEAST_DROP: Final = 0.6  # nearly half less
_FAR: Final = 5.0
_PRINTING: Final = 0.75
_OTHERS: Final = 1_000  # installations of others looked at, about
_MEDIAN_OF_NORMAL: Final = 0.6745  # median of the absolute value of a standard normal number


def stood_still(who: Index, start: Floats, end: Floats, rate: Floats) -> npt.NDArray[np.bool_]:
    """Find the installations during which a printer stood still for a good part of the time.

    Parameters
    ----------
    who : array of int
        Printer of each installation, (n,).
    start, end : array of float
        Its first and last day [days], (n,).
    rate : array of float
        Log of its print hours a week, (n,).

    Returns
    -------
    array of bool
        Whether the printer stood, (n,); none where most printers did: the shop was quiet then.
    """
    length = end - start
    long = length >= _LONG_WEEKS * DAYS_PER_WEEK
    away = np.zeros(rate.size)
    order = np.flatnonzero(long)[np.argsort(who[long], kind="stable")]
    for own in np.split(order, np.flatnonzero(np.diff(who[order])) + 1):
        if own.size >= _FEWEST:
            away[own] = rate[own] - np.quantile(rate[own], _PRINTING)
    if not long.any():
        return long
    beside = away - _of_others(who, start, end, away, long)
    centre = float(np.median(beside[long]))
    usual = float(np.median(np.abs(beside[long] - centre))) / _MEDIAN_OF_NORMAL
    # Short ones differ more.
    usually = usual * np.sqrt(np.maximum(float(np.median(length[long])) / length, 1.0))
    low = long & (away < -_LEAST_DROP)
    # Where most printers stand the shop is quiet, which is what the model is for.
    if np.unique(who[low]).size > 0.5 * np.unique(who).size:
        return np.zeros_like(low)
    return low & (beside < centre - np.maximum(_FAR * usually, _LEAST_DROP))


def _of_others(
    who: Index, start: Floats, end: Floats, away: Floats, long: npt.NDArray[np.bool_]
) -> Floats:
    """Median of what other printers' installations did meanwhile, for every installation.

    Of so many that they would take minutes a part is enough.
    """
    others = np.flatnonzero(long)
    others = others[:: -(-others.size // _OTHERS) or 1]
    begun, ended, did = start[others], end[others], away[others]
    found = np.zeros(who.size)
    for i in range(who.size):
        both = np.minimum(end[i], ended) - np.maximum(start[i], begun)
        meanwhile = both >= 0.5 * np.minimum(end[i] - start[i], ended - begun)
        meanwhile &= who[others] != who[i]
        if meanwhile.any():
            found[i] = np.median(did[meanwhile])
    return found
