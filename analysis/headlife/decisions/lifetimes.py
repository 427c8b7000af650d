"""Does a rated life hold, from nothing but a table of lifetimes?

From hours, failed or not, and where given counts, late entries and groups: fits each group and all
together and judges the rating. Sees no calendar, no printer and no settings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from headlife.decisions.rating import RatingVerdict, judge_rating
from headlife.errors import DecisionError

if TYPE_CHECKING:
    import pandas as pd

    from headlife.life.posterior import Life

ALL_GROUPS: Final = "all groups together"
Bounds = tuple[float, float]


@dataclass(frozen=True)
class GroupVerdict:
    """One group of lifetimes: its fit, and the verdict on the rating."""

    group: str
    """Name of the group."""
    heads: int
    """Number of lives [heads]."""
    failures: int
    """Lives that ended in a failure [heads]."""
    hours_run: float
    """Hours of all of them together [h]."""
    oldest_hours: float
    """Age of the oldest of them [h]."""
    life: Life
    """Posterior of the life."""
    verdict: RatingVerdict
    """Verdict on the rating; its bounds are one-sided at `confidence` each."""

    @property
    def range_confidence(self) -> float:
        """What a range holds whose bounds are each as sure as the verdict asks [-]."""
        return 2.0 * self.verdict.confidence - 1.0

    @property
    def b_life(self) -> float:
        """Hours that the claimed share reaches, the familiar estimate of the fit [h]."""
        return float(self.life.life(1.0 - self.verdict.share))

    @property
    def reliability(self) -> float:
        """Share that reaches the rated hours, the familiar estimate of the fit [-]."""
        return float(self.life.reliability(self.verdict.rated_hours))

    @property
    def shape_bounds(self) -> Bounds:
        """Bounds on the Weibull shape from the posterior [-]."""
        return self.life.shape_bounds(self.range_confidence)

    @property
    def b_life_likelihood_ratio(self) -> Bounds | None:
        """Likelihood-ratio bounds on the hours that the claimed share reaches [h]."""
        if not self.life.has_ml:
            return None
        failed = 1.0 - self.verdict.share
        return self.life.likelihood_ratio_life_bounds(failed, self.range_confidence)

    @property
    def reliability_likelihood_ratio(self) -> Bounds | None:
        """Likelihood-ratio bounds on the share that reaches the rated hours [-]."""
        if not self.life.has_ml:
            return None
        return self.life.likelihood_ratio_reliability_bounds(
            self.verdict.rated_hours, self.range_confidence
        )


def judge_lifetimes(
    lives: pd.DataFrame, rated_hours: float, share: float = 0.90, confidence: float = 0.95
) -> tuple[GroupVerdict, ...]:
    """Judge every group, and all groups together when there are several.

    Parameters
    ----------
    lives : DataFrame
        From `read_lifetimes`: `hours`, `entry_hours` [h], `failed`, `count` [heads], `group`.
    rated_hours : float
        The rated life [h].
    share, confidence : float
        The claim, as for `judge_rating` [-].

    Returns
    -------
    tuple of GroupVerdict
        In the order of the table; all together last.

    Raises
    ------
    DecisionError
        A number that makes no sense.
    """
    if not (math.isfinite(rated_hours) and rated_hours > 0):
        raise DecisionError(f"The rating is in hours, above 0; got {rated_hours:g}.")
    groups = [(str(name), own) for name, own in lives.groupby("group", sort=False)]
    if len(groups) > 1:
        groups.append((ALL_GROUPS, lives))
    return tuple(_judged(name, own, rated_hours, share, confidence) for name, own in groups)


def _judged(
    name: str, lives: pd.DataFrame, rated_hours: float, share: float, confidence: float
) -> GroupVerdict:
    from headlife.life.evidence import Evidence
    from headlife.life.posterior import fit_life

    life = fit_life(
        Evidence.from_lives(
            lives["entry_hours"].to_numpy(float),
            lives["hours"].to_numpy(float),
            lives["failed"].to_numpy(bool),
            reference_hours=rated_hours,
            weights=lives["count"].to_numpy(float),
        )
    )
    exposure = ((lives["hours"] - lives["entry_hours"]) * lives["count"]).sum()
    return GroupVerdict(
        group=name,
        heads=int(lives["count"].sum()),
        failures=int(lives["count"][lives["failed"]].sum()),
        hours_run=float(exposure),
        oldest_hours=float(lives["hours"].max()),
        life=life,
        verdict=judge_rating(life, rated_hours, share, confidence),
    )
