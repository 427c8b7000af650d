"""`headlife plan`: which heads are swapped in which gap between the builds ahead?

Prints the swaps and builds and writes them as CSV, XLSX, a calendar of the swaps and a page with
a calendar of the printers. On a mistake in the input no file is written or changed.
"""

from __future__ import annotations

import argparse
from functools import partial
from typing import TYPE_CHECKING, Final

from headlife.commands import answer_files, on_records
from headlife.commands.answer_files import AnswerFile

if TYPE_CHECKING:
    from headlife.case import Case
    from headlife.decisions.plan.build_plan import BuildPlan

_FILES: Final = (
    AnswerFile("csv", "PLAN.csv", "builds and swaps by day as CSV"),
    AnswerFile("xlsx", "PLAN.xlsx", "the plan as a workbook"),
    AnswerFile(
        "calendar", "PLAN.ics", "the swaps as a calendar that updates itself when read again"
    ),
)
_WIDTHS: Final = (12, 10, 14, 10, 26, 10, 12, 12, 9, 12, 12, 10, 34, 44)


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    on_records.add_arguments(parser)
    parser.add_argument(
        "--builds",
        metavar="BUILDS.csv",
        help="table of the builds ahead, CSV or XLSX (shared/columns.md); without it builds of "
        "the settings' usual length, as often as each printer prints",
    )
    parser.add_argument(
        "--weeks", type=float, metavar="WEEKS", help="how far ahead, without a table (4)"
    )
    answer_files.add_arguments(parser, _FILES)


def run(args: argparse.Namespace) -> int:
    """As in `Command`: plan the swaps."""
    given = None if args.builds is None else on_records.input_file(args.builds, "builds")
    outputs = on_records.check(args, *(() if given is None else (given,)))
    page = outputs.claim(args.out, "--out", ending=".html") if args.out else None
    places = answer_files.claim(args, outputs, _FILES)
    from headlife.show.terminal import progress_bar

    with progress_bar("reading the records") as report:
        plan = _plan(on_records.case_of(args, report), args)
    from headlife.show.plan.calendar import plan_calendar
    from headlife.show.plan.screen import print_plan
    from headlife.show.plan.values import plan_sheets, plan_values

    screen = on_records.tell(args, lambda: plan_values(plan), lambda on: print_plan(on, plan))
    if places:
        calendar = partial(plan_calendar, plan)
        answer_files.write(places, screen, plan_sheets(plan), _WIDTHS, calendar)
    if page is not None:
        from headlife.show.plan.page import plan_page

        on_records.write_page(lambda: plan_page(plan), page, screen)
    return 0


def _plan(case: Case, args: argparse.Namespace) -> BuildPlan:
    from headlife.decisions.plan.build_plan import WEEKS, build_plan
    from headlife.errors import HeadlifeError

    if args.builds is None:
        from headlife.decisions.policy.costs import shop_costs

        # Every head in place is planned for; what is missing is said before minutes of work.
        for head_type in sorted(set(case.fleet.positions["head_type"])):
            shop_costs(case.shop, head_type)
        return build_plan(case, weeks=WEEKS if args.weeks is None else args.weeks)
    if args.weeks is not None:
        raise HeadlifeError(
            "--weeks is how far ahead to plan without a table; --builds says it itself. Leave one "
            "of the two out."
        )
    from headlife.records.builds import read_builds

    return build_plan(case, read_builds(args.builds, case.shop.intake))
