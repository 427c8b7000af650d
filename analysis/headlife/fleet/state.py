"""What is in service and on the shelf on the day of a review, and how does the shop work?

A `Fleet`: positions with the present age of their head and its print hours a week, how far those
hours vary, part-used heads that can go back in, changes of material and how late heads are
swapped. Holds what `fleet.reduction` found; never forecasts.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.fleet.habits import MaterialChanges

if TYPE_CHECKING:
    import pandas as pd

    from headlife.numbers import Floats

# Recent weeks count most where print hours are learned, so a long record is worth no more weeks
# than this (own choice, no source).
MOST_WEEKS_LEARNED: Final = 40.0


@dataclass(frozen=True)
class Fleet:
    """Heads in service and part-used heads on the shelf."""

    positions: pd.DataFrame
    """One row per occupied position: head, head_type, role, site, printer, position,
    age_hours [h], weekly_hours [h]."""
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

    swap_lag: dict[str, float] = field(default_factory=dict)
    """Mean print hours that heads of each type run past the age at which they are due [h]."""

    def in_circulation(self, head_type: str, role: str) -> tuple[float, ...]:
        """Ages of the heads of one stratum that are in use or waiting on the shelf [h].

        Parameters
        ----------
        head_type : str
            Head type.
        role : str
            model or support.

        Returns
        -------
        tuple of float
            Ages [h].
        """
        waiting = self.shelf
        mine = (waiting["head_type"] == head_type) & (waiting["role"] == role)
        ages = [*self.ages(head_type, role), *waiting.loc[mine, "age_hours"]]
        return tuple(sorted(float(age) for age in ages))

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

    def of(self, head_type: str, role: str) -> pd.DataFrame:
        """Positions of one stratum.

        Parameters
        ----------
        head_type : str
            Head type.
        role : str
            model or support.

        Returns
        -------
        DataFrame
            Their rows of `positions`.
        """
        mine = (self.positions["head_type"] == head_type) & (self.positions["role"] == role)
        return self.positions[mine]

    def ages(self, head_type: str, role: str) -> Floats:
        """Present ages of the heads of one stratum [h].

        Parameters
        ----------
        head_type : str
            Head type.
        role : str
            model or support.

        Returns
        -------
        array of float
            Ages [h], (positions,).
        """
        return self.of(head_type, role)["age_hours"].to_numpy(dtype=np.float64)

    def weekly_hours(self, head_type: str, role: str) -> Floats:
        """Print hours a week of the positions of one stratum [h].

        Parameters
        ----------
        head_type : str
            Head type.
        role : str
            model or support.

        Returns
        -------
        array of float
            Print hours a week [h], (positions,).
        """
        return self.of(head_type, role)["weekly_hours"].to_numpy(dtype=np.float64)
