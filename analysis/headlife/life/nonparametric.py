"""What do the lives say of themselves, before any life distribution is assumed?

From lives (with delayed entry): the Kaplan-Meier steps, the heads at risk, and where the failures
lie on a probability plot. Never fits a distribution, never draws.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd


def kaplan_meier(lives: pd.DataFrame, failed: Any) -> pd.DataFrame:
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
        `failures` [heads] and `censored` [heads] there.
    """
    from lifelines import KaplanMeierFitter

    columns = ["hours", "survival", "at_risk", "failures", "censored"]
    if len(lives) == 0:
        return pd.DataFrame({name: np.empty(0) for name in columns})
    entry = lives["entry_hours"].to_numpy(float)
    fitter = KaplanMeierFitter().fit(
        lives["exit_hours"].to_numpy(float),
        np.asarray(failed, bool),
        # lifelines counts a life that enters at 0 as late as well; it is not.
        entry=entry if np.any(entry > 0) else None,
    )
    table = fitter.event_table
    hours = table.index.to_numpy(float)
    return pd.DataFrame(
        {
            "hours": hours,
            "survival": fitter.survival_function_.iloc[:, 0].to_numpy(float),
            "at_risk": heads_at_risk(lives, hours),
            "failures": table["observed"].to_numpy(int),
            "censored": table["censored"].to_numpy(int),
        }
    )


def heads_at_risk(lives: pd.DataFrame, hours: Any) -> np.ndarray:
    """Count the heads at risk at each hour: entered before it, not yet out before it.

    At hour 0 it is the heads that start there.
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

    Returns
    -------
    DataFrame
        `hours` [h], `share_failed` [-], one row per failure (per step with delayed entry).
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
    failed_by = 1.0 - steps["survival"].to_numpy()
    before = np.concatenate([[0.0], failed_by[:-1]])
    middle = (before + failed_by) / 2
    at = (steps["failures"].to_numpy() > 0) & (middle < 1)
    return pd.DataFrame({"hours": steps["hours"].to_numpy()[at], "share_failed": middle[at]})
