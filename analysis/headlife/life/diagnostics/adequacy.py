"""Is a Weibull life a fair description of these heads?

From lives of one stratum and mode: the failures against the fitted line with a simultaneous band
and an Anderson-Darling test, both by parametric bootstrap. With few failures the answer is that
there is not enough to tell. Never changes a fit.

Sources: [1] Meeker and Escobar, Statistical Methods for Reliability Data (1998), chapter 6
(plots and simultaneous bands); [2] Anderson and Darling, J. Amer. Statist. Assoc. 49 (1954).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import ArrayLike

from headlife.life import weibull
from headlife.life.diagnostics.replicas import (
    DOUBT,
    RECORDS,
    Ages,
    FloatArray,
    affordable,
    ages_of,
    batch_fits,
    bootstrap_p_value,
    replicate,
    sampled,
)
from headlife.life.nonparametric import product_limit

if TYPE_CHECKING:
    import pandas as pd

FEWEST_FAILURES: Final = 5  # below this any straight line looks fair
BAND_CONFIDENCE: Final = 0.90
_BAND_POINTS: Final = 40
_SMALLEST_SHARE: Final = 1e-12


@dataclass(frozen=True)
class WeibullCheck:
    """The failures on Weibull paper, and how far off a Weibull life they are."""

    points: pd.DataFrame
    """`hours` [h] of each failure and `share_failed` [-] at the middle of its step."""
    band: pd.DataFrame
    """`hours` [h], `share_failed` (fitted), `low`, `high` [-]: where 90 % of true Weibull fleets
    stay altogether; empty when there is not enough to tell."""
    shape: float
    """Fitted shape [-]; NaN when there is no fit."""
    scale: float
    """Fitted scale [h]; NaN when there is no fit."""
    statistic: float
    """Anderson-Darling distance of the failures from the line [-]; NaN without a fit."""
    p_value: float
    """Share of simulated Weibull fleets at least this far off [-]; NaN without a fit."""
    failures: int
    """Failures [heads]."""
    outside: int
    """Failures outside the band [heads]."""

    @property
    def enough(self) -> bool:
        """Whether there are enough failures to tell."""
        return bool(np.isfinite(self.p_value))

    @property
    def strays(self) -> bool:
        """Whether the failures stray from a Weibull life further than chance lets them."""
        return self.enough and self.p_value < DOUBT


def check_weibull(
    entry_hours: ArrayLike,
    exit_hours: ArrayLike,
    failed: ArrayLike,
    *,
    seed: int = 1,
    records: int = RECORDS,
) -> WeibullCheck:
    """Hold the failures against a Weibull life.

    Parameters
    ----------
    entry_hours, exit_hours, failed : float or array of float
        Lives, as for `Evidence.from_lives`, (n,); of more than 5,000 a sample is looked at.
    seed : int, optional
        Of the simulated records.
    records : int, optional
        How many to simulate [-].

    Returns
    -------
    WeibullCheck
        The failures as plotted, the band, the distance and its p-value, in words.

    Raises
    ------
    EvidenceError
        Ages that make no sense.
    """
    import pandas as pd

    ages = ages_of(entry_hours, exit_hours, failed)
    ages = ages.part(sampled(ages, seed))
    points = _points(ages)
    fit = batch_fits(ages.entry, ages.exit[None, :], ages.failed[None, :])
    found = np.isfinite(fit.log_shape[0]) and len(points) >= FEWEST_FAILURES
    if not found:
        empty = pd.DataFrame({name: np.empty(0) for name in _BAND_COLUMNS})
        nan = float("nan")
        return WeibullCheck(points, empty, nan, nan, nan, nan, ages.failures, 0)
    shape, scale = fit.weibull
    records = affordable(records, ages.exit.size)
    twins = replicate(ages, shape, scale, records, np.random.default_rng(seed))
    fits = batch_fits(twins.entry, twins.exit, twins.failed)
    usable = np.flatnonzero(np.isfinite(fits.log_shape))
    log_scale = fits.log_scale[:, 0]
    placed = [
        _on_fit(
            Ages(twins.entry, twins.exit[row], twins.failed[row]),
            float(np.exp(fits.log_shape[row])),
            float(np.exp(log_scale[row])),
        )
        for row in usable
    ]
    own = _on_fit(ages, shape, scale)
    distance = anderson_darling(*own)
    others = np.array([anderson_darling(*twin) for twin in placed])
    band = _band(own, placed, shape, scale, ages.exit.size)
    return WeibullCheck(
        points=points,
        band=band,
        shape=shape,
        scale=scale,
        statistic=distance,
        p_value=bootstrap_p_value(distance, others),
        failures=ages.failures,
        outside=_outside(points, band),
    )


_BAND_COLUMNS: Final = ("hours", "share_failed", "low", "high")

# Steps carried to the fitted scale: fitted share failed at each step, share failed after it,
# fitted share failed at the oldest age seen.
_Placed = tuple[FloatArray, FloatArray, float]


def anderson_darling(fitted: FloatArray, share_failed: FloatArray, last: float) -> float:
    """Anderson-Darling distance between steps and a fitted distribution, censored data.

    ``integral of (F_steps - u)^2 / (u (1 - u)) du`` from 0 to the oldest age seen, [2]; for
    complete samples the usual statistic divided by n. On a step where F_steps = k the integrand
    is ``k^2/u + (1-k)^2/(1-u) - 1``.

    Parameters
    ----------
    fitted : array of float
        Fitted share failed [-] at each failure, (n,), in order of age.
    share_failed : array of float
        Share failed [-] just after each failure, (n,): the steps.
    last : float
        Fitted share failed [-] at the oldest age seen.

    Returns
    -------
    float
        The distance [-]; 0 is a perfect fit.
    """
    edges = np.clip(np.concatenate([fitted, [last]]), _SMALLEST_SHARE, 1.0 - _SMALLEST_SHARE)

    def whole(u: FloatArray, k: FloatArray) -> FloatArray:
        return np.asarray(k**2 * np.log(u) - (1.0 - k) ** 2 * np.log1p(-u) - u, float)

    first = -float(np.log1p(-edges[0])) - float(edges[0])
    rest = whole(edges[1:], share_failed) - whole(edges[:-1], share_failed)
    return first + float(rest.sum())


def _on_fit(ages: Ages, shape: float, scale: float) -> _Placed:
    hours, share = product_limit(ages.entry, ages.exit, ages.failed)
    fitted = 1.0 - weibull.reliability(hours, shape, scale)
    return fitted, share, float(1.0 - weibull.reliability(ages.exit.max(), shape, scale))


def _points(ages: Ages) -> pd.DataFrame:
    """Each failure at the middle of its step ([1] section 6.4)."""
    import pandas as pd

    hours, share = product_limit(ages.entry, ages.exit, ages.failed)
    before = np.concatenate([[0.0], share[:-1]])[: share.size]
    return pd.DataFrame({"hours": hours, "share_failed": 0.5 * (before + share)})


def _band(
    own: _Placed, placed: list[_Placed], shape: float, scale: float, heads: int
) -> pd.DataFrame:
    """Band around the fitted line that the whole of 90 % of Weibull fleets stays inside."""
    import pandas as pd

    last = min(own[2], 1.0 - _SMALLEST_SHARE)
    first = min(0.5 * float(own[0][0]), 0.5 * last)
    share = -np.expm1(-np.geomspace(-np.log1p(-first), -np.log1p(-last), _BAND_POINTS))
    off = np.array([_share_at(twin, share) - share for twin in placed])
    seen = np.array([share <= twin[2] for twin in placed])
    squares = np.where(seen, off**2, 0.0).sum(axis=0) / np.maximum(seen.sum(axis=0), 1)
    spread = np.maximum(np.sqrt(squares), 0.5 / heads)
    furthest = [_furthest(twin, share, spread) for twin in placed]
    reach = float(np.quantile(furthest, BAND_CONFIDENCE)) * spread
    return pd.DataFrame(
        {
            "hours": weibull.life(share, shape, scale),
            "share_failed": share,
            "low": np.clip(share - reach, 0.0, 1.0),
            "high": np.clip(share + reach, 0.0, 1.0),
        }
    )


def _furthest(placed: _Placed, share: FloatArray, spread: FloatArray) -> float:
    """Largest distance of a failure from the line, in units of the spread there."""
    fitted, after, _ = placed
    middle = 0.5 * (np.concatenate([[0.0], after[:-1]]) + after)
    return float(np.max(np.abs(middle - fitted) / np.interp(fitted, share, spread)))


def _share_at(placed: _Placed, share: FloatArray) -> FloatArray:
    """Share failed by the steps where the fitted share is ``share``, middles joined by lines."""
    fitted, after, _ = placed
    before = np.concatenate([[0.0], after[:-1]])
    middle = np.append(0.0, 0.5 * (before + after))
    return np.asarray(np.interp(share, np.append(0.0, fitted), middle), float)


def _outside(points: pd.DataFrame, band: pd.DataFrame) -> int:
    hours = np.log(points["hours"].to_numpy())
    grid = np.log(band["hours"].to_numpy())
    share = points["share_failed"].to_numpy()
    low = np.interp(hours, grid, band["low"].to_numpy())
    high = np.interp(hours, grid, band["high"].to_numpy())
    return int(((share < low) | (share > high)).sum())
