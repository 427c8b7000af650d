"""What is assumed before the records speak: about the shape, and about the hazard.

The likelihood of `Evidence` splits into two factors that share nothing: the number of failures
is Poisson with mean ``expected = hazard * S(shape)``, and the ages of the failures speak of the
shape alone, ``shape ** failures * exp(shape * log_sum) * S(shape) ** -failures``. The prior is
put on those two, so it depends on the records only through the exposure that they hold, and
moving the reference age changes no answer at all.

``calibrated``
    density of ``expected`` proportional to ``expected ** (started - 1)`` and of the log shape to
    ``shape ** power``, with, for r failures, ``started = 0.8 exp(-r/7.5)`` and
    ``power = -0.5 min(r, 1) exp(-r/20)``.

    Reasons. (1) With no failure the bound on reliability must be about that of a success run,
    which is ``started = 1``; the usual half failure of Jeffreys claims 90 % at 95 % confidence
    from 19 good heads where the published success-run table asks for 29. (2) Past a dozen
    failures any part of a failure added on top only makes the answer too dark, so it fades.
    (3) Few failures leave a tail of very steep shapes that makes early lives look too safe; the
    shape power takes it down. (4) Without any failure nothing is known of the shape: flat.
    (5) Where no head was watched from new, nothing speaks of the ages before, and low shapes,
    which have many heads fail there, are as likely as the prior makes them: the shape power is
    0.25 then (`exposure_curve.watched_late`, squared, says how far that is so). Heads watched
    from 0.7 ratings on were given upper bounds that held 86 to 93 % (true shapes 2 to 3); now 94
    to 98 %, lower ones 96 to 100 % (true shapes 1 to 3).

    The four numbers were chosen by simulated coverage over 36 designs: 6 to 300 heads, shapes 0.8
    to 4, 2 % to 97 % failing, common and staggered censoring, delayed entry, fleets swapped at
    their rating. One-sided 95 % bounds on the reliability at the rating and on B10, every record
    counted (`python -m studies.coverage`; last column: how often the verdict on a claim
    exactly at its edge is wrong):

    ============================================  ==============  =========  =======
    designs                                       coverage        departure  verdict
    ============================================  ==============  =========  =======
    the ten of the study, 20,000 records each     93.3 to 100 %   0.94       5.9 %
    twelve held out, 10,000 records each          92.6 to 99.1 %  1.03       7.4 %
    ============================================  ==============  =========  =======

    The 100 % is where one record in five has no failure at all: no bound that answers for those
    can cover less. The worst held-out design watches every head through a window only and none
    from new. For comparison, half a failure at the rating and shape power -0.5 throughout, on
    the ten designs: 92.2 to 99.3 %, departure 1.24 points, verdict wrong up to 7.8 % (2,000
    records).

``forecast``
    ``started = exp(-(r/1.3)**2)`` and a half-normal 1/shape of deviation 0.5, for the demand of
    coming weeks and for what swap policies and plans cost: see `Life.to_forecast`. Both average
    over what the life may be, where a bound takes its far side. What keeps a bound safe past a
    few failures only fills the storeroom, so forecasts start with the whole failure of a success
    run and let go of it with the second one.

    Heads wear, and no shop's heads are exactly Weibull. Where one head in ten is weak from new,
    its early failure speaks for a hazard that is flat or falls, and with a flat prior the wear of
    the old heads is forecast too low: such shops were served .88 to .90 instead of .94. So shapes
    below one, which say that heads get better with age, count little beforehand, and those of
    heads that wear about alike: 1/shape is the scale of the log life, and a half-normal prior of
    a scale is the weak one of Gelman (Bayesian Analysis 1, 2006, section 7.1). From about thirty
    failures on the records outweigh it.

    The two numbers were chosen by simulated quarters of shops with 1 to 35 failures on record
    (seeds 5 and 6; 900 shops of the cases A, D, F, G, H and J of `python -m studies.calibration`,
    200 to 900 of true shapes 0.7 to 3.5). With about five failures and no head weak (case A) 80 %
    intervals hold 81 % where a flat prior holds 80 and a log-normal shape about 2.5 with
    ``started = exp(-(r/3.6)**2)``, as before, held 84; stocks serve .967, .963 and .982. With one
    head in ten weak (F) they serve .936, .90 and .947. What the log-normal one added for wear
    widened the forecasts of all shops, this one those whose records speak for a shape below
    one. Where heads all put in on one day come to their wear together with one in ten weak (K), a
    fifth of shops are still served under .90: 16 failures speak too firmly for a wrong shape.
    Half the likelihood for the shape served shops with weak heads 1 to 4 points better, but 80 %
    intervals of steady shops then held 88 %. `python -m studies.coverage --prior forecast` shows
    why verdicts and bounds have another prior.

``exact conditional``
    ``started = 0`` and ``power = -1``, which is the right invariant prior of location and scale
    of the log life, ``d(log scale) d(1/shape) / (1/shape)``: for complete and failure-censored
    records the bounds are the exact conditional ones (Lawless, Statistical Models and Methods
    for Lifetime Data, 1982, section 4.1.2). It needs at least two failures and is kept for
    tying the package to published limits.

A shop that knows its shape states it as a `ShapePrior`, which then takes the place of the shape
power, or of the half-normal 1/shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final, Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.errors import EvidenceError
from headlife.life.exposure_curve import SHAPE_RANGE

FloatArray = NDArray[np.float64]
PriorName = Literal["calibrated", "forecast", "exact conditional"]

STARTED_FAILURES: Final = 0.8  # of a failure, before the first one is seen
SHAPE_POWER: Final = -0.5  # of the prior density of the log shape, at few failures
STARTED_FADES_OVER: Final = 7.5  # failures over which the started failures fade by a factor e
SHAPE_FADES_OVER: Final = 20.0  # failures over which the shape power fades by a factor e
LATE_POWER: Final = 0.25  # of the same, where no head was watched from new
FORECAST_FADES_OVER: Final = 1.3  # failures, of the one started without any
FORECAST_SPREAD: Final = 0.5  # deviation of the half-normal 1/shape of forecasts
_INVARIANT_POWER: Final = -1.0
_NAMES: Final = get_args(PriorName)
_FEWEST_EXACT: Final = 2.0  # failures the exact conditional limits need
_NORMAL_95: Final = 1.6448536269514722  # 95 % point of the standard normal


def prior_powers(failures: ArrayLike, prior: PriorName, late: Any = 0.0) -> tuple[Any, Any]:
    """Give started failures [heads] and shape power [-] of a prior, for so many failures.

    Parameters
    ----------
    failures : float or array of float
        Failures on record [heads].
    prior : PriorName
        Which prior.
    late : float or array of float
        How far no head was watched from new, as `exposure_curve.watched_late` [-].

    Returns
    -------
    tuple of float or array of float
        Started failures [heads] and the power [-] of the shape.

    Raises
    ------
    EvidenceError
        The prior does not exist or needs more failures.
    """
    one = isinstance(failures, float)
    seen: Any = failures if one else np.asarray(failures, float)
    exp, least = (math.exp, min) if one else (np.exp, np.minimum)
    if prior == "calibrated":
        started = STARTED_FAILURES * exp(seen * (-1.0 / STARTED_FADES_OVER))
        power = SHAPE_POWER * least(seen, 1.0) * exp(seen * (-1.0 / SHAPE_FADES_OVER))
        return started, power + late * late * (LATE_POWER - power)
    if prior == "forecast":
        # A density of 1/shape that is flat near nought is one of the log shape that falls with it.
        return exp(-((seen / FORECAST_FADES_OVER) ** 2)), _INVARIANT_POWER + 0.0 * seen
    if prior not in _NAMES:
        raise EvidenceError(
            f'The prior is "calibrated", "forecast" or "exact conditional"; got {prior!r}. Leave '
            "it out if in doubt."
        )
    if np.min(seen) < _FEWEST_EXACT:
        raise EvidenceError(
            f"Exact conditional limits need at least two failures; there are {np.min(seen):g}. Use "
            "the calibrated prior, which answers for any number."
        )
    return 0.0 * seen, _INVARIANT_POWER + 0.0 * seen


@dataclass(frozen=True)
class ShapePrior:
    """A shape the shop states instead of learning it from these records alone.

    Attributes
    ----------
    median
        Central value of the shape [-].
    spread
        Factor [-] of at least 1: nine chances in ten that the shape lies between
        ``median / spread`` and ``median * spread``. Exactly 1 fixes the shape.
    """

    median: float
    spread: float = 1.0

    def __post_init__(self) -> None:
        low, high = SHAPE_RANGE
        if not low <= self.median <= high:
            raise EvidenceError(
                f"A stated shape must lie between {low:g} and {high:g}; got {self.median:g}."
            )
        if not (np.isfinite(self.spread) and self.spread >= 1):
            raise EvidenceError(
                "The spread of a stated shape is a factor of 1 or more (1 fixes the shape); "
                f"got {self.spread:g}."
            )

    @property
    def fixed(self) -> bool:
        """Whether the shape is taken as known exactly."""
        return self.spread == 1.0

    @property
    def log_median(self) -> float:
        """Centre of the log shape [-], which is normally distributed."""
        return math.log(self.median)

    @property
    def deviation(self) -> float:
        """Standard deviation of the log shape [-]."""
        return math.log(self.spread) / _NORMAL_95


def as_shape_prior(stated: float | tuple[float, float] | ShapePrior | None) -> ShapePrior | None:
    """Accept a fixed shape, a (median, spread) pair, a `ShapePrior` or nothing.

    Parameters
    ----------
    stated : float or tuple of float or ShapePrior or None
        A shape [-], a pair of median [-] and spread factor [-], or a prior as it is.

    Returns
    -------
    ShapePrior or None
        The prior; None where nothing is stated.
    """
    if stated is None or isinstance(stated, ShapePrior):
        return stated
    if isinstance(stated, tuple):
        return ShapePrior(*stated)
    return ShapePrior(float(stated))
