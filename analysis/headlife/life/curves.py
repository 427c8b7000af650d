"""What does a fitted life look like over a whole axis of hours? Curves with their band.

From a fitted life. A bound on the share still running is smooth in the logarithm of the hours, so
a curve needs the exact bounds, which cost time, at about thirty hours only. Never draws, and never
used for a number that is printed.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd

EXACT_AT: Final = 16  # hours, evenly spaced once in logarithm and once plainly, with exact bounds
_SMALLEST: Final = 1e-300
_SURVIVAL_POINTS: Final = 160
_FAILED_POINTS: Final = 120


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
    nodes = _nodes(hours)
    low, high = life.reliability_bounds(nodes, confidence=confidence)
    return _smooth(nodes, low, hours), _smooth(nodes, high, hours)


def median_reliability(life: Any, hours: np.ndarray) -> np.ndarray:
    """Share still running as likely above as below, for drawing.

    It is the estimate that verdicts name (`decisions.rating`), over a whole axis.

    Parameters
    ----------
    life : Life
        With a posterior `mixture`.
    hours : array
        Increasing and above 0 [h].

    Returns
    -------
    array
        Posterior median [-], at `hours`.
    """
    nodes = _nodes(hours)
    return _smooth(nodes, np.exp(-life.mixture.cumulative_hazard(nodes, 0.5)), hours)


def _nodes(hours: np.ndarray) -> np.ndarray:
    """Hours [h] at which a curve is exact."""
    first, last = hours[0], hours[-1]
    return np.unique(
        np.concatenate([np.geomspace(first, last, EXACT_AT), np.linspace(first, last, EXACT_AT)])
    )


def _smooth(nodes: np.ndarray, survival: np.ndarray, hours: np.ndarray) -> np.ndarray:
    """Carry a share still running from its nodes to all hours."""
    # Monotone between its points, as the share is; imported here, for it loads slowly.
    from scipy.interpolate import PchipInterpolator

    # The logarithm of the cumulative hazard: a straight line for a Weibull life.
    height = np.log(np.maximum(-np.log(np.maximum(survival, _SMALLEST)), _SMALLEST))
    smooth = PchipInterpolator(np.log(nodes), height)
    return np.asarray(np.exp(-np.exp(smooth(np.log(hours)))))


def fitted_survival(life: Any, last_hours: float, confidence: float = 0.90) -> pd.DataFrame:
    """Compute the fitted share still running, with its band, from 0 to `last_hours`.

    The curve is the posterior's median, on which the share said to reach the rating lies.

    Parameters
    ----------
    life : Life
        The fitted life.
    last_hours : float
        Where the curve ends [h].
    confidence : float, optional
        Of the band, two-sided [-].

    Returns
    -------
    DataFrame
        `hours` [h], `survival`, `low`, `high` [-].
    """
    hours = np.linspace(last_hours / _SURVIVAL_POINTS, last_hours, _SURVIVAL_POINTS)
    low, high = reliability_band(life, hours, confidence)
    start = pd.DataFrame({"hours": [0.0], "survival": [1.0], "low": [1.0], "high": [1.0]})
    curve = pd.DataFrame(
        {"hours": hours, "survival": median_reliability(life, hours), "low": low, "high": high}
    )
    return pd.concat([start, curve], ignore_index=True)


def fitted_line(life: Any, first_hours: float, last_hours: float) -> pd.DataFrame:
    """Compute the fitted share failed with its 90 % band between two hours, even in log hours.

    Parameters
    ----------
    life : Life
        The fitted life.
    first_hours, last_hours : float
        Ends of the line [h].

    Returns
    -------
    DataFrame
        `hours` [h], `share_failed`, `low`, `high` [-].
    """
    hours = np.geomspace(first_hours, last_hours, _FAILED_POINTS)
    low, high = reliability_band(life, hours)
    return pd.DataFrame(
        {
            "hours": hours,
            "share_failed": 1.0 - np.asarray(life.reliability(hours)),
            "low": 1.0 - np.asarray(high),
            "high": 1.0 - np.asarray(low),
        }
    )
