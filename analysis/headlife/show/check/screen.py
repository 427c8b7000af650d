"""What a check of records found, on a terminal. Computes nothing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from headlife.records.causes import causes
from headlife.records.cells import quoted
from headlife.records.findings import NOT_READ
from headlife.show.plain import lines
from headlife.show.terminal import Screen
from headlife.show.words.numbers import counted, decimals, whole

if TYPE_CHECKING:
    import pandas as pd

    from headlife.records.counter import CounterTest
    from headlife.records.record_set import Records

_PRINTED: Final = 50


def print_check(
    screen: Screen, records: Records, findings: pd.DataFrame, tests: Sequence[CounterTest]
) -> None:
    """Print what to mend, and where removals pile up at the counter's marks.

    Parameters
    ----------
    screen : Screen
        Printed on.
    records : Records
        The records.
    findings : DataFrame
        What the audit found.
    tests : sequence of CounterTest
        Tests of the counter's marks.
    """
    screen.say(records.summary())
    if findings.empty:
        screen.say("Nothing to mend: every row is used and no two rows disagree.")
    for question in records.questions:
        screen.say(f"State this first; nothing is answered until it is settled: {question}.")
    if records.shop.to_do:
        marked = counted(len(records.shop.to_do), "line", "lines")
        screen.say(
            f"{marked} of the settings still marked TO DO: confirm each, take the mark away."
        )
    _print_causes(screen, records)
    # What is not read is in the summary.
    kept = findings[(findings["severity"] != "error") & (findings["treatment"] != NOT_READ)]
    screen.table(
        "Doubts",
        ["Rows", "What", "In words"],
        [
            [one.rows, f"{one.severity}: {one.check}", one.sentence]
            for one in lines(kept.head(_PRINTED))
        ],
    )
    if len(kept) > _PRINTED:
        screen.say(f"and {len(kept) - _PRINTED:,} more.")
    screen.table(
        "Heads called worn out at the counter's marks",
        ["Head type", "Mark [h]", "There", "Expected", "Pile-up"],
        [
            [
                test.head_type,
                f"{test.mark} {whole(test.mark_hours)}",
                test.worn_in_band,
                "unknown" if math.isnan(test.expected) else decimals(test.expected, 1),
                "yes" if test.piled_up else "no",
            ]
            for test in tests
        ],
        right=(1, 2, 3),
    )


def _print_causes(screen: Screen, records: Records) -> None:
    """Print what keeps rows from being used, one line a cause."""
    found = causes(records.set_aside, records.origins)
    screen.table(
        "What keeps rows from being used, by cause",
        ["Rows", "Where", "In words"],
        [
            [
                str(len(cause.rows)),
                cause.named,
                f"{cause.column} {'' if cause.one_value else 'such as '}{quoted(cause.value)} "
                f"{cause.problem}.",
            ]
            for cause in found[:_PRINTED]
        ],
        right=(0,),
    )
    if len(found) > _PRINTED:
        screen.say(f"and {len(found) - _PRINTED:,} more causes.")
