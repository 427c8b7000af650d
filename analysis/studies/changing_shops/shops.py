"""A simulated shop over the calendar: printers with two heads, their hours, and how heads come out.

The truth behind the studies of practice and of workload: hours that vary from quarter to quarter
and grow, lives that are known, swaps by a policy that may change on a day, late by a while, and
both heads in one visit. It writes down installations as a shop would, and goes on from any state.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Final

import numpy as np

from headlife.numbers import Floats
from headlife.units import DAYS_PER_WEEK, WEEKS_PER_QUARTER, WEEKS_PER_YEAR

RATED_HOURS: Final = 1500.0
_BUSIEST: Final = 2.5  # times its usual hours that a printer prints in a week, at most


@dataclass(frozen=True)
class Truth:
    """How a shop really is."""

    printers: int = 14
    """Printers, two positions each [-]."""
    weekly_hours: float = 45.0
    """Print hours of every printer a week, on the day of the forecast [h]."""
    shape: float = 2.2
    """Weibull shape of the lives [-]."""
    scale: float = 1800.0
    """Their scale [h]."""
    common: float = 0.0
    """Coefficient of variation of a quarter's hours that all printers share [-]."""
    single: float = 0.0
    """The same of each printer beside it [-]."""
    weekly: float = 0.0
    """The same of each week of a printer, beside both [-]."""
    growth: float = 0.0
    """Growth of print hours in a year [-]."""
    standing: int = 0
    """Printers that stand still, the first ones [-]."""
    stands_for: int = 26
    """For how long they have, and go on to [weeks]."""
    share: float = 1.0
    """Share of its printer's hours that the counter of the second head runs [-]."""
    swap_at: float = np.inf
    """Age at which heads are swapped from the day of the change on [h]."""
    swap_before: float = np.inf
    """Age at which they were swapped before [h]."""
    lag: float = 0.0
    """Mean print hours from when a head is due until it is swapped [h]."""
    join_from: float = np.inf
    """Age from which the other head of the printer is swapped along [h]."""
    staggered: bool = False
    """Whether printers started at any time within the record, or all at its beginning."""
    lot_from: float = np.inf
    """Week from which heads of another lot are put in [weeks]."""
    lot_lives: float = 1.0
    """Lives of that lot, by those of the one before [-]."""


@dataclass(frozen=True)
class Installations:
    """What a shop wrote down, one value per installation; days from the beginning of the record."""

    printer: np.ndarray
    """Printer number."""
    position: np.ndarray
    """0 or 1."""
    day_in: Floats
    """Day it went in [days]."""
    day_out: Floats
    """Day it came out or was last read [days]."""
    hours_in: Floats
    """Age when it went in [h]."""
    hours_out: Floats
    """Age when it came out or was last read [h]."""
    failed: np.ndarray
    """Whether it failed."""
    planned: np.ndarray
    """Whether it was swapped because it was due."""
    joined: np.ndarray
    """Whether it was swapped along."""

    @property
    def used_up(self) -> np.ndarray:
        """Whether the head came out, for whatever reason."""
        return np.asarray(self.failed | self.planned | self.joined)

    @property
    def in_service(self) -> np.ndarray:
        """Whether the head is in still."""
        return ~self.used_up


def quarterly_factors(truth: Truth, quarters: int, rng: np.random.Generator) -> Floats:
    """Draw factors on print hours with mean 1, common times single, (printers, quarters) [-]."""
    common, single = (np.sqrt(np.log1p(cv**2)) for cv in (truth.common, truth.single))
    shared = np.exp(common * rng.normal(size=quarters) - 0.5 * common**2)
    own = np.exp(single * rng.normal(size=(truth.printers, quarters)) - 0.5 * single**2)
    return np.asarray(shared * own, float)


def weekly_factors(truth: Truth, weeks: int, rng: np.random.Generator, size: int = 1) -> Floats:
    """Draw factors on the print hours of weeks with mean 1, (size, printers, weeks) [-]."""
    factors = np.ones((size, truth.printers, weeks))
    if truth.weekly:
        spread = np.sqrt(np.log1p(truth.weekly**2))
        factors = np.exp(spread * rng.normal(size=factors.shape) - 0.5 * spread**2)
    factors[:, : truth.standing, -truth.stands_for :] = 0.0
    return np.minimum(factors, _BUSIEST)  # a week has 168 hours


def record(truth: Truth, weeks: float, change: float, rng: np.random.Generator) -> Installations:
    """Let a shop work for some weeks and write down its installations.

    Parameters
    ----------
    truth : Truth
        How it is.
    weeks : float
        Length of the record [weeks].
    change : float
        Week in which its policy changed [weeks].
    rng : numpy.random.Generator
        Source of random numbers.

    Returns
    -------
    Installations
    """
    quarters = int(np.ceil(weeks / WEEKS_PER_QUARTER))
    factors = quarterly_factors(truth, quarters, rng)
    of_weeks = weekly_factors(truth, int(np.ceil(weeks)), rng)[0]
    # Quarters end with the record, so that the next one is a new one.
    edges = weeks - WEEKS_PER_QUARTER * np.arange(quarters, -1.0, -1.0)
    begins = weeks * rng.random(truth.printers) * truth.staggered
    ages = np.zeros((truth.printers, 2))
    rows = []
    for printer in range(truth.printers):
        clock = _Clock(truth, edges, factors[printer], weeks, begins[printer], of_weeks[printer])
        days = clock.hours_at(change), clock.hours_at(truth.lot_from)
        rows += _run(truth, printer, ages[printer], clock, days, rng)
    return _installations(rows)


def next_quarter(truth: Truth, ages: Floats, futures: int, rng: np.random.Generator) -> np.ndarray:
    """Heads used up in the quarter that follows, in several futures, (futures,) [heads]."""
    used = np.zeros(futures, int)
    for future in range(futures):
        factors = quarterly_factors(truth, 1, rng)
        grown = (1.0 + truth.growth) ** (0.5 * WEEKS_PER_QUARTER / WEEKS_PER_YEAR)
        for printer in range(truth.printers):
            steady = replace(truth, growth=0.0, weekly_hours=truth.weekly_hours * grown)
            clock = _Clock(
                steady,
                np.array([0.0, WEEKS_PER_QUARTER]),
                factors[printer],
                WEEKS_PER_QUARTER,
                0.0,
                weekly_factors(steady, round(WEEKS_PER_QUARTER), rng)[0, printer],
            )
            rows = _run(truth, printer, ages[printer], clock, (-np.inf, np.inf), rng)
            used[future] += sum(bool(row[-3] or row[-2] or row[-1]) for row in rows)
    return used


def next_quarter_at_once(
    truth: Truth,
    ages: Floats,
    futures: int,
    rng: np.random.Generator,
    scales: Floats | None = None,
) -> np.ndarray:
    """Count what `next_quarter` does where no head is swapped late or along, all futures at once.

    Parameters
    ----------
    truth : Truth
        How the shop really is; its joint visits and how late heads are swapped are not looked at.
    ages : array of float
        Present age of the head in every position, (printers, positions) [h].
    futures : int
        Futures [-].
    rng : numpy.random.Generator
        Source of random numbers.
    scales : array of float, optional
        Scale of the life of the head in every position, (printers, positions) [h]; default that
        of new heads.

    Returns
    -------
    array of int
        Heads used up in the quarter that follows, (futures,) [heads].
    """
    grown = (1.0 + truth.growth) ** (0.5 * WEEKS_PER_QUARTER / WEEKS_PER_YEAR)
    factors = quarterly_factors(truth, futures, rng)
    of_weeks = weekly_factors(truth, round(WEEKS_PER_QUARTER), rng, futures).mean(axis=2).T
    hours = truth.weekly_hours * WEEKS_PER_QUARTER * grown * factors * of_weeks
    left = hours[:, None, :] * _shares(truth, ages.shape[1])[:, None]
    lives = truth.shape, truth.scale
    first = None if scales is None else scales[:, :, None]
    used = used_within(left, ages[:, :, None], *lives, rng, truth.swap_at, first)
    return np.asarray(used.sum(axis=(0, 1)))


def used_within(
    hours: Floats,
    ages: Floats,
    shape: float,
    scale: float,
    rng: np.random.Generator,
    swap_at: float = np.inf,
    first_scale: Floats | None = None,
) -> np.ndarray:
    """Count the heads used up in each position within its hours, a new one put in each time.

    Parameters
    ----------
    hours : array of float
        Hours that each position runs [h].
    ages : array of float
        Present age of its head [h]; broadcasts to ``hours``.
    shape, scale : float
        Of the Weibull lives [-], [h].
    rng : numpy.random.Generator
        Source of random numbers.
    swap_at : float
        Age at which heads that work are swapped [h].
    first_scale : array of float, optional
        Scale of the life of the heads in place [h]; broadcasts to ``hours``. Default as of others.

    Returns
    -------
    array of int
        As ``hours`` [heads].
    """
    left, lived = hours, np.broadcast_to(ages, hours.shape)
    used = np.zeros(hours.shape, int)
    own: Any = scale if first_scale is None else first_scale
    while True:
        hazard = (lived / own) ** shape + rng.exponential(size=hours.shape)
        left = left - (
            np.minimum(own * hazard ** (1.0 / shape), np.maximum(swap_at, lived)) - lived
        )
        if not (left > 0.0).any():
            return used
        used += left > 0.0
        lived, own = np.zeros(hours.shape), scale


class _Clock:
    """Print hours of one printer over the calendar, and back."""

    def __init__(
        self,
        truth: Truth,
        edges: Floats,
        factors: Floats,
        weeks: float,
        begin: float,
        of_weeks: Floats,
    ) -> None:
        self.weeks = np.linspace(begin, weeks, 1 + max(int(np.ceil((weeks - begin) * 2)), 1))
        middle = 0.5 * (self.weeks[1:] + self.weeks[:-1])
        quarter = np.clip(np.searchsorted(edges, middle) - 1, 0, factors.size - 1)
        rate = truth.weekly_hours * factors[quarter] * of_weeks[middle.astype(int)]
        rate = rate * (1.0 + truth.growth) ** ((middle - weeks) / WEEKS_PER_YEAR)
        self.hours = np.concatenate([[0.0], np.cumsum(rate * np.diff(self.weeks))])

    @property
    def end(self) -> float:
        return float(self.hours[-1])

    def hours_at(self, week: float) -> float:
        """Print hours since its begin at a week [h]; infinite after the end."""
        if week > self.weeks[-1]:
            return np.inf
        return float(np.interp(week, self.weeks, self.hours))

    def day_at(self, hours: float) -> float:
        """Whole day on which print hours are reached [days]."""
        return float(np.round(DAYS_PER_WEEK * np.interp(hours, self.hours, self.weeks)))


def _run(
    truth: Truth,
    printer: int,
    ages: Floats,
    clock: _Clock,
    days: tuple[float, float],
    rng: np.random.Generator,
) -> list[tuple[float, ...]]:
    """Go from visit to visit of one printer; rows as `Installations` has them.

    Policy and lot change at the print hours of ``days`` [h].
    """
    change, lot_from = days
    later = replace(truth, scale=truth.lot_lives * truth.scale)
    begins = truth if lot_from > 0.0 else later
    shares = _shares(truth, ages.size)
    # All on the printer's hours, of which each head runs its share.
    heads = [
        _Head(begins, -float(age) / share, 0.0, change, rng, share)
        for age, share in zip(ages, shares, strict=True)
    ]
    rows = []
    while True:
        first = min(heads, key=lambda head: head.out)
        if first.out >= clock.end:
            break
        now = first.out
        visited = [
            head
            for head in heads
            if head is first or (now - head.born) * head.share >= truth.join_from
        ]
        for head in visited:
            failed = head is first and head.fails <= head.swap
            planned = head is first and not failed
            rows.append(
                _row(
                    printer, heads.index(head), head, now, clock, failed, planned, head is not first
                )
            )
            lot = truth if now < lot_from else later
            heads[heads.index(head)] = _Head(lot, now, now, change, rng, head.share)
    rows += [
        _row(printer, place, head, clock.end, clock, False, False, False)
        for place, head in enumerate(heads)
    ]
    return rows


class _Head:
    """A head in a position: when it was born, put in, will fail and will be swapped [h]."""

    def __init__(
        self,
        truth: Truth,
        born: float,
        put_in: float,
        change: float,
        rng: np.random.Generator,
        share: float,
    ) -> None:
        self.born, self.put_in, self.share = born, put_in, share
        scale, lag = truth.scale / share, truth.lag / share
        lived = ((put_in - born) / scale) ** truth.shape
        self.fails = born + scale * (lived + rng.exponential()) ** (1.0 / truth.shape)
        due = born + truth.swap_before / share + lag * rng.exponential()
        if due >= change:
            due = max(born + truth.swap_at / share, change, put_in) + lag * rng.exponential()
        self.swap = due
        self.out = min(self.fails, self.swap)


def _row(
    printer: int, place: int, head: _Head, now: float, clock: _Clock, *how: bool
) -> tuple[float, ...]:
    days = clock.day_at(head.put_in), clock.day_at(now)
    hours = (head.share * (at - head.born) for at in (head.put_in, now))
    return (printer, place, *days, *hours, *how)


def _shares(truth: Truth, positions: int) -> Floats:
    """Share of the printer's hours that each of its heads runs [-]."""
    return np.array([1.0, *[truth.share] * (positions - 1)])


def _installations(rows: list[tuple[float, ...]]) -> Installations:
    columns = [np.array(column) for column in zip(*rows, strict=True)]
    kinds: list[Callable[[np.ndarray], np.ndarray]] = [
        *([lambda c: c.astype(int)] * 2),
        *([lambda c: c.astype(float)] * 4),
        *([lambda c: c.astype(bool)] * 3),
    ]
    return Installations(*(kind(column) for kind, column in zip(kinds, columns, strict=True)))
