"""Failures known only to lie between two readings: how is the hazard distributed, given the shape?

It is no longer Gamma; its log density is concave and known at any point (`interval_rows`), so it is
tabulated on equal steps and its integrals are those of the sine-cardinal series (Stenger, SIAM
Review 23, 1981), good to about ten digits. Never sees records.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp, sici

from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import chebyshev_basis
from headlife.life.hazard import Chance, NodeWeights
from headlife.life.interval_rows import Rows, height, peak

FloatArray = NDArray[np.float64]

_POINTS: Final = 128  # equal steps of the log hazard per shape
_DEPTH: Final = 30.0  # log density below the peak where a table ends
_GROW: Final = 1.2  # steps of the search for where a table ends
_TINY: Final = 1e-17  # below this 1 - exp(-x) is x
_ON_POINT: Final = 1e-9  # steps from a point at which the slope of sin(x)/x is 0 in digits
_DRAW_SHAPES: Final = 65
_FINER: Final = 4  # points of the table draws are looked up in, per step


@dataclass(frozen=True, eq=False)
class TableHazard:
    """Distribution of the log hazard at each of k shapes, on equal steps.

    Attributes
    ----------
    start, step
        First point and step of each table [-], (k,).
    density
        Density of the log hazard at the points times the step, summing to 1, (k, j).
    log_mass
        Log of the integral before it was made 1, (k,).
    """

    start: FloatArray
    step: FloatArray
    density: FloatArray
    log_mass: FloatArray

    def at(self, index: Any) -> TableHazard:
        """As in `Hazard`: one life's tables serve any levels."""
        del index
        return self

    def below(
        self, level: FloatArray, weights: NodeWeights
    ) -> tuple[FloatArray, NDArray[np.bool_]]:
        """As in `Hazard`."""
        value = np.empty(level.shape)
        for at in np.ndindex(level.shape[:-1]):
            integral = 0.5 + sici(np.pi * self._place(level[at]))[0] / np.pi
            value[at] = np.einsum("kj,kj->k", integral, self.density)
        below = (np.clip(value, 0.0, 1.0) * weights.each).sum(axis=-1)
        return below, np.zeros(below.shape, bool)

    def chance(self, level: FloatArray, slope: FloatArray, weights: NodeWeights) -> Chance:
        """As in `Hazard`, by the sine-cardinal series and its derivatives."""
        densities = np.empty((3, *level.shape))
        for at in np.ndindex(level.shape[:-1]):
            place = self._place(level[at])
            wave = np.sinc(place)
            on_point = np.abs(place) < _ON_POINT
            away = np.where(on_point, np.inf, place)
            fall = (np.cos(np.pi * place) - wave) / away
            bend = np.where(on_point, -(np.pi**2) / 3.0, -(np.pi**2) * wave - 2.0 * fall / away)
            for order, series in enumerate((wave, fall, bend)):
                each = np.einsum("kj,kj->k", series, self.density) / self.step ** (order + 1)
                densities[(order, *at)] = each
        rates = slope ** np.arange(1.0, 4.0).reshape(3, *[1] * slope.ndim)
        first, second, third = (densities * (rates * weights.each)).sum(axis=-1)
        below, coarse = self.below(level, weights)
        return Chance(below, np.maximum(first, 0.0), second, third, coarse)

    @cached_property
    def moments(self) -> tuple[FloatArray, float, float, float]:
        """As in `Hazard`, those past the first averaged over the shapes."""
        points = self._points
        mean = (self.density * points).sum(axis=1)
        away = points - mean[:, None]
        second, third, fourth = ((self.density * away**k).sum(axis=1) for k in (2, 3, 4))
        excess = fourth - 3.0 * second**2
        return mean, float(second.mean()), float(third.mean()), float(excess.mean())

    def points(self, per_shape: int) -> tuple[FloatArray, FloatArray]:
        """As in `Hazard`: every point of the tables."""
        del per_shape  # equal steps are exact as they are, and no fewer would be
        return self._points, self.density

    def quantile(self, table: NDArray[np.intp], probability: FloatArray) -> FloatArray:
        """Log hazard with the given probability [-] below it, in the given tables, (n,).

        Parameters
        ----------
        table : array of int
            Which table, (n,).
        probability : array of float
            Probability [-] below, (n,).

        Returns
        -------
        array of float
            Log hazards, (n,).
        """
        cumulative = self._cumulative
        columns = cumulative.shape[1]
        # Rows of probabilities, each raised by its number, make one ascending list to search.
        raised = (cumulative + 2.0 * np.arange(len(cumulative))[:, None]).ravel()
        left = np.searchsorted(raised, probability + 2.0 * table, side="right") - 1
        left = np.clip(left - table * columns, 0, columns - 2)
        low, high = cumulative[table, left], cumulative[table, left + 1]
        part = np.clip((probability - low) / np.maximum(high - low, _TINY), 0.0, 1.0)
        return np.asarray(self.start[table] + self.step[table] * (left + part) / _FINER, float)

    @cached_property
    def _cumulative(self) -> FloatArray:
        """Probability below points of a finer table (k, i)."""
        steps = np.arange(self.density.shape[1])
        finer = np.arange((len(steps) - 1) * _FINER + 1) / _FINER
        integral = 0.5 + sici(np.pi * (finer[:, None] - steps[None, :]))[0] / np.pi
        return np.maximum.accumulate(np.clip(self.density @ integral.T, 0.0, 1.0), axis=1)

    @property
    def _points(self) -> FloatArray:
        steps = np.arange(self.density.shape[1])
        return self.start[:, None] + self.step[:, None] * steps[None, :]

    def _place(self, level: FloatArray) -> FloatArray:
        """Count the steps from every point of each table to its level (k,), (k, j)."""
        steps = np.arange(self.density.shape[1])
        return ((level - self.start) / self.step)[:, None] - steps[None, :]


def hazard_at(
    evidence: Evidence, count: float, log_shape: FloatArray, log_curve: FloatArray
) -> TableHazard:
    """Tabulate the hazard's distribution at shapes (k,); ``count`` as in `GammaHazard`.

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    count : float
        Failures and started failures [heads], as in `GammaHazard`.
    log_shape : array of float
        Log shapes [-], (k,).
    log_curve : array of float
        Log exposure at each shape, (k,).

    Returns
    -------
    TableHazard
        The tables.
    """
    rows = Rows.at(evidence, log_shape)
    mode, top = peak(rows, count, log_curve)
    reach = _DEPTH / (count + rows.weight.sum())
    left = _where_it_ends(rows, count, log_curve, mode, top, -reach)
    right = _where_it_ends(rows, count, log_curve, mode, top, 0.25 * reach)
    step = (right - left) / (_POINTS - 1)
    points = left[:, None] + step[:, None] * np.arange(_POINTS)
    density = np.exp(height(rows, count, log_curve, points) - top[:, None])
    mass = density.sum(axis=1)
    return TableHazard(left, step, density / mass[:, None], top + np.log(mass * step))


def log_factor(
    evidence: Evidence, started: float, log_shape: FloatArray, log_curve: FloatArray
) -> FloatArray:
    """Log of what interval rows and the hazard prior add to the shape's density (k,).

    Without rows the hazard integrates to ``S ** -failures`` and the prior, which is on the
    expected failures of the record, leaves no other trace; here the integral is numerical and
    the expected failures count the exposure of the gaps as well.

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    started : float
        Failures that the hazard's prior starts with [heads].
    log_shape : array of float
        Log shapes [-], (k,).
    log_curve : array of float
        Log exposure at each shape, (k,).

    Returns
    -------
    array of float
        Logarithms, (k,).
    """
    rows = Rows.at(evidence, log_shape)
    count = evidence.failures + started
    mass = hazard_at(evidence, count, log_shape, log_curve).log_mass
    gaps = logsumexp(rows.log_gap, b=rows.weight, axis=1)
    whole = np.logaddexp(log_curve, gaps)
    return np.asarray(mass + started * whole + evidence.failures * log_curve, float)


def _where_it_ends(
    rows: Rows,
    count: float,
    log_curve: FloatArray,
    mode: FloatArray,
    top: FloatArray,
    away: float,
) -> FloatArray:
    """Find a point on one side of the mode where the density counts as nothing, (k,)."""
    reach = np.full(mode.shape, away)
    while True:
        there = height(rows, count, log_curve, (mode + reach)[:, None])[:, 0]
        short = there > top - _DEPTH
        if not short.any():
            return np.asarray(mode + reach, float)
        reach = np.where(short, reach * _GROW, reach)


def draw(
    evidence: Evidence,
    count: float,
    grid: FloatArray,
    log_shape: FloatArray,
    rng: np.random.Generator,
) -> FloatArray:
    """Draw one log hazard for each drawn log shape (n,) that lies on ``grid``'s stretch.

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    count : float
        Failures and started failures [heads], as in `GammaHazard`.
    grid : array of float
        Log shapes [-] that span the posterior, ascending.
    log_shape : array of float
        Drawn log shapes [-], (n,).
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    array of float
        Log hazards, (n,).
    """
    nodes = np.linspace(grid[0], grid[-1], _DRAW_SHAPES)
    log_curve = np.asarray(
        chebyshev_basis(nodes, evidence.log_curve.size) @ evidence.log_curve, float
    )
    table = hazard_at(evidence, count, nodes, log_curve)
    width = (grid[-1] - grid[0]) / (_DRAW_SHAPES - 1)
    place = (log_shape - grid[0]) / width if width > 0 else np.zeros(log_shape.shape)
    left = np.clip(place.astype(int), 0, _DRAW_SHAPES - 2)
    part = place - left
    chance = rng.random(len(log_shape))
    # The same chance on the tables either side, joined: quantiles vary smoothly with the shape.
    low, high = table.quantile(left, chance), table.quantile(left + 1, chance)
    return np.asarray((1.0 - part) * low + part * high, float)
