"""`headlife check`: can these records be trusted, and where can they not?

Lists every row that cannot be used and every doubt about rows that can, prints it and writes it
as CSV and XLSX beside the table. Exit code 2 when any row cannot be used.
"""

from __future__ import annotations

import argparse
import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from headlife.errors import HeadlifeError

if TYPE_CHECKING:
    import pandas as pd

    from headlife.records.counter import CounterTest
    from headlife.records.record_set import Records

_ROWS_UNUSABLE: Final = 2
_PRINTED: Final = 50


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    parser.add_argument("records", metavar="RECORDS", help="table of head removals")
    parser.add_argument("--shop", required=True, help="the shop's settings file (TOML)")
    parser.add_argument("--today", metavar="DATE", help="day for finding dates in the future")
    parser.add_argument("--no-files", action="store_true", help="write no files beside the table")
    parser.add_argument("--json", action="store_true", help="print the answers for a program")


def run(args: argparse.Namespace) -> int:
    """Check the records."""
    from headlife.records.audit import audit
    from headlife.records.table import read_records
    from headlife.shop import read_shop
    from headlife.show.findings import write_findings
    from headlife.show.terminal import print_json, progress_bar

    today = _today(args.today)
    shop = read_shop(args.shop)
    with progress_bar("reading rows") as report:
        records = read_records(args.records, shop, progress=report, unknown="set aside")
        findings = audit(records, today)
    files = () if args.no_files else write_findings(findings, Path(args.records))
    if args.json:
        print_json(check_answers(records, findings))
    else:
        _print(records, findings, files)
    return _ROWS_UNUSABLE if len(records.set_aside) or records.questions else 0


def _today(text: str | None) -> datetime.date | None:
    try:
        return None if text is None else datetime.date.fromisoformat(text)
    except ValueError:
        raise HeadlifeError(
            f"--today '{text}' is not a date; write year-month-day, such as 2026-09-30."
        ) from None


def check_answers(records: Records, findings: pd.DataFrame) -> dict[str, Any]:
    """Give the result of a check as plain data."""
    from dataclasses import asdict

    return {
        "format": 1,
        "file": records.source,
        "sha256": records.sha256,
        "rows_read": records.rows_read,
        "rows_accepted": len(records.accepted),
        "rows_set_aside": len(records.set_aside),
        "unused_columns": list(records.unused_columns),
        "findings": findings.to_dict(orient="records"),
        "counter_tests": [_finite(asdict(test)) for test in _tests(records)],
    }


def _finite(values: dict[str, Any]) -> dict[str, Any]:
    return {name: None if value != value else value for name, value in values.items()}


def _tests(records: Records) -> tuple[CounterTest, ...]:
    from headlife.records.lives import two_readings

    return () if records.accepted.empty or records.questions else two_readings(records).tests


def _print(records: Records, findings: pd.DataFrame, files: tuple[Path, ...]) -> None:
    from headlife.show.terminal import console, grid, safe

    screen = console()
    screen.print(safe(records.summary()))
    if findings.empty:
        screen.print(safe("Nothing to mend: every row is used and no two rows disagree."))
    else:
        table = grid("What to mend", ["Rows", "What", "In words"])
        for _, one in findings.head(_PRINTED).iterrows():
            table.add_row(
                safe(one["rows"]),
                safe(f"{one['severity']}: {one['check']}"),
                safe(one["sentence"]),
            )
        screen.print(table)
        if len(findings) > _PRINTED:
            screen.print(safe(f"and {len(findings) - _PRINTED:,} more."))
    marks = grid(
        "\nHeads called worn out at the counter's marks",
        ["Head type", "Mark [h]", "There", "Expected", "Pile-up"],
        right=(1, 2, 3),
    )
    for test in _tests(records):
        expected = "unknown" if test.expected != test.expected else f"{test.expected:.1f}"
        marks.add_row(
            safe(test.head_type),
            safe(f"{test.mark} {test.mark_hours:,.0f}"),
            safe(test.worn_in_band),
            safe(expected),
            safe("yes" if test.piled_up else "no"),
        )
    if marks.row_count:
        screen.print(marks)
    for file in files:
        screen.print(safe(f"Written: {file}"))
