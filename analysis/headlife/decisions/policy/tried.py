"""What must be known beforehand so that any proposal can be answered later, without simulating?

From one kind of head: its scenarios of life, the hours run at the ages of the curve, and the
stock level at every swap age, lead time and service level of a grid. Costs are linear in the rates
that these give, so a page that carries them answers as `Kind.answer` does. Never prices.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.decisions.policy.policies import age_step, spares_age
from headlife.decisions.spares.tried import lead_times_to_try
from headlife.errors import DecisionError
from headlife.numbers import Floats

if TYPE_CHECKING:
    from headlife.decisions.policy.past_rating import Kind
    from headlife.decisions.policy.survival import WeibullScenarios

LOWEST_AGE: Final = 0.5  # of the rating, least swap age that can be tried [-]
HIGHEST_AGE: Final = 2.5  # of the rating [-]
LONGEST_BUILD: Final = 0.4  # of the rating [-]
_LEFT_OUT: Final = 1e-5  # weight of the scenarios that are left out, the least likely first [-]


@dataclass(frozen=True)
class Tried:
    """All that answers to proposals for one kind of head rest on."""

    shapes: tuple[Floats, ...]
    """Shape of each failure mode [-], by scenario."""
    scales: tuple[Floats, ...]
    """Scale of each failure mode [h], by scenario."""
    weights: Floats
    """Weight of each scenario [-], summing to 1."""
    mean_life: Floats
    """Mean life of a head run to failure [h], by scenario."""
    ages: Floats
    """Ages of the curve [h], ascending."""
    first_hours: Floats
    """Mean hours run by the first of these ages [h], by scenario."""
    search_ages: Floats
    """Ages among which the cheapest is looked for [h], ascending."""
    search_planned: Floats
    """Expected working heads swapped per print hour at each of them [1/h]."""
    search_failures: Floats
    """Expected failures per print hour at each of them [1/h]."""
    age_step: float
    """Swap ages that can be tried lie this far apart [h]."""
    least_age: float
    """The lowest swap age that can be tried [h]."""
    services: Floats
    """Service levels that can be tried [-], ascending."""
    leads: list[float]
    """Lead times that can be tried [weeks], ascending."""
    level_ages: Floats
    """Ages of the stock levels, evenly apart [h]; the last one is infinite: run to failure."""
    levels: np.ndarray
    """Spares to hold [heads], ages x lead times x service levels."""


def tried(kind: Kind, services: Floats) -> Tried:
    """Work out what any proposal for one kind of head rests on.

    Parameters
    ----------
    kind : Kind
        A head type and role.
    services : array of float
        Service levels that can be tried [-], (n,).

    Returns
    -------
    Tried
        The grids.

    Raises
    ------
    DecisionError
        Its life is no set of Weibull scenarios.
    """
    survival = _likeliest(kind.desk.survival)
    usual = kind.choices(age_hours=kind.rated_hours)
    leads = lead_times_to_try(usual.lead_time_weeks)
    cover = [kind.served(replace(usual, lead_time_weeks=lead)).cover_weeks for lead in leads]
    step = age_step(kind.rated_hours)
    first = math.floor(LOWEST_AGE * kind.rated_hours / step) * step
    apart = spares_age(0.0, kind.rated_hours)
    # Between builds a head comes out after half of its swap age at the earliest.
    lowest = math.floor(min(0.5 * first, kind.notice_hours) / apart)
    last = math.ceil((HIGHEST_AGE + LONGEST_BUILD) * kind.rated_hours / apart)
    level_ages = np.append(apart * np.arange(max(lowest, 1), last + 1), np.inf)
    curve, search = kind.table.ages, kind.search
    return Tried(
        shapes=survival.shapes,
        scales=survival.scales,
        weights=survival.weights,
        mean_life=survival.mean_life,
        ages=curve,
        first_hours=survival.hours_run(curve[:1])[:, 0],
        search_ages=search.table.ages,
        search_planned=search.table.weights @ (search.table.reliability / search.table.hours),
        search_failures=search.table.weights
        @ ((1.0 - search.table.reliability) / search.table.hours),
        age_step=step,
        least_age=first,
        services=services,
        leads=leads,
        level_ages=level_ages,
        levels=kind.desk.spares_levels(level_ages, kind.served(usual), cover, services),
    )


def services_to_try(stated: float) -> Floats:
    """List service levels to try, the stated one among them.

    Parameters
    ----------
    stated : float
        The shop's own [-].

    Returns
    -------
    array of float
        Service levels [-], evenly apart.
    """
    for first, step in ((0.70, 0.01), (0.70, 0.005), (0.90, 0.001)):
        count = round((1.0 - first) / step)
        levels = np.round(first + step * np.arange(count), 4)
        if np.abs(levels - stated).min() < 1e-9:
            return np.asarray(levels, float)
    return np.array([stated])


def _likeliest(survival: object) -> WeibullScenarios:
    """Leave out the scenarios that together hardly weigh anything."""
    from headlife.decisions.policy.survival import WeibullScenarios

    if not isinstance(survival, WeibullScenarios):
        raise DecisionError("Only lives known as Weibull scenarios can be tried on a page.")
    order = np.argsort(survival.weights)[::-1]
    below = np.cumsum(survival.weights[order])
    kept = np.sort(order[: int(np.searchsorted(below, 1.0 - _LEFT_OUT)) + 1])
    weights = survival.weights[kept]
    return WeibullScenarios(
        tuple(one[kept] for one in survival.shapes),
        tuple(one[kept] for one in survival.scales),
        weights / weights.sum(),
    )
