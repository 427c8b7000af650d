"""Which entries are set aside with a stretch that cannot be used? Those that it was made of.

From the place of a stretch and what is wrong with it to the entries of the log, by their own
column and row; a mate of a faulty entry is set aside with it. Never judges.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import pandas as pd

from headlife.records.columns import Coded
from headlife.records.origins import Origins
from headlife.records.pairing import Paired
from headlife.records.set_aside import Aside

_EVENTS_OWN: Final = {
    "date_in": "date",
    "date_out": "date",
    "hours_in": "hours",
    "hours_out": "hours",
    "printer_hours_in": "printer_hours",
    "printer_hours_out": "printer_hours",
}
_OF_THE_CLOSING: Final = ("date_out", "hours_out", "printer_hours_out", "reason", "last_good_hours")


@dataclass
class StretchesAside:
    """Sets stretches aside: the entries that they were made of, and marks them as faulty."""

    entries: Aside
    """Faults by entry."""
    coded: Coded
    """The entries as written."""
    origins: Origins
    """Where they stand."""
    paired: Paired | None = None
    """How stretches were made of events; None where every entry is a stretch."""
    faulty_stretches: np.ndarray = field(default_factory=lambda: np.zeros(0, dtype=bool))
    """True for the stretches set aside, (stretches,)."""

    def add(self, column: str, places: Iterable[int], sentence: str) -> None:
        """Set stretches aside for what a column holds; the sentence follows column and value.

        Parameters
        ----------
        column : str
            Name of the column.
        places : iterable of int
            Places of the rows, from 0.
        sentence : str
            What is wrong and what to do.
        """
        if self.paired is None:
            self.entries.add(column, places, sentence)
            return
        for place in places:
            self.faulty_stretches[place] = True
            opened, closed = int(self.paired.opened[place]), int(self.paired.closed[place])
            first, other = opened, closed
            if column in _OF_THE_CLOSING and closed >= 0:
                first, other = closed, opened
            head = str(self.paired.rows["head"].iloc[place])
            self.entries.add(self.own(column, first), [first], sentence, head)
            if other >= 0 and other != first:
                row = self.origins.name(int(self.coded.rows[first]))
                mate = f"and its row belong to an installation whose row {row} cannot be used"
                self.entries.add(self.own("head", other), [other], mate, head)

    def faulty(self) -> np.ndarray:
        """Tell for each stretch whether it is set aside."""
        return self.entries.faulty() if self.paired is None else self.faulty_stretches.copy()

    def sound(self, rows: pd.DataFrame) -> pd.DataFrame:
        """Leave out the stretches that are set aside.

        Parameters
        ----------
        rows : DataFrame
            All stretches.

        Returns
        -------
        DataFrame
            Those that are not.
        """
        faulty = self.faulty()
        return rows[~faulty] if faulty.any() else rows

    def own(self, column: str, entry: int) -> str:
        """Name the column of the event that a stretch's column comes from.

        Parameters
        ----------
        column : str
            Name of the stretch's column.
        entry : int
            Place of the event, from 0.

        Returns
        -------
        str
            Its name.
        """
        own = _EVENTS_OWN.get(column, column)
        if own in self.coded.codes:
            return own
        serials = ("head", "head_in", "head_out")
        written = [name for name in serials if name in self.coded.codes]
        filled = [name for name in written if self.coded.text(name, entry).strip()]
        return (filled or written or [next(iter(self.coded.codes))])[0]
