"""How many new heads are needed until the order after the next one is there?

From the new heads that the fleet's futures ask for, and lead times that may spread: the demand over
lead time and review period, which a stock must cover. Never chooses a stock.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from headlife.decisions.spares.ahead import protection_weeks, weeks_to_next_order
from headlife.decisions.spares.shelf import NewHeads
from headlife.fleet.state import Fleet
from headlife.futures.distribution import Demand, demand_of
from headlife.futures.forecast import FleetForecast, heads_in_place
from headlife.futures.life_uncertainty import Futures
from headlife.futures.visits import Counts
from headlife.numbers import Floats
from headlife.seeds import generator

if TYPE_CHECKING:
    from headlife.shop import Spares


def lead_times(spares: Spares, draws: int, rng: np.random.Generator) -> Floats:
    """Lead time in every draw: fixed, gamma with the mean and spread stated, or as in the past.

    With n past deliveries the next lead time is one of theirs with a chance of n / (n + 1), and
    otherwise gamma about the stated mean: the predictive distribution under a Dirichlet process
    of strength 1 [1].

    Parameters
    ----------
    spares : Spares
        Its lead time, the spread of it, and those of past deliveries.
    draws : int
        Number of draws [-].
    rng : numpy.random.Generator
        Source of every random number.

    Returns
    -------
    array of float
        One per draw [weeks].

    References
    ----------
    [1] D. Blackwell and J. B. MacQueen, "Ferguson distributions via Polya urn schemes", Annals of
        Statistics 1 (1973) 353-355.
    """
    mean, sd, past = spares.lead_time_weeks, spares.lead_time_spread, spares.past_lead_times_weeks
    if sd <= 0:
        return np.full(draws, mean)
    gamma_shape = (mean / sd) ** 2
    drawn = rng.standard_gamma(gamma_shape, draws) * mean / gamma_shape
    drawn = np.asarray(np.minimum(drawn, spares.longest_lead_weeks))
    if past:
        which = rng.integers(len(past) + 1, size=draws)
        drawn = np.where(which < len(past), np.append(past, 0.0)[which], drawn)
    return drawn


def protected_demand(
    fleet: Fleet,
    forecast: FleetForecast,
    spares: Spares,
    head_type: str,
    site: str | None,
    needed: NewHeads,
    lead: Floats,
) -> Demand:
    """Count new heads needed over lead time and review period, with the lives they rest on.

    Parameters
    ----------
    fleet, forecast : Fleet, FleetForecast
        The positions, and their futures.
    spares : Spares
        Lead time and review period.
    head_type : str
        Head type.
    site : str or None
        One site's own stock; None for one stock for all.
    needed : NewHeads
        New heads that the futures ask for.
    lead : array of float
        Lead time of every draw [weeks].

    Returns
    -------
    Demand
        New heads needed.
    """
    weeks = protection_weeks(spares, forecast.start)
    ahead = lead + weeks_to_next_order(spares, forecast.start)
    totals, demand = within(needed, ahead, forecast, weeks, site)
    in_place = heads_in_place(fleet, forecast, head_type, site, weeks)
    return replace(demand, futures=(Futures(totals, in_place),))


def within(
    needed: NewHeads, ahead: Floats, forecast: FleetForecast, weeks: float, site: str | None
) -> tuple[Counts, Demand]:
    """Count new heads needed within each draw's own stretch of weeks: draw by draw, and together.

    A week that ends inside the stretch counts whole; of a week that is cut, each head counts
    with the chance that its day is inside.

    Parameters
    ----------
    needed : NewHeads
        New heads that the futures ask for.
    ahead : array of float
        The stretch of every draw [weeks].
    forecast : FleetForecast
        The futures.
    weeks : float
        Mean of the stretches [weeks].
    site : str or None
        One site's own stock; None for one stock for all.

    Returns
    -------
    totals : array of int
        New heads needed in every draw [heads].
    demand : Demand
        Their distribution.
    """
    last = min(math.ceil(float(ahead.max(initial=0.0))), needed.total.shape[1])
    failures = needed.failures[:, :last]
    other = needed.total[:, :last] - failures
    share = np.clip(ahead[:, None] - np.arange(last), 0.0, 1.0)
    if last == needed.total.shape[1]:
        # The horizon's own last week may be short and is whole then.
        share[ahead >= forecast.weeks, -1] = 1.0
    partly = share < 1.0
    if partly.any():
        rng = generator(forecast.seed, "cut week", str(site), str(weeks))
        failures, other = failures.copy(), other.copy()
        failures[partly] = rng.binomial(failures[partly], share[partly])
        other[partly] = rng.binomial(other[partly], share[partly])
    return (failures + other).sum(axis=1), demand_of(failures, other, weeks)
