"""`headlife due`: which heads are due, on which day, and what to do about each.

Prints the list, the most urgent first, and writes it as CSV, XLSX, a calendar and a page for the
phone at the printer. On a mistake in the input no file is written or changed.
"""

from __future__ import annotations

import argparse
from functools import partial
from typing import Final

from headlife.commands import answer_files, on_records
from headlife.commands.answer_files import AnswerFile

_FILES: Final = (
    AnswerFile("csv", "DUE.csv", "the list as CSV"),
    AnswerFile("xlsx", "DUE.xlsx", "the list as a workbook"),
    AnswerFile("calendar", "DUE.ics", "a calendar that updates itself when read again"),
)
_WIDTHS: Final = (26, 10, 12, 9, 14, 12, 10, 10)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    on_records.add_arguments(parser)
    parser.add_argument(
        "--build", type=float, metavar="HOURS", help="length of the next long build (settings)"
    )
    answer_files.add_arguments(parser, _FILES)


def run(args: argparse.Namespace) -> int:
    """As in `Command`: list what is due."""
    outputs = on_records.check(args)
    page = outputs.claim(args.out, "--out", ending=".html") if args.out else None
    places = answer_files.claim(args, outputs, _FILES)
    from headlife.show.terminal import progress_bar

    with progress_bar("reading the records") as report:
        case = on_records.case_of(args, report)
        from headlife.decisions.due import due_list

        due = due_list(case, args.build)
    from headlife.show.due.calendar import due_calendar
    from headlife.show.due.screen import print_due
    from headlife.show.due.values import due_rows, due_values

    screen = on_records.tell(args, lambda: due_values(due), lambda on: print_due(on, due))
    if places:
        sheets = {"Due": due_rows(due)}
        answer_files.write(places, screen, sheets, _WIDTHS, partial(due_calendar, due))
    if page is not None:
        from headlife.show.due.page import due_page

        on_records.write_page(lambda: due_page(due), page, screen)
    return 0
