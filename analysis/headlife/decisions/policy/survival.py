"""What is known of a head's life, as weighted scenarios that replacement questions can ask?

From the posterior of a life, of several competing ones, or any survival function: the share
still good ``R(t)``, the mean hours run ``integral of R from 0 to t`` and the mean life in each
scenario. Never prices; many ages at once are `run_table`'s.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Final, Protocol, runtime_checkable

import numpy as np
import numpy.typing as npt
from scipy.special import gammainc, gammaln

from headlife.errors import DecisionError
from headlife.numbers import Floats, positive

# The stretch from 0 on holds every early failure; lives of minutes and of years are in it.
_FIRST_PLACES, _FIRST_WEIGHTS = np.polynomial.legendre.leggauss(64)
_ALL_GONE: Final = 40.0  # cumulative hazard by which no head is left (4e-18)
_PAIRED: Final = 768  # scenarios when several failure modes compete


@runtime_checkable
class HasNodes(Protocol):
    """A life that gives its posterior as weighted points; `Life` is one."""

    def nodes(self) -> tuple[Floats, Floats, Floats]:
        """Return shapes [-], scales [h] and weights [-]."""


class Survival(Protocol):
    """Weighted scenarios of a head's life."""

    @property
    def weights(self) -> Floats:
        """Weight of each scenario [-], summing to 1."""

    @property
    def mean_life(self) -> Floats:
        """Mean life [h], one per scenario."""

    def reliability(self, ages: Floats) -> Floats:
        """Share of heads that reach each age [-], scenarios x ages.

        Parameters
        ----------
        ages : array of float
            Ages [h], (m,).

        Returns
        -------
        array of float
            Shares [-], (scenarios, ages).
        """

    def hours_run(self, upto: Floats) -> Floats:
        """Mean hours run by each of a few ages [h], scenarios x ages.

        Parameters
        ----------
        upto : array of float
            Ages [h], (m,).

        Returns
        -------
        array of float
            Hours [h], (scenarios, ages).
        """


@dataclass(frozen=True)
class WeibullScenarios:
    """Competing Weibull modes whose parameters are known only as weighted scenarios."""

    shapes: tuple[Floats, ...]
    """Shape of each mode [-], one array over the scenarios per mode."""
    scales: tuple[Floats, ...]
    """Scale of each mode [h], likewise."""
    weights: Floats
    """Weight of each scenario [-], summing to 1."""

    def reliability(self, ages: Floats) -> Floats:
        """As in `Survival`."""
        hazard: Any = 0.0
        with np.errstate(divide="ignore", over="ignore"):
            log_ages = np.log(ages)
            for shape, scale in zip(self.shapes, self.scales, strict=True):
                power = log_ages[None, :] - np.log(scale)[:, None]
                power *= shape[:, None]
                hazard = hazard + np.exp(power, out=power)
        np.negative(hazard, out=hazard)
        return np.asarray(np.exp(hazard, out=hazard), float)

    def hours_run(self, upto: Floats) -> Floats:
        """As in `Survival`."""
        if len(self.shapes) == 1:
            shape, scale = self.shapes[0][:, None], self.scales[0][:, None]
            with np.errstate(over="ignore"):
                hazard = (upto[None, :] / scale) ** shape
            # Integral of exp(-(t/scale)**shape), a lower incomplete gamma function (DLMF 8.2.4).
            return np.asarray(self.mean_life[:, None] * gammainc(1.0 / shape, hazard), float)
        return np.column_stack([self._from_zero(np.minimum(t, self._gone)) for t in upto])

    @cached_property
    def mean_life(self) -> Floats:
        """Mean life [h], one per scenario."""
        if len(self.shapes) == 1:
            return np.asarray(self.scales[0] * np.exp(gammaln(1.0 + 1.0 / self.shapes[0])), float)
        return self._from_zero(self._gone)

    @cached_property
    def _gone(self) -> Floats:
        """Age by which no head is left [h], one per scenario."""
        ends = [
            scale * _ALL_GONE ** (1.0 / shape)
            for shape, scale in zip(self.shapes, self.scales, strict=True)
        ]
        return np.asarray(np.min(ends, axis=0), float)

    def _from_zero(self, end: Floats) -> Floats:
        """Integral of R from 0 to an end of its own for each scenario [h].

        With ``t = end * v**power`` the early failures of small shapes are drawn apart, so that
        one Gauss rule serves shapes from 0.2 to 20.
        """
        power = np.ceil(3.0 / np.min(self.shapes, axis=0))[:, None]
        place = 0.5 * (_FIRST_PLACES + 1.0)[None, :]
        log_age = np.log(end)[:, None] + power * np.log(place)
        hazard: Any = 0.0
        for shape, scale in zip(self.shapes, self.scales, strict=True):
            hazard = hazard + np.exp(shape[:, None] * (log_age - np.log(scale)[:, None]))
        slope = power * place ** (power - 1.0)
        return np.asarray(end * ((np.exp(-hazard) * slope) @ (0.5 * _FIRST_WEIGHTS)), float)


@dataclass(frozen=True)
class KnownSurvival:
    """One survival function taken as known: any function of age, or points of one."""

    function: Callable[[Floats], npt.ArrayLike]
    """Share of heads that reach each age [-]; takes and gives an array."""
    mean: float | None = None
    """Mean life [h]; integrated when not given."""
    weights: Floats = field(default_factory=lambda: np.ones(1))
    """One scenario."""

    def reliability(self, ages: Floats) -> Floats:
        """As in `Survival`, one scenario."""
        share = np.asarray(self.function(ages), float)
        if share.shape != ages.shape or not ((share >= 0) & (share <= 1)).all():
            raise DecisionError(
                "A survival function must give one share between 0 and 1 for each age."
            )
        return share[None, :]

    def hours_run(self, upto: Floats) -> Floats:
        """As in `Survival`, one scenario."""
        place = 0.5 * (_FIRST_PLACES + 1.0)
        rows = [t * (self.reliability(t * place)[0] @ (0.5 * _FIRST_WEIGHTS)) for t in upto]
        return np.asarray([rows], float)

    @cached_property
    def mean_life(self) -> Floats:
        """Mean life [h], one value."""
        if self.mean is not None:
            return np.array([positive("The mean life", self.mean, "[h]")])
        from scipy.integrate import quad

        def share(age: float) -> float:
            return float(self.reliability(np.array([age]))[0, 0])

        return np.array([quad(share, 0.0, np.inf, limit=500)[0]])


def as_survival(life: Any, seed: int = 1) -> Survival:
    """Turn what people hand over into scenarios.

    Parameters
    ----------
    life : Life, sequence of Life, KnownLife, Survival, or a function of age
        A posterior, several competing ones, a known Weibull life, or a survival function.
    seed : int
        Pairs the scenarios of competing modes; unused with one mode.

    Returns
    -------
    Survival
        Weighted scenarios of the life.

    Raises
    ------
    DecisionError
        It is none of these, or an empty sequence.
    """
    if isinstance(life, (WeibullScenarios, KnownSurvival)):
        return life
    if isinstance(life, Sequence) and not isinstance(life, str):
        if not life:
            raise DecisionError("A replacement question needs at least one life; got none.")
        return _parted(life[0]) if len(life) == 1 else _competing(life, seed)
    if callable(life):
        return KnownSurvival(life)
    return _parted(life)


def _parted(life: Any) -> WeibullScenarios:
    # A decision averages over what the life may be, as a forecast does; a bound takes its far side.
    life = getattr(life, "to_forecast", life)
    if isinstance(life, HasNodes):
        shape, scale, weight = life.nodes()
        return WeibullScenarios((shape,), (scale,), weight)
    try:
        known = (
            positive("The shape of a life", life.shape, "[-]"),
            positive("The scale of a life", life.scale, "[h]"),
        )
    except AttributeError:
        raise DecisionError(
            f"A replacement question needs a life or a survival function; got {life!r}."
        ) from None
    return WeibullScenarios((np.array(known[:1]),), (np.array(known[1:]),), np.ones(1))


def _competing(lives: Sequence[Any], seed: int) -> WeibullScenarios:
    """Pair equally likely points of each mode's posterior at random; modes are independent."""
    parts = [_parted(life) for life in lives]
    if all(part.weights.size == 1 for part in parts):
        return WeibullScenarios(
            tuple(part.shapes[0] for part in parts),
            tuple(part.scales[0] for part in parts),
            np.ones(1),
        )
    rng = np.random.default_rng(seed)
    even = [equally_likely(part, _PAIRED, rng) for part in parts]
    return WeibullScenarios(
        tuple(part.shapes[0] for part in even),
        tuple(part.scales[0] for part in even),
        even[0].weights,
    )


def equally_likely(part: WeibullScenarios, n: int, rng: np.random.Generator) -> WeibullScenarios:
    """Turn weighted scenarios into `n` equally likely ones in random order.

    Taken at equal steps of the weight, so that their averages hardly differ from the weighted
    ones; a single known life is repeated.

    Parameters
    ----------
    part : WeibullScenarios
        Weighted scenarios.
    n : int
        How many are wanted.
    rng : numpy.random.Generator
        Source of the random numbers.

    Returns
    -------
    WeibullScenarios
        The scenarios, each of weight 1/n.
    """
    below = np.cumsum(part.weights)
    point = np.searchsorted(below / below[-1], (np.arange(n) + 0.5) / n)
    point = rng.permutation(np.minimum(point, part.weights.size - 1))
    return WeibullScenarios(
        tuple(shape[point] for shape in part.shapes),
        tuple(scale[point] for scale in part.scales),
        np.full(n, 1.0 / n),
    )
