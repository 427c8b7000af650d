"""How much exposure do these lives hold at each shape? The one pass over rows that costs.

``S(shape) = sum of weight * ((exit/reference)**shape - (entry/reference)**shape)``, returned as
a logarithm so that extreme ages neither overflow nor vanish. Rows are walked in blocks, so memory
does not grow with the number of lives. Many lives are sorted into narrow bins of log age, each
keeping six moments, from which every power follows by its Taylor series to twelve digits. This
module knows nothing of failures or priors.
"""

from __future__ import annotations

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


def log_exposure(
    entry: FloatArray, exit_: FloatArray, weight: FloatArray, reference: float, shapes: FloatArray
) -> FloatArray:
    """Logarithm of the exposure curve at ``shapes``.

    Parameters
    ----------
    entry, exit_, weight : array of float
        Checked arrays of shape (n,) [h], [h], [heads] with ``0 <= entry <= exit_``.
    reference : float
        Reference age [h].
    shapes : array of float
        Weibull shapes [-], shape (k,).

    Returns
    -------
    array of float
        Logarithms, (k,); minus infinity where there is no exposure.
    """
    if exit_.size == 0:
        return np.full(shapes.shape, -np.inf)
    top = float(exit_.max())
    if top <= 0:
        return np.full(shapes.shape, -np.inf)
    total = np.zeros(shapes.shape)
    # Ages are taken relative to the longest one: every power then lies in [0, 1].
    if exit_.size >= _MANY:
        _add_binned(total, entry, exit_, weight, top, shapes)
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
    less = np.zeros(total.shape)
    if not late.any():
        _add_powers(total, np.log(exit_ / top), weight, shapes)
    elif ((exit_ - entry)[late] > _CLOSE * exit_[late]).all():
        _add_powers(total, np.log(exit_ / top), weight, shapes)
        _add_powers(less, np.log(entry[late] / top), weight[late], shapes)
        total -= less
    else:
        _add_differences(total, entry, exit_, weight, top, shapes)


def _add_powers(
    total: FloatArray, logs: FloatArray, weight: FloatArray, shapes: FloatArray
) -> None:
    if logs.size <= _FEW:
        total += np.exp(shapes[:, None] * logs) @ weight
        return
    powers = np.empty_like(logs)
    equal = weight.strides == (0,)
    for k, shape in enumerate(shapes):
        np.multiply(logs, shape, out=powers)
        np.exp(powers, out=powers)
        total[k] += weight[0] * powers.sum() if equal else weight @ powers


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


def _add_binned(
    total: FloatArray,
    entry: FloatArray,
    exit_: FloatArray,
    weight: FloatArray,
    top: float,
    shapes: FloatArray,
) -> None:
    moments = np.zeros((_MOMENTS, _BINS))
    for start in range(0, exit_.size, _BLOCK * 8):
        block = slice(start, start + _BLOCK * 8)
        into, out, heads = entry[block], exit_[block], weight[block]
        late = into > 0
        if late.any():
            close = late & (out - into <= _CLOSE * out)
            if close.any():
                _add_differences(total, into[close], out[close], heads[close], top, shapes)
                into, out, heads = into[~close], out[~close], heads[~close]
                late = late[~close]
            _bin(moments, total, into[late] / top, -1.0 * heads[late], shapes)
        some = out > 0
        if not some.all():
            out, heads = out[some], heads[some]
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
    weight: FloatArray,
    shapes: FloatArray,
) -> None:
    """Add ages, relative to the longest, to the moments of their bins."""
    place = np.log(ages)
    place *= -_BINS / _SPAN
    bins = place.astype(np.intp)
    far = bins >= _BINS
    if far.any():
        _add_powers(total, np.log(ages[far]), weight[far], shapes)
        place, bins, weight = place[~far], bins[~far], weight[~far]
    place -= bins
    place -= 0.5
    power = weight * 1.0
    for moment in moments:
        moment += np.bincount(bins, weights=power, minlength=_BINS)
        power *= place
