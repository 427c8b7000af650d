"""In which week do print hours fall, and how far do they spread? From hours a week to weeks.

The weeks of a horizon, the clock that turns print hours of many paths into weeks, and random
factors on print hours. Knows no head.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from headlife.futures.draws import Hours, Index
from headlife.numbers import Floats

# Print hours of a week too few to divide by in single precision [h].
LEAST_HOURS: Final = 1e-6
# Factor on print hours taken for none [-].
LEAST_FACTOR: Final = np.float32(1e-30)


def week_lengths(weeks: float) -> Floats:
    """Lengths of the weeks of a horizon; the last may be a part of one [weeks].

    Parameters
    ----------
    weeks : float
        The horizon [weeks].

    Returns
    -------
    array of float
        Lengths [weeks], whose sum is the horizon.
    """
    lengths = np.ones(math.ceil(weeks))
    if lengths.size:
        lengths[-1] = weeks - (lengths.size - 1)
    return lengths


class Clock:
    """From print hours since now, at steady use, to the week they fall in."""

    def __init__(self, weekly_hours: Floats) -> None:
        """Take the print hours of each week [h]."""
        passed = np.cumsum(weekly_hours)
        first, last = weekly_hours[0], weekly_hours[-1]
        self._passed: Hours = passed.astype(np.float32)
        self._last = np.float32(weekly_hours.size - 1)
        # The same hours every week is the usual case and needs no search; the last week may be
        # a part of one.
        steady = bool(np.all(weekly_hours[:-1] == first)) and LEAST_HOURS < last <= first
        self._per_hour = np.float32(1.0 / first) if steady else None
        self.horizon = float(self._passed[-1])

    def week(self, hours: Hours) -> Index:
        """Week (from 0) in which the given print hours are reached.

        Parameters
        ----------
        hours : Hours
            Print hours from now on [h].

        Returns
        -------
        Index
            Weeks, from 0.
        """
        if self._per_hour is None:
            return np.minimum(np.searchsorted(self._passed, hours, side="left"), int(self._last))
        week = hours * self._per_hour
        return np.minimum(week, self._last, out=week).astype(np.intp)


def slower(factor: Hours | None) -> Hours | None:
    """Turn factors on print hours [-] into what makes them hours of steady use [-].

    Parameters
    ----------
    factor : Hours or None
        Factors on print hours [-]; None where use is steady.

    Returns
    -------
    Hours or None
        What print hours are multiplied by [-]; None where use is steady.
    """
    return None if factor is None else 1.0 / np.maximum(factor, LEAST_FACTOR)


def usage_factor(sd: float | Floats, draws: int, rng: np.random.Generator) -> Hours | None:
    """Draw factors on the print hours of one printer, or of several, of mean 1.

    Parameters
    ----------
    sd : float or array of float
        Their standard deviation [-], one for each of several printers; where it is 0 there is
        nothing to draw.
    draws : int
        How many for each printer.
    rng : numpy.random.Generator
        Source of random numbers.

    Returns
    -------
    Hours or None
        Factors [-], gamma, (draws,) or printers x draws; None where there is nothing to draw.
    """
    spread = np.asarray(sd, dtype=np.float64)
    if not spread.any():
        return None
    if not spread.ndim:
        gamma_shape = float(sd) ** -2
        return np.asarray(rng.standard_gamma(gamma_shape, draws) / gamma_shape, dtype=np.float32)
    factors = np.ones((spread.size, draws), dtype=np.float32)
    shapes = spread[spread > 0, None] ** -2
    factors[spread > 0] = rng.standard_gamma(shapes, (shapes.size, draws)) / shapes
    return factors
