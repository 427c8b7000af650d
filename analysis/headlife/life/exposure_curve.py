"""How does the exposure of a record depend on the shape? Its logarithm, held at a few shapes.

``ln S`` is smooth in the logarithm of the shape, so its values at Chebyshev points carry it over
the whole range of shapes. 32 points do for most records. Where a few heads far outlast many others
the curve bends sharply and takes 64, 128 or more: as many as the record needs, doubled until the
last terms of its Chebyshev series no longer count (how a series shows that it is resolved: Aurentz
and Trefethen, ACM Trans. Mathematical Software 43, 2017). This module knows no lives, failures or
priors.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import cache
from typing import Any, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]

SHAPE_RANGE: Final = (0.2, 20.0)
NODE_COUNTS: Final = (32, 64, 128, 256, 512)
FEWEST_NODES: Final = NODE_COUNTS[0]
LOG_SHAPE_LIMITS: Final = (float(np.log(SHAPE_RANGE[0])), float(np.log(SHAPE_RANGE[1])))

_MIDDLE: Final = 0.5 * (LOG_SHAPE_LIMITS[1] + LOG_SHAPE_LIMITS[0])
_HALF: Final = 0.5 * (LOG_SHAPE_LIMITS[1] - LOG_SHAPE_LIMITS[0])
_LAST: Final = 4  # terms of the series looked at to see whether it has ended
_LAST_TERMS: Final = 1e-9  # their largest size in an ended series: the curve then errs by a third
_FROM_AN_END: Final = 1e-4  # angle
_NEXT_TERMS: Final = 1e-10  # and of the terms that would follow at the rate of decay seen


@cache
def log_shape_nodes(nodes: int = FEWEST_NODES) -> FloatArray:
    """Logarithms of the shapes [-] at which a curve of so many values is held, ascending.

    Parameters
    ----------
    nodes : int, optional
        Number of values [-], one of `NODE_COUNTS`.

    Returns
    -------
    array of float
        Log shapes [-], ascending, (nodes,), read-only.
    """
    angles = (np.arange(nodes) + 0.5) * np.pi / nodes
    return _read_only(_MIDDLE - _HALF * np.cos(angles))


@cache
def shape_nodes(nodes: int = FEWEST_NODES) -> FloatArray:
    """Shapes [-] at which a curve of so many values is held; see `log_shape_nodes`.

    Parameters
    ----------
    nodes : int, optional
        How many.

    Returns
    -------
    array of float
        Shapes [-], ascending, (nodes,).
    """
    return _read_only(np.exp(log_shape_nodes(nodes)))


def chebyshev_basis(log_shape: ArrayLike, nodes: int = FEWEST_NODES) -> FloatArray:
    """Weights that carry values at the nodes to the curve at other shapes.

    Parameters
    ----------
    log_shape : float or array of float
        Logarithms of shapes [-] inside `SHAPE_RANGE`, (k,).
    nodes : int, optional
        Number of values of the curve [-].

    Returns
    -------
    array of float
        Weights [-], (k, nodes): ``chebyshev_basis(log_shape, curve.size) @ curve`` is the curve
        there.
    """
    return np.asarray(_terms(np.asarray(log_shape, float), nodes) @ _to_series(nodes), float)


@cache
def log_shape_grid(points: int) -> FloatArray:
    """Equal steps over the whole range of shapes, for curves that are looked at as a whole.

    Parameters
    ----------
    points : int
        How many [-].

    Returns
    -------
    array of float
        Log shapes [-], ascending, (points,), read-only.
    """
    return _read_only(np.linspace(*LOG_SHAPE_LIMITS, points))


@cache
def grid_basis(points: int, nodes: int) -> FloatArray:
    """`chebyshev_basis` on such a grid, worked out once.

    Parameters
    ----------
    points : int
        Points of the grid [-].
    nodes : int
        Number of values of the curve [-].

    Returns
    -------
    array of float
        Weights [-], (points, nodes), read-only.
    """
    return _read_only(chebyshev_basis(log_shape_grid(points), nodes))


def curve_at(log_curve: FloatArray, log_shape: FloatArray) -> FloatArray:
    """Curves at shapes of their own.

    Parameters
    ----------
    log_curve : array of float
        Log exposure at the nodes [-], (..., nodes).
    log_shape : array of float
        Logarithms of shapes [-], (..., k).

    Returns
    -------
    array of float
        Log exposure [-], (..., k).
    """
    nodes = log_curve.shape[-1]
    series = log_curve @ _to_series(nodes).T
    return np.asarray((_terms(log_shape, nodes) @ series[..., None])[..., 0], float)


def curve_derivatives(log_curve: FloatArray, log_shape: ArrayLike) -> tuple[FloatArray, ...]:
    """Value, slope and curvature of one log exposure curve in the log shape.

    Parameters
    ----------
    log_curve : array of float
        Log exposure at the nodes [-], (nodes,).
    log_shape : float or array of float
        Logarithm of a shape [-] inside `SHAPE_RANGE`, or many.

    Returns
    -------
    tuple of arrays of float
        Value, slope and curvature, of the shape of ``log_shape`` [-].
    """
    order = np.arange(log_curve.size)
    series = _to_series(log_curve.size) @ log_curve
    # At the very ends sines vanish; so close to one (1e-8 of a log shape) it is the same curve.
    angle = np.clip(_angle(np.asarray(log_shape, float)), _FROM_AN_END, np.pi - _FROM_AN_END)
    value = np.cos(angle[..., None] * order) @ series
    # With x = cos(angle): T_k' = k sin(k angle) / sin(angle), and T_k'' from Chebyshev's equation.
    sine, cosine = np.sin(angle), np.cos(angle)
    slope = np.sin(angle[..., None] * order) @ (order * series) / sine
    bend = cosine * slope - np.cos(angle[..., None] * order) @ (order**2 * series)
    return value, slope / _HALF, bend / (sine * _HALF) ** 2


def watched_late(log_curve: FloatArray) -> Any:
    """Tell how much of an exposure is of heads that came under watch late, none of them from new.

    Towards a shape of 0 the exposure of a head watched from new stays, that of a late one falls
    with the shape. ``-shape ** 2`` times the curvature of ``ln S`` in the shape, at the lowest
    shape, is therefore about 0 with the former and 1 with the latter alone; no change of the
    reference age moves it.

    Parameters
    ----------
    log_curve : array of float
        Log exposure at the nodes [-], (..., nodes).

    Returns
    -------
    float or array of float
        From 0, watched from new, to 1, none from new [-], (...).
    """
    found = log_curve.dot(_at_lowest_shape(log_curve.shape[-1]))
    if log_curve.ndim == 1:
        return min(max(float(found), 0.0), 1.0)
    return np.minimum(np.maximum(found, 0.0), 1.0)


@cache
def _at_lowest_shape(nodes: int) -> FloatArray:
    """Weights that carry a curve to slope less curvature in the log shape, at its low end."""
    order = np.arange(nodes)
    sign = (-1.0) ** order
    # T_k'(-1) = (-1)^(k+1) k^2 and T_k''(-1) = (-1)^k k^2 (k^2 - 1) / 3
    slope, bend = -sign * order**2, sign * order**2 * (order**2 - 1.0) / 3.0
    return _read_only((slope / _HALF - bend / _HALF**2) @ _to_series(nodes))


def at_nodes(log_curve: FloatArray, nodes: int) -> FloatArray:
    """Give a curve at another number of nodes.

    At more nodes it is the same curve exactly, since a longer series holds the shorter one; at
    fewer it is good where they are as many as it needs.

    Parameters
    ----------
    log_curve : array of float
        Log exposure at its nodes [-], (..., n).
    nodes : int
        How many are wanted [-].

    Returns
    -------
    array of float
        Log exposure [-], (..., nodes); minus infinity stays minus infinity.
    """
    held = log_curve.shape[-1]
    if held == nodes:
        return log_curve
    nothing = np.isneginf(log_curve).any(axis=-1, keepdims=True)
    moved = np.where(nothing, 0.0, log_curve) @ _moving(held, nodes).T
    return np.where(nothing, -np.inf, moved)


def at_common_nodes(log_curves: Sequence[FloatArray]) -> FloatArray:
    """Stack curves (n,) at the most nodes that one of them has, (curves, nodes).

    Parameters
    ----------
    log_curves : sequence of array of float
        Log exposure curves, each at as many nodes as it needs.

    Returns
    -------
    array of float
        The curves, (curves, nodes).
    """
    counts = {curve.size for curve in log_curves}
    if len(counts) == 1:
        return np.array(log_curves)
    most = max(counts)
    return np.array([at_nodes(curve, most) for curve in log_curves])


def resolved(log_curve: FloatArray) -> NDArray[np.bool_]:
    """Whether curves (..., n) have as many nodes as they need to be good to about ten digits.

    Parameters
    ----------
    log_curve : array of float
        Log exposure at the nodes [-], (..., n).

    Returns
    -------
    array of bool
        True where there is no exposure, and at the most nodes there are, (...).
    """
    nodes = log_curve.shape[-1]
    nothing = log_curve[..., 0] == -np.inf
    if nodes == NODE_COUNTS[-1] or nothing.all():
        return np.ones(log_curve.shape[:-1], bool)
    if nothing.any():
        log_curve = np.where(nothing[..., None], 0.0, log_curve)
    ends = np.abs(log_curve @ _series_end(nodes))
    before = np.maximum.reduce(ends[..., :_LAST], axis=-1)
    last = np.maximum.reduce(ends[..., _LAST:], axis=-1)
    return np.asarray(~_open(before, last), bool)


def resolved_curve(values: Callable[[FloatArray], FloatArray]) -> FloatArray:
    """Take a curve at as many nodes as it needs.

    Parameters
    ----------
    values : callable
        Gives the log exposure [-] at shapes (n,).

    Returns
    -------
    array of float
        Log exposure at the nodes [-], (nodes,).
    """
    curve = values(shape_nodes())
    if curve[0] == -np.inf:
        return curve
    for nodes in NODE_COUNTS[1:]:
        ends = [abs(term) for term in curve.dot(_series_end(curve.size)).tolist()]
        if not _open(max(ends[:_LAST]), max(ends[_LAST:])):
            break
        curve = values(shape_nodes(nodes))
    return curve


def _open(before: Any, last: Any) -> Any:
    """Whether a series has not ended with its last terms, given those before them."""
    # What follows the last terms is smaller by as much as they are than those before them.
    return (last > _LAST_TERMS) | (last * last > _NEXT_TERMS * before)


def _angle(log_shape: FloatArray) -> FloatArray:
    place = (log_shape - _MIDDLE) * (1.0 / _HALF)
    return np.asarray(np.arccos(np.minimum(np.maximum(place, -1.0), 1.0)), float)


def _terms(log_shape: FloatArray, nodes: int) -> FloatArray:
    """Chebyshev polynomials ``cos(k angle)`` of orders 0 to nodes - 1, (..., nodes)."""
    return np.asarray(np.cos(_angle(log_shape)[..., None] * np.arange(nodes)), float)


@cache
def _to_series(nodes: int) -> FloatArray:
    """Values at the nodes -> Chebyshev coefficients: a discrete cosine transform as a matrix."""
    transform = _terms(log_shape_nodes(nodes), nodes).T * (2.0 / nodes)
    transform[0] *= 0.5
    return _read_only(transform)


@cache
def _series_end(nodes: int) -> FloatArray:
    """Values at the nodes -> the last terms and those before them, (nodes, 2 _LAST)."""
    return _read_only(np.ascontiguousarray(_to_series(nodes)[-2 * _LAST :].T))


@cache
def _moving(held: int, nodes: int) -> FloatArray:
    return _read_only(chebyshev_basis(log_shape_nodes(nodes), held))


def _read_only(array: FloatArray) -> FloatArray:
    array.flags.writeable = False
    return array
