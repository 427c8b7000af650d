"""Would a claim on the rating be as likely if these heads had another kind of life?

From lives of one stratum and mode: the posterior probability of the claim under a Weibull, a
log-normal and a log-logistic life, how well each kind fits (its posterior weight), and the
probability averaged over them. The prior is that of the Weibull posterior, carried over: it is
put on the number of failures to be expected and on the spread of the log life, which every kind
has, so that with few failures all kinds begin alike. Sums on a grid of two parameters. Never
picks a kind for the report.

References
----------
[1] J. A. Hoeting, D. Madigan, A. E. Raftery and C. T. Volinsky, "Bayesian model averaging: a
tutorial", Statistical Science 14 (1999) 382-401, eq. (1) and (2).
[2] W. Q. Meeker and L. A. Escobar, Statistical Methods for Reliability Data (1998), section 4.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import log_ndtr, ndtri

from headlife.errors import EvidenceError
from headlife.life.prior import prior_powers

FloatArray = NDArray[np.float64]

WEIBULL: Final = "Weibull"
LOG_NORMAL: Final = "log-normal"
LOG_LOGISTIC: Final = "log-logistic"
# Before the records speak; a Weibull life is what the trade takes wear to be.
BEFORE: Final = {WEIBULL: 0.5, LOG_NORMAL: 0.25, LOG_LOGISTIC: 0.25}

_HALF_LOG_2PI: Final = 0.9189385332046727
_SPREADS: Final = (0.05, 5.0)  # of the log life [-]: Weibull shapes from 20 down to 0.2
_HAZARDS: Final = (1e-7, 30.0)  # cumulative hazards [-] at the age of reference looked at
_NODES: Final = (25, 97)  # of a look: spreads, hazards
_LOOKS: Final = 5  # at most, each closer than the one before
_CLOSE: Final = 0.5  # share of a range's nodes inside the bell from which no closer look is needed
_DEPTH: Final = 16.0  # log density below the peak that counts as nothing
_FINEST_AGE: Final = 0.01  # log ages are rounded to this where there are many lives
_MANY: Final = 200  # lives from which they are


@dataclass(frozen=True)
class LifeKind:
    """One kind of life, as the records speak of it."""

    name: str
    """Weibull, log-normal or log-logistic."""
    weight: float
    """Posterior weight among the kinds [-]."""
    probability: float
    """Posterior probability that the claim is true under it [-]."""


@dataclass(frozen=True)
class KindsOfLife:
    """A claim on the rating under several kinds of life."""

    kinds: tuple[LifeKind, ...]
    """The kinds, Weibull first."""

    @property
    def probability(self) -> float:
        """Probability that the claim is true, averaged over the kinds [-], [1]."""
        return float(sum(kind.weight * kind.probability for kind in self.kinds))

    def of(self, name: str) -> LifeKind:
        """Give one kind by its name.

        Parameters
        ----------
        name : str
            Name of the kind.

        Returns
        -------
        LifeKind
            What it says.
        """
        return next(kind for kind in self.kinds if kind.name == name)


@dataclass(frozen=True)
class _Rows:
    """Lives as the grid needs them: log ages over the rating, equal ones counted together."""

    reference: float
    """Log age at which the hazard is stated: the rating, or the oldest head's if it is younger."""
    ages: FloatArray
    """Of exposure: exits, then entries."""
    weight: FloatArray
    """Heads that left at each of these ages; less than 0 for those that came [heads]."""
    failed: FloatArray
    failed_weight: FloatArray
    between: FloatArray
    """Last good and found failed, (2, m)."""
    between_weight: FloatArray


def kinds_of_life(
    entry_hours: ArrayLike,
    exit_hours: ArrayLike,
    failed: ArrayLike,
    rated_hours: float,
    share: float = 0.90,
    last_good_hours: ArrayLike | None = None,
) -> KindsOfLife:
    """Judge the claim that a share of heads reach the rating under every kind of life.

    Parameters
    ----------
    entry_hours, exit_hours : array of float
        Ages at which each life came under watch and left it [h], (n,); a scalar entry serves all.
    failed : array of bool
        True where the mode ended the life, (n,).
    rated_hours : float
        Rated life [h].
    share : float
        Share of heads that should reach it [-].
    last_good_hours : array of float, optional
        As for `Evidence.from_lives` [h], (n,).

    Returns
    -------
    KindsOfLife
        Every kind with its weight and what it says of the claim.

    Raises
    ------
    EvidenceError
        No life has run.
    """
    rows = _rows(entry_hours, exit_hours, failed, rated_hours, last_good_hours)
    failures = float(rows.failed_weight.sum() + rows.between_weight.sum())
    powers = prior_powers(failures, "calibrated")
    edge = float(np.log(-np.log(share)))
    found = {name: _judged(kind, rows, powers, edge) for name, kind in _KINDS.items()}
    heights = np.array([found[name][0] + np.log(BEFORE[name]) for name in found])
    weights = np.exp(heights - heights.max())
    weights /= weights.sum()
    return KindsOfLife(
        tuple(
            LifeKind(name, float(weight), found[name][1])
            for name, weight in zip(found, weights, strict=True)
        )
    )


@dataclass(frozen=True)
class _KindOfLife:
    """A log-location-scale life by its standard deviate z = (log age - location) / spread."""

    log_reliability: Callable[[FloatArray], FloatArray]
    log_density: Callable[[FloatArray], FloatArray]
    """Of z."""
    place: Callable[[FloatArray], FloatArray]
    """Deviate z at which the log cumulative hazard has a value."""


def _place_log_normal(log_hazard: FloatArray) -> FloatArray:
    return np.asarray(-ndtri(np.exp(-np.exp(log_hazard))), float)


def _place_log_logistic(log_hazard: FloatArray) -> FloatArray:
    return np.asarray(np.log(np.expm1(np.exp(log_hazard))), float)


def _log_logistic(z: FloatArray) -> FloatArray:
    return np.asarray(-np.logaddexp(0.0, z), float)


# [2], table 4.1: smallest extreme value, normal and logistic deviates of the log life.
_KINDS: Final = {
    WEIBULL: _KindOfLife(lambda z: -np.exp(z), lambda z: z - np.exp(z), lambda u: u),
    LOG_NORMAL: _KindOfLife(
        lambda z: np.asarray(log_ndtr(-z), float),
        lambda z: -0.5 * z * z - _HALF_LOG_2PI,
        _place_log_normal,
    ),
    LOG_LOGISTIC: _KindOfLife(
        _log_logistic, lambda z: z + 2.0 * _log_logistic(z), _place_log_logistic
    ),
}


def _judged(
    kind: _KindOfLife, rows: _Rows, powers: tuple[float, float], edge: float
) -> tuple[float, float]:
    """Log marginal likelihood of a kind [-], and the probability of the claim under it [-]."""
    spreads = np.log(np.geomspace(*_SPREADS, _NODES[0]))
    hazards = np.log(np.geomspace(*_HAZARDS, _NODES[1]))
    for _ in range(_LOOKS):
        height = _height(kind, rows, powers, spreads, hazards)
        inside = height > height.max() - _DEPTH
        wide = inside.any(axis=1), inside.any(axis=0)
        if min(each.mean() for each in wide) >= _CLOSE:
            break
        spreads, hazards = _closer(spreads, wide[0]), _closer(hazards, wide[1])
    top = float(height.max())
    density = np.exp(height - top)
    density[[0, -1]] *= 0.5  # trapezoids over the spreads
    below = np.zeros(density.shape)
    np.cumsum(0.5 * (density[:, 1:] + density[:, :-1]), axis=1, out=below[:, 1:])
    # The claim at its edge, as a hazard at the age of reference: one for each spread.
    deviate = kind.place(np.array([edge])) + rows.reference * np.exp(-spreads)
    limits = np.log(np.maximum(-kind.log_reliability(deviate), 1e-300))
    under = [np.interp(limit, hazards, row) for limit, row in zip(limits, below, strict=True)]
    whole = float(below[:, -1].sum())
    cell = float((hazards[1] - hazards[0]) * (spreads[1] - spreads[0]))
    return top + float(np.log(whole * cell)), float(np.sum(under)) / whole


def _closer(nodes: FloatArray, inside: NDArray[np.bool_]) -> FloatArray:
    """Lay as many nodes over the part of the range where the density lives, a step to each side."""
    places = np.flatnonzero(inside)
    first, last = max(places[0] - 1, 0), min(places[-1] + 1, nodes.size - 1)
    return np.linspace(nodes[first], nodes[last], nodes.size)


def _height(
    kind: _KindOfLife,
    rows: _Rows,
    powers: tuple[float, float],
    log_spreads: FloatArray,
    log_hazards: FloatArray,
) -> FloatArray:
    """Log posterior density over (log spread, log hazard at the age of reference)."""
    started, shape_power = powers
    spread = np.exp(log_spreads)[:, None, None]
    place = kind.place(log_hazards)[None, :, None]  # deviate of the age of reference

    def deviate(log_age: FloatArray) -> FloatArray:
        return np.asarray(place + (log_age - rows.reference) / spread, float)

    expected = -kind.log_reliability(deviate(rows.ages)) @ rows.weight
    height = -expected
    if rows.failed.size:
        z = deviate(rows.failed)
        hazard = kind.log_density(z) - kind.log_reliability(z)
        height = height + (hazard - log_spreads[:, None, None]) @ rows.failed_weight
    if rows.between_weight.size:
        good, bad = (kind.log_reliability(deviate(ages)) for ages in rows.between)
        ratio = np.minimum(bad - good, -1e-300)
        height = height + np.log(-np.expm1(ratio)) @ rows.between_weight
    # The prior: failures to be expected, and the spread as the Weibull shape's inverse.
    log_expected = np.log(np.maximum(expected, 1e-300))
    slope = np.gradient(log_expected, log_hazards, axis=1)
    height = height + started * log_expected + np.log(np.maximum(slope, 1e-300))
    return np.asarray(height - shape_power * log_spreads[:, None], float)


def _rows(
    entry_hours: ArrayLike,
    exit_hours: ArrayLike,
    failed: ArrayLike,
    rated_hours: float,
    last_good_hours: ArrayLike | None,
) -> _Rows:
    exit_ = np.atleast_1d(np.asarray(exit_hours, float))
    entry = np.broadcast_to(np.asarray(entry_hours, float), exit_.shape)
    fails = np.broadcast_to(np.asarray(failed, bool), exit_.shape)
    if not (exit_ > entry).any():
        raise EvidenceError(
            "These lives hold no running hours at all, so nothing can be said of their kind."
        )
    good = exit_
    if last_good_hours is not None:
        known = np.asarray(last_good_hours, float)
        good = np.where(fails & np.isfinite(known), np.maximum(known, entry), exit_)
    between = fails & (good < exit_)
    seen = np.where(between, good, exit_)
    ran = seen > entry
    late = ran & (entry > 0)
    exits, exit_weight = _counted(np.log(seen[ran] / rated_hours))
    entries, entry_weight = _counted(np.log(entry[late] / rated_hours))
    exact, exact_weight = _counted(np.log(exit_[fails & ~between] / rated_hours))
    with np.errstate(divide="ignore"):
        pair = np.log(np.stack([good[between], exit_[between]]) / rated_hours)
    return _Rows(
        reference=float(min(exits.max(), 0.0)),
        ages=np.concatenate([exits, entries]),
        weight=np.concatenate([exit_weight, -entry_weight]),
        failed=exact,
        failed_weight=exact_weight,
        between=np.maximum(pair, -700.0),
        between_weight=np.ones(int(between.sum())),
    )


def _counted(log_ages: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Different log ages and how often each occurs; many are rounded first."""
    if log_ages.size > _MANY:
        log_ages = np.round(log_ages / _FINEST_AGE) * _FINEST_AGE
    ages, counts = np.unique(log_ages, return_counts=True)
    return ages, counts.astype(float)
