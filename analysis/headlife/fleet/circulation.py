"""Where part-used heads wait on the shelf, how often is a new one taken all the same?

From which head followed which in a position. A shop that changes material builds up its shelf: in
its first months nearly every change takes a new head, later most find one that waits. So what is
learned is not how often, but how the chance falls with the number of heads that wait: each of
them serves by itself with the same chance, and where none waits a new head is taken. Never
forecasts.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, cached_property
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from headlife.life.nonparametric import product_limit
from headlife.units import DAYS_PER_WEEK, WEEKS_PER_YEAR

if TYPE_CHECKING:
    import pandas as pd

    from headlife.numbers import Floats

Flags = NDArray[np.bool_]
Counts = NDArray[np.int64]
Indices = NDArray[np.intp]
Days = NDArray[np.datetime64]
# Head type, role and site.
Shelf = tuple[str, str, str]

# Replacements on record below which a longer stretch of records is looked at.
FEWEST_REPLACEMENTS: Final = 8
# What is believed before a record speaks, a Gamma with this count and rate: one head that waits
# serves with a chance of 18 %, ten with 59 % (own choice, no source).
_COUNT: Final = 0.5
_RATE: Final = 2.0
_LEAST: Final = 1e-7
_MOST: Final = 20.0
_STEPS: Final = 380
# Share of the heads that come back at all, by whose wait the others are gone (own choice, no
# source).
_MOST_BACK: Final = 0.95
_MINUTE: Final = np.timedelta64(1, "m")
_WEEK: Final = np.timedelta64(7, "D")
_YEAR: Final = np.timedelta64(int(WEEKS_PER_YEAR * DAYS_PER_WEEK), "D")


@dataclass(frozen=True)
class ShelfHabit:
    """How the chance of a new head falls with the part-used ones that wait.

    With n heads waiting a new one is taken with chance ``exp(-rate * n)``.
    """

    passed_over: int
    """Heads that waited, over all times that a new one was taken all the same [heads]."""
    served: tuple[tuple[int, int], ...]
    """How many waited where one of them was taken [heads], and how often, ascending."""

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
            Where none waited on record and a part-used head came, it came from elsewhere.
        """
        heads, times = np.unique(waiting[~new & (waiting > 0)], return_counts=True)
        served = zip(heads.tolist(), times.tolist(), strict=True)
        return cls(int(waiting[new].sum()), tuple(served))

    @cached_property
    def below(self) -> Floats:
        """Posterior probability of each rate or a lower one [-], as `possible_rates`."""
        rates = possible_rates()
        log = _COUNT * np.log(rates) - (_RATE + self.passed_over) * rates
        for heads, times in self.served:
            log += times * np.log(-np.expm1(-rates * heads))
        weights = np.exp(log - log.max())
        return np.asarray(np.cumsum(weights) / weights.sum(), float)

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
        return np.asarray(possible_rates()[np.minimum(place, _STEPS)], float)


@cache
def possible_rates() -> Floats:
    """Rates at which a head that waits may save a new one [-], ascending, (k,)."""
    rates = np.geomspace(_LEAST, _MOST, _STEPS + 1)
    rates.flags.writeable = False
    return rates


class Waiting(NamedTuple):
    """Part-used heads on the shelf where they came out."""

    before_each: Counts
    """Heads of its type and role that waited when each head went in, without the one that came out
    to make room, (n,)."""
    now: dict[Shelf, int]
    """Those on every shelf on the last day on record [heads]."""
    lost_per_week: float
    """Chance that a head that waits is gone a week later, other than into a printer [-]."""


def heads_waiting(rows: pd.DataFrame) -> Waiting:
    """Count the part-used heads that wait.

    Parameters
    ----------
    rows : pandas.DataFrame
        From `habits.handovers`, those of each place in turn.

    Returns
    -------
    Waiting
        A head waits from the day it comes out for a change until it goes in again. One that has
        waited longer than heads do that come back is taken to be gone: nobody writes down that a
        head on the shelf is thrown away.
    """
    shelves = rows.groupby(["head_type", "role", "site"], sort=False, observed=True)
    shelf = shelves.ngroup().to_numpy()
    place, head, new, first = (rows[name].to_numpy() for name in ("place", "head", "new", "first"))
    day_in, day_out = (rows[name].to_numpy() for name in ("date_in", "date_out"))
    changed = rows["changed"].to_numpy()
    begins = np.r_[True, place[1:] != place[:-1]]
    last = day_out.max()
    # Rows of a head may overlap a little; it goes in after it came out.
    again = np.maximum(_goes_in_again(head, day_in, last), day_out)
    waits = np.flatnonzero(changed)
    longest = day_out[waits] + _longest_wait(day_out, again, waits, last)
    until = np.minimum(again[waits], longest)
    waited = float((np.minimum(until, last) - day_out[waits]).sum() / _WEEK)
    lost = int(((longest < again[waits]) & (longest <= last)).sum())
    # What stood in a place when its record begins never waited; a part-used head that is first
    # seen later waited from the beginning.
    came = np.flatnonzero(first & ~new & ~begins)
    of = np.concatenate([shelf[waits], shelf[came]])
    begun = np.concatenate([day_out[waits], np.full(came.size, day_in.min())])
    ended = np.concatenate([until, day_in[came]])
    at, now = np.zeros(len(rows), dtype=np.int64), {}
    for number, row in zip(*np.unique(shelf, return_index=True), strict=True):
        mine, here = of == number, shelf == number
        starts, ends = np.sort(begun[mine]), np.sort(ended[mine])
        at[here] = np.searchsorted(starts, day_in[here], "right")
        at[here] -= np.searchsorted(ends, day_in[here], "left")
        head_type, role, site = rows[["head_type", "role", "site"]].iloc[row]
        now[str(head_type), str(role), str(site)] = int((ends > last).sum())
    made_room = np.r_[False, changed[:-1] & (shelf[1:] == shelf[:-1])] & ~begins
    lost_per_week = min(lost / waited, 1.0) if waited else 0.0
    return Waiting(np.maximum(at - made_room, 0), now, lost_per_week)


def _goes_in_again(head: NDArray[np.uint64], day_in: Days, last: Any) -> Days:
    """When each head goes in for the next time; after the last day where it has not."""
    order = np.lexsort((day_in, head))
    same = head[order][1:] == head[order][:-1]
    again = np.full(head.size, last + np.timedelta64(1, "D"))
    again[order[:-1][same]] = day_in[order[1:][same]]
    return again


def _longest_wait(day_out: Days, again: Days, waits: Indices, last: Any) -> Any:
    """Find the wait by which most heads have come back, of those that do.

    By the product-limit estimate, since some of those that still wait may come back.
    """
    known = again[waits] <= last
    until = np.minimum(again[waits], last)
    # Half a minute more than none: a head may go in again on the day it comes out.
    spans = (until - day_out[waits]) / _MINUTE + 0.5
    steps, back = product_limit(np.zeros(waits.size), spans, known)
    if not steps.size:
        return last - day_out.min()
    most = int((back >= _MOST_BACK * back[-1]).argmax())
    return np.timedelta64(int(np.ceil(steps[most])), "m")


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
