"""How far past the rating may heads run until the next review, and when is it enough?

A life learned from heads that were all swapped at the rating says little of the ages past it. So
the age that the records speak for is approached in steps: at each review no farther than what was
seen plus a step, and only where the posterior is sure enough that it is cheaper. Beside it what
to watch for: the number of heads failing on the way at which to go back to the rating. Never for
quality-critical heads. `studies.steps` shows what it earns and loses in simulated shops.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import bdtrc

from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.replacement import rates_at
from headlife.decisions.policy.survival import Survival
from headlife.numbers import Floats

# Own choices, by simulated shops whose heads are weak from new one time in ten (`studies.steps`).
STEP: Final = 0.4  # ratings past the oldest age that was seen
SURE: Final = 0.90  # chance that the step is cheaper than the rating, from which it is advised
SEEN_BY: Final = 2  # heads that must have reached an age for it to count as seen
_TRIED: Final = 8  # ages up to the farthest
_STOP: Final = 0.05  # chance of so many failures, were the life as it is learned


@dataclass(frozen=True)
class NextStep:
    """Until the next review."""

    age: float
    """Swap age until the next review [h]; the rating where no step is advised."""
    looked_at: float
    """Age of the step that was looked at [h]."""
    chance_cheaper: float
    """Posterior probability that the step is cheaper than swapping at the rating [-]."""
    advised: bool
    """Whether it is sure enough."""
    heads: int
    """Heads that may pass the rating until then [heads]."""
    expected_failures: float
    """Failures to be expected of them between rating and step [heads]."""
    stop_at: int
    """Failures of them at which to go back to the rating and review [heads]."""


def seen_age(ages: Floats, rated_hours: float) -> float:
    """Give the age up to which the records have seen heads, the rating at least.

    Parameters
    ----------
    ages : array of float
        Age that every head reached [h], (n,).
    rated_hours : float
        Rated life [h].

    Returns
    -------
    float
        Age that `SEEN_BY` heads have reached [h].
    """
    known = np.sort(ages)
    return max(rated_hours, float(known[-SEEN_BY])) if known.size >= SEEN_BY else rated_hours


def next_step(
    survival: Survival,
    costs: SwapCosts,
    rated_hours: float,
    seen_hours: float,
    best_hours: float,
    heads: int,
) -> NextStep | None:
    """Find the next step past the rating.

    Parameters
    ----------
    survival : Survival
        The life, by scenario.
    costs : SwapCosts
        What swaps and failures cost.
    rated_hours : float
        Rated life [h].
    seen_hours : float
        Age up to which heads were seen [h], from `seen_age`.
    best_hours : float
        Age that records and costs speak for [h]; infinite for running to failure.
    heads : int
        Heads that may pass the rating until the next review [heads].

    Returns
    -------
    NextStep or None
        None where the best age is not past the rating.
    """
    if best_hours <= rated_hours:
        return None
    farthest = min(best_hours, seen_hours + STEP * rated_hours)
    age, chance = _surest(survival, costs, rated_hours, farthest)
    share = survival.reliability(np.array([rated_hours, age]))
    fails = 1.0 - share[:, 1] / np.maximum(share[:, 0], 1e-300)
    counts = np.arange(heads + 1)
    # Chance of at least so many failures of so many heads, over the scenarios.
    tail = survival.weights @ bdtrc(counts[None, :] - 1.0, heads, fails[:, None])
    over = np.flatnonzero(tail < _STOP)
    advised = chance >= SURE
    return NextStep(
        age=age if advised else rated_hours,
        looked_at=age,
        chance_cheaper=chance,
        advised=advised,
        heads=heads,
        expected_failures=heads * float(survival.weights @ fails),
        stop_at=int(over[0]) if over.size else heads + 1,
    )


def _surest(
    survival: Survival, costs: SwapCosts, rated_hours: float, farthest: float
) -> tuple[float, float]:
    """Give the cheapest step that is sure enough and its chance to be cheaper than the rating.

    Where none is, the one that is surest.
    """
    at_rating = rates_at(survival, rated_hours).cost(costs)
    ages = rated_hours + (farthest - rated_hours) * np.arange(1, _TRIED + 1) / _TRIED
    each = [rates_at(survival, one).cost(costs) for one in ages]
    chances = np.array([survival.weights @ (one < at_rating) for one in each])
    expected = np.array([survival.weights @ one for one in each])
    sure = chances >= SURE
    best = np.argmin(np.where(sure, expected, np.inf)) if sure.any() else np.argmax(chances)
    return float(ages[best]), float(chances[best])
