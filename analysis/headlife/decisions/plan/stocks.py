"""Which new heads are there by when, and from which does a swap take one?

From the settings' stock and orders: what is on hand, what comes before a head ordered today would,
and from then on as many as are ordered today. Never decides what to order.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from headlife.decisions.plan.listed_courses import Limit
from headlife.fleet.on_hand import NO_SITE, arrivals, elsewhere, on_hand_at, stocks_of
from headlife.fleet.succession import sites_with, successors
from headlife.numbers import Floats
from headlife.units import HOURS_PER_DAY, HOURS_PER_WEEK

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.state import Fleet
    from headlife.shop import Shop

ON_SHELF: Final = "on the shelf"
ON_ORDER: Final = "on order"
TO_ORDER: Final = "to order"
MISSING: Final = "missing"


class _Stock(NamedTuple):
    """New heads of one type, for all sites or one."""

    on_hand: int
    comes: Floats
    """Hours from now on at which each head on order is there, before one ordered today [h]."""
    first: int
    """Number of its first stock; one more for every day on which heads come."""

    @property
    def days(self) -> Floats:
        return np.unique(self.comes)

    @property
    def there(self) -> int:
        """Heads on hand, or on order and there before one ordered today [heads]."""
        return self.on_hand + self.comes.size


class Stocks:
    """The new heads that swaps are planned with, numbered by what they are taken from.

    Parameters
    ----------
    shop : Shop
        Its stock, orders and whether sites keep their own.
    fleet : Fleet
        Its positions, sites, and head types that another one takes the place of.
    day : pandas.Timestamp
        Today.
    """

    def __init__(self, shop: Shop, fleet: Fleet, day: pd.Timestamp) -> None:
        self._follows, positions = successors(fleet.giving_way), fleet.positions
        self._separate = shop.spares.sites == "separate"
        self.lead_hours = shop.spares.lead_time_weeks * HOURS_PER_WEEK
        self._stocks: dict[tuple[str, str | None], _Stock] = {}
        self._given: dict[tuple[str, str | None], int] = {}
        self._idle: dict[str, dict[str, int]] = {}
        first = 0
        for head_type in sorted({*positions["head_type"], *self._follows.values()}):
            sites = sites_with(positions, head_type, self._follows)
            for stock in stocks_of(shop, head_type, sites, fleet.sites):
                # What comes on a day is there from that day on.
                days = np.ceil(arrivals(stock, day) * HOURS_PER_WEEK / HOURS_PER_DAY)
                hours = days * HOURS_PER_DAY
                one = _Stock(on_hand_at(stock), hours[hours < self.lead_hours], first)
                self._stocks[head_type, stock.site] = one
                self._idle[head_type] = {idle.site: idle.on_hand for idle in elsewhere(stock)}
                first += 1 + one.days.size

    def goes_in(self, head_type: str, role: str, site: Any) -> str:
        """Give the type of the heads that go in for a head.

        Parameters
        ----------
        head_type, role : str
            Of the head in place.
        site : str or None
            Where the printer stands.

        Returns
        -------
        str
            The type that takes the place of its type, unless only heads of its own are there
            before one ordered today would be.
        """
        to = self._follows.get((head_type, role), head_type)
        there = [self._stocks[name, self.site_of(site)].there for name in (to, head_type)]
        return head_type if there[1] and not there[0] else to

    def site_of(self, site: Any) -> str | None:
        """Give the site whose stock serves a printer; None where one stock serves all.

        Parameters
        ----------
        site : str or None
            Where the printer stands.

        Returns
        -------
        str or None
            The site.
        """
        if not self._separate:
            return None
        return site if isinstance(site, str) else NO_SITE

    def number(self, head_type: str, site: Any, hours: float) -> int | None:
        """Give the number of the stock that a swap takes a new head from.

        Parameters
        ----------
        head_type : str
            Head type.
        site : str or None
            Where the printer stands.
        hours : float
            When, from now on [h].

        Returns
        -------
        int or None
            The number; None from the day on which heads ordered today are there.
        """
        if hours >= self.lead_hours:
            return None
        stock = self._stocks[head_type, self.site_of(site)]
        return stock.first + int(np.searchsorted(stock.days, hours, side="right"))

    @property
    def limits(self) -> list[Limit]:
        """New heads there are by each day."""
        return [
            Limit(
                frozenset(range(stock.first, stock.first + number + 1)),
                stock.on_hand + int((stock.comes <= upto).sum()),
            )
            for stock in self._stocks.values()
            for number, upto in enumerate([-1.0, *stock.days])
        ]

    def take(self, head_type: str, site: Any, hours: float) -> tuple[str, float]:
        """Say which new head a swap gets; swaps ask in the order of their days.

        Parameters
        ----------
        head_type : str
            Head type.
        site : str or None
            Where the printer stands.
        hours : float
            When, from now on [h].

        Returns
        -------
        str, float
            `ON_SHELF`, `ON_ORDER` or `TO_ORDER`; when it is there, or has to be ordered [h].
        """
        if hours >= self.lead_hours:
            return TO_ORDER, hours - self.lead_hours
        key = head_type, self.site_of(site)
        stock, given = self._stocks[key], self._given.get(key, 0)
        self._given[key] = given + 1
        if given < stock.on_hand:
            return ON_SHELF, 0.0
        return ON_ORDER, float(np.sort(stock.comes)[given - stock.on_hand])

    def left_elsewhere(self, head_type: str, site: Any) -> dict[str, int]:
        """Count the new heads that no swap has taken on the shelves of other sites.

        Parameters
        ----------
        head_type : str
            Head type.
        site : str or None
            Where the printer stands.

        Returns
        -------
        dict of str to int
            By site; none where one stock serves all, or nothing is left [heads].
        """
        own = self.site_of(site)
        left = dict(self._idle.get(head_type, {}))
        for (name, other), stock in self._stocks.items():
            if name == head_type and other is not None and other != own:
                left[other] = stock.on_hand - self._given.get((name, other), 0)
        return {other: heads for other, heads in sorted(left.items()) if heads > 0}
