"""Check that the cells of one row make sense together.

Answers from typed rows which of them contradict themselves, as (row, column, sentence). It is
the one gate: what passes is not checked again elsewhere. It never compares two rows (that is
the audit) and never mends a value.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import pandas as pd


@dataclass(frozen=True)
class Contradiction:
    """A row whose cells do not make sense together."""

    index: int
    """Position of the row in the typed table."""
    column: str
    """Standard column to look at first."""
    sentence: str
    """What is wrong and what to do; the sentence follows the column and its value."""


def contradictions(typed: pd.DataFrame) -> Iterator[Contradiction]:
    """Find rows whose cells contradict each other.

    Parameters
    ----------
    typed : DataFrame
        Rows without a cell problem: hours [h], dates, and `mode`, the failure mode that ended
        the installation or None. The index is each row's place in the table.

    Yields
    ------
    Contradiction
        One per failed check, in the order of the checks.
    """
    places = typed.index.to_numpy()
    for column, wrong, sentence in _checks(typed):
        for i in np.flatnonzero(wrong).tolist():
            yield Contradiction(int(places[i]), column, sentence)


def _checks(typed: pd.DataFrame) -> Iterator[tuple[str, np.ndarray, str]]:
    """Give column, rows that fail and sentence; a blank cell fails nothing."""
    hours_in, hours_out = typed["hours_in"].to_numpy(), typed["hours_out"].to_numpy()
    yield (
        "hours_out",
        hours_out < hours_in,
        "lies below hours_in; an hour counter does not run backwards, correct one of the two",
    )
    yield (
        "date_out",
        typed["date_out"].to_numpy() < typed["date_in"].to_numpy(),
        "lies before date_in; correct one of the two",
    )
    yield (
        "last_good_hours",
        hours_out < typed["last_good_hours"].to_numpy(),
        "lies above hours_out; write the last hour reading at which the head was known good",
    )
    yield (
        "hours_out",
        typed["mode"].notna().to_numpy() & (hours_out <= 0),
        "is 0 for a head that failed; a head that failed at start-up has run for at least 0.1 h, "
        "write that",
    )
