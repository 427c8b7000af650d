"""What does each swap policy cost, use and risk, side by side, and how sure is that?

From the posterior of a life, the costs, and the positions as they are today: cost per print
hour, heads, failed builds and standstill per quarter, spares to hold, the probability that a
policy beats swapping at the rating and what is lost if it does not. Long-run rates are those of
the renewal-reward theorem; the spares start from the present ages. Never picks a policy.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.replacement import (
    CostComparison,
    Rates,
    compare,
    rates_at,
    weighted_quantile,
)
from headlife.decisions.policy.survival import Survival, as_survival
from headlife.decisions.spares.stock import stock_levels
from headlife.errors import DecisionError
from headlife.futures.distribution import Demand, known_demand
from headlife.futures.draws import DrawnLives, ModeDraws
from headlife.futures.life_uncertainty import Futures, Heads
from headlife.futures.same_lives import heads_needed
from headlife.numbers import Floats, fraction, positive
from headlife.shop.policy import AT_RATING, Policy
from headlife.units import QUARTERS_PER_YEAR, WEEKS_PER_QUARTER

if TYPE_CHECKING:
    import pandas as pd

STOCK_DRAWS: Final = 2_000  # futures behind the spares level of one policy
_AGES_TO_RATING: Final = 100  # at most so many steps between 0 and the rating
_LEVELS_TO_RATING: Final = 20  # spares are worked out at so many ages between 0 and the rating
_EVEN_STEPS: Final = (1.0, 2.0, 5.0, 10.0)


def age_step(rated_hours: float) -> float:
    """Give the round step in which swap ages are tried, fine beside a rating.

    Parameters
    ----------
    rated_hours : float
        The rating [h].

    Returns
    -------
    float
        A 1, 2 or 5 of some power of ten [h].
    """
    least = positive("The rating", rated_hours, "[h]") / _AGES_TO_RATING
    decade = 10.0 ** math.floor(math.log10(least))
    return next(step * decade for step in _EVEN_STEPS if step * decade >= least * (1 - 1e-12))


def spares_age(age: float, rated_hours: float) -> float:
    """Give the age at which the spares of a policy are worked out: a twentieth of the rating.

    Parameters
    ----------
    age : float
        Age at which heads come out [h]; infinite for run to failure.
    rated_hours : float
        The rating [h].

    Returns
    -------
    float
        The nearest whole number of twentieths, at least one [h].
    """
    if age == math.inf:
        return age
    step = positive("The rating", rated_hours, "[h]") / _LEVELS_TO_RATING
    return max(math.floor(age / step + 0.5), 1) * step


@dataclass(frozen=True)
class Positions:
    """Heads of one kind at work today, and what spares must cover."""

    ages: Floats
    """Present ages [h], one per position."""
    weekly_hours: Floats
    """Print hours a week [h], one per position."""
    cover_weeks: float
    """Lead time plus review period [weeks]."""
    service_level: float
    """Probability of no shortage over that time [-]."""
    stocked: bool = True
    """Whether spares of this kind are held for them; not where another type goes in."""

    @property
    def hours_per_quarter(self) -> float:
        """Print hours of all positions together [h/quarter]."""
        return float(self.weekly_hours.sum() * WEEKS_PER_QUARTER)

    def reaching(self, age_hours: float, weeks: float) -> int:
        """Count heads that are past an age, or will be if they last.

        Parameters
        ----------
        age_hours : float
            The age [h].
        weeks : float
            From now [weeks].

        Returns
        -------
        int
            Heads.
        """
        return int((self.ages + self.weekly_hours * weeks >= age_hours).sum())


@dataclass(frozen=True)
class Bounded:
    """An expected value with bounds."""

    expected: float
    """Posterior mean."""
    low: float
    """Lower bound."""
    high: float
    """Upper bound."""


@dataclass(frozen=True)
class PolicyAnswer:
    """What one policy costs, uses and risks."""

    policy: Policy
    """The policy."""
    cost_per_hour: Bounded
    """Everything, holding spares included [currency/h]."""
    planned_per_hour: float
    """Expected cost of planned swaps [currency/h]."""
    unplanned_per_hour: float
    """Expected cost of failures [currency/h]."""
    holding_per_hour: float
    """Cost of holding the spares [currency/h]."""
    heads_per_quarter: Bounded
    """Heads used [heads/quarter]."""
    failed_builds_per_quarter: Bounded
    """Heads that fail in a build [builds/quarter]."""
    downtime_per_quarter: Bounded
    """Hours printers stand for swaps, calibration and missing spares [h/quarter]."""
    spares_level: int
    """Spares to hold or have on order for these positions alone [heads]."""
    against_rating: CostComparison
    """Cost per print hour against swapping at the rating [currency/h]."""


@dataclass(frozen=True)
class PolicyDesk:
    """One kind of head, ready to be asked about policies; repeated questions are quick."""

    life: Any
    """A life, or competing lives; what the spares simulation draws from."""
    rated_hours: float
    """The rating [h]."""
    confidence: float = 0.90
    """Two-sided, of all bounds [-]."""
    seed: int = 1
    """Same seed, same answer."""
    survival: Survival = field(init=False)
    """Weighted scenarios of the life."""
    _drawn: DrawnLives = field(init=False, repr=False)
    _levels: Callable[..., int] = field(init=False, repr=False)
    _rates: Callable[[float], Rates] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        positive("The rating", self.rated_hours, "[h]")
        fraction("The confidence of the bounds", self.confidence)
        object.__setattr__(self, "survival", as_survival(self.life, self.seed))
        lives = list(self.life) if isinstance(self.life, Sequence) else [self.life]
        rng = np.random.default_rng(self.seed)
        # Drawn once for every policy, so that policies differ and luck does not.
        drawn = DrawnLives([ModeDraws.of_life(each, STOCK_DRAWS, rng) for each in lives])
        object.__setattr__(self, "_drawn", drawn)
        # What a slider asks again and again is worked out once.
        object.__setattr__(self, "_levels", lru_cache(maxsize=256)(self._levels_of))
        object.__setattr__(
            self, "_rates", lru_cache(maxsize=256)(lambda age: rates_at(self.survival, age))
        )

    def answer(
        self, policies: Sequence[Policy], costs: SwapCosts, positions: Positions
    ) -> tuple[PolicyAnswer, ...]:
        """Answer for each policy.

        Parameters
        ----------
        policies : sequence of Policy
            What is compared.
        costs : SwapCosts
            What swaps and failures cost [currency].
        positions : Positions
            Heads at work today.

        Returns
        -------
        tuple of PolicyAnswer
            One per policy, in order.

        Raises
        ------
        DecisionError
            There are no print hours to spread the cost over, or an age makes no sense.
        """
        if not positions.hours_per_quarter > 0:
            raise DecisionError(
                "These heads print no hours, so nothing has a cost per print hour; check the "
                "hour readings or state the hours a week under [usage]."
            )
        rating = Policy(self.rated_hours, name=AT_RATING)
        reference, _, _ = self._total(rating, costs, positions)
        return tuple(self._one(policy, costs, positions, reference) for policy in policies)

    def _one(
        self, policy: Policy, costs: SwapCosts, positions: Positions, reference: Floats
    ) -> PolicyAnswer:
        total, rates, spares = self._total(policy, costs, positions)
        hours, weights = positions.hours_per_quarter, rates.weights
        standing = (
            rates.heads * (costs.swap_hours + costs.visit_hours)
            + rates.failures * costs.waiting_hours
        )
        return PolicyAnswer(
            policy=policy,
            cost_per_hour=self._bounded(total, weights),
            planned_per_hour=float(weights @ rates.planned) * costs.planned,
            unplanned_per_hour=float(weights @ rates.failures) * costs.failure,
            holding_per_hour=_holding(spares, costs, positions),
            heads_per_quarter=self._bounded(rates.heads * hours, weights),
            failed_builds_per_quarter=self._bounded(rates.failures * hours, weights),
            downtime_per_quarter=self._bounded(standing * hours, weights),
            spares_level=spares,
            against_rating=compare(total, reference, weights),
        )

    def _total(
        self, policy: Policy, costs: SwapCosts, positions: Positions
    ) -> tuple[Floats, Rates, int]:
        """Cost per print hour in every scenario, holding included; rates; spares level."""
        rates = self._rates(policy.comes_out_at)
        spares = self._spares(policy, positions)
        return rates.cost(costs) + _holding(spares, costs, positions), rates, spares

    def _spares(self, policy: Policy, positions: Positions) -> int:
        return self._levels(
            policy.comes_out_at,
            tuple(positions.ages),
            tuple(positions.weekly_hours),
            positions.cover_weeks,
            positions.service_level,
            positions.stocked,
        )

    def _levels_of(
        self,
        age: float,
        ages: tuple[float, ...],
        weekly_hours: tuple[float, ...],
        weeks: float,
        service: float,
        stocked: bool,
    ) -> int:
        positions = Positions(np.array(ages), np.array(weekly_hours), weeks, service, stocked)
        return int(self.spares_levels([age], positions, [weeks], [service])[0, 0, 0])

    def spares_levels(
        self,
        ages: Sequence[float] | Floats,
        positions: Positions,
        weeks: Sequence[float],
        services: Sequence[float] | Floats,
    ) -> np.ndarray:
        """Spares to hold at several swap ages, over several stretches, at several service levels.

        An age is taken to the nearest twentieth of the rating: 2,000 futures tell no finer ages
        apart, and what a page carries beforehand is then what is answered here.

        Parameters
        ----------
        ages : sequence of float
            Ages at which heads come out [h]; infinite for run to failure.
        positions : Positions
            Heads at work today; their own stretch and service level are not used.
        weeks : sequence of float
            Stretches that spares must cover [weeks], ascending.
        services : sequence of float
            Service levels [-].

        Returns
        -------
        array of int
            Ages x stretches x service levels [heads].
        """
        if not positions.stocked:
            return np.zeros((len(ages), len(weeks), len(services)), dtype=np.int64)
        near = [spares_age(float(age), self.rated_hours) for age in ages]
        at = sorted(set(near))
        found = heads_needed(
            self._drawn, positions.ages, positions.weekly_hours, at, weeks, self.seed
        )
        levels = np.array(
            [
                [
                    stock_levels(self._demand(heads, positions, age, ahead), services)
                    for heads, ahead in zip(over, weeks, strict=True)
                ]
                for over, age in zip(found, at, strict=True)
            ]
        )
        return np.asarray(levels[[at.index(age) for age in near]])

    def _demand(self, heads: Any, positions: Positions, age: float, weeks: float) -> Demand:
        """Distribution of the heads needed, with the doubt about the life behind it."""
        in_place = Heads(self._drawn.modes, positions.ages, positions.weekly_hours * weeks, age)
        pmf = np.bincount(heads) / heads.size
        return replace(known_demand(pmf, weeks), futures=(Futures(heads, [in_place]),))

    def _bounded(self, values: Floats, weights: Floats) -> Bounded:
        tail = (1.0 - self.confidence) / 2.0
        return Bounded(
            float(weights @ values),
            weighted_quantile(values, weights, tail),
            weighted_quantile(values, weights, 1.0 - tail),
        )


def policy_table(answers: Sequence[PolicyAnswer], hours_per_quarter: float) -> pd.DataFrame:
    """Lay the answers out side by side, one row per policy.

    Parameters
    ----------
    answers : sequence of PolicyAnswer
        From `PolicyDesk.answer`.
    hours_per_quarter : float
        Print hours of all positions together [h/quarter]; turns rates into money a quarter.

    Returns
    -------
    pandas.DataFrame
        `policy`; `swap_age` [h], infinite for run to failure; `cost_per_hour` with `cost_low`
        and `cost_high`, `planned`, `unplanned`, `holding` [currency/h]; `heads`, `failed_builds`
        [1/quarter] and `downtime` [h/quarter], each with `_low` and `_high`; `spares` [heads];
        `probability_cheaper` than at the rating [-]; `saving` and `regret` [currency/quarter].
    """
    import pandas as pd

    rows = []
    for one in answers:
        row: dict[str, Any] = {
            "policy": one.policy.name,
            "swap_age": one.policy.comes_out_at,
            "cost_per_hour": one.cost_per_hour.expected,
            "cost_low": one.cost_per_hour.low,
            "cost_high": one.cost_per_hour.high,
            "planned": one.planned_per_hour,
            "unplanned": one.unplanned_per_hour,
            "holding": one.holding_per_hour,
        }
        for name, value in (
            ("heads", one.heads_per_quarter),
            ("failed_builds", one.failed_builds_per_quarter),
            ("downtime", one.downtime_per_quarter),
        ):
            row |= {name: value.expected, f"{name}_low": value.low, f"{name}_high": value.high}
        row |= {
            "spares": one.spares_level,
            "probability_cheaper": one.against_rating.probability_cheaper,
            "saving": one.against_rating.expected_saving * hours_per_quarter,
            "regret": one.against_rating.regret * hours_per_quarter,
        }
        rows.append(row)
    return pd.DataFrame(rows)


def _holding(spares: int, costs: SwapCosts, positions: Positions) -> float:
    """Cost of holding spares, spread over the print hours [currency/h]."""
    hours_per_year = positions.hours_per_quarter * QUARTERS_PER_YEAR
    return spares * costs.holding_per_year / hours_per_year
