"""What do failures between two readings say of the hazard, up to a constant? Its log density.

Up to its last good reading such a head is a survivor and sits in the exposure curve; what is
left of its likelihood is ``1 - exp(-hazard * gap)`` with ``gap = (found/reference) ** shape -
(good/reference) ** shape``. The log density of the log hazard is concave: its peak, and where it
has fallen so far, are found here. Knows no prior and never sees records.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from headlife.life.evidence import Evidence

FloatArray = NDArray[np.float64]

_CELLS: Final = 4_000_000  # doubles of work space at a time (32 MB)
_TINY: Final = 1e-17  # below this 1 - exp(-x) is x
_HUGE: Final = 700.0  # beyond this exp overflows
_NEWTON_STEPS: Final = 60
_HALVINGS: Final = 45  # of a bracket: down to rounding


@dataclass(frozen=True, eq=False)
class Rows:
    """The interval rows at k shapes.

    Attributes
    ----------
    log_gap
        Log of each row's gap at each shape [-], (k, n).
    weight
        Heads each row stands for, (n,).
    """

    log_gap: FloatArray
    weight: FloatArray

    @classmethod
    def at(cls, evidence: Evidence, log_shape: FloatArray) -> Rows:
        """Gaps of the evidence's interval rows at shapes (k,); equal rows are one row.

        Parameters
        ----------
        evidence : Evidence
            Evidence with interval rows.
        log_shape : array of float
            Log shapes [-], (k,).

        Returns
        -------
        Rows
            The rows, equal ones counted together.
        """
        ends, inverse = np.unique(evidence.intervals[:, :2], axis=0, return_inverse=True)
        weight = np.bincount(inverse.ravel(), weights=evidence.intervals[:, 2]).astype(float)
        shape = np.exp(log_shape)[:, None]
        found = np.log(ends[:, 1] / evidence.reference_hours)
        with np.errstate(divide="ignore"):
            shrink = np.log(ends[:, 0] / ends[:, 1])
        return cls(shape * found + np.log(-np.expm1(shape * shrink)), weight)

    def terms(self, log_hazard: FloatArray) -> FloatArray:
        """Sum over rows of ``log(1 - exp(-hazard * gap))`` at log hazards (k, j).

        Parameters
        ----------
        log_hazard : array of float
            Log hazards [-] at each of k shapes, (k, j).

        Returns
        -------
        array of float
            Sums, (k, j).
        """
        total = np.zeros(log_hazard.shape)
        block = max(1, _CELLS // log_hazard.size)
        for start in range(0, len(self.weight), block):
            part = slice(start, start + block)
            level = self._level(log_hazard, part)
            dose = np.exp(np.minimum(level, _HUGE))
            # log(1 - exp(-dose)) is log(dose) where the subtraction would lose its digits
            value = np.where(dose < _TINY, level, np.log(-np.expm1(-np.maximum(dose, _TINY))))
            total += value @ self.weight[part]
        return total

    def slopes(self, log_hazard: FloatArray) -> tuple[FloatArray, FloatArray]:
        """First and second derivative of `terms` in the log hazard (k,).

        Parameters
        ----------
        log_hazard : array of float
            Log hazard [-] at each of k shapes, (k,).

        Returns
        -------
        tuple of array of float
            First and second derivative, (k,) each.
        """
        first, second = np.zeros(log_hazard.shape), np.zeros(log_hazard.shape)
        block = max(1, _CELLS // log_hazard.size)
        for start in range(0, len(self.weight), block):
            part = slice(start, start + block)
            dose = np.exp(np.minimum(self._level(log_hazard[:, None], part)[:, 0, :], _HUGE))
            small = np.minimum(np.maximum(dose, 1e-12), _HUGE)
            ratio = small / np.expm1(small)
            first += ratio @ self.weight[part]
            second += (ratio * (1.0 - small - ratio)) @ self.weight[part]
        return first, second

    def _level(self, log_hazard: FloatArray, part: slice) -> FloatArray:
        return np.asarray(log_hazard[:, :, None] + self.log_gap[:, None, part], float)


def peak(rows: Rows, count: float, log_curve: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Most likely log hazard at each shape and the log density there, (k,) each.

    Parameters
    ----------
    rows : Rows
        Interval rows at the shapes.
    count : float
        Failures and started failures [heads], as in `GammaHazard`.
    log_curve : array of float
        Log exposure at each shape, (k,).

    Returns
    -------
    tuple of array of float
        Log hazards and log densities, constant left out, (k,) each.
    """
    gaps = logsumexp(rows.log_gap, b=rows.weight, axis=1)
    guess = np.log(count + rows.weight.sum()) - np.logaddexp(log_curve, gaps)
    for _ in range(_NEWTON_STEPS):
        dose = np.exp(np.minimum(guess + log_curve, _HUGE))
        first, second = rows.slopes(guess)
        step = -(count - dose + first) / np.minimum(second - dose, -1e-12)
        step = np.clip(step, -2.0, 2.0)
        guess = guess + step
        if (np.abs(step) < 1e-12).all():
            break
    return guess, height(rows, count, log_curve, guess[:, None])[:, 0]


def height(rows: Rows, count: float, log_curve: FloatArray, log_hazard: FloatArray) -> FloatArray:
    """Log density of the log hazard at points.

    Parameters
    ----------
    rows : Rows
        Interval rows at the shapes.
    count : float
        Failures and started failures [heads], as in `GammaHazard`.
    log_curve : array of float
        Log exposure at each shape, (k,).
    log_hazard : array of float
        Log hazards [-], (k, j).

    Returns
    -------
    array of float
        Log densities, constant left out, (k, j).
    """
    dose = np.exp(np.minimum(log_hazard + log_curve[:, None], _HUGE))
    return np.asarray(count * log_hazard - dose + rows.terms(log_hazard), float)


def crossing(
    rows: Rows, log_curve: FloatArray, count: float, spare: FloatArray, above: bool
) -> FloatArray:
    """Log hazard on one side of the peak where the log density is lower by ``spare``, (k,).

    By halving: SciPy's search of many roots takes five times as long at fifty shapes.

    Parameters
    ----------
    rows : Rows
        Interval rows at the shapes.
    log_curve : array of float
        Log exposure at each shape, (k,).
    count : float
        Failures and started failures [heads], as in `GammaHazard`.
    spare : array of float
        How far below the peak, zero or more, (k,).
    above : bool
        The hazard above the peak, not the one below.

    Returns
    -------
    array of float
        Log hazards, (k,).
    """
    mode, top = peak(rows, count, log_curve)
    inner, outer = mode, mode.copy()
    reach = np.full(mode.shape, 0.1 if above else -0.1)
    while True:
        outer = mode + reach
        short = height(rows, count, log_curve, outer[:, None])[:, 0] > top - spare
        if not short.any():
            break
        reach = np.where(short, 2.0 * reach, reach)
    for _ in range(_HALVINGS):
        middle = 0.5 * (inner + outer)
        inside = height(rows, count, log_curve, middle[:, None])[:, 0] > top - spare
        inner, outer = np.where(inside, middle, inner), np.where(inside, outer, middle)
    return np.asarray(0.5 * (inner + outer), float)
