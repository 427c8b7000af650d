"""`headlife review`: the answers of the quarter in the terminal and as one page.

Computes the answers, prints them, and then writes the page and the list of actions from the same
answers. On a mistake in the input no file is written or changed.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from headlife.commands import on_records
from headlife.errors import HeadlifeError

if TYPE_CHECKING:
    from headlife.case import Case
    from headlife.decisions.came_of import CameOf
    from headlife.decisions.review_answers import Review
    from headlife.decisions.two_ways import TwoWays
    from headlife.show.files import Outputs


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    on_records.add_arguments(parser)
    on_records.add_figures(parser)
    parser.add_argument(
        "--actions-to",
        metavar="TODO.xlsx",
        help="where to write what is to be done, as a workbook or CSV to fill in and give back",
    )
    parser.add_argument(
        "--actions", metavar="TODO.xlsx", help="that file of an earlier review, filled in"
    )


def run(args: argparse.Namespace) -> int:
    """As in `Command`: run the review."""
    given = None if args.actions is None else on_records.input_file(args.actions, "actions")
    outputs = on_records.check(args, *(() if given is None else (given,)))
    page = outputs.claim(args.out, "--out", ending=".html") if args.out else None
    figures = on_records.figures_folder(args)
    table = None if args.actions_to is None else _table(args.actions_to, outputs)
    from headlife.show.terminal import progress_bar

    with progress_bar("reading the records") as report:
        case = on_records.case_of(args, report)
        from headlife.decisions.actions import actions_of
        from headlife.decisions.review import quarterly_review
        from headlife.decisions.two_ways import read_both_ways

        review = quarterly_review(case, progress=report)
        both = read_both_ways(review, case)
        actions = actions_of(review, case.shop, both)
        came = None if given is None else _came_of(given, case, review, both)
    from headlife.show.review.screen import print_review
    from headlife.show.review.values import review_values

    screen = on_records.tell(
        args,
        lambda: review_values(review, both, actions, came),
        lambda on: print_review(on, review, both, actions, came),
    )
    if table is not None:
        from headlife.show.actions.table import action_file

        workbook = table.suffix.lower() == ".xlsx"
        to_do = "What to do, to fill in and give back"
        on_records.write_file(table, lambda: action_file(actions, workbook), screen, to_do)
    if page is not None or figures is not None:
        from headlife.show.review.page import review_page

        on_records.write_page(
            lambda: review_page(case, review, both, actions, came), page, screen, figures
        )
    return 0


def _table(name: str, outputs: Outputs) -> Path:
    """Claim the list of actions; it is a workbook or a CSV."""
    if Path(name).suffix.lower() not in (".xlsx", ".csv"):
        raise HeadlifeError(f"--actions-to {name} must end in .xlsx or .csv.")
    return outputs.claim(name, "--actions-to")


def _came_of(
    given: Path, case: Case, review: Review, both: TwoWays
) -> tuple[tuple[CameOf, ...], tuple[str, ...]]:
    """Say what came of the actions given back, and name rows that could not be answered."""
    from headlife.decisions.came_of import came_of
    from headlife.records.action_list import read_action_list

    back = read_action_list(given, review.shop_name, review.as_of.date())
    return came_of(back.rows, case, review, both), back.problems
