"""What somebody proposes to swap at, and the answer to it: choices, costs, policies, advice.

Values only; `headlife.decisions.policy.past_rating` works them out.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.policies import PolicyAnswer, policy_table
from headlife.decisions.policy.steps import NextStep
from headlife.display import shows_itself
from headlife.numbers import fraction, not_negative, positive
from headlife.shop.policy import AT_RATING

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Choices:
    """What somebody tries out; the shop's settings fill in the rest."""

    age_hours: float
    """Proposed age at which working heads are swapped [h]; infinite: run to failure."""
    scrapped_build_cost: float
    """What is lost with the build in which a head fails [currency]."""
    manual_checks: int
    """Manual calibration checks after a visit [-]."""
    build_hours: float
    """Length of builds [h]."""
    service_level: float
    """Probability that spares last over lead time and review period [-]."""
    lead_time_weeks: float
    """From order to delivery of spares [weeks]."""

    def __post_init__(self) -> None:
        if self.age_hours != np.inf:
            positive("The swap age", self.age_hours, "[h]")
        not_negative("The cost of a spoiled build", self.scrapped_build_cost, "[currency]")
        not_negative("The number of manual checks", self.manual_checks, "[-]")
        positive("The length of a build", self.build_hours, "[h]")
        fraction("The service level", self.service_level)
        not_negative("The lead time", self.lead_time_weeks, "[weeks]")


@dataclass(frozen=True)
class Advice:
    """The age the records and costs speak for, within what is allowed."""

    age: float
    """Advised swap age [h]; infinite: run to failure."""
    cost_per_hour: float
    """Expected cost there, spares on the shelf not counted [currency/h]."""
    capped: bool
    """True when a higher age would be cheaper but the heads are quality-critical."""
    beyond_data: bool
    """True when the age lies beyond the oldest head ever seen."""
    oldest_seen: float
    """Age of the oldest head in the records [h]."""
    never_past: tuple[str, ...]
    """Quality-critical printers: there the rating stays the limit."""


@shows_itself
@dataclass(frozen=True)
class PastRating:
    """All answers to one proposal for one kind of head."""

    choices: Choices
    """The proposal."""
    costs: SwapCosts
    """What swaps and failures cost."""
    curve: pd.DataFrame
    """Cost per print hour against replacement age; see `replacement_curve`."""
    events: pd.DataFrame
    """Heads and failed builds per quarter against replacement age; see `event_curve`."""
    advice: Advice
    """The advised age."""
    next_step: NextStep | None
    """How far to go until the next review; None where nothing past the rating is spoken for."""
    policies: tuple[PolicyAnswer, ...]
    """The policies side by side."""
    hours_per_quarter: float
    """Print hours of these heads together [h/quarter]."""

    @property
    def proposed(self) -> PolicyAnswer:
        """The proposed age among the policies."""
        found = self.listed(self.choices.age_hours)
        assert found is not None, "the proposed age is always listed"
        return found

    def listed(self, age: float) -> PolicyAnswer | None:
        """Find a swap age among the policies side by side, swaps at any time.

        Parameters
        ----------
        age : float
            Age at which working heads are swapped [h].

        Returns
        -------
        PolicyAnswer or None
            None where the age is not listed.
        """
        same = (one for one in self.policies if one.policy.swap_at == age)
        return next((one for one in same if not one.policy.build_hours), None)

    @property
    def at_rating(self) -> PolicyAnswer:
        """Swapping at the rating, which the others are compared with."""
        return next(one for one in self.policies if one.policy.name == AT_RATING)

    @cached_property
    def table(self) -> pd.DataFrame:
        """The policies as a table; see `policy_table`."""
        return policy_table(self.policies, self.hours_per_quarter)
