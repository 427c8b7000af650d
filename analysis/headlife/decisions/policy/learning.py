"""What is it worth to run a few heads past the rating and watch? Before anybody does it.

From the posterior of a life, the costs and the policies on the table: heads that have reached
their rating are run on, in simulation, to failure or to a stated age; what they show is added to
the records; the cheapest policy is chosen again. The value is what the better choice saves on
average: the expected value of sample information (Raiffa & Schlaifer, Applied Statistical
Decision Theory, 1961, section 4.5). Chances of a verdict on the rating are `settle`'s question.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.survival import WeibullScenarios, as_survival, equally_likely
from headlife.decisions.spares.stock import whole_heads
from headlife.errors import DecisionError
from headlife.futures.draws import ModeDraws, remaining_hours
from headlife.life.evidence import Evidence
from headlife.life.posterior import Life, fit_life
from headlife.numbers import Floats, positive

RECORDS: Final = 80  # simulated outcomes for each number of heads
_SCENARIOS: Final = 192  # of each life that a policy is priced on


@dataclass(frozen=True)
class WorthOfWatching:
    """What running some heads past the rating is worth."""

    heads: int
    """Heads run on from the rating [heads]."""
    run_to: float
    """Age to which those that do not fail are run [h]."""
    value_per_hour: float
    """Saving by the better choice afterwards, on average [currency/h]."""
    error: float
    """Standard error of it, from the simulation [currency/h]."""
    probability_of_change: float
    """Chance that another policy is chosen after it [-]."""


def worth_of_watching(
    life: Life,
    costs: SwapCosts,
    ages: Sequence[float],
    rated_hours: float,
    heads: int,
    *,
    run_to: float,
    others: Sequence[Life] = (),
    records: int = RECORDS,
    seed: int = 1,
) -> WorthOfWatching:
    """Value the evidence of heads run past their rating.

    Parameters
    ----------
    life : Life
        Posterior of the mode that grows with age.
    costs : SwapCosts
        [currency]
    ages : sequence of float
        Swap ages on the table [h]; infinite is running to failure.
    rated_hours : float
        The rating, from which heads are run on [h].
    heads : int
        How many are run on [heads].
    run_to : float
        Age at which those that still work are taken out [h].
    others : sequence of Life
        Other failure modes; the heads watched say nothing of them here.
    records : int
        Simulated outcomes [-].
    seed : int
        Same seed, same answer; every number of heads meets the same lives.

    Returns
    -------
    WorthOfWatching
        What the evidence is worth, and what it costs to gather.

    Raises
    ------
    DecisionError
        No policy to choose from, or an age to run to that is not past the rating.
    """
    rated = positive("The rating", rated_hours, "[h]")
    count = whole_heads("The number of heads to run on", heads)
    last = positive("The age to run to", run_to, "[h]")
    if last <= rated:
        raise DecisionError(f"The age to run to ({last:g} h) must lie past the rating.")
    if not ages:
        raise DecisionError("There is no swap age to choose from; give at least one.")
    now = int(np.argmin(_expected(life, others, costs, ages, seed)))
    rng = np.random.default_rng(seed)
    mode = ModeDraws.from_parameters(*life.draw(records, rng), np.float64)
    # Heads that have reached the rating are run on.
    needed = rng.standard_exponential((records, max(count, 1)))[:, :count].T
    reached = np.full((count, 1), rated)
    with np.errstate(over="ignore"):
        fails = (rated + remaining_hours([mode], reached, [needed])).T
    gains, changed = np.zeros(records), np.zeros(records, bool)
    for number, ends in enumerate(fails):
        after = _expected(_with(life, rated, last, ends), others, costs, ages, seed)
        best = int(np.argmin(after))
        gains[number] = after[now] - after[best]
        changed[number] = best != now
    return WorthOfWatching(
        heads=count,
        run_to=last,
        value_per_hour=float(gains.mean()),
        error=float(gains.std() / np.sqrt(records)),
        probability_of_change=float(changed.mean()),
    )


def _with(life: Life, rated: float, last: float, ends: Floats) -> Life:
    """Add heads that were run on from the rating and failed, or were taken out, at some age."""
    if not ends.size:
        return life
    exits = np.maximum(np.minimum(ends, last), np.nextafter(rated, np.inf))
    more = Evidence.from_lives(
        rated, exits, ends <= last, reference_hours=life.evidence.reference_hours
    )
    return fit_life(life.evidence + more, life.shape_prior, life.prior)


def _expected(
    life: Life, others: Sequence[Life], costs: SwapCosts, ages: Sequence[float], seed: int
) -> Floats:
    """Price each age: expected cost per print hour [currency/h]."""
    rng = np.random.default_rng(seed)  # the same pairing every time, so that only lives differ
    parts = [equally_likely(_weibull(one, seed), _SCENARIOS, rng) for one in (life, *others)]
    scenarios = WeibullScenarios(
        tuple(part.shapes[0] for part in parts),
        tuple(part.scales[0] for part in parts),
        parts[0].weights,
    )
    finite = np.array([age for age in ages if np.isfinite(age)])
    share, hours = scenarios.reliability(finite), scenarios.hours_run(finite)
    cost = iter(((costs.planned + costs.extra * (1.0 - share)) / hours).mean(axis=0))
    to_failure = float((costs.failure / scenarios.mean_life).mean())
    return np.array([next(cost) if np.isfinite(age) else to_failure for age in ages])


def _weibull(life: Any, seed: int) -> WeibullScenarios:
    found = as_survival(life, seed)
    if not isinstance(found, WeibullScenarios):
        raise DecisionError("Watching heads is valued for Weibull lives only.")
    return found
