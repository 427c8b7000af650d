"""What do evidence and prior say together? The posterior mixture of one life, or of many.

With the hazard integrated out, the shape's own density is ``prior * shape ** failures *
exp(shape * log_sum) * S(shape) ** -failures``; given the shape the hazard is Gamma distributed,
or tabulated where failures are known only to an interval. Draws come from the same density on a
fine grid. Reads no lives.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from headlife.life import intervals
from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import LOG_SHAPE_LIMITS, curve_at, watched_late
from headlife.life.hazard import GammaHazard, Hazard
from headlife.life.mixture import Mixture
from headlife.life.prior import FORECAST_SPREAD, PriorName, ShapePrior, prior_powers
from headlife.life.shape_posterior import (
    Indices,
    ShapeNodes,
    fixed_shape,
    lay_nodes,
    lay_nodes_of_one,
)
from headlife.life.stacked import StackedEvidence

FloatArray = NDArray[np.float64]

_LOW, _HIGH = LOG_SHAPE_LIMITS
_DRAW_GRID: Final = np.linspace(0.0, 1.0, 513)


class ShapeDensity(NamedTuple):
    """Log density of the log shape with the hazard integrated out, of one life or of n."""

    failures: Any
    """Of the evidence [heads], a number or (n, 1)."""
    log_sum: Any
    """Of the evidence [-], a number or (n, 1)."""
    power: Any
    """Of the shape, in the prior [-], a number or (n, 1)."""
    stated: tuple[Any, Any] | None = None
    """Centre and deviation of a log shape that the shop states, numbers or (n, 1)."""
    companions: tuple[tuple[Evidence, float], ...] = ()
    """Strata that share the shape, and their started failures [heads]."""
    between: tuple[Evidence, float] | None = None
    """One life with failures known only to an interval, and its started failures [heads]."""
    spread: float | None = None
    """Deviation of the half-normal prior of 1 / shape [-]; None: none beside the power."""

    def __call__(self, log_shape: FloatArray, shape: FloatArray, curve: FloatArray) -> FloatArray:
        """As in `shape_posterior.LogDensity`."""
        height: FloatArray = log_shape - curve
        height *= self.failures
        height += self.log_sum * shape
        if self.between is not None:
            evidence, started = self.between
            height += intervals.log_factor(evidence, started, _row(log_shape), _row(curve))
        for other, started in self.companions:
            along = curve_at(other.log_curve, log_shape)
            height += other.failures * (log_shape - along) + other.log_sum * shape
            if len(other.intervals):
                height += intervals.log_factor(other, started, _row(log_shape), _row(along))
        if self.stated is None:
            height += self.power * log_shape
            if self.spread is not None:
                height -= 0.5 / np.square(self.spread * shape)
        else:
            centre, deviation = self.stated
            height -= 0.5 * ((log_shape - centre) / deviation) ** 2
        return height

    def of(self, which: Indices | slice) -> ShapeDensity:
        """As in `shape_posterior.LogDensity`."""
        if isinstance(self.failures, float):
            return self
        stated = self.stated
        return ShapeDensity(
            self.failures[which],
            self.log_sum[which],
            self.power[which],
            None if stated is None else (stated[0][which], stated[1][which]),
            self.companions,
            spread=self.spread,
        )


@dataclass(frozen=True, eq=False)
class Posterior:
    """The posterior of one life: a mixture for exact answers and a fine grid for draws.

    Attributes
    ----------
    mixture
        Weighted shapes with a hazard distribution each.
    evidence
        What it was learned from.
    count
        Failures and started failures [heads]: the Gamma shape of the hazard.
    density
        Log density of the log shape.
    """

    mixture: Mixture
    evidence: Evidence
    count: float
    density: ShapeDensity

    def shape_quantile(self, probability: FloatArray) -> FloatArray:
        """Posterior quantiles of the shape [-].

        Parameters
        ----------
        probability : array of float
            Probability [-] below.

        Returns
        -------
        array of float
            Shapes [-].
        """
        grid, below, _ = self._shape_distribution()
        return np.asarray(np.exp(np.interp(probability, below, grid)), float)

    def draw(self, n: int, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
        """Draw ``n`` pairs (shape [-], scale [h]).

        Parameters
        ----------
        n : int
            How many.
        rng : numpy.random.Generator
            Source of random numbers.

        Returns
        -------
        tuple of array of float
            Shapes [-] and scales [h], (n,) each.
        """
        grid, below, log_curve = self._shape_distribution()
        log_shape = np.interp(rng.random(n), below, grid)
        if len(self.evidence.intervals):
            log_hazard = intervals.draw(self.evidence, self.count, grid, log_shape, rng)
        else:
            log_rate = np.interp(log_shape, grid, log_curve)
            log_hazard = np.log(rng.gamma(self.count, size=n)) - log_rate
        shape = np.exp(log_shape)
        return shape, self.evidence.reference_hours * np.exp(-log_hazard / shape)

    def _shape_distribution(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Grid of log shapes, posterior probability below each, log exposure at each."""
        log_shape = np.log(self.mixture.shapes)
        if len(log_shape) == 1:
            both = log_shape[[0, 0]]
            return both, np.array([0.0, 1.0]), curve_at(self.evidence.log_curve, both)
        # The nodes end where the density does, or next to an end of the shape range.
        low = max(float(2.0 * log_shape[0] - log_shape[1]), _LOW)
        high = min(float(2.0 * log_shape[-1] - log_shape[-2]), _HIGH)
        grid = low + (high - low) * _DRAW_GRID
        log_curve = curve_at(self.evidence.log_curve, grid)
        height = self.density(grid, np.exp(grid), log_curve)
        density = np.exp(height - height.max())
        below = np.concatenate([[0.0], np.cumsum(density[1:] + density[:-1])])
        return grid, below / below[-1], log_curve


def posterior_of(
    evidence: Evidence,
    shape_prior: ShapePrior | None,
    prior: PriorName,
    companions: Sequence[Evidence] = (),
) -> Posterior:
    """Work out the posterior of evidence that holds exposure.

    Parameters
    ----------
    evidence : Evidence
        What the lives say.
    shape_prior : ShapePrior, optional
        A shape the shop states.
    prior : PriorName
        Which prior; see `prior_powers`.
    companions : sequence of Evidence
        Strata that share the shape: their likelihoods of it multiply.

    Returns
    -------
    Posterior
        The posterior.
    """
    stated = None
    if shape_prior is not None and not shape_prior.fixed:
        stated = shape_prior.log_median, shape_prior.deviation
    late = _watched_late(evidence.log_curve, prior, companions)
    started, density = _density(
        evidence.failures, evidence.log_sum, evidence.all_failures, late, stated, prior, companions
    )
    count = np.array([evidence.failures + started])
    if len(evidence.intervals):
        density = density._replace(between=(evidence, started))

    if shape_prior is not None and shape_prior.fixed:
        nodes = fixed_shape(np.array([shape_prior.median]), evidence.log_curve[None, :]).of_one()
    else:
        nodes = lay_nodes_of_one(density, evidence.log_curve)
    return Posterior(_mixture_of_one(evidence, count, nodes), evidence, float(count[0]), density)


def _mixture_of_one(evidence: Evidence, count: FloatArray, nodes: ShapeNodes) -> Mixture:
    hazard: Hazard = GammaHazard(count, nodes.log_curve)
    if len(evidence.intervals):
        logs = np.log(nodes.shape)
        hazard = intervals.hazard_at(evidence, float(count[0]), logs, nodes.log_curve)
    finer = None if nodes.finer is None else partial(_finer_of_one, evidence, count, nodes.finer)
    return Mixture(evidence.reference_hours, nodes.shape, nodes.weights, hazard, finer)


def _finer_of_one(
    evidence: Evidence, count: FloatArray, lay: Callable[[Any], ShapeNodes], _: Any = None
) -> Mixture:
    return _mixture_of_one(evidence, count, lay(None))


def posteriors(
    stack: StackedEvidence,
    shape_prior: ShapePrior | Sequence[ShapePrior] | None,
    prior: PriorName,
    companions: Sequence[Evidence] = (),
) -> Iterator[tuple[Indices, Mixture]]:
    """Work out the posteriors of n strata, each by itself.

    Parameters
    ----------
    stack : StackedEvidence
        What the lives of each say; all hold exposure.
    shape_prior : ShapePrior or sequence of ShapePrior, optional
        A shape the shop states, one for all or one for each; none or all of them fixed.
    prior : PriorName
        Which prior; see `prior_powers`.
    companions : sequence of Evidence
        Strata that share the shape with every one of them: their likelihoods of it multiply.

    Yields
    ------
    tuple of array of int and Mixture
        Some of the strata, and their posteriors.
    """
    priors = shape_prior if isinstance(shape_prior, Sequence) else [shape_prior] * len(stack)
    known = [each for each in priors if each is not None]
    fixed = bool(known) and known[0].fixed
    stated = None
    if known and not fixed:
        centres, deviations = [p.log_median for p in known], [p.deviation for p in known]
        stated = np.array(centres)[:, None], np.array(deviations)[:, None]
    failures, log_sum = stack.failures[:, None], stack.log_sum[:, None]
    late = _watched_late(stack.log_curve, prior, companions)
    if np.ndim(late):
        late = late[:, None]
    started, density = _density(failures, log_sum, failures, late, stated, prior, companions)
    count = failures + started
    if fixed:
        medians = np.array([each.median for each in known])
        laid = iter([(np.arange(len(stack)), fixed_shape(medians, stack.log_curve))])
    else:
        laid = lay_nodes(density, stack.log_curve)
    for which, nodes in laid:
        yield which, _mixture(stack.reference_hours, nodes, count[which])


def _density(
    failures: Any,
    log_sum: Any,
    all_failures: Any,
    late: Any,
    stated: tuple[Any, Any] | None,
    prior: PriorName,
    companions: Sequence[Evidence],
) -> tuple[Any, ShapeDensity]:
    """Give started failures and the log density of the shape: numbers, or arrays (n, 1)."""
    started, power = prior_powers(all_failures, prior, late)
    begun: list[float] = []
    if companions:
        together = all_failures + sum(other.all_failures for other in companions)
        _, power = prior_powers(together, prior, late)
        begun = [prior_powers(other.all_failures, prior)[0] for other in companions]
    others = tuple(zip(companions, begun, strict=True))
    spread = FORECAST_SPREAD if prior == "forecast" else None
    return started, ShapeDensity(failures, log_sum, power, stated, others, spread=spread)


def _watched_late(log_curve: FloatArray, prior: PriorName, companions: Sequence[Evidence]) -> Any:
    """How far neither these heads nor their companions were watched from new [-]."""
    if prior != "calibrated":
        return 0.0
    late: Any = watched_late(log_curve)
    for other in companions:
        late = np.minimum(late, watched_late(other.log_curve))
    return late


def _mixture(reference: float, nodes: ShapeNodes, count: FloatArray) -> Mixture:
    """Mixture of n lives whose failure ages are all known."""
    lay_finer = nodes.finer

    def finer(which: Indices) -> Mixture:
        assert lay_finer is not None
        return _mixture(reference, lay_finer(which), count[which])

    hazard = GammaHazard(count, nodes.log_curve)
    more = None if lay_finer is None else finer
    return Mixture(reference, nodes.shape, nodes.weights, hazard, more)


def _row(values: FloatArray) -> FloatArray:
    """One life's values (k,)."""
    return values if values.ndim == 1 else values[0]
