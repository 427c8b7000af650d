"""Has the life of heads drifted with the date at which they were bought?

From lives of one mode and purchase dates: thirds of the heads by date with the age that a share
of each reaches, the change of life per year (accelerated-failure-time regression, lifelines) and
a score test held against simulated fleets without drift, which stays honest with few failures.
Newer heads are younger, so plain averages would always show them short-lived; these do not.

Sources: Meeker and Escobar, Statistical Methods for Reliability Data (1998), chapter 17; score
of a covariate on martingale residuals: Therneau and Grambsch, Modeling Survival Data (2000),
section 4.2.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.errors import EvidenceError
from headlife.life.diagnostics.regression import regress
from headlife.life.diagnostics.replicas import (
    DOUBT,
    RECORDS,
    Ages,
    Fits,
    FloatArray,
    Replicas,
    affordable,
    ages_of,
    batch_fits,
    bootstrap_p_value,
    replicate,
    sampled,
)
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life

if TYPE_CHECKING:
    import pandas as pd

FEWEST_FAILURES: Final = 3  # of a cohort before its life is estimated
COHORTS: Final = 3
_YEAR: Final = np.timedelta64(365, "D") + np.timedelta64(6, "h")


@dataclass(frozen=True)
class Drift:
    """How life changes with the date at which heads were bought."""

    cohorts: pd.DataFrame
    """`first`, `last` (dates), `heads`, `failures`, `hours` (age that `share` of them reach)
    with `low` and `high` (90 %); NaN where a cohort has too few failures."""
    share: float
    """Share of heads the hours are about [-]."""
    per_year: float
    """Factor on life for every later year of purchase [-]; NaN when not enough to tell."""
    per_year_bounds: tuple[float, float]
    """Its 90 % bounds [-]."""
    p_value: float
    """Share of simulated fleets without drift that drift as much [-]; NaN likewise."""
    heads: int
    """Heads seen from new, the ones looked at [heads]."""

    @property
    def enough(self) -> bool:
        """Whether there are enough failures to tell."""
        return bool(np.isfinite(self.p_value) and np.isfinite(self.per_year))

    @property
    def drifts(self) -> bool:
        """Whether life changes with the date of purchase beyond what chance makes of it."""
        return self.enough and self.p_value < DOUBT


def drift_by_purchase(
    entry_hours: ArrayLike,
    exit_hours: ArrayLike,
    failed: ArrayLike,
    bought: ArrayLike,
    *,
    share: float = 0.90,
    seed: int = 1,
    records: int = RECORDS,
) -> Drift:
    """Compare the lives of heads by the date at which they came into use new.

    Parameters
    ----------
    entry_hours, exit_hours, failed : float or array of float
        Lives, as for `Evidence.from_lives`, (n,). Heads with hours on them when the records
        began are left out: when they were bought is not known.
    bought : float or array of float
        Date per head, (n,).
    share : float, optional
        Give the age that this share of each cohort reaches [-].
    seed, records : int, optional
        Of the simulated fleets without drift, and how many.

    Returns
    -------
    Drift
        One line per purchase cohort, the test over all of them, in words.

    Raises
    ------
    EvidenceError
        Ages that make no sense, or dates of another length.
    """
    every = ages_of(entry_hours, exit_hours, failed)
    dates = np.asarray(bought, dtype="datetime64[D]")
    if dates.shape != every.exit.shape:
        raise EvidenceError(f"There are {every.exit.size} lives but {dates.size} purchase dates.")
    use = (every.entry == 0) & ~np.isnat(dates)
    ages, dates = every.part(use), dates[use]
    rows = sampled(ages, seed)
    ages, dates = ages.part(rows), dates[rows]
    cohorts = _cohorts(ages, dates, share)
    nothing = Drift(cohorts, share, np.nan, (np.nan, np.nan), np.nan, int(use.sum()))
    if ages.failures < 2 * FEWEST_FAILURES or np.unique(dates).size < 2:
        return nothing
    years = (dates - dates.min()) / _YEAR
    own = batch_fits(ages.entry, ages.exit[None, :], ages.failed[None, :])
    slope = regress(ages, years[:, None])
    if not np.isfinite(own.log_shape[0]) or slope is None:
        return nothing
    rng = np.random.default_rng(seed)
    twins = replicate(ages, *own.weibull, affordable(records, rows.size), rng)
    fits = batch_fits(twins.entry, twins.exit, twins.failed)
    score = _score(own, Replicas(ages.entry, ages.exit[None, :], ages.failed[None, :]), years)
    others = _score(fits, twins, years)
    return replace(
        nothing,
        per_year=slope.factor(0),
        per_year_bounds=slope.factor_bounds(0),
        p_value=bootstrap_p_value(float(np.abs(score)[0]), np.abs(others)),
    )


def _cohorts(ages: Ages, dates: NDArray[np.datetime64], share: float) -> pd.DataFrame:
    """Thirds of the heads by purchase date; heads bought on one day stay together."""
    import pandas as pd

    rank = np.searchsorted(np.sort(dates), dates, side="left")
    third = COHORTS * rank // max(dates.size, 1)
    rows = []
    for number in np.unique(third):
        mine = third == number
        part = ages.part(mine)
        hours, low, high = _hours(part, share)
        rows.append(
            {
                "first": dates[mine].min(),
                "last": dates[mine].max(),
                "heads": int(mine.sum()),
                "failures": part.failures,
                "hours": hours,
                "low": low,
                "high": high,
            }
        )
    return pd.DataFrame(rows)


def _hours(ages: Ages, share: float) -> tuple[float, float, float]:
    """Age [h] that ``share`` of a cohort reach, and its 90 % bounds [h]."""
    if ages.failures < FEWEST_FAILURES:
        return (np.nan,) * 3
    reference = float(ages.exit.max())
    life = fit_life(
        Evidence.from_lives(ages.entry, ages.exit, ages.failed, reference_hours=reference)
    )
    return (life.life(1.0 - share), *life.life_bounds(1.0 - share, confidence=0.90))


def _score(fits: Fits, records: Replicas, years: FloatArray) -> FloatArray:
    """Score of a trend: covariate times (failures seen minus failures expected), per record."""
    shape = np.exp(fits.log_shape)[:, None]
    with np.errstate(over="ignore"):
        scale = np.exp(fits.log_scale)
        expected = (records.exit / scale) ** shape - (records.entry / scale) ** shape
    return np.asarray((records.failed - expected) @ (years - years.mean()), float)
