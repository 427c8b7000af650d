"""What would the same year use and cost under another policy?

From a case: the quarters of its budget forecast again under the policy as the settings state it, as
the records show it, and as somebody proposes. Judges none of them: `decisions.policy` does.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

from headlife.decisions.spares.ahead import fleet_ahead
from headlife.decisions.spares.budget import Budget, budget_weeks, make_budget
from headlife.shop.policy_book import PolicySettings

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from headlife.case import Case
    from headlife.fleet.state import Fleet
    from headlife.futures.forecast import FleetForecast
    from headlife.shop import Shop

STATED: Final = "as the settings say"
ON_RECORD: Final = "as on record"
PROPOSED: Final = "as proposed"
# A proposal that nobody stated: so far past the rating, quality-critical heads at it.
PAST: Final = 1.25


@dataclass(frozen=True)
class SameYear:
    """The budget of the same quarters under one policy."""

    name: str
    """as the settings say, as on record, or as proposed."""
    ages: dict[str, float]
    """Age at which heads are swapped, by head type, of a proposal; otherwise empty [h]."""
    budget: Budget
    """Its budget."""


def same_year(
    case: Case,
    present: Budget,
    age_hours: float | None = None,
    executor: Executor | None = None,
) -> tuple[SameYear, ...]:
    """Budget the same quarters under each policy.

    Parameters
    ----------
    case : Case
        Records, settings and day.
    present : Budget
        The budget of the case, which follows what the installations clearly show, unless the
        settings are confirmed.
    age_hours : float, optional
        Proposed age at which heads are swapped [h]; default a quarter past each rating. Heads and
        printers that are quality-critical are swapped at their rating at the latest.
    executor : concurrent.futures.Executor, optional
        Works on the simulations.

    Returns
    -------
    tuple of SameYear
        As the settings say; as on record, where the installations clearly show something else;
        and as proposed.
    """
    done = case.fleet.practised
    apart = any(one.settings for one in done) and not case.shop.policy.confirmed
    found = [SameYear(STATED, {}, present)]
    if apart:
        confirmed = case.with_(policy={"confirmed": True})
        # Only when heads come out is another one, not which type follows which.
        fleet = replace(confirmed.fleet, giving_way=case.fleet.giving_way)
        stated = _year(confirmed.shop, fleet, case, executor)
        found = [SameYear(STATED, {}, stated), SameYear(ON_RECORD, {}, present)]
    ages = {
        name: min(kind.rated_hours, age_hours or kind.rated_hours)
        if kind.quality_critical
        else age_hours or PAST * kind.rated_hours
        for name, kind in case.shop.head_types.items()
    }
    year = proposed_ahead(case, ages, budget_weeks(case.day), executor)
    found.append(SameYear(PROPOSED, ages, make_budget(year, case.shop.costs, case.shop.prices)))
    return tuple(found)


def proposed_ahead(
    case: Case, ages: dict[str, float], weeks: float, executor: Executor | None = None
) -> FleetForecast:
    """Simulate the fleet with heads swapped at a proposed age from now on.

    Heads come out as late after they are due as the records show of what was done so far: how late
    the past was against a proposal says nothing.

    Parameters
    ----------
    case : Case
        Records, settings and day.
    ages : dict
        Proposed swap age by head type [h].
    weeks : float
        How far ahead [weeks].
    executor : concurrent.futures.Executor, optional
        Works on the simulation.

    Returns
    -------
    FleetForecast
        The futures.
    """
    shop = case.shop.with_(policy=proposed_policy(case.shop, ages))
    fleet = replace(case.fleet, follows=None)
    return fleet_ahead(fleet, case.modes, shop, case.day, weeks, executor)


def proposed_policy(shop: Shop, ages: dict[str, float]) -> PolicySettings:
    """Give the policy that swaps heads at an age, those in quality-critical printers at theirs.

    Parameters
    ----------
    shop : Shop
        Its printers.
    ages : dict
        Swap age by head type [h].

    Returns
    -------
    PolicySettings
        The policy; quality-critical printers keep their rating as the limit.
    """
    past = any(age > shop.rated_hours[name] for name, age in ages.items())
    critical = shop.critical_printers if past else ()
    return PolicySettings.model_validate(
        {
            "confirmed": True,
            "head_types": {name: {"swap_at": age} for name, age in ages.items()},
            "printers": {name: {"swap_at": "rating"} for name in critical},
        }
    )


def _year(shop: Shop, fleet: Fleet, case: Case, executor: Executor | None) -> Budget:
    """Forecast the quarters; what was learned is the same under every policy."""
    year = fleet_ahead(fleet, case.modes, shop, case.day, budget_weeks(case.day), executor)
    return make_budget(year, shop.costs, shop.prices)
