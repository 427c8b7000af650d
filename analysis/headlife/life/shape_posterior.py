"""At which shapes does a posterior live, with which weights? Nodes laid through its density.

The nodes are equal steps of the log shape: for a bell that dies out at both ends that sum errs by
less than any power of the step (Trefethen & Weideman, SIAM Review 56, 2014, section 5). Where the
density runs into an end of the shape range they are Gauss-Legendre nodes. One life or many at
once, each with nodes of its own. Knows nothing of evidence or priors but the density they give.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache, partial
from typing import Any, Final, NamedTuple, Protocol

import numpy as np
from numpy.typing import NDArray

from headlife.life.exposure_curve import (
    LOG_SHAPE_LIMITS,
    chebyshev_basis,
    curve_at,
    grid_basis,
    log_shape_grid,
)

FloatArray = NDArray[np.float64]
Indices = NDArray[np.intp]

_LOW, _HIGH = LOG_SHAPE_LIMITS
_GRID: Final = log_shape_grid(257)
_GRID_SHAPES: Final = np.exp(_GRID)
_LAST: Final = len(_GRID) - 1
_ONES: Final = np.ones(len(_GRID))
_FIRST: Final = np.zeros(1, np.intp)
_ENOUGH: Final = 40  # grid points inside the bell that are nodes enough
_AIM: Final = 40  # nodes aimed at where the grid has more
_STEPS: Final = 64  # nodes laid through a bell that is narrow on the grid
_GAUSS: Final = 96
_DEPTH: Final = 28.0  # log density below the peak that counts as nothing (7e-13)
# Log density over the peak at which an end of the range still counts. At the lower end, where the
# first node counts half, the sum errs by a hundredth of the density there.
_ALIVE: Final = (-16.0, -23.0)
_WIDE: Final = 1.5  # width of log shapes from which the Gauss nodes of the whole range are dense
_LOOKS: Final = 4  # at bells that are narrow; each look is twenty times closer
_TOGETHER: Final = 128  # lives whose densities on the grid stay in a core's cache
_DOUBLINGS: Final = 4  # of the nodes, at most


class LogDensity(Protocol):
    """Log density of the log shape of n lives, up to a constant."""

    def __call__(self, log_shape: FloatArray, shape: FloatArray, curve: FloatArray) -> FloatArray:
        """Evaluate it.

        Parameters
        ----------
        log_shape, shape : array of float
            The same shapes [-] for all, (k,), or for each, (n, k).
        curve : array of float
            Log exposure there [-], (n, k).

        Returns
        -------
        array of float
            Log densities [-], (n, k).
        """

    def of(self, which: Indices | slice) -> LogDensity:
        """Take some of the lives.

        Parameters
        ----------
        which : index or slice
            Which lives.

        Returns
        -------
        LogDensity
            Those lives.
        """


class ShapeNodes(NamedTuple):
    """Where the posteriors of the shapes of n lives are."""

    shape: FloatArray
    """The nodes [-], ascending, (n, k)."""
    log_curve: FloatArray
    """Log exposure at each node [-], (n, k)."""
    weights: FloatArray
    """Posterior weight of each node [-], summing to 1 over them, (n, k)."""
    finer: Callable[[Indices], ShapeNodes] | None = None
    """Makes, for some of the lives, the same at twice the nodes; None where these are all."""

    def of_one(self) -> ShapeNodes:
        """Give those of one life, which are held as those of n lives are, without that axis."""
        finer = None if self.finer is None else partial(_of_one, self.finer)
        return ShapeNodes(self.shape[0], self.log_curve[0], self.weights[0], finer)


def fixed_shape(shape: FloatArray, log_curve: FloatArray) -> ShapeNodes:
    """Give the one node of lives whose shape is known.

    Parameters
    ----------
    shape : array of float
        Shapes [-], (n,).
    log_curve : array of float
        Log exposure at the nodes of the evidence [-], (n, nodes).

    Returns
    -------
    ShapeNodes
        One node for each life.
    """
    log_shape = np.log(shape)[:, None]
    weights = np.ones(log_shape.shape)
    return ShapeNodes(shape[:, None], curve_at(log_curve, log_shape), weights)


def lay_nodes(density: LogDensity, log_curve: FloatArray) -> Iterator[tuple[Indices, ShapeNodes]]:
    """Lay nodes through the densities of the log shapes of n lives.

    Parameters
    ----------
    density : LogDensity
        Their log densities.
    log_curve : array of float
        Log exposure at the nodes of the evidence [-], (n, nodes).

    Yields
    ------
    tuple of array of int and ShapeNodes
        Lives that share a kind of nodes, and their nodes.
    """
    look = _Look.at(density, log_curve)
    narrow, alive = look.last - look.first < _ENOUGH, look.alive
    for kind, lay in ((False, look.thinned), (True, look.closer)):
        which = np.flatnonzero(~alive & (narrow == kind))
        if which.size:
            yield which, lay(which)
    low, high = look.stretch()
    wide = high - low >= _WIDE
    for kind in (False, True):
        which = np.flatnonzero(alive & (wide == kind))
        if which.size:
            ends = None if kind else (low[which], high[which])
            yield which, _laid(density.of(which), log_curve[which], ends, _gauss, _GAUSS)


def lay_nodes_of_one(density: LogDensity, log_curve: FloatArray) -> ShapeNodes:
    """Lay nodes through the density of the log shape of one life.

    Parameters
    ----------
    density : LogDensity
        Its log density.
    log_curve : array of float
        Log exposure at the nodes of the evidence [-], (nodes,).

    Returns
    -------
    ShapeNodes
        Its nodes, as those of one of n lives.
    """
    curve = log_curve.dot(_basis_of_grid(log_curve.size))
    height = density(_GRID, _GRID_SHAPES, curve)
    height -= height[height.argmax()]
    inside = height > -_DEPTH
    first, last = int(inside.argmax()), _LAST - int(inside[::-1].argmax())
    low, high = _ALIVE
    if last - first < _ENOUGH or height[0] > low or height[-1] > high:
        ((_, nodes),) = lay_nodes(density, log_curve[None, :])
        return nodes.of_one()
    # The points are a slice, which is quicker than their places.
    points = slice(first, last + 1, max((last - first) // _AIM, 1))
    weights = np.exp(height[points])
    if first == 0:
        weights[0] *= 0.5
    weights /= weights.dot(_ONES[: weights.size])
    finer = partial(_finer_of_one, density, log_curve, (first, last), 2 * weights.size)
    return ShapeNodes(_GRID_SHAPES[points], curve[points], weights, finer)


class _Look(NamedTuple):
    """A first look at densities (n, grid), all on one grid."""

    density: LogDensity
    log_curve: FloatArray
    curve: FloatArray  # log exposure on the grid
    height: FloatArray  # log density on the grid, 0 at its highest
    first: Indices  # grid points between which the density counts
    last: Indices

    @classmethod
    def at(cls, density: LogDensity, log_curve: FloatArray) -> _Look:
        curve = log_curve @ _basis_of_grid(log_curve.shape[-1])
        height, inside = np.empty(curve.shape), np.empty(curve.shape, bool)
        for start in range(0, len(curve), _TOGETHER):
            some = slice(start, start + _TOGETHER)
            own = density.of(some)(_GRID, _GRID_SHAPES, curve[some])
            np.subtract(own, np.maximum.reduce(own, axis=1, keepdims=True), out=height[some])
            np.greater(height[some], -_DEPTH, out=inside[some])
        last = _LAST - inside[:, ::-1].argmax(axis=1)
        return cls(density, log_curve, curve, height, inside.argmax(axis=1), last)

    @property
    def alive(self) -> NDArray[np.bool_]:
        """Whether the density has not died out at an end of the range."""
        low, high = _ALIVE
        return np.asarray((self.height[:, 0] > low) | (self.height[:, -1] > high), bool)

    def stretch(self) -> tuple[FloatArray, FloatArray]:
        """Log shapes just outside of which the density counts as nothing."""
        return _GRID[np.maximum(self.first - 1, 0)], _GRID[np.minimum(self.last + 1, _LAST)]

    def thinned(self, lives: Indices) -> ShapeNodes:
        """Take as many points of the grid as are enough for some of the lives."""
        first, last = self.first[lives], self.last[lives]
        step = np.maximum((last - first) // _AIM, 1)
        count = int(((last - first) // step).max()) + 1
        places = first[:, None] + step[:, None] * np.arange(count)
        beyond = places > last[:, None]
        places = np.minimum(places, _LAST)
        at = (lives[:, None], places)
        weights = np.exp(self.height[at])
        weights[beyond] = 0.0
        weights[first == 0, 0] *= 0.5
        weights /= np.add.reduce(weights, axis=1, keepdims=True)
        own, own_curve = self.density.of(lives), self.log_curve[lives]

        def finer(which: Indices) -> ShapeNodes:
            ends = _GRID[first[which]], _GRID[last[which]]
            return _laid(own.of(which), own_curve[which], ends, _equal_steps, 2 * count, 1)

        return ShapeNodes(_GRID_SHAPES[places], self.curve[at], weights, finer)

    def closer(self, lives: Indices) -> ShapeNodes:
        """Lay equal steps through bells that are narrow on the grid, those of some of the lives."""
        low, high = (ends[lives] for ends in self.stretch())
        own, own_curve = self.density.of(lives), self.log_curve[lives]
        for _ in range(_LOOKS):
            nodes = _laid(own, own_curve, (low, high), _equal_steps, _STEPS)
            inside = nodes.weights > nodes.weights.max(axis=1, keepdims=True) * np.exp(-_DEPTH)
            if (inside.sum(axis=1) >= _ENOUGH).all():
                break
            step, logs = (high - low) / (_STEPS - 1), np.log(nodes.shape)
            low = np.where(inside, logs, np.inf).min(axis=1) - step
            high = np.where(inside, logs, -np.inf).max(axis=1) + step
        return nodes


def _of_one(finer: Callable[[Indices], ShapeNodes], _: Any = None) -> ShapeNodes:
    return finer(_FIRST).of_one()


def _finer_of_one(
    density: LogDensity, log_curve: FloatArray, ends: tuple[int, int], count: int, _: Any = None
) -> ShapeNodes:
    between = _GRID[[ends[0]]], _GRID[[ends[1]]]
    return _laid(density, log_curve[None, :], between, _equal_steps, count, 1).of_one()


def _laid(
    density: LogDensity,
    log_curve: FloatArray,
    ends: tuple[FloatArray, FloatArray] | None,
    rule: Callable[[int], tuple[FloatArray, FloatArray]],
    count: int,
    doublings: int = 0,
) -> ShapeNodes:
    """Lay the nodes of a rule between two log shapes of each life; over the whole range if none."""
    places, sizes = rule(count)
    if ends is None:
        log_shape = _LOW + (_HIGH - _LOW) * places
        curve = log_curve @ _basis_of_rule(rule, count, log_curve.shape[1])
    else:
        low, high = ends[0][:, None], ends[1][:, None]
        log_shape = low + (high - low) * places
        curve = curve_at(log_curve, log_shape)
    shape = np.broadcast_to(np.exp(log_shape), curve.shape)
    height = density(log_shape, shape, curve)
    weights = np.exp(height - height.max(axis=1, keepdims=True)) * sizes
    weights /= weights.sum(axis=1, keepdims=True)
    counts = (weights > np.exp(-_DEPTH) * weights.max()).any(axis=0)
    some = slice(int(counts.argmax()), count - int(counts[::-1].argmax()))

    def finer(which: Indices) -> ShapeNodes:
        own = None if ends is None else (ends[0][which], ends[1][which])
        return _laid(density.of(which), log_curve[which], own, rule, 2 * count, doublings + 1)

    return ShapeNodes(
        shape[:, some],
        curve[:, some],
        weights[:, some],
        finer if doublings < _DOUBLINGS else None,
    )


@cache
def _equal_steps(count: int) -> tuple[FloatArray, FloatArray]:
    sizes = np.ones(count)
    sizes[[0, -1]] = 0.5
    return np.linspace(0.0, 1.0, count), sizes


@cache
def _gauss(count: int) -> tuple[FloatArray, FloatArray]:
    if count <= _GAUSS:
        places, sizes = np.polynomial.legendre.leggauss(count)
    else:
        # From three diagonals: numpy's full matrix takes seconds for the most nodes. Few lives
        # need more nodes, so only they pay for the import.
        from scipy.special import roots_legendre

        places, sizes = roots_legendre(count)
    return 0.5 * (places + 1.0), sizes


@cache
def _basis_of_rule(
    rule: Callable[[int], tuple[FloatArray, FloatArray]], count: int, nodes: int
) -> FloatArray:
    log_shape = _LOW + (_HIGH - _LOW) * rule(count)[0]
    return np.ascontiguousarray(chebyshev_basis(log_shape, nodes).T)


@cache
def _basis_of_grid(nodes: int) -> FloatArray:
    return np.ascontiguousarray(grid_basis(_GRID.size, nodes).T)
