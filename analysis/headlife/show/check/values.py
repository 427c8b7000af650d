"""The result of a check of records as plain values: what a program reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from headlife.records.causes import causes
from headlife.show.plain import document, rows

if TYPE_CHECKING:
    import pandas as pd

    from headlife.records.counter import CounterTest
    from headlife.records.record_set import Records


def check_values(
    records: Records, findings: pd.DataFrame, tests: Sequence[CounterTest]
) -> dict[str, Any]:
    """Give rows read, accepted and set aside, every finding and the tests of the counter.

    Parameters
    ----------
    records : Records
        The records.
    findings : DataFrame
        What the audit found.
    tests : sequence of CounterTest
        Tests of the counter's marks.

    Returns
    -------
    dict of str to Any
        Values that survive JSON.
    """
    return document(
        file=records.source,
        sha256=records.sha256,
        rows_read=records.rows_read,
        rows_accepted=records.rows_used,
        rows_set_aside=len(records.set_aside),
        no_records=rows(records.no_records),
        questions=list(records.questions),
        unused_columns=list(records.unused_columns),
        notes=list(records.notes),
        sheets_not_read=list(records.not_read),
        to_do=list(records.shop.to_do),
        causes=[
            {
                "column": cause.column,
                "value": cause.value,
                "problem": cause.problem,
                "rows": [records.origins.name(row) for row in cause.rows],
            }
            for cause in causes(records.set_aside, records.origins)
        ],
        findings=rows(findings),
        counter_tests=[asdict(test) for test in tests],
    )
