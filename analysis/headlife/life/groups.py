"""Which heads belong together, and what do their lives say? Groups of heads as values.

A `Group` is a head type in a role and, where the shop's settings ask for it, a value of a further
column such as the lot. From tables with these columns to the rows of a group, and from a group's
evidence to the lives of its failure modes. Spares are kept for a group's `pooled` one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.life.evidence import Evidence
from headlife.life.posterior import Life, fit_life
from headlife.shop.columns import REFURBISHED

if TYPE_CHECKING:
    import pandas as pd
    from numpy.typing import NDArray

# Own choice, no source: a young fleet's answer then is that some 79 % of heads reach the rating,
# anything from 14 to 99 %: neither that it holds nor that it falls short. With two, demand of
# fleets of which only 55 % reach it was above the 95 % interval in 12 % of simulated shops.
ASSUMED_HEADS: Final = 1
# Own choice: each failure halves what the rating counts for in forecasts. Of 100 simulated shops in
# their first 6 and 13 weeks, 4 and 12 positions, of whose heads 30 to 90 % reach the rating, the
# stock then serves .941 to 1.000 (.944 to 1.000 without) and is up to a quarter smaller; counting
# it for a whole head, whatever had failed, served .915 (studies.first_weeks).
HALVED: Final = 0.5
_LEAST_ASSUMED: Final = 0.01  # of a head; less changes nothing
OWN_COLUMNS: Final = ("head_type", "role")


def _told_apart(column: str, value: str) -> str:
    if column == REFURBISHED:
        return REFURBISHED if value else f"not {REFURBISHED}"
    column = column.replace("_", " ")
    return f"{column} {value}" if value else f"no {column}"


@dataclass(frozen=True, order=True)
class Group:
    """Heads of one type in one role, and perhaps of one lot, vendor, material, site or printer."""

    head_type: str
    """Head type."""
    role: str
    """model or support."""
    further: tuple[tuple[str, str], ...] = ()
    """Further columns and their values; an empty value where the records leave it blank."""

    @property
    def names(self) -> tuple[str, ...]:
        """Head type and role, and what tells it from others of these where anything does."""
        return (self.head_type, self.role, *([self.part] if self.further else []))

    @property
    def name(self) -> str:
        """The group as people write it, such as "Standard, model, lot L7"."""
        return ", ".join(self.names)

    @property
    def part(self) -> str:
        """What tells it from others of its type and role, such as "lot L7"; empty for all."""
        return ", ".join(_told_apart(column, value) for column, value in self.further)

    @property
    def pooled(self) -> Group:
        """The group of all heads of this type and role: the one that spares are kept for."""
        return Group(self.head_type, self.role)

    @property
    def columns(self) -> tuple[str, ...]:
        """Columns that tell its heads from others."""
        return (*OWN_COLUMNS, *(column for column, _ in self.further))

    def rows(self, table: pd.DataFrame) -> NDArray[np.bool_]:
        """Mark the rows of a table that are of this group, (n,).

        Parameters
        ----------
        table : DataFrame
            With a column for everything that tells the group from others.

        Returns
        -------
        array of bool
            True where the row is of this group, (n,).
        """
        mine = (table["head_type"] == self.head_type) & (table["role"] == self.role)
        for column, value in self.further:
            mine &= table[column].isna() if not value else table[column] == value
        return mine.to_numpy(dtype=bool)


def groups_in(table: pd.DataFrame, further: Sequence[str] = ()) -> dict[Group, pd.DataFrame]:
    """Divide a table into the groups that it holds.

    Parameters
    ----------
    table : pandas.DataFrame
        With `head_type`, `role` and the further columns.
    further : sequence of str
        Columns to divide by beside head type and role.

    Returns
    -------
    dict of Group to DataFrame
        In the order of their names; rows with a blank further column are a group of their own.
    """
    by = [*OWN_COLUMNS, *further]
    found = {}
    for key, own in table.groupby(by, sort=True, observed=True, dropna=False):
        values = ["" if value != value else str(value) for value in key]
        found[Group(values[0], values[1], tuple(zip(further, values[2:], strict=True)))] = own
    return found


@dataclass(frozen=True)
class GroupEvidence:
    """What the lives of one group say, as numbers that add."""

    group: Group
    """The group."""
    rated_hours: float
    """The rated life in the settings [h]."""
    heads: int
    """Number of lives [heads]; 0 when withheld."""
    modes: Mapping[str, Evidence]
    """Evidence by failure mode; empty when withheld, or when no head has run."""
    withheld: str = ""
    """Why a site does not show this group; empty when it does."""
    print_hours: float = float("nan")
    """Hours that its heads ran [h]; NaN where read from a site's file, which does not say."""
    oldest_hours: float = float("inf")
    """Hours that its oldest head reached [h]; infinite where nobody says, so nothing is assumed."""
    bought: tuple[pd.Timestamp, pd.Timestamp] | None = None
    """Of a group of further columns: last and first day on which one of its heads was bought or,
    where no row says, first went in; None where nobody says."""

    @property
    def untried(self) -> bool:
        """True while no head has reached the rating, and few have failed.

        Nothing on record speaks of the ages beyond the oldest head then, and the prior alone would
        have few heads pass them: a shop in its first weeks would hold three times what it needs.
        So, for forecasts, the vendor's rating stands in for one head: as if it had run on from the
        oldest hour to the rating; for half a one after a failure, a quarter after two, and so on.
        """
        return self.assumed_heads > 0.0

    @property
    def assumed_heads(self) -> float:
        """For how many heads the rating stands in [heads]; 0 once one has reached it."""
        if not self.modes or self.oldest_hours >= self.rated_hours:
            return 0.0
        failures = sum(one.all_failures for one in self.modes.values())
        heads = ASSUMED_HEADS * HALVED**failures
        return heads if heads >= _LEAST_ASSUMED else 0.0

    @property
    def rests_on_rating(self) -> bool:
        """True while no head has reached the rating and none has failed.

        Half a failure (the prior's) would call every young fleet short of its rating then, so what
        is assumed for forecasts is assumed for the verdict too.
        """
        return self.untried and all(one.all_failures == 0 for one in self.modes.values())


def fit_modes(evidence: GroupEvidence, primary_mode: str) -> dict[str, Life]:
    """Learn the life of every failure mode of a group, the others censoring.

    Parameters
    ----------
    evidence : GroupEvidence
        Of the group.
    primary_mode : str
        Learned even when it has not occurred; other modes need one failure.

    Returns
    -------
    dict of str to Life
        The primary mode first, then the others by name; empty when no head has run. While no head
        has reached the rating it stands in for one head, and for less with every failure: in
        forecasts, and, while none has failed, in everything.
    """
    if primary_mode not in evidence.modes:
        return {}
    occurred = sorted(mode for mode, one in evidence.modes.items() if one.all_failures > 0)
    names = [primary_mode, *(mode for mode in occurred if mode != primary_mode)]
    if not evidence.untried:
        return {mode: fit_life(evidence.modes[mode]) for mode in names}
    assumed = Evidence.from_lives(
        evidence.oldest_hours,
        [evidence.rated_hours],
        [False],
        reference_hours=evidence.rated_hours,
        weights=[evidence.assumed_heads],
    )
    if evidence.rests_on_rating:
        return {mode: fit_life(evidence.modes[mode] + assumed) for mode in names}
    return {mode: replace(fit_life(evidence.modes[mode]), assumed=assumed) for mode in names}
