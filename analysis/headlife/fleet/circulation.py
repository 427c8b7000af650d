"""Where part-used heads wait on the shelf, how often is a new one taken all the same?

From which head followed which in a position. A shop that changes material builds up its shelf: in
its first months nearly every change takes a new head, later most find one that waits. So what is
learned is not how often, but how the chance falls with the number of heads that wait: each of
them serves by itself with the same chance, and where none waits a new head is taken. Never
forecasts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from headlife.units import DAYS_PER_WEEK, WEEKS_PER_YEAR

if TYPE_CHECKING:
    import pandas as pd

    from headlife.numbers import Floats

Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]

# Replacements on record below which a longer stretch of records is looked at.
FEWEST_REPLACEMENTS: Final = 8
# What is believed before a record speaks, a Gamma with this count and rate: one head that waits
# serves with a chance of 18 %, ten with 59 % (own choice, no source).
_COUNT: Final = 0.5
_RATE: Final = 2.0
_LEAST: Final = 1e-7
_MOST: Final = 20.0
_STEPS: Final = 380
_YEAR: Final = np.timedelta64(int(WEEKS_PER_YEAR * DAYS_PER_WEEK), "D")


@dataclass(frozen=True)
class ShelfHabit:
    """How the chance of a new head falls with the part-used ones that wait.

    With n heads waiting a new one is taken with chance ``exp(-rate * n)``.
    """

    rates: Floats
    """Rates that may be [-], ascending, (k,)."""
    below: Floats
    """Posterior probability of each or a lower one [-], (k,)."""

    @classmethod
    def learned(cls, waiting: Counts, new: Flags) -> ShelfHabit:
        """Learn it from replacements on record.

        Parameters
        ----------
        waiting : array of int
            Part-used heads that waited at each [heads], (n,).
        new : array of bool
            Whether a new head was taken all the same, (n,).

        Returns
        -------
        ShelfHabit
            The prior where nothing is on record.
        """
        rates = _rates()
        log = _COUNT * np.log(rates) - _RATE * rates
        log -= rates * waiting[new].sum()
        # Where none waited on record and a part-used head came, it came from elsewhere.
        heads, times = np.unique(waiting[~new & (waiting > 0)], return_counts=True)
        log += np.log(-np.expm1(-rates[:, None] * heads)) @ times
        weights = np.exp(log - log.max())
        return cls(rates, np.cumsum(weights) / weights.sum())

    def draw(self, futures: int, rng: np.random.Generator) -> Floats:
        """Draw the rate, one for each future.

        Parameters
        ----------
        futures : int
            How many [-].
        rng : numpy.random.Generator
            Random numbers.

        Returns
        -------
        array of float
            Rates [-], (futures,).
        """
        place = np.searchsorted(self.below, rng.random(futures))
        return np.asarray(self.rates[np.minimum(place, _STEPS)], float)


@cache
def _rates() -> Floats:
    rates = np.geomspace(_LEAST, _MOST, _STEPS + 1)
    rates.flags.writeable = False
    return rates


def heads_waiting(rows: pd.DataFrame, apart: bool) -> Counts:
    """Count the part-used heads of its type and role that waited when each head went in.

    Parameters
    ----------
    rows : pandas.DataFrame
        From `habits.handovers`, those of each place in turn.
    apart : bool
        Whether sites keep shelves of their own.

    Returns
    -------
    array of int
        Heads, without the one that came out to make room, (n,).
    """
    shelves = rows.groupby(
        ["role", "head_type", *(["site"] if apart else [])], sort=False, observed=True
    )
    shelf = shelves.ngroup().to_numpy()
    place, changed, new, first = (
        rows[name].to_numpy() for name in ("place", "changed", "new", "first")
    )
    begins = np.r_[True, place[1:] != place[:-1]]
    # What stood in a place when its record begins never waited; a part-used head that is first
    # seen later waited from the beginning.
    fetched = ~new & ~(first & begins)
    from_elsewhere = np.bincount(shelf, first & fetched).astype(np.int64)
    # Heads that come out are there for those that go in on the same day.
    day = np.concatenate([rows["date_out"].to_numpy(), rows["date_in"].to_numpy()])
    goes_in = np.repeat([False, True], len(rows))
    both = np.concatenate([shelf, shelf])
    order = np.lexsort((goes_in, day, both))
    change = np.concatenate([changed.astype(np.int64), -fetched.astype(np.int64)])[order]
    before = np.cumsum(change) - change
    starts = np.searchsorted(both[order], np.arange(from_elsewhere.size))
    before += (from_elsewhere - before[starts])[both[order]]
    waiting = np.empty(both.size, dtype=np.int64)
    waiting[order] = before
    made_room = np.r_[False, changed[:-1] & (shelf[1:] == shelf[:-1])] & ~begins
    return np.asarray(np.maximum(waiting[len(rows) :] - made_room, 0))


def habit_after(rows: pd.DataFrame, waiting: Counts, out: Flags) -> ShelfHabit:
    """Learn how often a new head follows removals.

    Those of the last year count, or all where these are few.

    Parameters
    ----------
    rows : pandas.DataFrame
        From `habits.handovers`, those of each place in turn.
    waiting : array of int
        From `heads_waiting`, (n,).
    out : array of bool
        Which removals; each is followed by the next row, (n,).

    Returns
    -------
    ShelfHabit
        The habit.
    """
    at = np.flatnonzero(out)
    recent = rows["date_out"].to_numpy()[at] > rows["date_out"].max() - _YEAR
    if recent.sum() >= FEWEST_REPLACEMENTS:
        at = at[recent]
    return ShelfHabit.learned(waiting[at + 1], rows["new"].to_numpy()[at + 1])
