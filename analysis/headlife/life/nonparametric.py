"""What do the lives say of themselves, before any life distribution is assumed?

From lives (with delayed entry): the Kaplan-Meier steps, the heads at risk, and where the failures
lie on a probability plot. Never fits a distribution, never draws.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

FloatArray = NDArray[np.float64]


def product_limit(
    entry: FloatArray, exit_: FloatArray, failed: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    """Product-limit steps at the ages of failures.

    At risk on (entry, exit]; a head taken out at the age of a failure was still at risk for it
    (Kaplan and Meier, J. American Statistical Association 53, 1958; with delayed entry: Klein and
    Moeschberger, Survival Analysis, 2nd ed. 2003, section 4.6).

    Parameters
    ----------
    entry, exit_, failed : arrays of float, array of bool
        Ages [h] and whether each life ended in the failure looked at, (n,) each.

    Returns
    -------
    hours : array
        Ages of failures [h], ascending, (k,).
    share : array
        Share failed just after each [-], (k,). Once all that are at risk fail it stays at 1, also
        where younger heads come under watch later.
    """
    hours, dead = np.unique(exit_[failed], return_counts=True)
    entered = np.searchsorted(np.sort(entry), hours, side="left")
    gone = np.searchsorted(np.sort(exit_), hours, side="left")
    share = 1.0 - np.cumprod(1.0 - dead / (entered - gone))
    return hours, np.asarray(share, float)


def kaplan_meier(lives: pd.DataFrame, failed: ArrayLike) -> pd.DataFrame:
    """Kaplan-Meier steps with the heads at risk, from lives that may have entered late.

    Parameters
    ----------
    lives : DataFrame
        Columns `entry_hours`, `exit_hours` [h], one row per head life; at risk on (entry, exit].
    failed : array of bool
        True where the life ended in the failure looked at.

    Returns
    -------
    DataFrame
        `hours` [h] of each change, `survival` [-] from there on, `at_risk` [heads] just before,
        `failures` [heads] and `censored` [heads] there. Where every head then at risk fails
        although others come under watch later, such as the first failure of used heads when one
        alone is running, the product says 0 for ever after; `survival` is NaN (not known) from
        there on instead.
    """
    ended = np.asarray(failed, bool)
    entry, leave = (lives[name].to_numpy(float) for name in ("entry_hours", "exit_hours"))
    start = [0.0] if (entry <= 0).any() else []
    hours = np.unique(np.concatenate([start, entry[entry > 0], leave]))
    at, share = product_limit(entry, leave, ended)
    survival = 1.0 - np.append(0.0, share)[np.searchsorted(at, hours, side="right")]
    nobody_left = hours[survival <= 0]
    if len(nobody_left) and leave.max() > nobody_left[0]:
        survival[survival <= 0] = np.nan
    return pd.DataFrame(
        {
            "hours": hours,
            "survival": survival,
            "at_risk": heads_at_risk(lives, hours),
            "failures": _counts(leave[ended], hours),
            "censored": _counts(leave[~ended], hours),
        }
    )


def heads_at_risk(lives: pd.DataFrame, hours: Any) -> np.ndarray:
    """Count the heads at risk at each hour: entered before it, not yet out before it.

    At hour 0 it is the heads that start there.

    Parameters
    ----------
    lives : DataFrame
        Columns `entry_hours`, `exit_hours` [h], one row per head life.
    hours : array of float
        Ages [h], (n,).

    Returns
    -------
    array of int
        Heads at risk [heads], (n,).
    """
    entry = lives["entry_hours"].to_numpy(float)
    leave = lives["exit_hours"].to_numpy(float)
    at = np.asarray(hours, float)[:, None]
    return np.asarray(np.where(at > 0, (entry < at) & (at <= leave), entry <= 0).sum(axis=1))


def plotting_positions(lives: pd.DataFrame, failed: Any) -> pd.DataFrame:
    """Hours of each failure and the share failed to plot it at.

    Median ranks adjusted for censored heads, by the `reliability` library. It knows no delayed
    entry; where heads entered late, the middle of each Kaplan-Meier step is plotted instead
    (Meeker and Escobar, Statistical Methods for Reliability Data, 1998, section 6.4).

    Parameters
    ----------
    lives : DataFrame
        Columns `entry_hours`, `exit_hours` [h], one row per head life.
    failed : array of bool
        True where the life ended in the failure looked at.

    Returns
    -------
    DataFrame
        `hours` [h], `share_failed` [-], one row per failure (per step with delayed entry). The
        share is NaN where `kaplan_meier` does not know it.
    """
    failed = np.asarray(failed, bool)
    if not failed.any():
        return pd.DataFrame({"hours": np.empty(0), "share_failed": np.empty(0)})
    if (lives["entry_hours"].to_numpy(float) > 0).any():
        return _step_middles(kaplan_meier(lives, failed))
    from reliability.Probability_plotting import plotting_positions as median_ranks

    hours = lives["exit_hours"].to_numpy(float)
    # A head taken out at the hour of a failure was still running then: it ranks after it.
    taken_out = np.nextafter(hours[~failed], np.inf)
    at, share = median_ranks(failures=hours[failed], right_censored=taken_out, sort=True)
    return pd.DataFrame({"hours": np.asarray(at, float), "share_failed": np.asarray(share, float)})


def _step_middles(steps: pd.DataFrame) -> pd.DataFrame:
    """Failures at the middle of their step; NaN where the step is not known."""
    failed_by = 1.0 - steps["survival"].to_numpy()
    before = np.concatenate([[0.0], failed_by[:-1]])
    at = steps["failures"].to_numpy() > 0
    middle = 0.5 * (before + failed_by)
    return pd.DataFrame({"hours": steps["hours"].to_numpy()[at], "share_failed": middle[at]})


def _counts(ages: FloatArray, hours: FloatArray) -> NDArray[np.intp]:
    """How many of the ages [h] lie at each of the ascending hours."""
    return np.asarray(np.bincount(np.searchsorted(hours, ages), minlength=len(hours)), np.intp)
