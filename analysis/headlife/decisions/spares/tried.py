"""What must be known beforehand so that stock questions can be answered later, without simulating?

From a case: the demand at every swap age and lead time of two short lists, and for each the stock
level and the reorder point at every service level of another. One set of futures answers all lead
times that fit into it. Risks and money follow from these. Never orders.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.decisions.spares.ahead import fleet_ahead, forecast_horizon, simulated_weeks
from headlife.decisions.spares.levels import StockAnswer, all_stocks, stock_answer
from headlife.decisions.spares.same_year import proposed_ahead, proposed_policy
from headlife.decisions.spares.shelf import NewHeads, new_heads, usable_shelf
from headlife.decisions.spares.stock import stock_levels
from headlife.fleet.on_hand import Stock
from headlife.numbers import Floats
from headlife.progress import Progress
from headlife.shop.policy_book import ROLES, PolicyBook, policies_after

if TYPE_CHECKING:
    from headlife.case import Case
    from headlife.futures.forecast import FleetForecast
    from headlife.shop import Shop

_STEPS: Final = (-2, -1, 0, 1, 2, 3)  # lead times tried beside the stated one
_STEP: Final = 3.0  # of which each is a third of it
SWAP_AGES: Final = (0.5, 0.75, 1.0, 1.25, 1.5)  # of the rating, evenly apart [-]
# With more stocks the page, with more positions the time, would grow too large for swap ages.
_MOST_STOCKS: Final = 8
_MOST_POSITIONS: Final = 100


@dataclass(frozen=True)
class AtLeadTime:
    """One stock under one lead time: what answers at any service level rest on."""

    answer: StockAnswer
    """The answer at the shop's own service level."""
    lead_weeks: float
    """Lead time [weeks]."""
    levels: list[int]
    """Stock level, one per service level [heads]."""
    reorder_points: list[int]
    """Reorder point, one per service level [heads]."""


@dataclass(frozen=True)
class TriedStock:
    """One stock: what answers at any swap age, lead time and service level rest on."""

    now: tuple[AtLeadTime, ...]
    """As heads are swapped now, by lead time."""
    rated_hours: float
    """The rating of its heads [h]."""
    ages: dict[float, tuple[AtLeadTime, ...]]
    """The same by swap age [h], ascending; empty where no other is tried."""


def lead_times_to_try(stated: float) -> list[float]:
    """List lead times to try, evenly apart, the stated one among them.

    Parameters
    ----------
    stated : float
        The shop's own [weeks].

    Returns
    -------
    list of float
        Lead times [weeks], ascending.
    """
    step = max(1.0, round(stated / _STEP))
    return [stated + step * one for one in _STEPS if stated + step * one >= 0]


def shared_ages(shop: Shop, share: float) -> dict[str, float]:
    """Give the swap age of every head type at one share of the rating.

    One simulation then answers every type: with each head swapped on its own, what the others are
    swapped at changes nothing for it.

    Parameters
    ----------
    shop : Shop
        Its head types.
    share : float
        Of each rating; quality-critical ones are swapped at their rating at the latest [-].

    Returns
    -------
    dict
        Swap age by head type [h].
    """
    return {
        name: (min(share, 1.0) if kind.quality_critical else share) * kind.rated_hours
        for name, kind in shop.head_types.items()
    }


def tried_stocks(
    case: Case, services: Floats, progress: Progress | None = None
) -> list[TriedStock]:
    """Answer the spares question at every swap age and lead time to try.

    Parameters
    ----------
    case : Case
        Records, settings and day.
    services : array of float
        Service levels to try [-], (n,).
    progress : callable, optional
        Called with (step, done, total).

    Returns
    -------
    list of TriedStock
        One per stock, in the order of `stock_answers`.
    """
    tell = progress or (lambda step, done, total: None)
    now = _Answers(case, services, partial(_as_now, case))
    shares = list(SWAP_AGES) if now.few else []
    step, steps = "other swap ages and lead times", 1 + len(shares)
    tell(step, 0, steps)
    found = [TriedStock(own, now.rated(own), {}) for own in now.by_stock()]
    for done, share in enumerate(shares, 1):
        tell(step, done, steps)
        ages = shared_ages(case.shop, share)
        answers = [one.now for one in found]
        if not _as_done(case, case.shop.with_(policy=proposed_policy(case.shop, ages))):
            answers = _Answers(case, services, partial(proposed_ahead, case, ages)).by_stock()
        for one, own in zip(found, answers, strict=True):
            critical = case.shop.head_types[own[0].answer.head_type].quality_critical
            if share <= 1.0 or not critical:
                one.ages[share * one.rated_hours] = own
    tell(step, steps, steps)
    return found


def _as_now(case: Case, weeks: float) -> FleetForecast:
    return fleet_ahead(case.fleet, case.modes, case.shop, case.day, weeks)


def _as_done(case: Case, proposed: Shop) -> bool:
    """Whether every head comes out as it does now; by its name alone a policy is no other."""
    now = case.fleet.follows or policies_after(case.shop, case.day)
    then = policies_after(proposed, case.day)
    printers = ["", *case.fleet.positions["printer"].unique()]
    return all(
        _when(now, head_type, role, printer) == _when(then, head_type, role, printer)
        for head_type in case.shop.head_types
        for role in ROLES
        for printer in printers
    )


def _when(book: PolicyBook, head_type: str, role: str, printer: str) -> tuple[Any, ...]:
    policy = book.of(head_type, role, printer)
    return policy.swap_at, policy.join_from, policy.build_hours, policy.never_past, policy.jobs


class _Answers:
    """The stocks of a case under one policy, at every lead time."""

    def __init__(
        self, case: Case, services: Floats, ahead: Callable[[float], FleetForecast]
    ) -> None:
        # Futures of so many weeks, made once.
        self._case, self._services, self._ahead = case, services, lru_cache(ahead)
        self._needed: dict[tuple[Any, ...], NewHeads] = {}

    @property
    def few(self) -> bool:
        """Whether stocks and positions are few enough to try swap ages too."""
        stocks, positions = self._stocks(self._case.shop), self._case.fleet.positions
        return len(stocks) <= _MOST_STOCKS and len(positions) <= _MOST_POSITIONS

    def rated(self, own: Sequence[AtLeadTime]) -> float:
        """Rating of a stock's heads [h]."""
        return float(self._case.shop.rated_hours[own[0].answer.head_type])

    def by_stock(self) -> list[tuple[AtLeadTime, ...]]:
        """Answer stock by stock, in each lead time by lead time."""
        leads = lead_times_to_try(self._case.shop.spares.lead_time_weeks)
        return list(zip(*(list(self._at(lead)) for lead in leads), strict=True))

    def _at(self, lead: float) -> Iterator[AtLeadTime]:
        shop = self._case.shop.with_(spares={"lead_time_weeks": lead})
        ahead = self._ahead(simulated_weeks(shop.spares, self._case.day))
        for number, stock in enumerate(self._stocks(shop)):
            needed = self._new_heads(ahead, number, stock, shop)
            answer = stock_answer(self._case.fleet, ahead, shop, stock, needed)
            assert answer.in_lead_time is not None, "stock_answer keeps it"
            yield AtLeadTime(
                answer,
                lead,
                stock_levels(answer.demand, self._services),
                [int(one) for one in np.atleast_1d(answer.in_lead_time.quantile(self._services))],
            )

    def _stocks(self, shop: Shop) -> tuple[Stock, ...]:
        ahead = self._ahead(simulated_weeks(shop.spares, self._case.day))
        return all_stocks(self._case.fleet, self._case.modes, ahead, shop)

    def _new_heads(self, ahead: FleetForecast, number: int, stock: Stock, shop: Shop) -> NewHeads:
        """Count new heads that the futures ask for: once for all lead times that use one shelf."""
        fleet, asked = self._case.fleet, forecast_horizon(shop.spares, self._case.day)
        shelf = usable_shelf(fleet, ahead, shop, stock.head_type, stock.site, asked)
        waits = shelf[~shelf["role"].isin(fleet.changes.per_week)]  # the others circulate anyway
        key = ahead.weeks, number, tuple(waits["head"])
        if key not in self._needed:
            self._needed[key] = new_heads(fleet, ahead, shop, stock.head_type, stock.site, asked)
        return self._needed[key]
