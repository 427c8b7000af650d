"""What is the life of each of many groups of heads, and how sure are we? All at once.

From the evidence of a thousand sites, lots or simulated futures to the posterior of each, with the
same answers as `headlife.life.posterior` gives for one: shares that reach an age, ages by which a
fraction has failed, their bounds, and the chance that a claim is true. Never pools the groups.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final, cast

import numpy as np
from numpy.typing import ArrayLike, NDArray

from headlife.errors import EvidenceError
from headlife.life.asked import fraction, tails
from headlife.life.evidence import Evidence
from headlife.life.inference import posterior_of, posteriors
from headlife.life.mixture import Mixture, share_and_life
from headlife.life.prior import PriorName, ShapePrior, as_shape_prior
from headlife.life.stacked import StackedEvidence

FloatArray = NDArray[np.float64]
Indices = NDArray[np.intp]
StatedShape = float | tuple[float, float] | ShapePrior | None

_TOGETHER: Final = 512  # groups whose nodes are laid together


def fit_many(
    evidence: StackedEvidence | Sequence[Evidence],
    shape_prior: StatedShape | Sequence[StatedShape] = None,
    prior: PriorName = "calibrated",
    companions: Sequence[Evidence] = (),
) -> ManyLives:
    """Learn the life of each of many groups from its evidence.

    Parameters
    ----------
    evidence : StackedEvidence or sequence of Evidence
        What the lives of each group say.
    shape_prior : float, tuple, ShapePrior or list of them, optional
        A shape the shop states, as for `fit_life`: one for all, or a list with one for each.
    prior : PriorName, optional
        As for `fit_life`.
    companions : sequence of Evidence, optional
        Strata whose heads have the same shape as those of every group, but their own scale.

    Returns
    -------
    ManyLives
        Their lives, in order.

    Raises
    ------
    EvidenceError
        As for `fit_life`; the first group that holds no running hours is named by its number.
    """
    groups = len(evidence)
    own = shape_prior if isinstance(shape_prior, list) else [shape_prior] * groups
    stated = [as_shape_prior(cast(StatedShape, each)) for each in own]
    if len(stated) != groups:
        raise EvidenceError(f"There are {groups} groups but {len(stated)} stated shapes.")
    parts: list[tuple[Indices, Mixture]] = []
    if isinstance(evidence, StackedEvidence):
        stack, rows = evidence, np.arange(groups)
    else:
        # Failures known only to an interval do not stack: such groups go one by one.
        for at, each in enumerate(evidence):
            if len(each.intervals):
                _refuse_nothing(each.log_curve[None, :], np.array([at]))
                found = posterior_of(each, stated[at], prior, companions)
                parts.append((np.array([at]), found.mixture))
        rows = np.array([at for at, each in enumerate(evidence) if not len(each.intervals)], int)
        if not rows.size:
            return ManyLives(tuple(parts), groups)
        stack = StackedEvidence.of([evidence[int(at)] for at in rows])
    _refuse_nothing(stack.log_curve, rows)
    for which in _alike([stated[at] for at in rows]):
        priors = [each for at in rows[which] if (each := stated[at]) is not None]
        some = posteriors(stack.part(which), priors or None, prior, companions)
        parts += [(rows[which][each], mixture) for each, mixture in some]
    return ManyLives(tuple(parts), groups)


@dataclass(frozen=True, eq=False)
class ManyLives:
    """The Weibull lives of n groups of heads: posteriors, bounds and chances.

    Attributes
    ----------
    parts
        Groups whose posteriors are held together, and those.
    groups
        Number of groups [-].
    """

    parts: tuple[tuple[Indices, Mixture], ...]
    groups: int

    def __len__(self) -> int:
        return self.groups

    def reliability(self, hours: ArrayLike) -> FloatArray:
        """Share of heads still good, the posterior median.

        Parameters
        ----------
        hours : float or array of float
            Ages [h].

        Returns
        -------
        array of float
            Shares [-], (n,) or (n, ages).
        """
        return self._each(lambda mixture: np.exp(-mixture.cumulative_hazard(hours, 0.5)))

    def reliability_bounds(
        self, hours: ArrayLike, confidence: float = 0.90
    ) -> tuple[FloatArray, FloatArray]:
        """Exact posterior bounds on the share of heads still good.

        Parameters
        ----------
        hours : float or array of float
            Ages [h].
        confidence : float, optional
            Two-sided [-]; 0.90 gives two one-sided 95 % bounds.

        Returns
        -------
        low, high : array of float
            Bounds [-], (n,) or (n, ages) each.
        """
        probability = tails(confidence)
        both = self._each(lambda mixture: np.exp(-mixture.cumulative_hazard(hours, probability)))
        return both[..., 1], both[..., 0]

    def life(self, fraction_failed: ArrayLike) -> FloatArray:
        """Age by which a fraction of heads has failed, the posterior median: 0.10 gives B10.

        Parameters
        ----------
        fraction_failed : float or array of float
            Fractions [-], between 0 and 1.

        Returns
        -------
        array of float
            Ages [h], (n,) or (n, fractions).
        """
        asked = fraction(fraction_failed, "fraction failed")
        return self._each(lambda mixture: mixture.life(asked, 0.5))

    def life_bounds(
        self, fraction_failed: ArrayLike, confidence: float = 0.90
    ) -> tuple[FloatArray, FloatArray]:
        """Exact posterior bounds on the age by which a fraction of heads has failed.

        Parameters
        ----------
        fraction_failed : float or array of float
            Fractions [-], between 0 and 1.
        confidence : float, optional
            Two-sided [-]; 0.90 gives two one-sided 95 % bounds.

        Returns
        -------
        low, high : array of float
            Bounds [h], (n,) or (n, fractions) each.
        """
        asked, probability = fraction(fraction_failed, "fraction failed"), tails(confidence)
        both = self._each(lambda mixture: mixture.life(asked, probability))
        return both[..., 0], both[..., 1]

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
            has failed [h], (n, m) each.
        """
        wanted = np.asarray(probability, float)

        def ask(mixture: Mixture) -> FloatArray:
            return np.stack(share_and_life(mixture, hours, fraction_failed, wanted), axis=-2)

        both = self._each(ask)
        return both[:, 0], both[:, 1]

    def probability_reliability_above(self, share: float, hours: float) -> FloatArray:
        """Posterior probability that at least a share of heads reach an age.

        Parameters
        ----------
        share : float
            Share of heads [-].
        hours : float
            Age [h].

        Returns
        -------
        array of float
            Probabilities [-], (n,).
        """
        level = -np.log(fraction(share, "share"))
        return self._each(lambda mixture: mixture.probability_hazard_below(hours, level))

    def probability_mean_life_above(self, hours: float) -> FloatArray:
        """Posterior probability that the mean life is at least some hours.

        Parameters
        ----------
        hours : float
            Mean life asked about [h].

        Returns
        -------
        array of float
            Probabilities [-], (n,).
        """
        return self._each(lambda mixture: mixture.probability_mean_life_above(hours))

    def _each(self, ask: Callable[[Mixture], FloatArray]) -> FloatArray:
        """Answers of every part, put back in the order of the groups, (n, ...)."""
        whole = np.empty(0)
        for which, mixture in self.parts:
            answer = np.asarray(ask(mixture), float)
            if mixture.shapes.ndim == 1:  # one life alone
                answer = answer[None, ...]
            if not whole.size:
                whole = np.empty((self.groups, *answer.shape[1:]))
            whole[which] = answer
        return whole


def _alike(stated: list[ShapePrior | None]) -> Iterator[Indices]:
    """Take some groups at a time, of whose shapes all, none or only the centre is stated."""
    kinds = np.array([0 if each is None else 1 + each.fixed for each in stated])
    for kind in np.unique(kinds):
        which = np.flatnonzero(kinds == kind)
        yield from np.array_split(which, -(-which.size // _TOGETHER))


def _refuse_nothing(log_curve: FloatArray, groups: Indices) -> None:
    nothing = ~np.isfinite(log_curve).all(axis=1)
    if nothing.any():
        raise EvidenceError(
            f"Group number {int(groups[nothing][0]) + 1} holds no running hours at all, so nothing "
            "can be learned of it. Leave it out."
        )
