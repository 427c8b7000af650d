"""Every check of one stratum at once: is its fitted life fair, and what else is in its records?

From lives and installations as the records room gives them: the Weibull check, rival lives, the
effects of material, printer, site and role, drift with the purchase date, and the trend of the
positions. Each part has its data; words and figures are made of them elsewhere. Never changes a
fit and decides nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.life.diagnostics.adequacy import WeibullCheck, check_weibull
from headlife.life.diagnostics.drift import Drift, drift_by_purchase
from headlife.life.diagnostics.effects import Effect, compare_levels
from headlife.life.diagnostics.rivals import Rivals, compare_lives
from headlife.life.diagnostics.trend import PositionFailures, Trend, head_eaters, position_trend
from headlife.records.of_the_head import bought_on

if TYPE_CHECKING:
    import pandas as pd

FACTORS: Final = ("material", "printer", "site", "role")


@dataclass(frozen=True)
class Diagnosis:
    """What the checks of one stratum found."""

    check: WeibullCheck
    """The failures against a Weibull life."""
    rivals: Rivals
    """Other kinds of life, and what the answer would be under them."""
    effects: tuple[Effect, ...]
    """Material, printer, site and role, as far as heads differ in them."""
    drift: Drift
    """Life against the date of purchase."""
    trend: Trend
    """Failures of the positions over the hours they ran, every failure mode."""
    positions: PositionFailures
    """Failures of every position beside those expected, every failure mode."""

    @property
    def parts(
        self,
    ) -> tuple[WeibullCheck | Rivals | Effect | Drift | Trend | PositionFailures, ...]:
        """Every finding, in the order in which they are told."""
        return (
            self.check,
            self.rivals,
            *self.effects,
            self.drift,
            self.trend,
            self.positions,
        )


def diagnose(
    lives: pd.DataFrame,
    installations: pd.DataFrame,
    *,
    mode: str,
    rated_hours: float,
    share: float = 0.90,
    seed: int = 1,
) -> Diagnosis:
    """Run every check on the lives of one head type, or of one of its roles.

    Parameters
    ----------
    lives : DataFrame
        One row per head life, as `headlife.lives` gives them.
    installations : DataFrame
        The accepted records of the same heads, one row per installation.
    mode : str
        The failure mode that the rating is about; other modes take heads out.
    rated_hours : float
        Rated life [h].
    share : float, optional
        Share of heads that effects in hours are about [-].
    seed : int, optional
        Of the simulated records.

    Returns
    -------
    Diagnosis
        Every finding.

    Raises
    ------
    EvidenceError
        Lives whose ages make no sense.
    """
    ran = lives[lives["exit_hours"] > lives["entry_hours"]]
    entry, exit_, failed = failure_ages(ran, mode)
    labels = {name: ran[name] for name in FACTORS if len(ran[name].dropna().unique()) > 1}
    runs = installations[installations["hours_out"] > installations["hours_in"]]
    runs = runs.sort_values(["date_in", "row"], kind="stable")
    start, end = runs["hours_in"].to_numpy(float), runs["hours_out"].to_numpy(float)
    ended = runs["mode"].notna().to_numpy(bool)
    place = runs["printer"].astype(str) + " " + runs["position"].astype(str)
    return Diagnosis(
        check=check_weibull(entry, exit_, failed, seed=seed),
        rivals=compare_lives(entry, exit_, failed, rated_hours=rated_hours),
        effects=compare_levels(entry, exit_, failed, labels, share=share, seed=seed),
        drift=drift_by_purchase(
            entry, exit_, failed, bought_on(ran).to_numpy(), share=share, seed=seed
        ),
        trend=position_trend(place, start, end, ended),
        positions=head_eaters(runs["printer"], runs["position"], start, end, ended),
    )


def failure_ages(lives: pd.DataFrame, mode: str) -> tuple[Any, Any, Any]:
    """Entry and exit ages [h] and whether the mode ended the life, for the checks.

    A failure known only to lie between two readings is put in the middle: good enough to judge
    fairness, not to fit a life.

    Parameters
    ----------
    lives : DataFrame
        One row per head life, as `headlife.lives` gives them.
    mode : str
        The failure mode looked at.

    Returns
    -------
    tuple of arrays
        Entry ages [h], exit ages [h] and whether the mode ended the life, (n,).
    """
    entry = lives["entry_hours"].to_numpy(float)
    exit_ = lives["exit_hours"].to_numpy(float)
    failed = (lives["mode"] == mode).fillna(False).to_numpy(bool)
    good = lives["last_good_hours"].to_numpy(float)
    between = failed & (good < exit_)
    middle = np.maximum(0.5 * (good + exit_), np.nextafter(entry, np.inf))
    return entry, np.where(between, middle, exit_), failed
