"""How often does a refurbished head go in where a new one would?

From which head followed which in a position: of the latest heads that went in for one that was used
up, how many were refurbished. A part-used head that goes back in is neither. Forecasts nothing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from headlife.fleet.circulation import FEWEST_REPLACEMENTS
from headlife.units import DAYS_PER_WEEK, WEEKS_PER_YEAR

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Refurbished:
    """Refurbished heads of one type and role among those that went in."""

    head_type: str
    """The type that went in."""
    role: str
    """In this role."""
    heads: int
    """Those refurbished [heads]."""
    of: int
    """Of so many new or refurbished ones that went in for a used-up head [heads]."""

    def shares_new(self, futures: int, rng: np.random.Generator) -> np.ndarray:
        """Draw the share of such heads that are new, one for each future.

        From what is on record with the prior of Jeffreys for a share, Beta(1/2, 1/2) (Jeffreys,
        Theory of Probability, 3rd edition 1961, section 3.1).

        Parameters
        ----------
        futures : int
            How many [-].
        rng : numpy.random.Generator
            Random numbers.

        Returns
        -------
        array of float
            Shares [-], (futures,).
        """
        return rng.beta(self.of - self.heads + 0.5, self.heads + 0.5, futures)


def refurbished(rows: pd.DataFrame) -> tuple[Refurbished, ...]:
    """Count the refurbished heads among those that went in for a used-up one.

    Those of the last year count, or all where these are few.

    Parameters
    ----------
    rows : pandas.DataFrame
        From `habits.handovers`.

    Returns
    -------
    tuple of Refurbished
        By head type and role; none of those without a refurbished head.
    """
    if not rows["refurbished"].any():
        return ()
    rows = rows.sort_values(["place", "date_in", "date_out", "row"], ignore_index=True)
    follows = np.r_[False, (rows["place"].to_numpy()[1:] == rows["place"].to_numpy()[:-1])]
    after_use = np.r_[False, rows["used_up"].to_numpy(dtype=bool)[:-1]]
    went_in = rows[follows & after_use & rows["new"].to_numpy(dtype=bool)]
    year = np.timedelta64(int(WEEKS_PER_YEAR * DAYS_PER_WEEK), "D")
    found = []
    for (head_type, role), own in went_in.groupby(["head_type", "role"], sort=True, observed=True):
        recent = own[own["date_in"] > rows["date_out"].max() - year]
        own = recent if len(recent) >= FEWEST_REPLACEMENTS else own
        if heads := int(own["refurbished"].sum()):
            found.append(Refurbished(str(head_type), str(role), heads, len(own)))
    return tuple(found)
