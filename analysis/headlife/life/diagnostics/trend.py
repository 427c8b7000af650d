"""Do positions need heads ever more often, and does any position eat heads?

From the installations of every printer position in the order they ran: failures against the
position's own print hours, Laplace's test for a trend, the mean number of failures per position
by hours run (reliability library), and positions with more failures than their heads' ages
explain. Where all positions started with new heads, Laplace's test takes the ageing of these
first heads for a trend (in simulated fleets without one, up to eight times in ten), so the
finding rests on the same test with what the heads' ages explain taken off. Planned swaps and
material changes are no failures. Never says why a position eats heads.

Sources: [1] NIST/SEMATECH e-Handbook of Statistical Methods (2012), section 8.2.3.4 (Laplace
test); [2] Nelson, Recurrent Events Data Analysis (2003), mean cumulative function; [3] Therneau
and Grambsch, Modeling Survival Data (2000), section 4.2 (failures seen and expected).
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import gammainc, ndtr

from headlife.errors import EvidenceError
from headlife.life.diagnostics.replicas import DOUBT, Ages, FloatArray, ages_of, batch_fits, holm

if TYPE_CHECKING:
    import pandas as pd

FEWEST_FAILURES: Final = 4  # the normal form of Laplace's test is good from about here on
CONFIDENCE: Final = 0.90
_NORMAL_95: Final = 1.959963984540054  # two-sided


@dataclass(frozen=True)
class Trend:
    """Failures of all positions over the hours they ran."""

    curve: pd.DataFrame
    """`hours` run by a position [h], `failures` mean number per position by then [heads], with
    `low` and `high` (90 %), and `positions` that ran so long [-]; one row per failure."""
    laplace: float
    """Laplace statistic [-], standard normal when failures come at one rate: above 0 they come
    ever faster, if only because the first heads grow old; NaN with too few."""
    statistic: float
    """The same with what the heads' ages explain taken off [-]; NaN with too few."""
    p_value: float
    """Two-sided p-value of `statistic` [-]; NaN with too few failures."""
    failures: int
    """Failures [heads]."""
    positions: int
    """Positions [-]."""

    @property
    def enough(self) -> bool:
        """Whether there are enough failures to tell."""
        return bool(np.isfinite(self.p_value))

    @property
    def trends(self) -> bool:
        """Whether failures come ever faster or slower beyond what the heads' ages explain."""
        return self.enough and self.p_value < DOUBT

    @property
    def ages_alone(self) -> bool:
        """Whether failures come faster or slower only because of the heads' own ages."""
        return self.enough and not self.trends and abs(self.laplace) > _NORMAL_95


@dataclass(frozen=True)
class PositionFailures:
    """Failures of every position beside what the ages of its heads explain."""

    table: pd.DataFrame
    """Worst first: `printer`, `position`, `hours` run [h], `failures` and `expected` [heads],
    `p_value` of so many by chance, corrected for the number of positions [-], `eats_heads`."""

    @property
    def failures(self) -> int:
        """Failures in all positions [heads]."""
        return int(self.table["failures"].sum()) if len(self.table) else 0

    @property
    def enough(self) -> bool:
        """Whether there are enough failures to tell."""
        return self.failures >= FEWEST_FAILURES


def position_trend(
    position: ArrayLike, start_hours: ArrayLike, end_hours: ArrayLike, failed: ArrayLike
) -> Trend:
    """Test whether failures come ever faster as positions run on.

    Parameters
    ----------
    position : float or array of float
        Name of the position of each installation, (n,), in the order they were made.
    start_hours, end_hours : float or array of float
        Ages [h] of the head at the start and end of the installation, (n,).
    failed : float or array of float
        True where it ended in a failure, (n,).

    Returns
    -------
    Trend
        The mean failures per position against its hours, Laplace's statistic, in words.

    Raises
    ------
    EvidenceError
        Ages that make no sense, or lengths that differ.
    """
    ages = ages_of(start_hours, end_hours, failed)
    names = np.asarray(position, object).astype(str)
    _same_length("position", names, ages.exit.size)
    clock, ends = _own_clock(names, ages.exit - ages.entry)
    events = [clock[(names == name) & ages.failed] for name in ends]
    total, hours = ages.failures, list(ends.values())
    curve = _mean_failures(events, hours)
    if total < FEWEST_FAILURES:
        return Trend(curve, np.nan, np.nan, np.nan, total, len(ends))
    laplace = laplace_statistic(events, hours)
    beyond = _beyond_age(ages, clock)
    beyond = laplace if np.isnan(beyond) else beyond
    p_value = float(2.0 * ndtr(-abs(beyond)))
    return Trend(curve, laplace, beyond, p_value, total, len(ends))


def laplace_statistic(events: Sequence[ArrayLike], ends: Sequence[float]) -> float:
    """Laplace's statistic [-] of systems watched to fixed hours, pooled ([1]).

    Each system's failures are centred on the middle of its own hours; standard normal when
    failures come at one constant rate per system.

    Parameters
    ----------
    events : sequence of float or array of float
        Failure times [h] of each system, from its start.
    ends : sequence of float
        Hours [h] each system was watched.

    Returns
    -------
    float
        The statistic [-]; NaN without a failure.
    """
    times = [np.asarray(each, float) for each in events]
    off = sum(float(t.sum()) - t.size * end / 2 for t, end in zip(times, ends, strict=True))
    square = sum(t.size * end**2 / 12 for t, end in zip(times, ends, strict=True))
    return float(off / np.sqrt(square))


def _beyond_age(ages: Ages, clock: FloatArray) -> float:
    """Score of a trend along the positions' hours beyond the fleet's Weibull life.

    Sum over failures of the position's hours, less its mean under the life: the integral of
    those hours over the cumulative hazard of each installation; its variance is the integral of
    their square, centred since the level of the hazard is fitted ([3]).
    """
    fit = batch_fits(ages.entry, ages.exit[None, :], ages.failed[None, :])
    if not np.isfinite(fit.log_shape[0]):
        return float("nan")
    shape, scale = fit.weibull
    offset = clock - ages.exit  # hours of the position when the head's age was zero

    def moment(power: int) -> FloatArray:
        """Integral of age**power over the hazard, per installation."""
        reached = (ages.exit / scale) ** (shape + power) - (ages.entry / scale) ** (shape + power)
        return np.asarray(scale**power * shape / (shape + power) * reached, float)

    level, first, second = moment(0), moment(1), moment(2)
    hours = offset * level + first
    middle = float(hours.sum() / level.sum())
    offset = offset - middle
    score = float(clock[ages.failed].sum()) - middle * ages.failures
    score -= float((offset * level + first).sum())
    variance = float((offset**2 * level + 2.0 * offset * first + second).sum())
    return score / float(np.sqrt(variance))


def head_eaters(
    printer: ArrayLike,
    position: ArrayLike,
    start_hours: ArrayLike,
    end_hours: ArrayLike,
    failed: ArrayLike,
) -> PositionFailures:
    """Compare the failures of every position with those that its heads' ages explain.

    The expected number adds up, over the position's installations, the cumulative hazard of the
    whole fleet's Weibull life between the ages at start and end ([3]); where that life cannot be
    fitted, failures per hour. Chances are Poisson, corrected for the number of
    positions (Holm).

    Parameters
    ----------
    printer, position : float or array of float
        Names, one per installation, (n,).
    start_hours, end_hours, failed : float or array of float
        As for `position_trend`.

    Returns
    -------
    PositionFailures
        Failures seen and expected by position, worst first, in words.

    Raises
    ------
    EvidenceError
        Ages that make no sense, or lengths that differ.
    """
    import pandas as pd

    ages = ages_of(start_hours, end_hours, failed)
    names = {"printer": np.asarray(printer, object), "position": np.asarray(position, object)}
    for what, values in names.items():
        _same_length(what, values, ages.exit.size)
    table = pd.DataFrame(names)
    table["hours"] = ages.exit - ages.entry
    table["failures"] = ages.failed.astype(int)
    table["expected"] = _expected(ages.entry, ages.exit, ages.failed)
    table = table.groupby(["printer", "position"], sort=True, as_index=False).sum()
    seen, usual = table["failures"].to_numpy(float), table["expected"].to_numpy(float)
    # P(N >= seen), N Poisson with mean usual
    chance = np.where(seen > 0, gammainc(np.maximum(seen, 1.0), usual), 1.0)
    table["p_value"] = holm(chance)
    table["eats_heads"] = table["p_value"] < DOUBT
    order = np.lexsort((-seen, chance))
    return PositionFailures(table.iloc[order].reset_index(drop=True))


def _expected(entry: FloatArray, exit_: FloatArray, failed: Any) -> FloatArray:
    """Failures expected in each installation under one Weibull life for all."""
    fit = batch_fits(entry, exit_[None, :], failed[None, :])
    if not np.isfinite(fit.log_shape[0]):
        hours = exit_ - entry
        return np.asarray(hours * failed.sum() / max(hours.sum(), 1.0), float)
    shape, scale = fit.weibull
    return np.asarray((exit_ / scale) ** shape - (entry / scale) ** shape, float)


def _own_clock(names: Any, run: FloatArray) -> tuple[FloatArray, dict[str, float]]:
    """Hours of the position at the end of each installation, and hours each position has run."""
    clock, ends = np.empty(run.size), {}
    for name in np.unique(names):
        mine = names == name
        clock[mine] = np.cumsum(run[mine])
        ends[str(name)] = float(run[mine].sum())
    return clock, ends


def _mean_failures(events: list[FloatArray], ends: list[float]) -> pd.DataFrame:
    """Mean cumulative number of failures per position, by the reliability library ([2])."""
    import pandas as pd

    columns = ["hours", "failures", "low", "high", "positions"]
    if not any(len(times) for times in events):
        return pd.DataFrame({name: np.empty(0) for name in columns})
    from reliability.Repairable_systems import MCF_nonparametric

    # A position is still watched at the hour of its last failure.
    histories = [
        [*times, np.nextafter(end, np.inf)] for times, end in zip(events, ends, strict=True)
    ]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = MCF_nonparametric(
            data=histories, CI=CONFIDENCE, print_results=False, show_plot=False
        )
    hours = np.asarray(found.time, float)
    running = (np.asarray(ends)[None, :] >= hours[:, None]).sum(axis=1)
    return pd.DataFrame(
        {
            "hours": hours,
            "failures": np.asarray(found.MCF, float),
            "low": np.asarray(found.lower, float),
            "high": np.asarray(found.upper, float),
            "positions": running,
        }
    )


def _same_length(what: str, values: Any, size: int) -> None:
    if len(values) != size:
        raise EvidenceError(f"There are {size} installations but {len(values)} {what}s.")
