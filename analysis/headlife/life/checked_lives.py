"""Are these arrays lives? One gate: the same length, finite, in order; nothing after it re-checks.

From what a caller gives as entry and exit ages, failures, weights and last good readings, to
arrays that a likelihood may be made of. The first life that cannot be is named. Never drops one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.errors import EvidenceError

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, eq=False, slots=True)
class CheckedLives:
    """Lives of heads, one value each.

    Attributes
    ----------
    exit
        Age [h] at which each life failed or left, above 0, (n,).
    failed
        True where the mode ended the life, (n,).
    entry
        Age [h] at which each came under watch, below its exit, (n,); None where all began new.
    weight
        Number of equal lives each stands for [heads], (n,); None where each is one.
    last_good
        Last age [h] at which it was known good, from entry to exit, (n,); None where every
        failure age is exact.
    """

    exit: FloatArray
    failed: NDArray[np.bool_]
    entry: FloatArray | None = None
    weight: FloatArray | None = None
    last_good: FloatArray | None = None


def checked(
    entry_hours: ArrayLike,
    exit_hours: ArrayLike,
    failed: ArrayLike,
    weights: ArrayLike | None = None,
    last_good_hours: ArrayLike | None = None,
) -> CheckedLives:
    """Check lives given as arrays.

    Parameters
    ----------
    entry_hours, exit_hours, failed, weights, last_good_hours : float or array of float
        As for `Evidence.from_lives`.

    Returns
    -------
    CheckedLives
        The arrays, all of one length.

    Raises
    ------
    EvidenceError
        As for `Evidence.from_lives`; the first offending life is named.
    """
    exit_ = np.asarray(exit_hours, float)
    if exit_.ndim == 0:
        exit_ = exit_[None]
    if exit_.ndim != 1:
        raise EvidenceError(f"Lives come as one row of values each; got shape {exit_.shape}.")
    if not exit_.size:
        return CheckedLives(exit_, np.zeros(0, bool))
    # NaN counts as lowest and highest, and comparisons with it are false: each test finds it too.
    if not (exit_[exit_.argmin()] > 0 and exit_[exit_.argmax()] < math.inf):
        _refuse(~np.isfinite(exit_) | (exit_ <= 0), exit_, "exit hours", "a positive number")
    fails = _one_each(failed, exit_, bool)
    entry = _entry(entry_hours, exit_)
    weight = None if weights is None else _one_each(weights, exit_)
    if weight is not None and not (weight.min() >= 0 and weight.max() < math.inf):
        _refuse(~np.isfinite(weight) | (weight < 0), weight, "weight", "zero or more")
    if last_good_hours is None:
        return CheckedLives(exit_, fails, entry, weight)
    good = _one_each(last_good_hours, exit_)
    good = np.where(np.isnan(good) | ~fails, exit_, good)
    _refuse((good < 0) | (good > exit_), good, "last good hours", "between 0 and its exit")
    # A head first seen already failed was good, at the latest, when it came under watch.
    good = good if entry is None else np.maximum(good, entry)
    return CheckedLives(exit_, fails, entry, weight, good)


def _entry(entry_hours: Any, exit_: FloatArray) -> FloatArray | None:
    if isinstance(entry_hours, float) and entry_hours == 0.0:
        return None
    entry: FloatArray = np.asarray(entry_hours, float)
    if entry.ndim:
        entry = _one_each(entry, exit_)
    if not entry.any():
        return None
    entry = _one_each(entry, exit_)
    if not (entry.min() >= 0 and (entry < exit_).all()):
        _refuse(~np.isfinite(entry) | (entry < 0), entry, "entry hours", "zero or more")
        _refuse(entry >= exit_, entry, "entry hours", "below its exit hours")
    return entry


def _one_each(values: ArrayLike, exit_: FloatArray, kind: type = float) -> Any:
    """One value per life; a single one serves all."""
    array: NDArray[Any] = np.asarray(values, kind)
    if array.shape == exit_.shape:
        return array
    try:
        return np.broadcast_to(array, exit_.shape)
    except ValueError as error:
        raise EvidenceError(
            "Entry, exit, failed, weights and last good hours must have one value per life; "
            f"there are {exit_.size} exits. ({error})"
        ) from error


def _refuse(bad: NDArray[np.bool_], values: FloatArray, name: str, should: str) -> None:
    if bad.any():
        first = int(np.flatnonzero(bad)[0])
        raise EvidenceError(
            f"Life number {first + 1}: {name} must be {should}; got {values[first]:g}. "
            "Correct that life or leave it out."
        )
