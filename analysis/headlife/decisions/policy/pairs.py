"""Does it pay to swap both heads of a printer in one visit? One calibration then serves both.

From the lives of the two heads and their policies: whenever one head is due or fails,
the other is swapped too if its age has reached the policy's `join_from`. Counts events in the long
run, in each scenario over its own length of time and for many policies on the same lives, which is
what finding the best needs; `futures.visits` walks the calendar from the present state, which is
what a forecast needs. The tests hold the two against each other. Never fits a life.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import Any, Final

import numpy as np

from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.replacement import rates_at
from headlife.decisions.policy.survival import WeibullScenarios, as_survival, equally_likely
from headlife.errors import DecisionError
from headlife.futures.draws import GivenLives
from headlife.futures.engine import steps
from headlife.futures.position import HeadKind, Position
from headlife.numbers import Floats
from headlife.shop.policy import Policy

PairPolicies = tuple[Policy, Policy]

HEADS: Final = 2  # heads of a printer
_SCENARIOS: Final = 512
_VISITS: Final = 160  # counted for each scenario
_SETTLING: Final = 16  # visits before counting, so that both heads' ages are any ages
_LIMITS: Final = np.array([0.0, 0.15, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, np.inf])


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
        """Cost per print hour of the printer, both heads [currency/h].

        Parameters
        ----------
        costs : tuple of SwapCosts
            What swaps and failures of each head cost [currency].

        Returns
        -------
        array of float
            Costs [currency/h], (scenarios,).
        """
        total = costs[0].visit * self.visits
        for heads, failures, cost in zip(self.heads, self.failures, costs, strict=True):
            total = total + heads * cost.head + failures * cost.extra
        return np.asarray(total, float)

    def downtime(self, costs: tuple[SwapCosts, SwapCosts]) -> Floats:
        """Hours a printer stands for swaps, calibration and missing spares [h/h].

        Parameters
        ----------
        costs : tuple of SwapCosts
            What swaps and failures of each head cost [currency].

        Returns
        -------
        array of float
            Hours stood per print hour [h/h], (scenarios,).
        """
        total = costs[0].visit_hours * self.visits
        for heads, failures, cost in zip(self.heads, self.failures, costs, strict=True):
            total = total + heads * cost.swap_hours + failures * cost.waiting_hours
        return np.asarray(total, float)


@dataclass(frozen=True)
class PairWay:
    """One way to look after both heads of a printer, with what it costs."""

    policies: PairPolicies
    """When each of the two heads is swapped."""
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


def visit_rates(
    lives: tuple[Any, Any],
    policies: Sequence[PairPolicies],
    *,
    scenarios: int = _SCENARIOS,
    counted: int = _VISITS,
    seed: int = 1,
) -> list[VisitRates]:
    """Count events per print hour in the long run, for several policies on the same lives.

    Parameters
    ----------
    lives : pair
        The life of each head: a life, competing lives, or scenarios.
    policies : sequence of pairs of Policy
        When each head is swapped.
    scenarios : int
        Pairs of equally likely lives [-].
    counted : int
        Visits counted for each [-].
    seed : int
        Same seed, same answer.

    Returns
    -------
    list of VisitRates
        One per pair of policies; scenarios are the same for all.

    Raises
    ------
    DecisionError
        A life is no Weibull life.
    """
    rng = np.random.default_rng(seed)
    parts = pair_scenarios(lives, scenarios, seed)
    total, shape = _SETTLING + counted, (len(policies), scenarios)
    # The same heads for every policy, so that policies differ by what they do, not by luck.
    tables = [_draw_lives(part, total + 1, rng) for part in parts]
    # One head starts part-used: two heads that started together would stay together.
    due = np.array([[own.swap_at] for _, own in policies])
    start = (np.zeros(shape), rng.random(scenarios) * np.minimum(due, tables[1][0]))
    positions = [
        Position(
            ages,
            [HeadKind(given, own) for own in policy],
            in_place=np.repeat(np.arange(len(policies)), scenarios),
        )
        for ages, given, policy in zip(
            start,
            [GivenLives(table, len(policies)) for table in tables],
            zip(*policies, strict=True),
            strict=True,
        )
    ]
    heads, failures = np.zeros((2, HEADS, *shape))
    begun = hours = np.zeros(shape)
    visits = islice(steps(positions, scenarios, np.inf, rng, traced=True), total)
    for number, visit in enumerate(visits):
        hours = visit.hours.reshape(shape)
        if number < _SETTLING:
            begun = hours
            continue
        for place, out in enumerate(visit.out):
            heads[place] += (out.failed | out.planned | out.joined).reshape(shape)
            failures[place] += out.failed.reshape(shape)
    span = hours - begun
    return [
        VisitRates(heads[:, i] / span[i], failures[:, i] / span[i], counted / span[i])
        for i in range(len(policies))
    ]


def best_limit(
    lives: tuple[Any, Any],
    policies: PairPolicies,
    costs: tuple[SwapCosts, SwapCosts],
    *,
    seed: int = 1,
) -> PairAnswer:
    """Find the age from which the other head is best swapped along.

    Parameters
    ----------
    lives : pair
        The life of each head: a life, competing lives, or scenarios.
    policies : pair of Policy
        When each head is swapped otherwise; their `join_from` is what is looked for.
    costs : pair of SwapCosts
        Of each head [currency]; a visit costs the same for either.
    seed : int, optional
        Of the scenarios.

    Returns
    -------
    PairAnswer
        An infinite limit when swapping along does not pay.

    Raises
    ------
    DecisionError
        A life is no Weibull life, or a visit has two prices.
    """
    if costs[0].visit != costs[1].visit:
        raise DecisionError(
            "A visit at a printer has one price, whichever head it is for; "
            f"got {costs[0].visit:g} and {costs[1].visit:g}."
        )
    parts = pair_scenarios(lives, _SCENARIOS, seed)
    reach = [
        own.swap_at if np.isfinite(own.swap_at) else float(np.median(part.mean_life))
        for own, part in zip(policies, parts, strict=True)
    ]
    limits = (_LIMITS * max(reach)).tolist()
    tried = [joined(policies, limit) for limit in limits]
    found = visit_rates(lives, tried, seed=seed)
    alone = (Policy(policies[0].swap_at), Policy(policies[1].swap_at))
    between = any(own.build_hours for own in policies)
    luck = visit_rates(lives, [alone], seed=seed)[0] if between else found[-1]
    found = [_less_luck(rates, luck, alone_rates(parts, alone)) for rates in found]
    ways = [PairWay(own, rates, rates.cost(costs)) for own, rates in zip(tried, found, strict=True)]
    expected = [float(way.cost.mean()) for way in ways]
    return PairAnswer(
        best=ways[int(np.argmin(expected))],
        alone=ways[-1],
        by_limit=tuple(zip(limits, expected, strict=True)),
    )


def joined(policies: PairPolicies, limit: float) -> PairPolicies:
    """Give the same policies with the heads swapped along from an age [h].

    Parameters
    ----------
    policies : PairPolicies
        Of both heads.
    limit : float
        Age from which a head goes along [h].

    Returns
    -------
    PairPolicies
        The policies of both heads.
    """
    first, second = (replace(own, join_from=limit) for own in policies)
    return first, second


def alone_rates(
    parts: tuple[WeibullScenarios, WeibullScenarios], policies: PairPolicies
) -> VisitRates:
    """Events per print hour when each head is swapped on its own: the formula, not simulated.

    Parameters
    ----------
    parts : pair of WeibullScenarios
        From `pair_scenarios`.
    policies : pair of Policy
        When each head is swapped.

    Returns
    -------
    VisitRates
        Swaps, failures and visits per print hour [1/h], by scenario.
    """
    single = [rates_at(part, own.swap_at) for part, own in zip(parts, policies, strict=True)]
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
    """Equally likely scenarios of both heads; what is unknown of one says nothing of the other.

    Parameters
    ----------
    lives : tuple of (Life, Life)
        Lives of both heads.
    scenarios : int, optional
        How many.
    seed : int, optional
        Of the scenarios.

    Returns
    -------
    tuple of WeibullScenarios
        Scenarios of each head, as many and equally likely.
    """
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
