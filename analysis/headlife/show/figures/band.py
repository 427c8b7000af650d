"""How wide is a fitted life's band over a whole axis of hours? From exact bounds at a few hours.

A bound on the share still running is smooth in the logarithm of the hours, so a curve needs the
exact bounds, which cost time, at about thirty hours only. Never used for a number that is printed.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

EXACT_AT: Final = 16  # hours, evenly spaced once in logarithm and once plainly, with exact bounds
_SMALLEST: Final = 1e-300


def reliability_band(
    life: Any, hours: np.ndarray, confidence: float = 0.90
) -> tuple[np.ndarray, np.ndarray]:
    """Lower and upper bound on the share still running, for drawing.

    Parameters
    ----------
    life : Life
        With `reliability_bounds`.
    hours : array
        Increasing and above 0 [h].
    confidence : float
        Two-sided [-].

    Returns
    -------
    tuple of arrays
        Lower and upper bound [-], at `hours`.
    """
    from scipy.interpolate import (
        PchipInterpolator,
    )  # monotone between its points, as the bounds are

    first, last = hours[0], hours[-1]
    nodes = np.unique(
        np.concatenate([np.geomspace(first, last, EXACT_AT), np.linspace(first, last, EXACT_AT)])
    )
    curves = []
    for bound in life.reliability_bounds(nodes, confidence=confidence):
        # The logarithm of the cumulative hazard: a straight line for a Weibull life.
        height = np.log(np.maximum(-np.log(np.maximum(bound, _SMALLEST)), _SMALLEST))
        smooth = PchipInterpolator(np.log(nodes), height)
        curves.append(np.exp(-np.exp(smooth(np.log(hours)))))
    return curves[0], curves[1]
