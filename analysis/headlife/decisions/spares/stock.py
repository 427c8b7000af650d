"""How many heads to hold, and how many to order now? From a demand and a service level.

Cycle service level (the chance that no request goes unserved) and fill rate (the share of
requests served from stock) are different numbers, and both are named. Never forecasts.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.display import shows_itself
from headlife.errors import DecisionError
from headlife.numbers import fraction, not_negative, positive

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

    from headlife.futures.distribution import Demand
    from headlife.futures.life_uncertainty import Doubt
    from headlife.numbers import Floats


# Own choice, no source: how sure a plan is that its true risk is no more than twice the one asked.
SURE_ENOUGH: Final = 0.90


@shows_itself
@dataclass(frozen=True)
class StockPlan:
    """A base stock level, the order it asks for now and the risk at every other level."""

    stock_level: int
    """Smallest stock, on hand and on order, that meets the service level, and `added` [heads]."""
    order_now: int
    """Heads to order now, a whole number of order multiples [heads]."""
    on_hand: int
    """New heads on the shelf [heads]."""
    on_order: int
    """New heads on order [heads]."""
    service_level: float
    """Cycle service level asked for [-]."""
    service: float
    """Cycle service level reached: probability that no request goes unserved [-]."""
    fill_rate: float
    """Expected share of the heads needed that come from stock [-]."""
    sure: float
    """Chance that the true risk, whatever the life is, is at most twice the one asked for; NaN
    where the futures behind the demand are not known [-]."""
    added: int
    """Heads of the stock level that make this sure enough; without them the service level is
    met on average over the lives that the records allow [heads]."""
    table: pd.DataFrame
    """By stock level: stock_level [heads], service [-], ready_rate [-], fill_rate [-],
    expected_shortfall [heads]."""

    @property
    def in_doubt(self) -> bool:
        """Whether so little is on record that the true service may well be lower."""
        return self.sure < SURE_ENOUGH

    @property
    def at_least(self) -> float:
        """The service that the true one reaches with the chance `sure` [-]."""
        return doubled_risk(self.service_level)


def doubled_risk(service_level: float) -> float:
    """Service at twice the risk of a service level; not below 0 [-].

    Parameters
    ----------
    service_level : float
        Service level [-].

    Returns
    -------
    float
        The service [-].
    """
    return max(1.0 - 2.0 * (1.0 - service_level), 0.0)


def plan_stock(
    demand: Demand,
    service_level: float = 0.95,
    on_hand: int = 0,
    on_order: int = 0,
    order_multiple: int = 1,
) -> StockPlan:
    """Choose the base stock for the demand over lead time and review period.

    Parameters
    ----------
    demand : Demand
        Heads needed over the lead time plus the review period.
    service_level : float
        Probability that no request goes unserved [-].
    on_hand, on_order : int
        New heads on the shelf and on order [heads].
    order_multiple : int
        Heads are ordered in multiples of this [heads].

    Returns
    -------
    StockPlan
        Stock, order and risk.

    Raises
    ------
    DecisionError
        A service level that is not strictly between 0 and 1, or heads that are negative or not
        whole.

    Examples
    --------
    >>> import headlife as hl
    >>> hours = [210, 340, 480, 500, 500, 500]
    >>> failed = [True, True, True, False, False, False]
    >>> evidence = hl.Evidence.from_lives(0, hours, failed, reference_hours=500)
    >>> life = hl.fit_life(evidence)
    >>> demand = hl.forecast_demand(life, [120, 300], 40, 13, draws=2_000, seed=1)
    >>> plan = hl.plan_stock(demand, service_level=0.95, on_hand=1)
    >>> plan.stock_level, plan.order_now
    (4, 3)
    """
    service_level = fraction("The service level", service_level)
    on_hand = whole_heads("Heads on hand", on_hand)
    on_order = whole_heads("Heads on order", on_order)
    multiple = whole_heads(
        "The order multiple", positive("The order multiple", order_multiple, "[heads]")
    )
    enough = int(demand.quantile(service_level))
    level, sure = _sure_enough(demand, demand.doubt, enough, service_level)
    # The table shows what one head less risks and how little a few more add.
    last = max(level + 3, int(demand.quantile(0.9999)), on_hand + on_order)
    table = stock_table(demand, last)
    chosen = table.iloc[level]
    return StockPlan(
        stock_level=level,
        order_now=order_for(level, on_hand + on_order, multiple),
        on_hand=on_hand,
        on_order=on_order,
        service_level=service_level,
        service=float(chosen["service"]),
        fill_rate=float(chosen["fill_rate"]),
        sure=sure,
        added=level - enough,
        table=table,
    )


def stock_levels(demand: Demand, services: Sequence[float] | Floats) -> list[int]:
    """Give the base stock at several service levels, each as `plan_stock` chooses it.

    Parameters
    ----------
    demand : Demand
        Heads needed over the lead time plus the review period.
    services : sequence of float
        Service levels [-].

    Returns
    -------
    list of int
        One per service level [heads].
    """
    doubt = demand.doubt
    if doubt is not None and not doubt.settled:
        doubt = None  # no head is added where each buys little
    asked = [fraction("The service level", one) for one in services]
    enough = demand.quantile(np.asarray(asked))
    return [
        _sure_enough(demand, doubt, int(level), one)[0]
        for level, one in zip(enough, asked, strict=True)
    ]


def _sure_enough(
    demand: Demand, doubt: Doubt | None, level: int, service_level: float
) -> tuple[int, float]:
    """Raise a level until nine chances in ten say that the risk is at most twice the one asked.

    Only where the record can pay for it: where what is not known about the life weighs more than
    luck, every further head buys little, and the level stays.
    """
    if doubt is None:
        return level, float("nan")
    service = doubled_risk(service_level)
    sure = float(doubt.sure(level, service))
    if doubt.settled:
        while sure < SURE_ENOUGH and level < demand.pmf.size:
            level += 1
            sure = float(doubt.sure(level, service))
    return level, sure


def stock_table(demand: Demand, last: int) -> pd.DataFrame:
    """Tabulate the risk at every stock level from 0 to `last`.

    Parameters
    ----------
    demand : Demand
        Heads needed over the horizon the stock must cover.
    last : int
        Highest stock level shown [heads].

    Returns
    -------
    pandas.DataFrame
        `stock_level` [heads]; `service`, cycle service level P(D <= S) [-]; `ready_rate`,
        P(D < S), the chance that a head is left at the end [-]; `fill_rate`, 1 - E(D - S)+ / E(D)
        [-]; `expected_shortfall`, E(D - S)+ [heads].
    """
    import pandas as pd

    levels = np.arange(last + 1)
    cdf = _stretched(demand.cdf, last + 1)
    shortfall = expected_shortfall(demand, last)
    # Without demand nothing goes unserved.
    fill = 1.0 - shortfall / demand.mean if demand.mean > 0 else np.ones(last + 1)
    return pd.DataFrame(
        {
            "stock_level": levels,
            "service": cdf,
            "ready_rate": np.concatenate([[0.0], cdf[:-1]]),
            "fill_rate": np.maximum(fill, 0.0),
            "expected_shortfall": shortfall,
        }
    )


def expected_shortfall(demand: Demand, last: int) -> Floats:
    """Heads needed beyond the stock, E(D - S)+, at the levels 0 to `last` [heads].

    Parameters
    ----------
    demand : Demand
        The demand.
    last : int
        Largest stock [heads].

    Returns
    -------
    array of float
        Shortfalls [heads], (last + 1,).
    """
    # E(D - S)+ is the sum of P(D > k) over k >= S: summed from the far end, nothing cancels.
    at_least = np.cumsum(demand.pmf[::-1])[::-1]
    beyond = np.append(at_least[1:], np.zeros(last + 1))
    return np.asarray(np.cumsum(beyond[::-1])[::-1][: last + 1])


def whole_heads(name: str, value: float) -> int:
    """Return a number of heads as an int of zero or more.

    Parameters
    ----------
    name : str
        What the number is called in a sentence.
    value : float
        What was given [heads].

    Returns
    -------
    int
        The number [heads].

    Raises
    ------
    DecisionError
        It is negative, or not whole.
    """
    heads = not_negative(name, value, "[heads]")
    if heads != int(heads):
        raise DecisionError(f"{name} must be a whole number of heads; got {value!r}.")
    return int(heads)


def order_for(level: int, there: int, multiple: int) -> int:
    """Count the heads to order to come up to a stock level.

    Parameters
    ----------
    level : int
        Stock level [heads].
    there : int
        On hand and on order [heads].
    multiple : int
        Heads are ordered in multiples of this [heads].

    Returns
    -------
    int
        Heads to order [heads].
    """
    return -(-max(0, level - there) // multiple) * multiple


def _stretched(cdf: Floats, size: int) -> Floats:
    """Cut or continue a distribution function with ones to `size` levels."""
    result = np.ones(size)
    shared = min(size, cdf.size)
    result[:shared] = cdf[:shared]
    return result
