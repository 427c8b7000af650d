"""How much exposure do these lives hold at each shape? The one pass over rows that costs.

``S(shape) = sum of weight * ((exit/reference)**shape - (entry/reference)**shape)``, returned as
a logarithm so that extreme ages neither overflow nor vanish. Rows are walked in blocks that fit
the cache, so memory does not grow with the number of lives. Lives counted in whole hours are
tallied by hour first. This module knows nothing of failures or priors.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

_BLOCK: Final = 16_384  # rows; a few blocks of doubles stay in a core's own cache
_FEW: Final = 1_024  # rows up to which one table of powers beats a loop over the shapes
_TALLY_ROWS: Final = 50_000  # below this a tally by hour is not worth its set-up
_TALLY_HOURS: Final = 1_000_000  # longest age tallied; a table of 8 MB
_CLOSE: Final = 1e-4  # relative gap under which a difference of powers loses digits


def log_exposure(
    entry: FloatArray, exit_: FloatArray, weight: FloatArray, reference: float, shapes: FloatArray
) -> FloatArray:
    """Logarithm of the exposure curve at ``shapes``.

    Parameters
    ----------
    entry, exit_, weight
        Checked arrays of shape (n,) [h], [h], [heads] with ``0 <= entry <= exit_``.
    reference
        Reference age [h].
    shapes
        Weibull shapes [-], shape (k,).

    Returns
    -------
    Array (k,); minus infinity where there is no exposure.
    """
    if exit_.size == 0:
        return np.full(shapes.shape, -np.inf)
    top = float(exit_.max())
    if top <= 0:
        return np.full(shapes.shape, -np.inf)
    tally = _tally_by_hour(entry, exit_, weight, top) if exit_.size >= _TALLY_ROWS else None
    total = np.zeros(shapes.shape)
    # Ages are taken relative to the longest one: every power then lies in [0, 1].
    if tally is not None:
        hours, counts = tally
        _add_powers(total, np.log(hours / top), counts, shapes)
    else:
        for start in range(0, exit_.size, _BLOCK):
            block = slice(start, start + _BLOCK)
            _add_block(total, entry[block], exit_[block], weight[block], top, shapes)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(total) + shapes * np.log(top / reference), float)


def _add_block(
    total: FloatArray,
    entry: FloatArray,
    exit_: FloatArray,
    weight: FloatArray,
    top: float,
    shapes: FloatArray,
) -> None:
    some = exit_ > 0
    if not some.all():
        entry, exit_, weight = entry[some], exit_[some], weight[some]
    late = entry > 0
    if not late.any():
        _add_powers(total, np.log(exit_ / top), weight, shapes)
    elif ((exit_ - entry)[late] > _CLOSE * exit_[late]).all():
        _add_powers(total, np.log(exit_ / top), weight, shapes)
        _add_powers(total, np.log(entry[late] / top), -weight[late], shapes)
    else:
        _add_differences(total, entry, exit_, weight, top, shapes)


def _add_powers(
    total: FloatArray, logs: FloatArray, weight: FloatArray, shapes: FloatArray
) -> None:
    if logs.size <= _FEW:
        total += np.exp(shapes[:, None] * logs) @ weight
        return
    powers = np.empty_like(logs)
    for k, shape in enumerate(shapes):
        np.multiply(logs, shape, out=powers)
        np.exp(powers, out=powers)
        total[k] += weight @ powers


def _add_differences(
    total: FloatArray,
    entry: FloatArray,
    exit_: FloatArray,
    weight: FloatArray,
    top: float,
    shapes: FloatArray,
) -> None:
    """Exposure of lives watched only briefly: ``exit**b * (1 - (entry/exit)**b)`` keeps digits."""
    logs = np.log(exit_ / top)
    with np.errstate(divide="ignore"):
        gaps = np.log1p(-(exit_ - entry) / exit_)
    for k, shape in enumerate(shapes):
        total[k] -= weight @ (np.exp(shape * logs) * np.expm1(shape * gaps))


def _tally_by_hour(
    entry: FloatArray, exit_: FloatArray, weight: FloatArray, top: float
) -> tuple[FloatArray, FloatArray] | None:
    """Lives per whole hour (entries counted negative), or None where ages are not whole."""
    if top > _TALLY_HOURS:
        return None
    counts = np.zeros(int(top) + 1)
    step = _BLOCK * 16
    for start in range(0, exit_.size, step):
        block = slice(start, start + step)
        out, into = exit_[block].astype(np.intp), entry[block].astype(np.intp)
        if (out != exit_[block]).any() or (into != entry[block]).any():
            return None
        counts += np.bincount(out, weights=weight[block], minlength=counts.size)
        counts -= np.bincount(into, weights=weight[block], minlength=counts.size)
    hours = np.flatnonzero(counts)
    hours = hours[hours > 0]
    return hours.astype(float), counts[hours]
