"""How many new heads are needed until the order after the next one is there?

From the new heads that the fleet's futures ask for, and lead times that may spread: the demand over
lead time and review period, which a stock must cover. Never chooses a stock.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from headlife.decisions.spares.ahead import (
    forecast_horizon,
    protection_weeks,
    weeks_to_next_order,
)
from headlife.decisions.spares.shelf import NewHeads, new_heads
from headlife.fleet.state import Fleet
from headlife.futures.distribution import Demand, demand_of
from headlife.futures.forecast import FleetForecast, heads_in_place
from headlife.futures.life_uncertainty import Futures
from headlife.futures.visits import Counts
from headlife.numbers import Floats
from headlife.seeds import generator

if TYPE_CHECKING:
    from headlife.shop import Shop, Spares


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


class Protected(NamedTuple):
    """What one stock must cover, and what that rests on."""

    needed: NewHeads
    """New heads that the futures ask for."""
    lead: Floats
    """Lead time of every draw [weeks]."""
    demand: Demand
    """New heads needed over lead time and review period, with the lives they rest on."""


def protected(
    fleet: Fleet,
    forecast: FleetForecast,
    shop: Shop,
    head_type: str,
    site: str | None,
    needed: NewHeads | None = None,
) -> Protected:
    """Count the new heads that one stock must cover.

    Parameters
    ----------
    fleet, forecast, shop : Fleet, FleetForecast, Shop
        The positions, their futures, as far as `forecast_horizon`, and how is ordered.
    head_type : str
        Head type.
    site : str or None
        One site's own stock; None for one stock for all.
    needed : NewHeads, optional
        New heads that the futures ask for, where that is known already.

    Returns
    -------
    Protected
        Demand, and what it rests on.
    """
    spares, start = shop.spares, forecast.start
    if needed is None:
        horizon = forecast_horizon(spares, start)
        needed = new_heads(fleet, forecast, shop, head_type, site, horizon)
    rng = generator(forecast.seed, "lead time", head_type, str(site))
    lead = lead_times(spares, forecast.draws, rng)
    weeks, ahead = protection_weeks(spares, start), lead + weeks_to_next_order(spares, start)
    totals, demand = within(needed, ahead, forecast, weeks, site)
    in_place = heads_in_place(fleet, forecast, head_type, site, weeks)
    return Protected(needed, lead, replace(demand, futures=(Futures(totals, in_place),)))


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
