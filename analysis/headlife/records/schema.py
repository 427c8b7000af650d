"""Check that the cells of one row make sense together.

Answers from typed rows which of them contradict themselves, as (row, column, sentence). It is
the one gate: what passes is not checked again elsewhere. It never compares two rows (that is
the audit) and never mends a value.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

if TYPE_CHECKING:
    from collections.abc import Iterator

_NOT_BELOW_ZERO = {
    "hours_run": (
        "hours_out",
        "lies below hours_in; an hour counter does not run backwards, correct one of the two",
    ),
    "days_in": (
        "date_out",
        "lies before date_in; correct one of the two",
    ),
    "hours_after_last_good": (
        "last_good_hours",
        "lies above hours_out; write the last hour reading at which the head was known good",
    ),
    "failed_after": (
        "hours_out",
        "is 0 for a head that failed; a head that failed at start-up has run for at least 0.1 h, "
        "write that",
    ),
}


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
        the installation or None.

    Yields
    ------
    Contradiction
        One per failed check, in the order of the checks.
    """
    import pandera.errors

    schema = _schema()
    try:
        schema.validate(_differences(typed), lazy=True)
    except pandera.errors.SchemaErrors as problems:
        cases = problems.failure_cases
        if cases["index"].isna().any():  # a fault of ours, not of the table
            raise
        order = {name: i for i, name in enumerate(_NOT_BELOW_ZERO)}
        for name, index in sorted(
            zip(cases["column"], cases["index"], strict=True), key=lambda c: (order[c[0]], c[1])
        ):
            column, sentence = _NOT_BELOW_ZERO[name]
            yield Contradiction(int(index), column, sentence)


def _differences(typed: pd.DataFrame) -> pd.DataFrame:
    """Write every rule as a difference that must not be negative; blank where it is not asked."""
    failed_at_zero = typed["mode"].notna().to_numpy() & (typed["hours_out"].to_numpy() <= 0)
    return pd.DataFrame(
        {
            "hours_run": typed["hours_out"] - typed["hours_in"],
            "days_in": (typed["date_out"] - typed["date_in"]).dt.total_seconds(),
            "hours_after_last_good": typed["hours_out"] - typed["last_good_hours"],
            "failed_after": np.where(failed_at_zero, -1.0, 0.0),
        }
    )


@cache
def _schema() -> Any:
    import pandera.pandas as pa

    not_below_zero = pa.Check.ge(0.0)
    return pa.DataFrameSchema(
        {name: pa.Column(float, not_below_zero, nullable=True) for name in _NOT_BELOW_ZERO},
        strict=True,
    )
