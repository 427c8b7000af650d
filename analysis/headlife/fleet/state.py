"""What is in service and on the shelf on the day of a review, and how does the shop work?

A `Fleet`: positions with the present age of their head and its print hours a week, how far those
hours vary, part-used heads that can go back in, changes of material and how late heads are
swapped. Holds what `fleet.reduction` found; never forecasts.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.fleet.habits import MaterialChanges
from headlife.fleet.refurbished import Refurbished
from headlife.fleet.succession import GivesWay
from headlife.fleet.workload import Workload
from headlife.life.groups import Group, groups_in

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.practised import Practised
    from headlife.numbers import Floats
    from headlife.shop.policy_book import PolicyBook


# Recent weeks count most where print hours are learned, so a long record is worth no more weeks
# than this (own choice, no source).
MOST_WEEKS_LEARNED: Final = 40.0

# Own choice. The priors of the workload are chosen for stocks, which must not run short: its spread
# is 8 to 10 % above what print hours of simulated shops turned out to differ by (row due of
# `studies.changing_shops`, seeds 61 to 63).
_OF_STOCKS: Final = 0.92


@dataclass(frozen=True)
class Fleet:
    """Heads in service and part-used heads on the shelf."""

    positions: pd.DataFrame
    """One row per occupied position: head, head_type, role, site, printer, position,
    age_hours [h], weekly_hours [h], share_of_hours [-]."""
    shelf: pd.DataFrame
    """One row per part-used head that can go back in: head, head_type, role, site,
    age_hours [h]."""
    week_sd: float = 0.0
    """Spread of a printer's print hours from week to week, as a share of their mean [-]."""
    weeks_learned: dict[str, float] = field(default_factory=dict)
    """Weeks on record that the print hours of each printer were learned from [weeks]; printers
    whose hours the settings state are missing."""

    changes: MaterialChanges = field(default_factory=MaterialChanges)
    """How often heads are taken out to change material, and what follows."""

    sites: frozenset[str] = frozenset()
    """Every site on record, also those where nothing runs any more."""

    giving_way: tuple[GivesWay, ...] = ()
    """Head types whose places another type takes."""
    refurbished: tuple[Refurbished, ...] = ()
    """How often a refurbished head went in where a new one would, by head type and role."""

    swap_lag: dict[str, float] = field(default_factory=dict)
    """Mean print hours that heads of each type run past the age at which they are due [h]."""

    follows: PolicyBook | None = None
    """Policies that forecasts follow, as practised where that is clear; None: as stated."""
    practised: tuple[Practised, ...] = ()
    """What is stated and what is done, by head type; empty where nobody looked."""
    workload: Workload | None = None
    """How print hours vary together and alone, and grow; None where too little is on record."""
    empty: pd.DataFrame | None = None
    """One row per position that waits for a head, from `empty.empty_positions`; None where nobody
    looked."""

    def in_circulation(self, group: Group) -> tuple[float, ...]:
        """Ages of the heads of a group that are in use or waiting on the shelf.

        Parameters
        ----------
        group : Group
            Head type and role.

        Returns
        -------
        tuple of float
            Ages [h], the lowest first.
        """
        return self._circulating.get(group, ())

    @cached_property
    def _circulating(self) -> dict[Group, tuple[float, ...]]:
        """Ages of the heads of every group, in use or waiting [h]; every position asks for them."""
        found: dict[Group, list[float]] = {}
        for table in (self.positions, self.shelf):
            for group, own in groups_in(table).items():
                found.setdefault(group, []).extend(own["age_hours"].tolist())
        return {group: tuple(sorted(ages)) for group, ages in found.items()}

    def usage_sd(self, printer: str, weeks: float) -> float:
        """Spread of a printer's average print hours over a horizon, as a share of them [-].

        Weeks ahead vary as those on record did, and the mean itself was learned from a limited
        number of weeks.

        Parameters
        ----------
        printer : str
            Its name.
        weeks : float
            The horizon [weeks].

        Returns
        -------
        float
            The spread [-].
        """
        learned = self.weeks_learned.get(printer)
        unknown = 0.0 if learned is None else 1.0 / max(min(learned, MOST_WEEKS_LEARNED), 1.0)
        return self.week_sd * float(np.sqrt(1.0 / max(weeks, 1.0) + unknown))

    def usage_ahead(self, positions: pd.DataFrame, weeks: Floats) -> tuple[Floats, Floats]:
        """Say what each printer will print on average over a horizon, against its usual hours.

        Parameters
        ----------
        positions : pandas.DataFrame
            One row per position with `printer`, `weekly_hours` [h] and `share_of_hours` [-].
        weeks : array of float
            The horizon of each [weeks].

        Returns
        -------
        factor : array of float
            Mean print hours, by the usual ones [-]; 1 where the settings state them.
        spread : array of float
            Their spread, as a share of the mean [-].
        """
        printers = [str(name) for name in positions["printer"]]
        spread = [self.usage_sd(name, float(w)) for name, w in zip(printers, weeks, strict=True)]
        factors, spreads = np.ones(len(printers)), np.array(spread)
        usual = positions["weekly_hours"].to_numpy(dtype=np.float64)
        if self.workload is None:
            return factors, spreads
        places = {name: at for at, name in enumerate(self.workload.printers)}
        learned = [one in places and one in self.weeks_learned for one in printers]
        known = np.flatnonzero(np.array(learned, bool) & (usual > 0))
        at = np.array([places[printers[i]] for i in known], dtype=np.intp)
        mean, spread_of = self.workload.of_printers(at, weeks[known])
        spreads[known] = _OF_STOCKS * spread_of
        share = positions["share_of_hours"].to_numpy(dtype=np.float64)
        factors[known] = mean * share[known] / usual[known]
        return factors, spreads

    def of(self, group: Group) -> pd.DataFrame:
        """Positions of a group.

        Parameters
        ----------
        group : Group
            Which heads.

        Returns
        -------
        DataFrame
            Their rows of `positions`.
        """
        return self.positions[group.rows(self.positions)]
