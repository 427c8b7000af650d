"""Would the answer be another one if these heads did not have a Weibull life?

From lives of one stratum and mode: log-normal, gamma and exponential lives by maximum likelihood
(right-censored and late-entered lives), compared with the Weibull one by AIC, and the share of
heads that would reach the rating under each. Never picks a life for the report; it says how much
hangs on the choice.

Sources: Akaike, IEEE Trans. Automatic Control AC-19 (1974); Meeker and Escobar, Statistical
Methods for Reliability Data (1998), chapters 4, 5 and 8. Checked in the tests against lifelines
and reliability, which stop or warn on records with few failures.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import minimize
from scipy.special import gammaincc, gammainccinv, gammaln, log_ndtr

from headlife.life import weibull
from headlife.life.diagnostics.replicas import Ages, FloatArray, ages_of, batch_fits, sampled

if TYPE_CHECKING:
    import pandas as pd

FEWEST_FAILURES: Final = 5  # below this every life fits
CLEAR_AIC: Final = 4.0  # difference of AIC from which the worse one has little support
_HALF_LOG_2PI: Final = 0.9189385332046727
_TINY: Final = 1e-300
_SPREADS: Final = (0.03, 20.0)  # log-normal sigmas [-] looked at
_SHAPES: Final = (0.05, 2000.0)  # gamma shapes [-] looked at


@dataclass(frozen=True)
class Rivals:
    """Other kinds of life beside the Weibull one."""

    table: pd.DataFrame
    """Best first: `life` (weibull, log-normal, gamma, exponential), `log_likelihood`, `aic`,
    `behind` (AIC above the best) [-], `share_reaching` the rating [-], `median_hours`, the age
    that half of the heads reach [h]. Empty when there is not enough to tell."""
    rated_hours: float
    """Rated life [h]."""
    failures: int
    """Failures [heads]."""

    @property
    def enough(self) -> bool:
        """Whether there are enough failures to tell."""
        return len(self.table) > 0

    @property
    def weibull(self) -> Any:
        """The row of the Weibull life; only where there is enough to tell."""
        return next(self.table[self.table["life"] == "weibull"].itertuples(index=False))

    @property
    def nearest(self) -> Any:
        """The row of its best rival; only where there is enough to tell."""
        return next(self.table[self.table["life"] != "weibull"].itertuples(index=False))

    @property
    def clearly_better(self) -> str:
        """Which of these two lives fits clearly better; empty where neither does."""
        behind = self.nearest.aic - self.weibull.aic
        if abs(behind) <= CLEAR_AIC:
            return ""
        return str(self.nearest.life if behind < 0 else self.weibull.life)


def compare_lives(
    entry_hours: ArrayLike,
    exit_hours: ArrayLike,
    failed: ArrayLike,
    *,
    rated_hours: float,
    seed: int = 1,
) -> Rivals:
    """Fit the rivals and compare them.

    Parameters
    ----------
    entry_hours, exit_hours, failed : float or array of float
        Lives, as for `Evidence.from_lives`, (n,); of more than 5,000 a sample is looked at.
    rated_hours : float
        Rated life [h].
    seed : int, optional
        Of that sample.

    Returns
    -------
    Rivals
        Each kind of life with its likelihood and the share reaching the rating, best first.

    Raises
    ------
    EvidenceError
        Ages that make no sense.
    """
    import pandas as pd

    ages = ages_of(entry_hours, exit_hours, failed)
    ages = ages.part(sampled(ages, seed))
    different = np.unique(ages.exit[ages.failed]).size
    found = _fitted(ages) if different >= FEWEST_FAILURES else []
    rows = [
        {
            "life": each.name,
            "log_likelihood": each.log_likelihood,
            "aic": 2.0 * each.parameters - 2.0 * each.log_likelihood,
            "share_reaching": float(each.reliability(np.array([rated_hours]))[0]),
            "median_hours": each.median,
        }
        for each in found
    ]
    if len(rows) < 2 or found[0].name != "weibull":
        return Rivals(pd.DataFrame(), rated_hours, ages.failures)
    table = pd.DataFrame(rows).sort_values("aic", kind="stable", ignore_index=True)
    table.insert(3, "behind", table["aic"] - table["aic"].min())
    return Rivals(table, rated_hours, ages.failures)


@dataclass(frozen=True)
class _Fitted:
    name: str
    parameters: int
    log_likelihood: float
    reliability: Callable[[FloatArray], FloatArray]
    median: float


def _fitted(ages: Ages) -> list[_Fitted]:
    tried = [_weibull(ages), _log_normal(ages), _gamma(ages), _exponential(ages)]
    return [each for each in tried if each is not None]


def _weibull(ages: Ages) -> _Fitted | None:
    fit = batch_fits(ages.entry, ages.exit[None, :], ages.failed[None, :])
    if not np.isfinite(fit.log_shape[0]):
        return None
    shape, scale = fit.weibull
    hazard = weibull.cumulative_hazard(ages.exit, shape, scale)
    before = weibull.cumulative_hazard(ages.entry, shape, scale)
    logs = np.log(shape / scale) + (shape - 1.0) * np.log(ages.exit[ages.failed] / scale)
    return _Fitted(
        "weibull",
        2,
        float(logs.sum() - (hazard - before).sum()),
        lambda t: weibull.reliability(t, shape, scale),
        float(weibull.life(0.5, shape, scale)),
    )


def _exponential(ages: Ages) -> _Fitted:
    mean = float((ages.exit - ages.entry).sum()) / ages.failures
    return _Fitted(
        "exponential",
        1,
        -ages.failures * (float(np.log(mean)) + 1.0),
        lambda t: np.asarray(np.exp(-t / mean), float),
        mean * float(np.log(2.0)),
    )


def _log_normal(ages: Ages) -> _Fitted | None:
    logs = np.log(ages.exit)
    with np.errstate(divide="ignore"):
        start = np.log(ages.entry)

    def log_reliability(log_hours: FloatArray, at: FloatArray) -> FloatArray:
        return np.asarray(log_ndtr((at[0] - log_hours) / np.exp(at[1])), float)

    def height(at: FloatArray) -> float:
        place = (logs - at[0]) / np.exp(at[1])
        density = -0.5 * place**2 - at[1] - _HALF_LOG_2PI - logs
        each = np.where(ages.failed, density, log_reliability(logs, at))
        return float(each.sum() - log_reliability(start, at).sum())

    guess = np.array([float(logs[ages.failed].mean()), 0.0])
    best = _climb(height, guess, np.log(_SPREADS))
    if best is None:
        return None
    at, top = best
    return _Fitted(
        "log-normal",
        2,
        top,
        lambda t: np.exp(log_reliability(np.log(t), at)),
        float(np.exp(at[0])),
    )


def _gamma(ages: Ages) -> _Fitted | None:
    reference = float(ages.exit.max())
    t, start = ages.exit / reference, ages.entry / reference

    def log_reliability(age: FloatArray, at: FloatArray) -> FloatArray:
        shape, rate = np.exp(at[1]), np.exp(at[1] - at[0])
        return np.asarray(np.log(np.maximum(gammaincc(shape, rate * age), _TINY)), float)

    def height(at: FloatArray) -> float:
        shape, log_rate = np.exp(at[1]), at[1] - at[0]
        density = shape * log_rate + (shape - 1.0) * np.log(t) - np.exp(log_rate) * t
        density = density - gammaln(shape) - np.log(reference)
        each = np.where(ages.failed, density, log_reliability(t, at))
        return float(each.sum() - log_reliability(start, at).sum())

    # the mean and the shape, in logarithms
    guess = np.array([float(np.log(t.sum() / ages.failures)), 0.7])
    best = _climb(height, guess, np.log(_SHAPES))
    if best is None:
        return None
    at, top = best
    median = float(gammainccinv(np.exp(at[1]), 0.5) / np.exp(at[1] - at[0])) * reference
    return _Fitted("gamma", 2, top, lambda t: np.exp(log_reliability(t / reference, at)), median)


def _climb(
    height: Callable[[FloatArray], float], guess: FloatArray, second: FloatArray
) -> tuple[FloatArray, float] | None:
    """Highest point of a log-likelihood of two parameters, or None where it has no peak."""
    low, high = float(second[0]), float(second[1])

    def depth(at: FloatArray) -> float:
        return -height(at) if low <= at[1] <= high else float("inf")

    with np.errstate(over="ignore", invalid="ignore"):
        found = minimize(depth, guess, method="Nelder-Mead", options={"xatol": 1e-7, "fatol": 1e-9})
    inside = low + 0.01 < found.x[1] < high - 0.01
    return (found.x, -float(found.fun)) if inside and np.isfinite(found.fun) else None
