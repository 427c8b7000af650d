"""Compare rows with each other: what cannot be true together, and what is doubtful.

Answers from rows that are sound one by one. What leaves a head's life uncertain (a counter that
runs backwards, a head used after it failed, more print hours than the days have) sets rows
aside; what an honest slip explains without touching the hours (dates that overlap, a role that
changes) is kept and flagged. Each finding says which. It never mends a row.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import astuple
from datetime import date
from typing import Final

import numpy as np
import pandas as pd

from headlife.records.busier import CHANGED, changed_hours, stopped_hours
from headlife.records.cells import quoted
from headlife.records.chains import follow_heads
from headlife.records.checks import (
    far_future,
    plausible_until,
    too_many_hours,
    twice,
    types,
)
from headlife.records.counter import FALSE_ALARM_RATE
from headlife.records.doubts import (
    came_back,
    first_mentions,
    future,
    no_hours,
    roles,
    spellings,
    two_statements,
)
from headlife.records.findings import (
    NOT_ANSWERED,
    NOT_READ,
    SET_ASIDE,
    Fault,
    Finding,
    doubt,
    name_rows,
)
from headlife.records.frames import columns_of
from headlife.records.lives import TwoReadings, two_readings
from headlife.records.missing_rows import ROWS_MISSING, missing_rows
from headlife.records.places import left_open, positions, stale
from headlife.records.quiet import quiet_quarters, silent
from headlife.records.record_set import Records
from headlife.shop import Shop

# Columns that rows of different heads are compared by.
COMPARED: Final = (
    *("row", "head", "printer", "position", "date_in", "date_out", "hours_in", "hours_out"),
    *("reason", "mode", "refurbished"),
)


def cross_rows(
    rows: pd.DataFrame,
    shop: Shop,
    within_heads: bool = False,
    found: Callable[[pd.DataFrame], Sequence[Finding]] = lambda _: (),
    newest: np.datetime64 | None = None,
) -> tuple[list[Fault], pd.DataFrame]:
    """Compare sound rows with each other.

    Parameters
    ----------
    rows : DataFrame
        Typed rows without a fault of their own; the index is each row's place in the table.
    shop : Shop
        The settings.
    within_heads : bool
        Compare rows of the same head only: what a part of a record can be asked, when it holds
        every row of its heads.
    found : callable
        Gives doubts about the rows that stay, to be listed first.
    newest : datetime64, optional
        Where only a part of a record is compared, the last day of the whole that is no slip of the
        year (`plausible_until`), once that is known.

    Returns
    -------
    conflicts : list of Fault
        Rows to set aside, each once.
    findings : DataFrame
        Doubts about the rows that stay: `check, severity, treatment, rows, head, sentence`.
    """
    if rows.empty:
        return [], findings_frame(found(rows))
    conflicts = {c.place: c for check in (too_many_hours, types, twice) for c in check(rows)}
    if not within_heads:
        days = rows["date_out"].to_numpy().astype("datetime64[D]")
        newest = plausible_until(days, date.today())  # noqa: DTZ011
    if newest is not None:
        conflicts = {c.place: c for c in far_future(rows, newest)} | conflicts
    left = rows.drop(index=list(conflicts)) if conflicts else rows
    backwards, doubts = follow_heads(left, shop)
    conflicts |= {c.place: c for c in backwards}
    left = left.drop(index=[c.place for c in backwards]) if backwards else left
    if left.empty:
        return list(conflicts.values()), findings_frame(found(left))
    findings = [*found(left), *doubts]
    for check in (roles, two_statements, no_hours):
        findings += check(left)
    if not within_heads:
        findings += [*spellings(first_mentions(left)), *across_heads(left, shop)]
    return list(conflicts.values()), findings_frame(findings)


def across_heads(rows: pd.DataFrame, shop: Shop) -> list[Finding]:
    """Find what is doubtful in rows of different heads beside each other.

    Parameters
    ----------
    rows : DataFrame
        All accepted rows, `COMPARED` of their columns.
    shop : Shop
        The settings.

    Returns
    -------
    list of Finding
        The findings.
    """
    checks = (positions, left_open, came_back, missing_rows)
    found = [finding for check in checks for finding in check(rows)]
    # A plan says what changed.
    return found if shop.plans else [*found, *changed_hours(rows), *stopped_hours(rows)]


def over_time(rows: pd.DataFrame, today: date) -> list[Finding]:
    """Find what the days of rows make doubtful: to come, long ago, long without a row.

    Parameters
    ----------
    rows : DataFrame
        All accepted rows, `COMPARED` of their columns.
    today : date
        As for `audit`.

    Returns
    -------
    list of Finding
        The findings.
    """
    return [*future(rows, today), *stale(rows, today), *silent(rows), *quiet_quarters(rows)]


def audit(records: Records, today: date | None = None) -> pd.DataFrame:
    """List everything that is wrong or doubtful in a shop's records.

    Parameters
    ----------
    records : Records
        From `read_records`.
    today : date, optional
        Rows dated after it are flagged, and readings are stale against the newest one not after
        it; default the computer's date.

    Returns
    -------
    DataFrame
        As `frames` describes findings; errors first, then doubts, then notes.

    Examples
    --------
    >>> import headlife as hl
    >>> shop = hl.read_shop("data_demo/shop.toml")
    >>> records = hl.read_records("data_demo/removals.csv", shop)
    >>> findings = hl.audit(records)
    >>> list(findings.columns)
    ['check', 'severity', 'treatment', 'rows', 'head', 'sentence']
    >>> len(findings)
    0
    """
    name = records.origins.name
    aside = [
        Finding("not settled", "error", NOT_ANSWERED, "", "", f"{records.source}: {question}.")
        for question in records.questions
    ]
    aside += [
        Finding("row set aside", "error", SET_ASIDE, name(row), head or "", sentence)
        for row, head, sentence in zip(
            records.set_aside["row"].tolist(),
            records.set_aside["head"].tolist(),
            records.sentences(),
            strict=True,
        )
    ]
    unread = [Finding("sheet not read", "doubt", NOT_READ, "", "", s) for s in records.not_read]
    day = today or date.today()  # noqa: DTZ011
    rows = records.origins.named(records.accepted)
    can_be_read = len(records.accepted) and not records.questions
    later = [
        *unread,
        *(Finding(*values) for values in records.findings.itertuples(index=False, name=None)),
        *over_time(rows, day),
        *(_pile_ups(two_readings(records), records) if can_be_read else ()),
    ]
    rank = {"error": 0, "doubt": 1, "note": 2}
    return findings_frame([*aside, *sorted(later, key=lambda finding: rank[finding.severity])])


def said_with_answers(findings: pd.DataFrame) -> list[str]:
    """Give the findings that every answer tells: what no answer can be right without.

    Parameters
    ----------
    findings : DataFrame
        Findings of records, as `Records.findings` holds them.

    Returns
    -------
    list of str
        Their sentences.
    """
    told = findings["check"].isin((ROWS_MISSING, CHANGED))
    return [str(said) for said in findings.loc[told, "sentence"]]


def findings_frame(findings: Sequence[Finding]) -> pd.DataFrame:
    """Put findings into the table that `frames` describes.

    Parameters
    ----------
    findings : sequence of Finding
        The findings.

    Returns
    -------
    DataFrame
        The table.
    """
    return pd.DataFrame(
        [astuple(f) for f in findings], columns=list(columns_of("findings"))
    ).astype(object)


def _pile_ups(readings: TwoReadings, records: Records) -> Iterator[Finding]:
    for test in readings.tests:
        if not test.piled_up:
            continue
        of_type = readings.doubtful[readings.doubtful["head_type"] == test.head_type]
        hours = of_type["exit_hours"]
        rows = of_type[(hours > test.band_from) & (hours <= test.band_to)]
        yield doubt(
            "pile-up at the counter",
            name_rows(records.origins.named(rows)["row"]),
            "",
            f"{test.worn_in_band} heads of type {quoted(test.head_type)} are called worn out "
            f"between {test.band_from:,.0f} and {test.band_to:,.0f} h, at the {test.mark} of "
            f"{test.mark_hours:,.0f} h, where {test.expected:.1f} would be expected from the hours "
            f"beside it (p = {test.p_value:.2g}, false alarms at most {FALSE_ALARM_RATE:.0%}): the "
            "counter may have taken them out, not wear. Answers are given with them as failures "
            'and as suspensions; write "swap at rating" where that was the reason.',
        )
