"""What must be known beforehand so that stock questions can be answered later, without simulating?

From the fleet and its lives: the demand at every lead time of a short list, and for each the stock
level and the reorder point at every service level of another. Risks and money follow from these.
Never orders.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.decisions.spares.levels import StockAnswer, stock_answers
from headlife.decisions.spares.stock import stock_levels
from headlife.fleet.state import Fleet
from headlife.life.groups import Group
from headlife.numbers import Floats
from headlife.progress import Progress

if TYPE_CHECKING:
    from headlife.futures.draws import DrawnLife
    from headlife.shop import Shop

_STEPS: Final = (-2, -1, 0, 1, 2, 3, 4)  # lead times tried beside the stated one
_STEP: Final = 3.0  # of which each is a third of it


@dataclass(frozen=True)
class TriedStock:
    """One stock under one lead time: what answers at any service level rest on."""

    answer: StockAnswer
    """The answer at the shop's own service level."""
    lead_weeks: float
    """Lead time [weeks]."""
    levels: list[int]
    """Stock level, one per service level [heads]."""
    reorder_points: list[int]
    """Reorder point, one per service level [heads]."""


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


def tried_stocks(
    fleet: Fleet,
    lives: Mapping[Group, Sequence[DrawnLife]],
    shop: Shop,
    start: Any,
    own: Sequence[StockAnswer],
    services: Floats,
    progress: Progress | None = None,
) -> list[tuple[TriedStock, ...]]:
    """Answer the spares question at every lead time to try.

    Parameters
    ----------
    fleet : Fleet
        Positions, usage and shelf on the day.
    lives : mapping of Group to a sequence of Life
        The competing modes of each head type and role.
    shop : Shop
        Its spares settings, policy and costs.
    start : date
        The day.
    own : sequence of StockAnswer
        The answers at the shop's own lead time.
    services : array of float
        Service levels to try [-], (n,).
    progress : callable, optional
        Called with (step, done, total).

    Returns
    -------
    list of tuple of TriedStock
        One list entry per stock, in the order of `own`; each in the order of `lead_times_to_try`.
    """
    tell = progress or (lambda step, done, total: None)
    leads = lead_times_to_try(shop.spares.lead_time_weeks)
    found: list[list[TriedStock]] = [[] for _ in own]
    for done, lead in enumerate(leads):
        tell("other lead times", done, len(leads))
        if lead == shop.spares.lead_time_weeks:
            answers = tuple(own)
        else:
            other = shop.with_(spares={"lead_time_weeks": lead})
            answers = stock_answers(fleet, lives, other, start)
        for place, answer in enumerate(answers):
            found[place].append(_tried(answer, lead, services))
    return [tuple(one) for one in found]


def _tried(answer: StockAnswer, lead: float, services: Floats) -> TriedStock:
    assert answer.in_lead_time is not None, "stock_answer keeps it"
    return TriedStock(
        answer,
        lead,
        stock_levels(answer.demand, services),
        [int(one) for one in np.atleast_1d(answer.in_lead_time.quantile(services))],
    )
