"""How would records like these look if heads truly had one Weibull life?

From lives and a fitted Weibull life: simulated records of the same heads, with the same entries
and the same way of being taken out, and their fits, all at once. What a check finds in the real
record is then held against what it finds in these (parametric bootstrap: Efron and Tibshirani,
An Introduction to the Bootstrap, 1993, chapters 6 and 15), so that few failures raise no false
alarms. Judges nothing itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.errors import EvidenceError
from headlife.life.exposure_curve import chebyshev_basis, log_shape_nodes, shape_nodes
from headlife.life.nonparametric import product_limit

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]

RECORDS: Final = 400  # simulated records behind a band or a p-value
DOUBT: Final = 0.05  # p-value below which a technician is told to doubt
MOST_LIVES: Final = 5_000  # of more, a seeded sample is looked at: enough to see any flaw
_MOST_CELLS: Final = 4_000_000  # records times lives simulated at once, 32 MB an array
_FEWEST_RECORDS: Final = 100
_GRID: Final = np.linspace(log_shape_nodes()[0], log_shape_nodes()[-1], 257)
_GRID_BASIS: Final = chebyshev_basis(_GRID)


@dataclass(frozen=True, eq=False)
class Ages:
    """Lives of one stratum, one value per head, checked."""

    entry: FloatArray
    """Age [h] at which each came under watch, (n,)."""
    exit: FloatArray
    """Age [h] at which it failed or left, (n,)."""
    failed: BoolArray
    """True where it failed, (n,)."""

    def part(self, rows: NDArray[np.intp] | BoolArray) -> Ages:
        """Take some of the lives.

        Parameters
        ----------
        rows : array of int or bool
            Which lives.

        Returns
        -------
        Ages
            The lives taken, in that order.
        """
        return Ages(self.entry[rows], self.exit[rows], self.failed[rows])

    @property
    def failures(self) -> int:
        """Number of failures [heads]."""
        return int(self.failed.sum())


@dataclass(frozen=True, eq=False)
class Replicas:
    """Simulated records of the same heads."""

    entry: FloatArray
    """Age [h] at which each head came under watch, (n,)."""
    exit: FloatArray
    """Age [h] at which it failed or left, (records, n)."""
    failed: BoolArray
    """True where it failed, (records, n)."""


@dataclass(frozen=True, eq=False)
class Fits:
    """Best Weibull lives of many records, one shape each and one hazard per group."""

    log_shape: FloatArray
    """Log shape [-], (records,); NaN where the likelihood has no peak."""
    log_exposure: FloatArray
    """Log of the exposure S at that shape, ages relative to the reference, (records, groups)."""
    failures: FloatArray
    """Failures [heads], (records, groups)."""
    height: FloatArray
    """Largest log-likelihood, up to a constant that groups do not change, (records,)."""
    reference: float
    """Reference age [h]."""

    @property
    def log_scale(self) -> FloatArray:
        """Log scale [log h] of each group, (records, groups); infinite without a failure."""
        with np.errstate(divide="ignore"):
            log_hazard = np.log(self.failures) - self.log_exposure
        return np.asarray(
            np.log(self.reference) - log_hazard / np.exp(self.log_shape)[:, None], float
        )

    @property
    def weibull(self) -> tuple[float, float]:
        """Shape [-] and scale [h] of the first record."""
        return float(np.exp(self.log_shape[0])), float(np.exp(self.log_scale[0, 0]))


def ages_of(entry_hours: ArrayLike, exit_hours: ArrayLike, failed: ArrayLike) -> Ages:
    """Check lives given as arrays.

    Parameters
    ----------
    entry_hours, exit_hours : float or array of float
        Ages [h] at which each life came under watch and left it, (n,).
    failed : array of bool
        Whether it left because it failed, (n,).

    Returns
    -------
    Ages
        The lives as arrays of one length.

    Raises
    ------
    EvidenceError
        Entry at or past exit, an age that is negative or not a number, or lengths that differ.
    """
    exit_ = np.atleast_1d(np.asarray(exit_hours, float))
    entry = np.broadcast_to(np.asarray(entry_hours, float), exit_.shape)
    fails = np.broadcast_to(np.asarray(failed, bool), exit_.shape)
    wrong = ~(np.isfinite(exit_) & (entry >= 0) & (entry < exit_))
    if wrong.any():
        at = int(np.flatnonzero(wrong)[0])
        raise EvidenceError(
            f"Life {at + 1} runs from {entry[at]:g} h to {exit_[at]:g} h; its entry must be zero "
            "or more and lie below its exit."
        )
    return Ages(entry, exit_, fails)


def sampled(ages: Ages, seed: int) -> NDArray[np.intp]:
    """Rows to look at: all of them, or a seeded sample where there are very many.

    Parameters
    ----------
    ages : Ages
        Lives.
    seed : int
        Of the sample.

    Returns
    -------
    array of int
        Row numbers, ascending.
    """
    size = ages.exit.size
    if size <= MOST_LIVES:
        return np.arange(size)
    chosen = np.random.default_rng(seed).choice(size, MOST_LIVES, replace=False)
    return np.asarray(np.sort(chosen), np.intp)


def affordable(records: int, lives: int) -> int:
    """Give the records to simulate: as asked for, fewer where the lives are very many.

    Parameters
    ----------
    records : int
        As many as were asked for.
    lives : int
        Lives in each.

    Returns
    -------
    int
        Records to simulate.
    """
    return int(min(records, max(_FEWEST_RECORDS, _MOST_CELLS // max(lives, 1))))


def replicate(
    ages: Ages, shape: float, scale: float, records: int, rng: np.random.Generator
) -> Replicas:
    """Simulate ``records`` records of the same heads under a Weibull life.

    A head that was taken out would again have been taken out then; for one that failed, the age
    at which it would have been taken out is drawn from the others' (Kaplan-Meier of the removals
    past its failure), and where nothing is known past it, from the oldest age seen.

    Parameters
    ----------
    ages : Ages
        The heads as they were.
    shape : float
        Weibull shape [-] of the simulated lives.
    scale : float
        Weibull scale [h].
    records : int
        How many to simulate.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    Replicas
        The simulated records.
    """
    size = (records, ages.exit.size)
    start = (ages.entry / scale) ** shape
    life = scale * (start + rng.standard_exponential(size)) ** (1.0 / shape)
    taken_out = np.broadcast_to(ages.exit, size).copy()
    ways_out = product_limit(ages.entry, ages.exit, ~ages.failed)
    for column in np.flatnonzero(ages.failed):
        chance = rng.random(records)
        taken_out[:, column] = _removal_ages(ages, ways_out, float(ages.exit[column]), chance)
    # rounding must not put a failure at or before its entry
    life = np.maximum(life, np.nextafter(ages.entry, np.inf))
    return Replicas(ages.entry, np.minimum(life, taken_out), life <= taken_out)


def batch_fits(
    entry: FloatArray,
    exit_: FloatArray,
    failed: BoolArray,
    groups: FloatArray | None = None,
    fewest: int = 0,
) -> Fits:
    """Fit every record at once: one shape, and one hazard for each group of heads.

    Parameters
    ----------
    entry, exit_, failed : arrays of float, array of bool
        (n,), (records, n), (records, n).
    groups : array of float, optional
        Membership (n, groups) of zeros and ones; default one group of all.
    fewest : int, optional
        In each record, groups with fewer failures than this are put together to one more.

    Returns
    -------
    Fits
        Shape [-], log hazards and log-likelihood of every record.
    """
    members = np.ones((entry.size, 1)) if groups is None else groups
    reference = float(exit_.max()) if exit_.size else 1.0
    with np.errstate(divide="ignore"):
        log_exit, log_entry = np.log(exit_ / reference), np.log(entry / reference)
    failures = failed.astype(float) @ members
    few = failures < fewest
    log_curve = np.empty((*failures.shape[:1], members.shape[1] + bool(fewest), shape_nodes().size))
    for k, shape in enumerate(shape_nodes()):
        powers = np.exp(shape * log_exit) - np.exp(shape * log_entry)
        with np.errstate(divide="ignore"):
            log_curve[..., k] = np.log(_together(powers @ members, few, fewest))
    failures = _together(failures, few, fewest)
    total = failures.sum(axis=1)
    log_sum = np.where(failed, log_exit, 0.0).sum(axis=1)
    with np.errstate(divide="ignore", invalid="ignore"):
        # a group without a failure has hazard 0 and drops out of the profile
        gain = np.where(failures > 0, failures * np.log(failures), 0.0).sum(axis=1)
        loss = np.where(failures[..., None] > 0, failures[..., None] * log_curve, 0.0).sum(axis=1)
    profile = (
        total[:, None] * _GRID + np.exp(_GRID) * log_sum[:, None] - loss @ _GRID_BASIS.T
    ) + gain[:, None]
    log_shape, height = _peaks(profile)
    basis = chebyshev_basis(np.where(np.isfinite(log_shape), log_shape, 0.0))
    with np.errstate(invalid="ignore"):  # no exposure at all
        log_exposure = np.einsum("rgk,rk->rg", log_curve, basis)
    return Fits(log_shape, log_exposure, failures, height, reference)


def _together(values: FloatArray, few: BoolArray, fewest: int) -> FloatArray:
    """Put groups with few failures together, (records, groups) to (records, groups + 1)."""
    if not fewest:
        return values
    rest = np.where(few, values, 0.0).sum(axis=1, keepdims=True)
    return np.concatenate([np.where(few, 0.0, values), rest], axis=1)


def bootstrap_p_value(own: float, others: FloatArray) -> float:
    """Share [-] of simulated statistics at least as large as the record's own, itself counted.

    Parameters
    ----------
    own : float
        The record's statistic.
    others : array of float
        Statistics of simulated records.

    Returns
    -------
    float
        The p-value [-], never 0.
    """
    usable = others[np.isfinite(others)]
    return float((1.0 + (usable >= own - 1e-9).sum()) / (1.0 + usable.size))


def holm(p_values: FloatArray) -> FloatArray:
    """Correct p-values for the number of questions asked; NaN stays NaN.

    Holm's step-down, Scandinavian J. Statistics 6 (1979).

    Parameters
    ----------
    p_values : array of float
        One p-value [-] per question, (n,).

    Returns
    -------
    array of float
        Corrected p-values [-], (n,).
    """
    corrected = np.full(p_values.shape, np.nan)
    order = np.argsort(p_values, kind="stable")
    order = order[np.isfinite(p_values[order])]
    stepped = (order.size - np.arange(order.size)) * p_values[order]
    corrected[order] = np.minimum(np.maximum.accumulate(stepped), 1.0)
    return corrected


def _removal_ages(
    ages: Ages, ways_out: tuple[FloatArray, FloatArray], failed_at: float, chance: FloatArray
) -> FloatArray:
    """Draw when a head that failed would have been taken out, had it not."""
    hours, gone = ways_out
    first = int(np.searchsorted(hours, failed_at, side="right"))
    before = float(gone[first - 1]) if first else 0.0
    # past the last removal, and where none is known, the oldest age seen
    possible = np.append(hours, ages.exit.max())
    place = np.searchsorted(gone, before + chance * (1.0 - before), side="left")
    return np.asarray(possible[np.clip(place, first, hours.size)], float)


def _peaks(profile: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Place and height of each row's peak: a parabola through the three highest points."""
    best = np.argmax(profile, axis=1)
    rows = np.arange(profile.shape[0])
    inside = (best > 0) & (best < _GRID.size - 1)
    middle = np.clip(best, 1, _GRID.size - 2)
    left, top, right = (profile[rows, middle + shift] for shift in (-1, 0, 1))
    with np.errstate(divide="ignore", invalid="ignore"):
        shift = 0.5 * (left - right) / (left - 2.0 * top + right)
    step = _GRID[1] - _GRID[0]
    place = np.where(inside, _GRID[middle] + shift * step, np.nan)
    height = np.where(inside, top - 0.25 * (left - right) * shift, profile[rows, best])
    return np.asarray(place, float), np.asarray(height, float)
