"""Should heads run past their rating? Every answer to one proposal, for each kind of head.

From a quarterly review, the shop's settings and the choices somebody is trying out: the cost
curve, the cheapest age, the policies side by side, and an advice that respects what must not be
run past its rating and names the oldest head ever seen. Never prints and never draws.
"""

from __future__ import annotations

from collections import Counter
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.decisions.policy.best_age import AgeSearch, Optimum
from headlife.decisions.policy.costs import SwapCosts, shop_costs
from headlife.decisions.policy.past_rating_answer import Advice, Choices, PastRating
from headlife.decisions.policy.policies import (
    PolicyDesk,
    Positions,
)
from headlife.decisions.policy.replacement import (
    event_curve,
    replacement_curve,
)
from headlife.decisions.policy.run_table import RunTable, run_table
from headlife.decisions.policy.steps import next_step, seen_age
from headlife.decisions.policy.survival import Survival, as_survival
from headlife.decisions.spares.ahead import weeks_to_next_order
from headlife.errors import DecisionError
from headlife.fleet.succession import as_followed, successors
from headlife.life.by_lot import LifeByLot, lots_of
from headlife.shop.policy import Policy, compared_policies
from headlife.shop.policy_book import policies_after
from headlife.units import WEEKS_PER_QUARTER

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.review_answers import Review, Stratum
    from headlife.futures.position_state import Flags
    from headlife.shop import Shop

CURVE_AGES: Final = 200
# Verdicts on a proposal against swapping at the rating.
SAVES: Final = "saves"
COSTS_MORE: Final = "costs more"
NOT_SETTLED: Final = "not settled"
YARDSTICK: Final = "the yardstick"
NOT_PAST: Final = "not past the rating"
SURE: Final = 0.95  # a saving, or a loss, is called one from this chance on [-]
_FIRST_AGE: Final = 0.15  # of the rating, where the curve starts [-]
_LAST_AGE: Final = 2.5  # of the rating, where it ends at least [-]


class Kind:
    """One kind of head (type and role), ready for any number of proposals."""

    def __init__(self, stratum: Stratum, review: Review, shop: Shop) -> None:
        settings = shop.head_types[stratum.head_type]
        self.name = stratum.name
        self.head_type = stratum.head_type
        self.role = stratum.role
        self.rated_hours = stratum.rated_hours
        self.notice_hours = settings.notice_hours
        self.quality_critical = settings.quality_critical
        self.oldest_seen = float(stratum.lives["exit_hours"].max())
        self.seen_hours = seen_age(
            stratum.lives["exit_hours"].to_numpy(dtype=np.float64), self.rated_hours
        )
        self.lives = list(stratum.modes.values())
        self.failures = round(self.lives[0].evidence.all_failures)
        self.shape_learned = self.lives[0].shape_learned
        first, *others = review.modes[stratum.group]
        self._by_lot = first if isinstance(first, LifeByLot) else None
        self._others = others
        self.verdict = stratum.verdict
        self.bought = review.bought_now(stratum, lambda part: part.life is not None)
        self._shop = shop
        self._to_next_order = weeks_to_next_order(shop.spares, review.as_of)
        self._own = review.fleet.of(stratum.group)
        mine = (stratum.head_type, stratum.role)
        known = {(one.head_type, one.role) for one, lives in review.modes.items() if lives}
        follows = successors(review.fleet.giving_way, known)
        self.goes_in = follows.get(mine, stratum.head_type)
        ways = {(one.head_type, one.role, one.to): one for one in review.fleet.giving_way}
        self.gives_way = ways.get((*mine, self.goes_in))
        every = as_followed(review.fleet.positions, follows, shop.rated_hours)
        self._types = review.fleet.positions["head_type"]
        # Of a type that gives way its own are left; none of it goes in any more.
        self._served = self._own if self.gives_way else every[stratum.group.rows(every)]
        # Every such printer, not only those with a head of this kind today: heads move about.
        self.never_past = shop.critical_printers
        self._policy = policies_after(shop, review.as_of).of(self.head_type, self.role)
        _refuse_contradiction(self, self._policy)
        # While only the age moves, costs stay, and so do the curve and the best age.
        self._curve = lru_cache(maxsize=32)(self._curve_for)
        self._best = lru_cache(maxsize=32)(self._best_for)

    @property
    def bought_now(self) -> dict[str, float]:
        """The lots that new heads are of, with the share of each [-]; none: not told apart."""
        now = {} if self._by_lot is None else self._by_lot.bought_now
        return {lot.part: share for lot, share in now.items()}

    @property
    def in_service(self) -> int:
        """Heads at work today [heads]."""
        return len(self._own)

    @property
    def to_follow(self) -> dict[str, int]:
        """Heads of other types at work today that heads of this kind will follow, by type."""
        others = self._types[self._served.index].value_counts()
        return {str(name): int(n) for name, n in others.items() if name != self.head_type}

    def choices(self, **tried: Any) -> Choices:
        """Take the shop's settings as choices, some of them replaced by what is tried.

        Parameters
        ----------
        **tried : object
            Choices by name; the others are the shop's own.

        Returns
        -------
        Choices
            All choices.

        Raises
        ------
        SettingsError
            The settings name no scrapped-build cost and none is tried.
        DecisionError
            A choice makes no sense.
        """
        stated = self._shop.costs
        if stated.scrapped_build_cost is None and "scrapped_build_cost" not in tried:
            shop_costs(self._shop, self.head_type)  # names everything that is missing
        usual: dict[str, Any] = {
            "age_hours": min(self._policy.swap_at, self._policy.comes_out_at),
            "scrapped_build_cost": stated.scrapped_build_cost,
            "manual_checks": stated.manual_checks,
            "build_hours": self._shop.review.build_hours,
            "service_level": self._shop.spares.service_level,
            "lead_time_weeks": self._shop.spares.lead_time_weeks,
        }
        return Choices(**(usual | tried))

    def costs(self, choices: Choices) -> SwapCosts:
        """Add up what swaps and failures cost under these choices, by what goes in [currency].

        Parameters
        ----------
        choices : Choices
            What is tried: ages, costs, builds, service level, lead time.

        Returns
        -------
        SwapCosts
            The costs.
        """
        asked = {
            "scrapped_build_cost": choices.scrapped_build_cost,
            "manual_checks": choices.manual_checks,
        }
        return shop_costs(self._shop.with_(costs=asked), self.goes_in, choices.service_level)

    def positions(self, choices: Choices) -> Positions:
        """Heads of this kind at work today, and what their spares must cover.

        Parameters
        ----------
        choices : Choices
            What is tried: ages, costs, builds, service level, lead time.

        Returns
        -------
        Positions
            Ages and use of the positions, and the stock.
        """
        return self._positions(self._own, choices)

    def served(self, choices: Choices) -> Positions:
        """Heads at work today that heads of this kind will follow, and what spares must cover.

        Parameters
        ----------
        choices : Choices
            What is tried: ages, costs, builds, service level, lead time.

        Returns
        -------
        Positions
            Ages and use of the positions, and the stock; no stock of a type that gives way.
        """
        return self._positions(self._served, choices)

    def speak_of(self, part: Stratum | None) -> Flags:
        """Mark the heads of `served` that say something of the rating of this kind, or of one lot.

        Parameters
        ----------
        part : Stratum or None
            A lot; None for all heads of this kind.

        Returns
        -------
        array of bool
            Whether each is of it, (n,).
        """
        types = self._types[self._served.index]
        own: Flags = (types == self.head_type).to_numpy(dtype=bool)
        if part is None:
            return own
        lots = lots_of(self._served, [part.group])
        return np.logical_and(own, [lot == part.group for lot in lots])

    def _positions(self, heads: pd.DataFrame, choices: Choices) -> Positions:
        return Positions(
            ages=heads["age_hours"].to_numpy(dtype=np.float64),
            weekly_hours=heads["weekly_hours"].to_numpy(dtype=np.float64),
            cover_weeks=choices.lead_time_weeks + self._to_next_order,
            service_level=choices.service_level,
            stocked=self.gives_way is None,
        )

    @cached_property
    def desk(self) -> PolicyDesk:
        """The policies of this kind of head, as new ones live."""
        new = None if self._by_lot is None else [self._by_lot.new_heads, *self._others]
        return PolicyDesk(new or self.lives, self.rated_hours, seed=self._shop.review.seed)

    @cached_property
    def passing(self) -> Survival:
        """Life of a head that passes the rating before the next review if it lasts.

        Where lots are told apart it is of the lot of one of these; where there is none, as of a
        new one.
        """
        weeks = WEEKS_PER_QUARTER
        will = self._own["age_hours"] + weeks * self._own["weekly_hours"] >= self.rated_hours
        lots = {} if self._by_lot is None else self._by_lot.lots
        heads = Counter(lot for lot in lots_of(self._own[will], lots) if lot)
        if self._by_lot is None or not heads:
            return self.desk.survival
        one = self._by_lot.of_one_of({lot: n / heads.total() for lot, n in heads.items()})
        return as_survival([one, *self._others], self._shop.review.seed)

    @cached_property
    def table(self) -> RunTable:
        """Scenarios at the ages of the curve."""
        last = max(_LAST_AGE * self.rated_hours, 1.2 * self.oldest_seen)
        ages = np.linspace(_FIRST_AGE * self.rated_hours, last, CURVE_AGES)
        return run_table(self.desk.survival, ages)

    def _curve_for(self, costs: SwapCosts) -> pd.DataFrame:
        return replacement_curve(self.table, self.table.ages, costs)

    def _best_for(self, costs: SwapCosts) -> tuple[Optimum, Optimum]:
        """Find the cheapest age, and the cheapest one allowed."""
        best = self.search.best(costs)
        if not self.quality_critical:
            return best, best
        return best, self.search.best(costs, self.rated_hours)

    @cached_property
    def _events(self) -> pd.DataFrame:
        weekly = self._served["weekly_hours"].to_numpy(dtype=np.float64)
        return event_curve(self.table, float(weekly.sum()) * WEEKS_PER_QUARTER)

    @cached_property
    def search(self) -> AgeSearch:
        """Finds the cheapest swap age of this kind of head."""
        return AgeSearch(self.desk.survival)

    def answer(self, choices: Choices) -> PastRating:
        """Answer one proposal.

        Parameters
        ----------
        choices : Choices
            What is tried: ages, costs, builds, service level, lead time.

        Returns
        -------
        PastRating
            The answer.

        Raises
        ------
        HeadlifeError
            Costs that are needed are not stated, or these heads print no hours.
        """
        costs, served = self.costs(choices), self.served(choices)
        optimum, advised = self._best(costs)
        policies = self.desk.answer(
            compared_policies(
                self.rated_hours,
                notice_hours=self.notice_hours,
                proposed=[choices.age_hours],
                build_hours=choices.build_hours,
                never_past=self.quality_critical,
            ),
            costs,
            served,
        )
        return PastRating(
            choices=choices,
            costs=costs,
            curve=self._curve(costs),
            events=self._events,
            advice=Advice(
                age=advised.age,
                cost_per_hour=advised.cost_per_hour,
                capped=self.quality_critical and optimum.age > self.rated_hours,
                beyond_data=advised.age > self.oldest_seen,
                oldest_seen=self.oldest_seen,
                never_past=() if self.quality_critical else self.never_past,
            ),
            next_step=next_step(
                self.passing,
                costs,
                self.rated_hours,
                self.seen_hours,
                advised.age,
                self.positions(choices).reaching(self.rated_hours, WEEKS_PER_QUARTER),
            ),
            policies=policies,
            hours_per_quarter=served.hours_per_quarter,
        )


def verdict_on(kind: Kind, answer: PastRating) -> str:
    """Give the verdict on a proposal: what it does against swapping at the rating.

    Parameters
    ----------
    kind : Kind
        A head type and role.
    answer : PastRating
        The answers to the proposal.

    Returns
    -------
    str
        `NOT_PAST` where quality-critical heads would run past their rating, whatever it saves;
        `YARDSTICK` at the rating itself; `SAVES` or `COSTS_MORE` from a chance of `SURE` on, spares
        held included; `NOT_SETTLED` between.
    """
    age, odds = answer.choices.age_hours, answer.proposed.against_rating.probability_cheaper
    if kind.quality_critical and age > kind.rated_hours:
        return NOT_PAST
    if age == kind.rated_hours:
        return YARDSTICK
    if odds >= SURE:
        return SAVES
    return COSTS_MORE if odds <= 1.0 - SURE else NOT_SETTLED


def kinds(review: Review, shop: Shop) -> tuple[Kind, ...]:
    """Prepare every kind of head that is in service and has run.

    Parameters
    ----------
    review : Review
        The quarter's answers.
    shop : Shop
        The settings.

    Returns
    -------
    tuple of Kind
        The kinds, in the order of the review.

    Raises
    ------
    DecisionError
        No head is in service, or the settings contradict each other.
    """
    ready = tuple(
        Kind(stratum, review, shop)
        for stratum in review.strata
        if stratum.modes and stratum.in_service
    )
    if not ready:
        raise DecisionError(
            "No head in service has run yet, so there is no policy to compare; "
            "the records need at least one installation without a removal."
        )
    return ready


def _refuse_contradiction(kind: Kind, policy: Policy) -> None:
    """Refuse settings that mark heads quality-critical and swap them past their rating."""
    age = policy.comes_out_at
    if kind.quality_critical and age > kind.rated_hours:
        past = "run to failure" if age == np.inf else f"swapped at {age:g} h"
        raise DecisionError(
            f"The settings contradict each other: head type '{kind.head_type}' is "
            f"quality_critical with a rating of {kind.rated_hours:g} h, but by [policy] swap_at "
            f"it is {past}. Change one of the two."
        )
