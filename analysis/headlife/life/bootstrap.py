"""A thousand maximum-likelihood refits of one record, for whoever wants a bootstrap.

Every refit is the same lives with other weights, so one table of powers serves all: the exposure
curves of all refits are one matrix product, and Newton's method then climbs all profile
likelihoods at once on their 32 numbers. The posterior needs no bootstrap; this is for checking
it and for statistics that have no posterior.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.errors import EvidenceError
from headlife.life.evidence import SHAPE_NODES, SHAPE_RANGE, chebyshev_basis, curve_functions

FloatArray = NDArray[np.float64]

_LOW, _HIGH = (float(v) for v in np.log(SHAPE_RANGE))
_GRID: Final = np.linspace(_LOW, _HIGH, 65)
_GRID_SHAPES: Final = np.exp(_GRID)
_GRID_BASIS: Final = chebyshev_basis(_GRID)
_STEP: Final = float(_GRID[1] - _GRID[0])
_STEPS: Final = 30
_TOLERANCE: Final = 1e-10


def resample(lives: int, refits: int, rng: np.random.Generator) -> FloatArray:
    """Draw how often each life appears in each bootstrap sample, (refits, lives).

    Parameters
    ----------
    lives : int
        Lives in the record [heads].
    refits : int
        Samples to draw.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    array of float
        Whole numbers, (refits, lives); each row sums to the lives.
    """
    counts = rng.multinomial(lives, np.full(lives, 1.0 / lives), size=refits)
    return np.asarray(counts, float)


def refit(
    entry_hours: ArrayLike, exit_hours: ArrayLike, failed: ArrayLike, weights: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Maximum-likelihood shape [-] and scale [h] of many weightings of the same lives.

    Parameters
    ----------
    entry_hours, exit_hours, failed : float or array of float
        As in `Evidence.from_lives`, shape (n,) or a scalar entry; failure ages exact.
    weights : float or array of float
        Weight of each life in each refit [heads], shape (refits, n), zero or more.

    Returns
    -------
    tuple of arrays of float
        Shapes [-] and scales [h], (refits,) each; NaN where a refit has no peak, for example
        because it drew fewer than two failure ages.

    Raises
    ------
    EvidenceError
        The weights do not fit the lives, or no life has exposure.
    """
    exit_ = np.asarray(exit_hours, float)
    entry = np.broadcast_to(np.asarray(entry_hours, float), exit_.shape)
    fails = np.asarray(failed, bool)
    weight = np.asarray(weights, float)
    if weight.ndim != 2 or weight.shape[1:] != exit_.shape or not (exit_ > entry).all():
        raise EvidenceError(
            f"The refits need one weight per life and refit: {exit_.size} lives with exits above "
            f"their entries; got weights of shape {weight.shape}."
        )
    top = float(exit_.max())
    log_age = np.log(exit_ / top)
    powers = np.exp(log_age[:, None] * SHAPE_NODES)
    late = entry > 0
    powers[late] -= np.exp(np.log(entry[late] / top)[:, None] * SHAPE_NODES)
    failures = weight @ fails
    log_sum = weight @ np.where(fails, log_age, 0.0)
    with np.errstate(divide="ignore"):
        log_curve = np.log(weight @ powers)
    shape, value = _climb(failures, log_sum, log_curve)
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = top * np.exp((value - np.log(failures)) / shape)
    return shape, np.where(np.isnan(shape), np.nan, scale)


def _climb(
    failures: FloatArray, log_sum: FloatArray, log_curve: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Top of each profile likelihood: shapes and the log exposure there; NaN without a top."""
    height = _GRID * failures[:, None] + _GRID_SHAPES * log_sum[:, None]
    height -= (log_curve @ _GRID_BASIS.T) * failures[:, None]
    peak = np.argmax(np.nan_to_num(height, nan=-np.inf), axis=1)
    topped = (peak > 0) & (peak < len(_GRID) - 1) & (failures > 0)
    value, slope, bend = curve_functions(log_curve)
    guess = _GRID[np.clip(peak, 1, len(_GRID) - 2)]
    low, high = guess - _STEP, guess + _STEP
    for _ in range(_STEPS):
        shape = np.exp(guess)
        climb = failures * (1.0 - slope(guess)) + log_sum * shape
        curve = log_sum * shape - failures * bend(guess)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = np.where(curve < 0, climb / curve, -np.sign(climb) * 0.25 * _STEP)
        following = np.clip(guess - step, low, high)
        moved = np.abs(following - guess)
        guess = following
        if (moved[topped] <= _TOLERANCE).all():
            break
    return np.where(topped, np.exp(guess), np.nan), value(guess)
