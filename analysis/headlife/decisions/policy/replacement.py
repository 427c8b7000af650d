"""What does swapping working heads at an age cost per print hour, age by age?

By the renewal-reward theorem a head swapped at age T or at failure, whichever comes first, costs
in the long run ``(c_p R(T) + c_f (1 - R(T))) / integral of R from 0 to T`` per print hour, with
``c_p`` the planned swap and ``c_f`` the failure: Barlow & Proschan, Mathematical Theory of
Reliability, 1965, section 4.2. Evaluated on every posterior scenario, so that the answer carries
what is not known about the life. Never looks at records and never simulates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from headlife.decisions.policy.costs import SwapCosts, as_costs
from headlife.decisions.policy.run_table import RunTable, checked_ages, run_table
from headlife.decisions.policy.survival import as_survival
from headlife.errors import DecisionError
from headlife.life.asked import tails
from headlife.numbers import Floats, fraction, positive

if TYPE_CHECKING:
    import pandas as pd

_AROUND: Final = 0.005  # quantiles are averaged over so much chance on either side
ROUNDING: Final = 1e-9  # a difference smaller than this share is none


@dataclass(frozen=True)
class Rates:
    """Events per print hour in the long run, one value per scenario."""

    planned: Floats
    """Working heads swapped per print hour [heads/h]."""
    failures: Floats
    """Heads that fail per print hour [heads/h]."""
    weights: Floats
    """Weight of each scenario [-]."""

    @property
    def heads(self) -> Floats:
        """Heads used per print hour [heads/h]."""
        return self.planned + self.failures

    def cost(self, costs: SwapCosts) -> Floats:
        """Cost per print hour [currency/h], one value per scenario.

        Parameters
        ----------
        costs : SwapCosts
            What swaps and failures cost [currency].

        Returns
        -------
        array of float
            Costs [currency/h], (scenarios,).
        """
        return costs.planned * self.planned + costs.failure * self.failures


@dataclass(frozen=True)
class CostComparison:
    """One policy against another, usually swapping at the rating."""

    probability_cheaper: float
    """Posterior probability that the policy is the cheaper one [-]."""
    expected_saving: float
    """Expected saving; negative when it costs more [currency/h]."""
    regret: float
    """Expected extra cost if the policy is in truth the dearer one [currency/h]."""


def rates_at(life: Any, age_hours: float, seed: int = 1) -> Rates:
    """Events per print hour when working heads are swapped at an age.

    Parameters
    ----------
    life : Life or KnownSurvival
        A life, competing lives or a survival function; see `survival.as_survival`.
    age_hours : float
        Swap age [h]; infinite runs every head to failure.
    seed : int, optional
        Of the scenarios, where a life is given.

    Returns
    -------
    Rates
        Swaps and failures per print hour [1/h], by scenario.

    Raises
    ------
    DecisionError
        The age is zero, negative or not a number.
    """
    survival = as_survival(life, seed)
    if age_hours == np.inf:
        failures = 1.0 / survival.mean_life
        return Rates(np.zeros_like(failures), failures, survival.weights)
    age = checked_ages(age_hours)
    share = survival.reliability(age)[:, 0]
    hours = survival.hours_run(age)[:, 0]
    return Rates(share / hours, (1.0 - share) / hours, survival.weights)


def replacement_curve(
    life: Any,
    ages: npt.ArrayLike,
    costs: SwapCosts | tuple[float, float],
    *,
    confidence: float = 0.90,
    rated_hours: float | None = None,
    seed: int = 1,
) -> pd.DataFrame:
    """Cost per print hour against the age at which working heads are swapped.

    Parameters
    ----------
    life : Life, sequence of Life, survival function or RunTable
        One life, or several competing ones (hazards add); a `RunTable` made once serves any
        costs.
    ages : array of float
        Ascending replacement ages [h]; those of the table when one is given.
    costs : SwapCosts or (planned swap, failure)
        [currency]
    confidence : float
        Two-sided, of the bounds [-].
    rated_hours : float, optional
        Also compare every age with swapping at this one [h].
    seed : int
        Pairs the scenarios of competing lives.

    Returns
    -------
    pandas.DataFrame
        `age` [h]; `cost_per_hour`, posterior median, with `low` and `high`; `expected`,
        posterior mean, the sum of `planned` and `unplanned` [currency/h]; `reliability`,
        expected share of heads that reach the age [-]; with a rating also
        `probability_cheaper` than it [-].

    Raises
    ------
    DecisionError
        An age of zero, costs that contradict each other, or a confidence that is no fraction.

    Examples
    --------
    >>> import headlife as hl
    >>> hours = [210, 340, 480, 500, 500, 500]
    >>> failed = [True, True, True, False, False, False]
    >>> evidence = hl.Evidence.from_lives(0, hours, failed, reference_hours=500)
    >>> life = hl.fit_life(evidence)
    >>> curve = hl.replacement_curve(life, [300, 400, 500], (350, 620))
    >>> curve["cost_per_hour"].round(2).tolist()
    [1.36, 1.17, 1.14]
    """
    import pandas as pd

    costs = as_costs(costs)
    tail = (1.0 - fraction("The confidence of the bounds", confidence)) / 2.0
    table = life if isinstance(life, RunTable) else run_table(life, ages, seed)
    planned = costs.planned * (table.reliability / table.hours)
    unplanned = costs.failure * ((1.0 - table.reliability) / table.hours)
    total = planned + unplanned
    low, middle, high = _quantiles(total, table.weights, (tail, 0.5, 1.0 - tail))
    mean_planned, mean_unplanned = table.weights @ planned, table.weights @ unplanned
    curve = pd.DataFrame(
        {
            "age": table.ages,
            "cost_per_hour": middle,
            "low": low,
            "high": high,
            "expected": mean_planned + mean_unplanned,
            "planned": mean_planned,
            "unplanned": mean_unplanned,
            "reliability": table.weights @ table.reliability,
        }
    )
    if rated_hours is not None:
        if isinstance(life, RunTable):
            raise DecisionError("A comparison with the rating needs the life, not its table.")
        at_rating = rates_at(life, positive("The rating", rated_hours, "[h]"), seed).cost(costs)
        curve["probability_cheaper"] = table.weights @ (total < at_rating[:, None])
    return curve


def event_curve(table: RunTable, hours: float) -> pd.DataFrame:
    """Heads used and builds failed against the age at which working heads are swapped.

    Parameters
    ----------
    table : RunTable
        The life at the ages wanted.
    hours : float
        Print hours to count over [h], for example those of a quarter.

    Returns
    -------
    pandas.DataFrame
        `age` [h]; `heads` and `failed_builds`, posterior means, each with `_low` and `_high`
        (two one-sided 95 % bounds).
    """
    import pandas as pd

    columns: dict[str, Floats] = {"age": table.ages}
    heads = hours / table.hours
    for name, events in (("heads", heads), ("failed_builds", heads * (1.0 - table.reliability))):
        low, high = _quantiles(events, table.weights, tails(0.90))
        columns |= {name: table.weights @ events, f"{name}_low": low, f"{name}_high": high}
    return pd.DataFrame(columns)


def compare(policy: Floats, other: Floats, weights: Floats) -> CostComparison:
    """Compare the costs of two policies scenario by scenario.

    Parameters
    ----------
    policy, other : array of float
        Cost per print hour in each scenario [currency/h].
    weights : array of float
        Weight of each scenario [-].

    Returns
    -------
    CostComparison
        Odds, saving and regret.
    """
    saving = other - policy
    # Equal policies, or equal within rounding, are not dearer than each other.
    slack = ROUNDING * np.abs(other)
    dearer = saving < -slack
    chance = float(weights @ dearer)
    loss = float(weights @ np.where(dearer, -saving, 0.0))
    return CostComparison(
        probability_cheaper=float(weights @ (saving > slack)),
        expected_saving=float(weights @ saving),
        regret=loss / chance if chance > 0 else 0.0,
    )


def weighted_quantile(values: Floats, weights: Floats, q: float) -> float:
    """Give a quantile of weighted scenarios, averaged over half a point of chance on either side.

    So it moves smoothly where values, weights or the probability do, whereas the inverse of a
    distribution function in steps jumps from one scenario to the next: the kernel quantile
    estimator of Sheather and Marron, J. Am. Statist. Assoc. 85 (1990), p. 410, its kernel uniform
    and its steps the weights.

    Parameters
    ----------
    values : array of float
        One per scenario, (n,).
    weights : array of float
        Of the scenarios [-], (n,).
    q : float
        Probability [-].

    Returns
    -------
    float
        The quantile, in the unit of the values.
    """
    return float(_quantiles(values[:, None], weights, (q,))[0][0])


def _quantiles(values: Floats, weights: Floats, wanted: Sequence[float]) -> list[Floats]:
    """Quantiles over the first axis of weighted values, one row per probability wanted."""
    if values.shape[0] == 1:
        return [values[0] for _ in wanted]
    order = np.argsort(values, axis=0)
    ordered = np.take_along_axis(values, order, axis=0)
    reached = np.cumsum(weights[order], axis=0)
    rows = []
    for q in wanted:
        around = min(_AROUND, q, 1.0 - q)
        steps = np.diff(np.clip(reached, q - around, q + around), axis=0, prepend=q - around)
        rows.append((steps * ordered).sum(axis=0) / steps.sum(axis=0))
    return rows
