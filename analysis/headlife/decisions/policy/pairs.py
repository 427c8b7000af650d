"""Does it pay to swap both heads of a printer in one visit? One calibration then serves both.

From the lives of the two heads, their swap ages and a limit: whenever one head is due or fails,
the other is swapped too if its age has reached the limit. Counts events in the long run, in each
scenario over its own length of time and for many limits on the same lives, which is what finding
the limit needs; `spares.visits` walks the calendar from the present state, which is what a
forecast needs. The tests hold the two against each other. Never fits a life.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.replacement import Comparison, build_end, compare, rates_at
from headlife.decisions.policy.survival import WeibullScenarios, as_survival, equally_likely
from headlife.errors import DecisionError
from headlife.futures.pair_walk import HEADS, walk
from headlife.numbers import Floats, not_negative_array, positive

_SCENARIOS: Final = 512
_VISITS: Final = 160  # counted for each scenario
_SETTLING: Final = 16  # visits before counting, so that both heads' ages are any ages
_LIMITS: Final = np.array([0.0, 0.15, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, np.inf])


@dataclass(frozen=True)
class PairPolicy:
    """When the heads of one printer are swapped."""

    swap_ages: tuple[float, float]
    """Age at which each head is due [h]; infinite runs it to failure."""
    limit: float = np.inf
    """Age from which a head is swapped along when the other is [h]; infinite: never."""
    build_hours: float | None = None
    """Length of builds [h] when heads that are due wait for the end of one."""
    never_past: tuple[bool, bool] = (False, False)
    """Whether each head comes out before the build that would carry it past its age."""


@dataclass(frozen=True)
class VisitRates:
    """Events per print hour of a printer in the long run, one value per scenario."""

    heads: Floats
    """Heads used in each position [heads/h], 2 x scenarios."""
    failures: Floats
    """Heads that fail in each position [heads/h], 2 x scenarios."""
    visits: Floats
    """Visits [1/h]."""

    def cost(self, costs: tuple[SwapCosts, SwapCosts]) -> Floats:
        """Cost per print hour of the printer, both heads [currency/h]."""
        total = costs[0].visit * self.visits
        for heads, failures, cost in zip(self.heads, self.failures, costs, strict=True):
            total = total + heads * cost.head + failures * cost.extra
        return np.asarray(total, float)

    def downtime(self, costs: tuple[SwapCosts, SwapCosts]) -> Floats:
        """Hours a printer stands for swaps, calibration and missing spares [h/h]."""
        total = costs[0].visit_hours * self.visits
        for heads, failures, cost in zip(self.heads, self.failures, costs, strict=True):
            total = total + heads * cost.swap_hours + failures * cost.waiting_hours
        return np.asarray(total, float)


@dataclass(frozen=True)
class PairWay:
    """One way to look after both heads of a printer, with what it costs."""

    policy: PairPolicy
    """Swap ages, limit and builds."""
    rates: VisitRates
    """Events per print hour, one value per scenario."""
    cost: Floats
    """Cost per print hour of the printer [currency/h], one value per scenario."""


@dataclass(frozen=True)
class PairAnswer:
    """Both heads in one visit, at the best limit, against each head on its own."""

    best: PairWay
    """At the limit with the lowest expected cost."""
    alone: PairWay
    """The same swap ages and the same lives, each head on its own."""
    by_limit: tuple[tuple[float, float], ...]
    """Every limit looked at [h] with its expected cost [currency/h]."""

    @property
    def against_alone(self) -> Comparison:
        """The best limit against each head on its own [currency/h]."""
        even = np.full(self.best.cost.size, 1.0 / self.best.cost.size)
        return compare(self.best.cost, self.alone.cost, even)


def visit_rates(
    lives: tuple[Any, Any],
    swap_ages: tuple[float, float],
    limits: npt.ArrayLike,
    *,
    build_hours: float | None = None,
    never_past: tuple[bool, bool] = (False, False),
    scenarios: int = _SCENARIOS,
    counted: int = _VISITS,
    seed: int = 1,
) -> list[VisitRates]:
    """Count events per print hour in the long run, for several limits on the same lives.

    Parameters
    ----------
    lives : pair
        The life of each head: a life, competing lives, or scenarios.
    swap_ages : pair of float
        Age at which each head is due [h]; infinite runs it to failure.
    limits : array of float
        Limits to simulate [h].
    build_hours : float, optional
        Length of builds when due heads wait for the end of one [h].
    never_past : pair of bool
        Heads that come out before the build that would carry them past their age.
    scenarios : int
        Pairs of equally likely lives [-].
    counted : int
        Visits counted for each [-].
    seed : int
        Same seed, same answer.

    Returns
    -------
    list of VisitRates
        One per limit; scenarios are the same for all.

    Raises
    ------
    DecisionError
        A swap age or limit makes no sense.
    """
    wanted = _checked_limits(limits)
    due = np.array([_checked_due(age) for age in swap_ages])
    if build_hours is not None:
        for age, early in zip(swap_ages, never_past, strict=True):
            build_end(age, build_hours, early)  # refuses a build that does not fit
    rng = np.random.default_rng(seed)
    parts = pair_scenarios(lives, scenarios, seed)
    steps = _SETTLING + counted
    # The same heads for every limit, so that limits differ by what they do, not by luck.
    table = np.stack([_draw_lives(part, steps + 1, rng) for part in parts], axis=1)
    table = np.repeat(table[:, :, None, :], wanted.size, axis=2)
    start = np.zeros((HEADS, wanted.size, scenarios))
    # One head starts part-used: two heads that started together would stay together.
    start[1] = rng.random(scenarios) * np.minimum(due[1], table[0, 1])
    begun = np.zeros(start.shape[1:])
    heads, failures = np.zeros(start.shape), np.zeros(start.shape)
    hours = begun
    for number, visit in enumerate(
        walk(start, table, due[:, None, None], wanted[:, None], build_hours, never_past)
    ):
        if number < _SETTLING:
            begun = visit.hours
            continue
        hours = visit.hours
        heads += visit.swapped
        failures += visit.failed
    span = hours - begun
    return [
        VisitRates(heads[:, i] / span[i], failures[:, i] / span[i], counted / span[i])
        for i in range(wanted.size)
    ]


def best_limit(
    lives: tuple[Any, Any],
    swap_ages: tuple[float, float],
    costs: tuple[SwapCosts, SwapCosts],
    *,
    build_hours: float | None = None,
    never_past: tuple[bool, bool] = (False, False),
    seed: int = 1,
) -> PairAnswer:
    """Find the age from which the other head is best swapped along.

    Parameters
    ----------
    lives : pair
        The life of each head: a life, competing lives, or scenarios.
    swap_ages : pair of float
        Age at which each head is due [h]; infinite runs it to failure.
    costs : pair of SwapCosts
        Of each head [currency]; a visit costs the same for either.
    build_hours : float, optional
        Length of builds when due heads wait for the end of one [h].
    never_past : pair of bool
        Heads that come out before the build that would carry them past their age.

    Returns
    -------
    PairAnswer
        An infinite limit when swapping along does not pay.

    Raises
    ------
    DecisionError
        A swap age makes no sense, or a visit has two prices.
    """
    if costs[0].visit != costs[1].visit:
        raise DecisionError(
            "A visit at a printer has one price, whichever head it is for; "
            f"got {costs[0].visit:g} and {costs[1].visit:g}."
        )
    parts = pair_scenarios(lives, _SCENARIOS, seed)
    reach = [
        due if np.isfinite(due) else float(np.median(part.mean_life))
        for due, part in zip(swap_ages, parts, strict=True)
    ]
    limits = _LIMITS * max(reach)
    found = visit_rates(
        lives, swap_ages, limits, build_hours=build_hours, never_past=never_past, seed=seed
    )
    luck = (
        found[-1] if build_hours is None else visit_rates(lives, swap_ages, [np.inf], seed=seed)[0]
    )
    found = [_less_luck(rates, luck, alone_rates(parts, swap_ages)) for rates in found]
    ways = [
        PairWay(
            PairPolicy(swap_ages, float(limit), build_hours, never_past), rates, rates.cost(costs)
        )
        for limit, rates in zip(limits, found, strict=True)
    ]
    expected = [float(way.cost.mean()) for way in ways]
    return PairAnswer(
        best=ways[int(np.argmin(expected))],
        alone=ways[-1],
        by_limit=tuple(zip(limits.tolist(), expected, strict=True)),
    )


def alone_rates(
    parts: tuple[WeibullScenarios, WeibullScenarios], swap_ages: tuple[float, float]
) -> VisitRates:
    """Events per print hour when each head is swapped on its own: the formula, not simulated.

    Parameters
    ----------
    parts : pair of WeibullScenarios
        From `pair_scenarios`.
    swap_ages : pair of float
        Age at which each head is due [h]; infinite runs it to failure.
    """
    single = [rates_at(part, due) for part, due in zip(parts, swap_ages, strict=True)]
    heads = np.stack([rates.heads for rates in single])
    return VisitRates(heads, np.stack([rates.failures for rates in single]), heads.sum(axis=0))


def _less_luck(rates: VisitRates, luck: VisitRates, exact: VisitRates) -> VisitRates:
    """Take out what the simulated lives had of luck, known from heads swapped on their own.

    A control variate: the same lives, each head on its own, are known by formula as well.
    """
    return VisitRates(
        np.maximum(rates.heads + exact.heads - luck.heads, 0.0),
        np.maximum(rates.failures + exact.failures - luck.failures, 0.0),
        np.maximum(rates.visits + exact.visits - luck.visits, 0.0),
    )


def pair_scenarios(
    lives: tuple[Any, Any], scenarios: int = _SCENARIOS, seed: int = 1
) -> tuple[WeibullScenarios, WeibullScenarios]:
    """Equally likely scenarios of both heads; what is unknown of one says nothing of the other."""
    rng = np.random.default_rng(seed)
    one, other = (equally_likely(_weibull(life, seed), scenarios, rng) for life in lives)
    return one, other


def _weibull(life: Any, seed: int) -> WeibullScenarios:
    survival = as_survival(life, seed)
    if not isinstance(survival, WeibullScenarios):
        raise DecisionError(
            "Both heads in one visit are simulated from Weibull lives; "
            "a survival function alone does not serve."
        )
    return survival


def _draw_lives(part: WeibullScenarios, heads: int, rng: np.random.Generator) -> Floats:
    """Ages at which new heads fail [h], heads x scenarios; the first mode to strike counts."""
    life = np.full((heads, part.weights.size), np.inf)
    for shape, scale in zip(part.shapes, part.scales, strict=True):
        with np.errstate(over="ignore"):
            mode = scale * rng.standard_exponential(life.shape) ** (1.0 / shape)
        life = np.minimum(life, mode)
    return life


def _checked_limits(limits: npt.ArrayLike) -> Floats:
    wanted = np.atleast_1d(np.asarray(limits, float))
    finite = wanted[~np.isposinf(wanted)]
    not_negative_array("The limit for swapping the other head along", finite, "[h]")
    return wanted


def _checked_due(age: float | None) -> float:
    if age is None or age == np.inf:
        return np.inf
    return positive("The age at which heads are swapped", age, "[h]")
