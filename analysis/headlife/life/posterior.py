"""What is the life of these heads, and how sure are we?

From `Evidence` of one stratum and mode to the posterior of a Weibull life: at every shape the
hazard is Gamma distributed, and the shape's own posterior is one-dimensional, so bounds on
reliability and on lives are exact one-dimensional mixtures, without sampling or normal
approximation. Maximum likelihood and likelihood-ratio bounds, the familiar figures, come from
the same evidence. No failure at all gives an honest wide answer.

Source of the model: Gamma hazard given the shape, as in Soland, IEEE Trans. Reliability R-18
(1969), here with a continuous shape. This module never reads records and decides nothing.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.display import shows_itself
from headlife.errors import EvidenceError
from headlife.life import likelihood, likelihood_ratio, weibull
from headlife.life.asked import fraction, like, tails
from headlife.life.evidence import Evidence
from headlife.life.inference import Posterior, posterior_of
from headlife.life.mixture import Mixture, share_and_life
from headlife.life.prior import PriorName, ShapePrior, as_shape_prior, prior_powers

FloatArray = NDArray[np.float64]


def fit_life(
    evidence: Evidence,
    shape_prior: float | tuple[float, float] | ShapePrior | None = None,
    prior: PriorName = "calibrated",
    companions: Sequence[Evidence] = (),
) -> Life:
    """Learn the life of one stratum and mode from its evidence.

    Parameters
    ----------
    evidence : Evidence
        What the lives say; see `Evidence.from_lives`.
    shape_prior : float or tuple of float or ShapePrior, optional
        A shape the shop states: a number fixes it, a pair (median [-], spread factor [-]) or a
        `ShapePrior` leaves it room. None learns it from the records, every shape on a log scale
        between 0.2 and 20 being about equally likely beforehand.
    prior : PriorName, optional
        "calibrated" answers for any number of failures and holds its stated confidence in
        simulation; "forecast" is for demand, see `Life.to_forecast`; "exact conditional"
        reproduces the exact limits of complete and failure-censored records and needs two
        failures. See `headlife.life.prior`.
    companions : sequence of Evidence, optional
        Evidence of other strata whose heads have the same shape, but their own scale.

    Returns
    -------
    Life
        The life, with its estimate, bounds and draws.

    Raises
    ------
    EvidenceError
        The lives hold no exposure at all, the stated shape is out of range, or the prior does
        not exist or needs more failures.

    Examples
    --------
    >>> import headlife as hl
    >>> hours = [210, 340, 480, 500, 500, 500]
    >>> failed = [True, True, True, False, False, False]
    >>> evidence = hl.Evidence.from_lives(0, hours, failed, reference_hours=500)
    >>> life = hl.fit_life(evidence)
    >>> round(life.shape, 2), round(life.scale)
    (2.69, 574)
    >>> low, high = life.reliability_bounds(500)
    >>> round(low, 2), round(high, 2)
    (0.21, 0.79)
    """
    if not math.isfinite(evidence.log_curve[evidence.log_curve.argmin()]):
        raise EvidenceError(
            "These lives hold no running hours at all, so nothing can be learned from them. "
            "Give at least one life with an exit above its entry."
        )
    if prior != "calibrated":
        prior_powers(evidence.all_failures, prior)  # refuses what it cannot answer
    return Life(evidence, as_shape_prior(shape_prior), prior, tuple(companions))


@shows_itself
@dataclass(frozen=True, eq=False)
class Life:
    """A Weibull life as the records show it: estimate, posterior, bounds and draws.

    Attributes
    ----------
    evidence
        The evidence it was learned from.
    shape_prior
        The shape the shop stated, or None.
    prior
        Name of what is assumed of hazard and shape before the records speak.
    companions
        Evidence of other strata that share the shape.
    assumed
        What forecasts take for known beside the evidence, such as that one head reached the rating
        while none has; None where nothing.
    """

    evidence: Evidence
    shape_prior: ShapePrior | None = None
    prior: PriorName = "calibrated"
    companions: tuple[Evidence, ...] = ()
    assumed: Evidence | None = None

    @cached_property
    def estimate(self) -> likelihood.Estimate | None:
        """Maximum-likelihood shape and scale, or None where the likelihood has no peak."""
        return likelihood.maximise(self.evidence, self.companions)

    @cached_property
    def posterior(self) -> Posterior:
        """What prior and records say together; its mixture gives the exact answers."""
        return posterior_of(self.evidence, self.shape_prior, self.prior, self.companions)

    @cached_property
    def to_forecast(self) -> Life:
        """The same evidence, and what is assumed beside it, under the prior of forecasts.

        Itself under any prior but the calibrated one.
        """
        if self.prior != "calibrated":
            return self
        known = self.evidence if self.assumed is None else self.evidence + self.assumed
        return replace(self, evidence=known, prior="forecast", assumed=None)

    @property
    def mixture(self) -> Mixture:
        """The posterior as weighted shapes with a distribution of the hazard each."""
        return self.posterior.mixture

    @property
    def has_ml(self) -> bool:
        """Whether a maximum-likelihood estimate exists."""
        return self.estimate is not None

    @property
    def shape(self) -> float:
        """Maximum-likelihood shape [-]; NaN where it does not exist."""
        return self.estimate.shape if self.estimate else float("nan")

    @property
    def scale(self) -> float:
        """Maximum-likelihood scale [h]; NaN where it does not exist."""
        return self.estimate.scale if self.estimate else float("nan")

    @property
    def shape_learned(self) -> bool:
        """Whether at least three failures speak of the shape; else it is assumed, not learned."""
        return self.failures_for_shape >= 3

    def reliability(self, hours: ArrayLike) -> Any:
        """Share of heads still good at ages ``hours`` [h]; a scalar in gives a scalar out.

        At the maximum-likelihood estimate, or the posterior median where there is none.

        Parameters
        ----------
        hours : float or array of float
            Ages [h].

        Returns
        -------
        float or array of float
            Shares [-], as many as ages.
        """
        if self.estimate is None:
            return like(np.exp(-self.mixture.cumulative_hazard(hours, 0.5)), hours)
        return like(weibull.reliability(hours, self.shape, self.scale), hours)

    def life(self, fraction_failed: ArrayLike) -> Any:
        """Age [h] by which ``fraction_failed`` [-] of heads have failed: 0.10 gives B10.

        At the maximum-likelihood estimate, or the posterior median where there is none.

        Parameters
        ----------
        fraction_failed : float or array of float
            Fractions [-], between 0 and 1.

        Returns
        -------
        float or array of float
            Ages [h], as many as fractions.
        """
        asked = fraction(fraction_failed, "fraction failed")
        if self.estimate is None:
            return like(self.mixture.life(asked, 0.5), fraction_failed)
        return like(weibull.life(asked, self.shape, self.scale), fraction_failed)

    def median_reliability(self, hours: float) -> float:
        """Give the posterior median of the share of heads still good at ``hours`` [h].

        Parameters
        ----------
        hours : float
            Age [h].

        Returns
        -------
        float
            [-]
        """
        # The share falls as the hazard grows, so the median of one is that of the other.
        return float(np.exp(-self.mixture.cumulative_hazard(hours, 0.5)))

    def median_life(self, fraction_failed: float) -> float:
        """Give the posterior median of the age by which a fraction [-] has failed [h].

        Parameters
        ----------
        fraction_failed : float
            [-]

        Returns
        -------
        float
            [h]
        """
        return float(self.mixture.life(fraction_failed, 0.5))

    def reliability_bounds(self, hours: ArrayLike, confidence: float = 0.90) -> tuple[Any, Any]:
        """Exact posterior bounds (low, high) on the reliability [-] at ages ``hours`` [h].

        Two-sided ``confidence`` [-]: 0.90 gives two one-sided 95 % bounds.

        Parameters
        ----------
        hours : float or array of float
            Ages [h].
        confidence : float, optional
            Two-sided [-]; 0.90 gives two one-sided 95 % bounds.

        Returns
        -------
        low, high : float or array of float
            Bounds [-], as many as ages.
        """
        both = np.exp(-self.mixture.cumulative_hazard(hours, tails(confidence)))
        return like(both[..., 1], hours), like(both[..., 0], hours)

    def life_bounds(self, fraction_failed: ArrayLike, confidence: float = 0.90) -> tuple[Any, Any]:
        """Exact posterior bounds (low, high) [h] on the age by which a fraction has failed.

        Parameters
        ----------
        fraction_failed : float or array of float
            Fractions [-], between 0 and 1.
        confidence : float, optional
            Two-sided [-]; 0.90 gives two one-sided 95 % bounds.

        Returns
        -------
        low, high : float or array of float
            Bounds [h], as many as fractions.
        """
        asked = fraction(fraction_failed, "fraction failed")
        both = self.mixture.life(asked, tails(confidence))
        return like(both[..., 0], fraction_failed), like(both[..., 1], fraction_failed)

    def share_and_life(
        self, hours: float, fraction_failed: float, probability: ArrayLike
    ) -> tuple[FloatArray, FloatArray]:
        """Posterior quantiles of a share and of a life, in one search for both.

        Parameters
        ----------
        hours : float
            Age [h], above 0.
        fraction_failed : float
            Fraction [-], between 0 and 1.
        probability : array of float
            Probabilities below [-], (m,).

        Returns
        -------
        tuple of array of float
            Shares of heads still good at ``hours`` [-], and ages by which ``fraction_failed``
            has failed [h], (m,) each.
        """
        return share_and_life(self.mixture, hours, fraction_failed, np.asarray(probability, float))

    def probability_reliability_above(self, share: ArrayLike, hours: ArrayLike) -> Any:
        """Posterior probability [-] that at least ``share`` [-] of heads reach ``hours`` [h].

        Parameters
        ----------
        share : float or array of float
            Shares of heads [-].
        hours : float or array of float
            Ages [h].

        Returns
        -------
        float or array of float
            Probabilities [-], of the shape that the arguments broadcast to.
        """
        wanted = fraction(share, "share")
        chance = self.mixture.probability_hazard_below(hours, -np.log(wanted))
        return like(chance, np.add(share, hours))

    def probability_mean_life_above(self, hours: float) -> float:
        """Posterior probability [-] that the mean life is at least ``hours`` [h].

        Parameters
        ----------
        hours : float
            Mean life asked about [h].

        Returns
        -------
        float
            The probability [-].
        """
        return float(self.mixture.probability_mean_life_above(hours))

    def likelihood_ratio_reliability_bounds(
        self, hours: float, confidence: float = 0.90
    ) -> tuple[float, float]:
        """Likelihood-ratio bounds (low, high) on the reliability [-]; NaN without an estimate.

        Parameters
        ----------
        hours : float
            Age [h].
        confidence : float, optional
            Two-sided [-].

        Returns
        -------
        low, high : float
            Bounds [-].
        """
        tails(confidence)
        if self.estimate is None:
            return float("nan"), float("nan")
        return likelihood_ratio.reliability_bounds(
            self.evidence, self.estimate, hours, confidence, self.companions
        )

    def likelihood_ratio_life_bounds(
        self, fraction_failed: float, confidence: float = 0.90
    ) -> tuple[float, float]:
        """Likelihood-ratio bounds (low, high) [h] on a life; NaN without an estimate.

        Parameters
        ----------
        fraction_failed : float
            Fraction [-], between 0 and 1.
        confidence : float, optional
            Two-sided [-].

        Returns
        -------
        low, high : float
            Bounds [h].
        """
        tails(confidence)
        fraction(fraction_failed, "fraction failed")
        if self.estimate is None:
            return float("nan"), float("nan")
        return likelihood_ratio.life_bounds(
            self.evidence, self.estimate, fraction_failed, confidence, self.companions
        )

    @property
    def failures_for_shape(self) -> float:
        """Failures that speak of the shape, those of strata that share it included [heads]."""
        told = sum(other.all_failures for other in self.companions)
        return self.evidence.all_failures + told

    def without_stated_shape(self) -> Life:
        """Fit the same evidence again with nothing stated about the shape.

        Returns
        -------
        Life
            What the records say alone.
        """
        return fit_life(self.evidence, None, self.prior, self.companions)

    def shape_bounds(self, confidence: float = 0.90) -> tuple[float, float]:
        """Posterior bounds (low, high) on the shape [-].

        Parameters
        ----------
        confidence : float, optional
            Two-sided [-]; 0.90 gives two one-sided 95 % bounds.

        Returns
        -------
        low, high : float
            Bounds [-].
        """
        low, high = self.posterior.shape_quantile(np.array(tails(confidence)))
        return float(low), float(high)

    def draw(self, n: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Draw ``n`` pairs (shape [-], scale [h]) from the posterior, shape (n,) each.

        Parameters
        ----------
        n : int
            How many pairs.
        rng : numpy.random.Generator
            Source of the random numbers.

        Returns
        -------
        tuple of array of float
            Shapes [-] and scales [h], (n,) each.
        """
        return self.posterior.draw(n, rng)

    def nodes(self, per_shape: int = 16) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Posterior as weighted points: shape [-], scale [h], weight [-], each (m,).

        Sums over these points replace draws wherever a smooth function of the life is averaged.

        Parameters
        ----------
        per_shape : int, optional
            Points at each shape.

        Returns
        -------
        tuple of array of float
            Shapes [-], scales [h] and weights [-], which sum to 1, (m,) each.
        """
        return self.mixture.nodes(per_shape)
