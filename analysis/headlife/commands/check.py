"""`headlife check`: can these records be trusted, and where can they not?

Says what keeps rows from being used, by cause, and every doubt about rows that are; on screen, as a
page, as CSV and XLSX beside the table, and in a copy of the shop's own workbook with the cells
coloured and commented. Exit code 2 when any row cannot be used.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Final

from headlife.commands.on_records import day_of, record_files, tell

_ROWS_UNUSABLE: Final = 2


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    parser.add_argument("records", metavar="RECORDS", help="table of head removals, or a folder")
    parser.add_argument("--shop", required=True, help="the shop's settings file (TOML)")
    parser.add_argument("--today", metavar="DATE", help="day for finding dates in the future")
    parser.add_argument("--out", metavar="PAGE.html", help="where to write the page")
    parser.add_argument("--no-files", action="store_true", help="write no files beside the table")
    parser.add_argument("--json", action="store_true", help="print the answers for a program")


def run(args: argparse.Namespace) -> int:
    """As in `Command`: check the records."""
    today = None if args.today is None else day_of("--today", args.today)
    inputs = record_files(args.records)
    from headlife.records.audit import audit
    from headlife.records.lives import two_readings
    from headlife.records.table import read_records
    from headlife.shop import read_shop
    from headlife.show.check.files import claim_findings, write_findings
    from headlife.show.files import Outputs, write_whole
    from headlife.show.terminal import progress_bar

    shop = read_shop(args.shop)
    log = Path(args.records)
    log = log.resolve() if log.is_dir() else log
    outputs = Outputs([*inputs, args.shop])
    page = None if args.out is None else outputs.claim(args.out, "--out", ending=".html")
    places = None if args.no_files else claim_findings(log, outputs)
    with progress_bar("reading rows") as report:
        records = read_records(args.records, shop, progress=report, unknown="set aside")
        findings = audit(records, today)
        unread = records.accepted.empty or bool(records.questions)
        tests = () if unread else two_readings(records).tests
    from headlife.show.check.screen import print_check
    from headlife.show.check.values import check_values

    screen = tell(
        args,
        lambda: check_values(records, findings, tests),
        lambda on: print_check(on, records, findings, tests),
    )
    written = []
    if places is not None:
        written += write_findings(log, records, findings, places)
    if page is not None:
        from headlife.show.check.page import check_page

        write_whole(page, check_page(records, findings).html().encode())
        written.append(page)
    if screen is not None:
        for place in written:
            screen.say(f"Written: {place}")
    return _ROWS_UNUSABLE if len(records.set_aside) or records.questions else 0
