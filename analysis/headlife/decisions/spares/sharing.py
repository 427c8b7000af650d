"""What does one stock for all sites save? Levels of a shared stock beside those of a stock at each.

From the fleet's futures and the shop's settings. Never moves a head.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from headlife.decisions.spares.ahead import forecast_horizon
from headlife.decisions.spares.protection import lead_times, protected_demand
from headlife.decisions.spares.shelf import new_heads
from headlife.decisions.spares.stock import plan_stock
from headlife.fleet.state import Fleet
from headlife.futures.forecast import FleetForecast
from headlife.seeds import generator

if TYPE_CHECKING:
    from headlife.shop import Shop


@dataclass(frozen=True)
class SharedStock:
    """What one stock for all sites saves, for one head type."""

    head_type: str
    """Head type."""
    shared_level: int
    """Stock level of one stock for all [heads]."""
    separate_levels: dict[str, int]
    """Stock level of every site on its own [heads]."""

    @property
    def saving(self) -> int:
        """Heads that a shared stock saves [heads]."""
        return sum(self.separate_levels.values()) - self.shared_level


def shared_stocks(fleet: Fleet, forecast: FleetForecast, shop: Shop) -> tuple[SharedStock, ...]:
    """Compare one stock for all sites with a stock at each, for every head type.

    Parameters
    ----------
    fleet : Fleet
        Positions, usage and shelf on the day.
    forecast : FleetForecast
        Its futures, as far as `forecast_horizon`.
    shop : Shop
        Its spares settings and policy.

    Returns
    -------
    tuple of SharedStock
        Head types with positions at two sites or more.
    """
    compared = []
    for head_type in forecast.head_types:
        sites = forecast.sites_of(head_type)
        if len(sites) < 2:
            continue
        levels: dict[str | None, int] = {}
        for site in [None, *sites]:
            needed = new_heads(
                fleet, forecast, shop, head_type, site, forecast_horizon(shop.spares)
            )
            rng = generator(forecast.seed, "lead time", head_type, str(site))
            lead = lead_times(shop.spares, forecast.draws, rng)
            demand = protected_demand(fleet, forecast, shop.spares, head_type, site, needed, lead)
            levels[site] = plan_stock(demand, shop.spares.service_level).stock_level
        separate = {site: levels[site] for site in sites}
        compared.append(SharedStock(head_type, levels[None], separate))
    return tuple(compared)
