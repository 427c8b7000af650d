"""How much exposure do these lives hold at each shape? The one pass over rows that costs.

``S(shape) = sum of weight * ((exit/reference)**shape - (entry/reference)**shape)``, returned as
a logarithm so that extreme ages neither overflow nor vanish. Rows are walked in blocks, so memory
does not grow with the number of lives. Many lives in whole hours are counted hour by hour; many
others are sorted into narrow bins of log age, each keeping six moments, from which every power
follows by its Taylor series to twelve digits. This module knows nothing of failures or priors.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_BLOCK: Final = 8_192  # rows; blocks stay in a core's cache, and sums in one thread
_FEW: Final = 1_024  # rows up to which one table of powers beats a loop over the shapes
_MANY: Final = 20_000  # rows from which bins of log age are quicker than powers
_BINS: Final = 8_192  # of log age
_SPAN: Final = 16.0  # log ages below the longest that the bins cover
_MOMENTS: Final = 6  # kept per bin; error (20 * _SPAN / _BINS / 2) ** 6 / 6! = 8e-14
_CLOSE: Final = 1e-4  # relative gap under which a difference of powers loses digits
_MOST_HOURS: Final = 1_000_000  # age [h] up to which lives in whole hours are counted by the hour


def log_exposure(
    entry: FloatArray | None,
    exit_: FloatArray,
    weight: FloatArray | None,
    reference: float,
    shapes: FloatArray,
) -> FloatArray:
    """Logarithm of the exposure curve at ``shapes``.

    Parameters
    ----------
    entry, exit_, weight : array of float
        Checked arrays of shape (n,) [h], [h], [heads] with ``0 <= entry <= exit_``; no entry
        where all begin at 0, no weight where all are 1.
    reference : float
        Reference age [h].
    shapes : array of float
        Weibull shapes [-], shape (k,).

    Returns
    -------
    array of float
        Logarithms, (k,); minus infinity where there is no exposure.
    """
    top = exit_.item(exit_.argmax()) if exit_.size else 0.0
    if top <= 0:
        return np.full(shapes.shape, -np.inf)
    # Ages are taken relative to the longest one: every power then lies in [0, 1].
    if exit_.size >= _MANY:
        total = _of_many(entry, exit_, weight, top, shapes)
    elif exit_.size <= _FEW and entry is weight is None and exit_[exit_.argmin()] > 0:
        # Never 0, since every power of the longest age is 1.
        total = _powers(np.log(exit_ / top), shapes).dot(np.ones(exit_.size))
        return np.asarray(np.log(total) + shapes * math.log(top / reference), float)
    else:
        total = np.zeros(shapes.shape)
        for start in range(0, exit_.size, _BLOCK):
            _add_block(total, *_block(entry, exit_, weight, start, _BLOCK), top, shapes)
    if total.all():
        return np.asarray(np.log(total) + shapes * math.log(top / reference), float)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(total) + shapes * math.log(top / reference), float)


def log_exposure_of_groups(
    entry: FloatArray | None,
    exit_: FloatArray,
    weight: FloatArray | None,
    starts: NDArray[np.intp],
    reference: float,
    shapes: FloatArray,
) -> FloatArray:
    """Logarithm of the exposure curves of many groups of few lives.

    Parameters
    ----------
    entry, exit_, weight : array of float
        As for `log_exposure`, group after group.
    starts : array of int
        Where each group begins, (groups,); none is empty.
    reference : float
        Reference age [h].
    shapes : array of float
        Weibull shapes [-], (k,).

    Returns
    -------
    array of float
        Logarithms, (groups, k); minus infinity where there is no exposure.
    """
    tops = np.maximum.reduceat(exit_, starts)
    ends = np.append(starts[1:], exit_.size)
    logs = np.log(exit_ / np.repeat(tops, ends - starts))
    if entry is not None:
        with np.errstate(divide="ignore"):
            gaps = np.log1p(-(exit_ - entry) / exit_)  # minus infinity for one that began new
    total = np.empty((len(starts), len(shapes)))
    first = 0
    while first < len(starts):
        last = max(int(np.searchsorted(ends, starts[first] + _FEW, side="right")), first + 1)
        rows = slice(starts[first], ends[last - 1])
        powers = _powers(logs[rows], shapes)
        if entry is not None:
            powers *= -np.expm1(shapes[:, None] * gaps[rows])
        if weight is not None:
            powers *= weight[rows]
        total[first:last] = np.add.reduceat(powers, starts[first:last] - starts[first], axis=1).T
        first = last
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(total) + shapes * np.log(tops / reference)[:, None], float)


def _block(
    entry: FloatArray | None, exit_: FloatArray, weight: FloatArray | None, start: int, rows: int
) -> tuple[FloatArray | None, FloatArray, FloatArray | None]:
    if exit_.size <= rows:
        return entry, exit_, weight
    part = slice(start, start + rows)
    return (
        None if entry is None else entry[part],
        exit_[part],
        None if weight is None else weight[part],
    )


def _of_many(
    entry: FloatArray | None,
    exit_: FloatArray,
    weight: FloatArray | None,
    top: float,
    shapes: FloatArray,
) -> FloatArray:
    total = np.zeros(shapes.shape)
    # An hour apart is far enough to subtract powers, unless ages are very long.
    counted = top <= _MOST_HOURS and (entry is None or _CLOSE * top < 1.0)
    ends = _heads_by_hour(exit_, weight) if counted else None
    begins = None if ends is None or entry is None else _heads_by_hour(entry, weight)
    if ends is None or (entry is not None and begins is None):
        _add_binned(total, entry, exit_, weight, top, shapes)
        return total
    _add_powers(total, np.log(ends[0] / top), ends[1], shapes)
    if begins is not None:
        less = np.zeros(shapes.shape)
        _add_powers(less, np.log(begins[0] / top), begins[1], shapes)
        total -= less
    return total


def _heads_by_hour(
    ages: FloatArray, weight: FloatArray | None
) -> tuple[FloatArray, FloatArray] | None:
    """Whole hours above 0 [h] and the heads at each, or None where an age is no whole hour."""
    if (ages[:_BLOCK] % 1.0).any():
        return None  # most records that are not in whole hours show it soon
    hours = ages.astype(np.intp)
    if not np.array_equal(hours, ages):
        return None
    heads = np.bincount(hours, weight)
    heads[0] = 0
    some = np.flatnonzero(heads)
    return some.astype(float), heads[some].astype(float)


def _add_block(
    total: FloatArray,
    entry: FloatArray | None,
    exit_: FloatArray,
    weight: FloatArray | None,
    top: float,
    shapes: FloatArray,
) -> None:
    if not np.minimum.reduce(exit_) > 0:
        some = exit_ > 0
        exit_ = exit_[some]
        entry, weight = _taken(entry, some), _taken(weight, some)
    if entry is None:
        _add_powers(total, np.log(exit_ / top), weight, shapes)
        return
    late = entry > 0
    if ((exit_ - entry)[late] > _CLOSE * exit_[late]).all():
        _add_powers(total, np.log(exit_ / top), weight, shapes)
        less = np.zeros(total.shape)
        _add_powers(less, np.log(entry[late] / top), _taken(weight, late), shapes)
        total -= less
    else:
        _add_differences(total, entry, exit_, weight, top, shapes)


def _taken(values: FloatArray | None, rows: NDArray[np.bool_]) -> FloatArray | None:
    return None if values is None else values[rows]


def _powers(logs: FloatArray, shapes: FloatArray) -> FloatArray:
    """Every power of every age, (shapes, ages), from its logarithm."""
    # A product of a column and a row is quicker than NumPy's multiplication.
    powers: FloatArray = np.dot(shapes[:, None], logs[None, :])
    return np.exp(powers, out=powers)


def _add_powers(
    total: FloatArray, logs: FloatArray, weight: FloatArray | None, shapes: FloatArray
) -> None:
    if logs.size <= _FEW:
        total += _powers(logs, shapes).dot(np.ones(logs.size) if weight is None else weight)
        return
    powers = np.empty_like(logs)
    for k, shape in enumerate(shapes):
        np.multiply(logs, shape, out=powers)
        np.exp(powers, out=powers)
        total[k] += powers.sum() if weight is None else weight @ powers


def _add_differences(
    total: FloatArray,
    entry: FloatArray,
    exit_: FloatArray,
    weight: FloatArray | None,
    top: float,
    shapes: FloatArray,
) -> None:
    """Exposure of lives watched only briefly: ``exit**b * (1 - (entry/exit)**b)`` keeps digits."""
    logs = np.log(exit_ / top)
    with np.errstate(divide="ignore"):
        gaps = np.log1p(-(exit_ - entry) / exit_)
    for k, shape in enumerate(shapes):
        each = np.exp(shape * logs) * np.expm1(shape * gaps)
        total[k] -= each.sum() if weight is None else weight @ each


def _add_binned(
    total: FloatArray,
    entry: FloatArray | None,
    exit_: FloatArray,
    weight: FloatArray | None,
    top: float,
    shapes: FloatArray,
) -> None:
    moments = np.zeros((_MOMENTS, _BINS))
    for start in range(0, exit_.size, _BLOCK * 8):
        into, out, heads = _block(entry, exit_, weight, start, _BLOCK * 8)
        if into is not None:
            late = into > 0
            close = late & (out - into <= _CLOSE * out)
            if close.any():
                _add_differences(total, into[close], out[close], _taken(heads, close), top, shapes)
                out, into, late = out[~close], into[~close], late[~close]
                heads = _taken(heads, ~close)
            less = np.full(late.sum(), -1.0) if heads is None else -heads[late]
            _bin(moments, total, into[late] / top, less, shapes)
        if not out.min(initial=1.0) > 0:
            some = out > 0
            out, heads = out[some], _taken(heads, some)
        _bin(moments, total, out / top, heads, shapes)
    width = _SPAN / _BINS
    middles = np.exp(-shapes[:, None] * (width * (np.arange(_BINS) + 0.5)))
    series = middles @ moments.T  # (shapes, moments)
    orders = np.arange(1.0, _MOMENTS)
    steps = np.cumprod(-shapes[:, None] * width / orders, axis=1)
    total += series[:, 0] + (series[:, 1:] * steps).sum(axis=1)


def _bin(
    moments: FloatArray,
    total: FloatArray,
    ages: FloatArray,
    weight: FloatArray | None,
    shapes: FloatArray,
) -> None:
    """Add ages, relative to the longest, to the moments of their bins."""
    place = np.log(ages)
    place *= -_BINS / _SPAN
    bins = place.astype(np.intp)
    far = bins >= _BINS
    if far.any():
        _add_powers(total, np.log(ages[far]), _taken(weight, far), shapes)
        place, bins, weight = place[~far], bins[~far], _taken(weight, ~far)
    place -= bins
    place -= 0.5
    power = np.ones(place.shape) if weight is None else weight * 1.0
    for moment in moments:
        moment += np.bincount(bins, weights=power, minlength=_BINS)
        power *= place
