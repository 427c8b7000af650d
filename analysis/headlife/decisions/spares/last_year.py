"""What did the last four quarters use, buy and cost, at today's prices?

From the records: heads used up, by failure or by plan, visits, and new heads taken, quarter by
quarter. What a shop paid then is not in its records, so amounts are what the same would cost today.
Never forecasts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from headlife.decisions.spares.budget import ALL, SWAPS_OF, YEAR, items
from headlife.futures.visits import FAILED, JOINED, PLANNED
from headlife.quarters import quarters_behind
from headlife.records.used_up import new_heads_between, swaps_between

if TYPE_CHECKING:
    import pandas as pd

    from headlife.quarters import Quarter
    from headlife.records.record_set import Records
    from headlife.shop import Costs


@dataclass(frozen=True)
class LastYear:
    """The last four whole quarters."""

    quarters: tuple[Quarter, ...]
    """The quarters, the oldest first."""
    lines: pd.DataFrame
    """One row per period (quarters by name, year), kind (planned, unplanned, all) and item:
    `unit` and `happened`, of all head types and sites."""
    taken: Mapping[str, int]
    """New heads taken by period; heads that came with a printer are not among them [heads]."""
    complete: bool
    """Whether the records reach back over all of it."""

    def happened(self, item: str, period: str = YEAR, kind: str = ALL) -> float | None:
        """Give what happened of one item, or None where it is not told.

        Parameters
        ----------
        item : str
            As in `Budget.lines`.
        period : str, optional
            Quarter by name, or the year.
        kind : str, optional
            planned, unplanned or all.

        Returns
        -------
        float or None
            The amount, in the unit of the item.
        """
        rows = self.lines
        found = rows[(rows["item"] == item) & (rows["period"] == period) & (rows["kind"] == kind)]
        return None if found.empty else float(found["happened"].iloc[0])


def last_year(
    records: Records, day: Any, costs: Costs, prices: Mapping[str, float | None]
) -> LastYear:
    """Count what the last four whole quarters used.

    Parameters
    ----------
    records : Records
        What `read_records` returned.
    day : date
        The day.
    costs : Costs
        What swaps, failures and waiting cost today.
    prices : mapping of str to float or None
        Price of a new head today, by head type [currency].

    Returns
    -------
    LastYear
        The quarters; empty counts where the records do not reach back.
    """
    import pandas as pd

    quarters = quarters_behind(pd.Timestamp(day).date())
    before = [pd.Timestamp(one.first) - pd.Timedelta(days=1) for one in quarters]
    ends = [pd.Timestamp(one.last) for one in quarters]
    swaps = [swaps_between(records, *span) for span in zip(before, ends, strict=True)]
    taken = [len(new_heads_between(records, *span)) for span in zip(before, ends, strict=True)]
    rows = []
    for kind in SWAPS_OF:
        for item, (unit, amounts) in _items(swaps, costs, prices, kind).items():
            for quarter, amount in zip(quarters, amounts.tolist(), strict=True):
                rows.append((quarter.name, kind, item, unit, amount))
            rows.append((YEAR, kind, item, unit, float(amounts.sum())))
    return LastYear(
        quarters=quarters,
        lines=pd.DataFrame(rows, columns=["period", "kind", "item", "unit", "happened"]),
        taken={one.name: n for one, n in zip(quarters, taken, strict=True)} | {YEAR: sum(taken)},
        complete=bool(records.accepted["date_in"].min() <= before[0] + pd.Timedelta(days=1)),
    )


def _items(
    swaps: list[pd.DataFrame], costs: Costs, prices: Mapping[str, float | None], kind: str
) -> dict[str, tuple[str, np.ndarray]]:
    """Use and cost by quarter, all head types together; amounts only where all have a price."""
    names = sorted({str(name) for rows in swaps for name in rows["head_type"].unique()})
    parts = [
        items(
            _counts([rows[rows["head_type"] == name] for rows in swaps], kind), costs, prices[name]
        )
        for name in names or list(prices)
    ]
    told = [item for item in parts[0] if all(item in part for part in parts)]
    return {
        item: (parts[0][item][0], np.sum([part[item][1] for part in parts], axis=0))
        for item in told
    }


def _counts(swaps: list[pd.DataFrame], kind: str) -> dict[str, np.ndarray]:
    """Heads of one type by quarter: failed, planned, and swapped along on the same day."""
    found = {which: np.zeros(len(swaps)) for which in SWAPS_OF[ALL]}
    for at, rows in enumerate(swaps):
        failed = rows["mode"].notna()
        # The second head of a visit needs no visit of its own; a failure is the first.
        visit = rows.assign(_failed=~failed, _day=rows["date_out"].dt.normalize())
        visit = visit.sort_values("_failed", kind="stable")
        along = visit.duplicated(["printer", "_day"]).reindex(rows.index) & ~failed
        found[FAILED][at] = failed.sum()
        found[JOINED][at] = along.sum()
        found[PLANNED][at] = len(rows) - failed.sum() - along.sum()
    return {
        which: amounts if which in SWAPS_OF[kind] else np.zeros_like(amounts)
        for which, amounts in found.items()
    }
