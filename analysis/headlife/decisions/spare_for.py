"""Is a spare there for this head: a new one, a part-used one, one elsewhere or on order, or none?

From the settings' stock and orders and the fleet's shelf; heads are given out in the order in
which they are asked for, each once. New heads serve either role, part-used ones only their own.
Where another type takes the place of a head's type, its heads go in first. Where sites keep
separate stocks, a new head at a site without one of its type at work can be moved; one that another
site keeps for itself is named and not taken. Never decides what to order, nor which of several
part-used heads goes in: that takes the builds ahead (`decisions.plan`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np

from headlife.fleet.on_hand import NO_SITE, arrivals, elsewhere, on_hand_at, stocks_of
from headlife.fleet.succession import sites_with, successors
from headlife.shop.policy_book import policies_after
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.state import Fleet
    from headlife.shop import Shop

NEW: Final = "new"
USED: Final = "part-used"
ELSEWHERE: Final = "at another site"
ORDERED: Final = "on order"
NONE: Final = "none"
_NO_DAY: Final = np.datetime64("NaT", "ns")


class Spare(NamedTuple):
    """What can be put in for one head in service."""

    kind: str
    """`NEW`, `USED`, `ELSEWHERE`, `ORDERED` or `NONE`."""
    head_type: str
    """Type of the head that goes in."""
    heads: tuple[str, ...]
    """Serials of the part-used heads that fit, the least used first; empty for other kinds."""
    ages: tuple[float, ...]
    """Their ages [h]."""
    day: np.datetime64
    """Day on which it is there."""
    site: str = ""
    """Site from which it is to be moved; of `NONE` another site with a new one on the shelf that it
    keeps for itself; empty where there is no such site."""


class SpareHeads:
    """The heads that a shop can put in, given out one by one.

    Parameters
    ----------
    shop : Shop
        Its stock, orders and whether sites keep their own.
    fleet : Fleet
        Its positions and part-used heads.
    day : pandas.Timestamp
        The day.
    """

    def __init__(self, shop: Shop, fleet: Fleet, day: pd.Timestamp) -> None:
        self._shop, self._fleet, self._day = shop, fleet, day
        self._new: dict[tuple[str, str | None], int] = {}
        self._coming: dict[tuple[str, str | None], list[np.datetime64]] = {}
        self._elsewhere: dict[str, list[str]] = {}
        self._follows, self._book = successors(fleet.giving_way), policies_after(shop, day)
        shelf = fleet.shelf.sort_values(["age_hours", "head"], kind="stable")
        self._used: list[Any] = list(shelf.itertuples(index=False))

    def take(self, head: Any, build_hours: float) -> Spare:
        """Give the spare for a head in service, and take it off the stock.

        Parameters
        ----------
        head : named tuple
            With `head_type`, `role`, `printer` and `site`.
        build_hours : float
            A part-used head must have at least so many hours to go [h].

        Returns
        -------
        Spare
            Part-used heads first, then a new one, then one to be moved, then one on order. Of
            several part-used heads that fit the most used is counted as gone, which serves the
            fewest others. Where another type takes the place of its type, a head of that one, or of
            its own where none is there.
        """
        separate = self._shop.spares.sites == "separate"
        site = _site(head) if separate else None
        goes_in = self._follows.get((head.head_type, head.role), head.head_type)
        kinds = [(one, site) for one in dict.fromkeys((goes_in, head.head_type))]
        for kind in kinds:
            self._open(kind)
            if there := self._there(kind, head, build_hours):
                return there
        for head_type, _ in kinds:
            if self._elsewhere[head_type]:
                today = np.datetime64(self._day, "ns")
                return Spare(ELSEWHERE, head_type, (), (), today, self._elsewhere[head_type].pop(0))
        for kind in kinds:
            if self._coming[kind]:
                return Spare(ORDERED, kind[0], (), (), self._coming[kind].pop(0))
        return Spare(NONE, goes_in, (), (), _NO_DAY, self._kept_at(goes_in, site))

    def _kept_at(self, head_type: str, site: str | None) -> str:
        """Name the other site with most new heads left of those that it keeps for itself."""
        if site is None:
            return ""
        left = {}
        for other in sites_with(self._fleet.positions, head_type, self._follows):
            self._open((head_type, other))
            left[other] = self._new[head_type, other]
        most = max(left, key=lambda other: left[other], default="")
        return most if left.get(most) else ""

    def _there(self, kind: tuple[str, str | None], head: Any, build_hours: float) -> Spare | None:
        """Take a part-used or a new head of this type that is there today."""
        today = np.datetime64(self._day, "ns")
        used = self._part_used(kind, head, build_hours)
        if used:
            self._used.remove(used[-1])
            serials, ages = zip(*((one.head, float(one.age_hours)) for one in used), strict=True)
            return Spare(USED, kind[0], serials, ages, today)
        if self._new[kind] > 0:
            self._new[kind] -= 1
            return Spare(NEW, kind[0], (), (), today)
        return None

    def _open(self, key: tuple[str, str | None]) -> None:
        """Look up what is on hand and on order, once for every stock."""
        if key in self._new:
            return
        head_type, site = key
        sites = sites_with(self._fleet.positions, head_type, self._follows)
        stocks = stocks_of(self._shop, head_type, sites, self._fleet.sites)
        stock = next(one for one in stocks if one.site == site)
        self._new[key] = on_hand_at(stock)
        self._elsewhere.setdefault(
            head_type, [one.site for one in elsewhere(stock) for _ in range(one.on_hand)]
        )
        weeks = arrivals(stock, self._day)
        days = np.ceil(weeks * DAYS_PER_WEEK).astype("timedelta64[D]")
        start = np.datetime64(self._day, "D")
        self._coming[key] = [(start + wait).astype("datetime64[ns]") for wait in days]

    def _part_used(self, kind: tuple[str, str | None], head: Any, build_hours: float) -> list[Any]:
        """List the heads of a type and the same role that have a build to go, least used first."""
        if not self._shop.spares.use_shelf:
            return []
        head_type, site = kind
        swap_at = self._book.of(head_type, head.role, head.printer).comes_out_at
        limit = min(swap_at, self._shop.head_types[head_type].rated_hours)
        return [
            one
            for one in self._used
            if (one.head_type, one.role) == (head_type, head.role)
            and site in (None, _site(one))
            and one.age_hours + build_hours <= limit
        ]


def _site(row: Any) -> str:
    return row.site if isinstance(row.site, str) else NO_SITE
