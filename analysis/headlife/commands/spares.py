"""`headlife spares`: what to hold, when to order, what the next four quarters cost.

Computes the answers once, prints them, and then writes the workbook for a buyer (`--xlsx`) and the
page (`--out`) from the same answers. On a mistake in the input no file is written or changed.
"""

from __future__ import annotations

import argparse
import math
from typing import TYPE_CHECKING

from headlife.commands import on_records, workers
from headlife.errors import HeadlifeError

if TYPE_CHECKING:
    from headlife.case import Case
    from headlife.decisions.spares.study import SparesStudy
    from headlife.show.markup import Html


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    on_records.add_arguments(parser)
    on_records.add_figures(parser)
    parser.add_argument(
        "--age", type=float, metavar="HOURS", help="a proposed swap age, to budget the year under"
    )
    parser.add_argument("--xlsx", metavar="BUDGET.xlsx", help="where to write the workbook")
    workers.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """As in `Command`: answer the storeroom and finance."""
    if args.age is not None and not (math.isfinite(args.age) and args.age > 0):
        raise HeadlifeError(f"--age is a number of hours above zero; got {args.age:g}.")
    outputs = on_records.check(args)
    page = outputs.claim(args.out, "--out", ending=".html") if args.out else None
    figures = on_records.figures_folder(args)
    workbook = outputs.claim(args.xlsx, "--xlsx", ending=".xlsx") if args.xlsx else None
    from headlife.show.terminal import progress_bar

    with workers.executor_asked_for(args) as run_on, progress_bar("reading the records") as report:
        case = on_records.case_of(args, report)
        from headlife.decisions.backtest import backtest
        from headlife.decisions.spares.study import spares_study

        study = spares_study(case, progress=report, executor=run_on, proposed_age=args.age)
        # The terminal shows the last quarter alone; the others cost minutes in a large fleet.
        shown = page is None and figures is None and not args.json
        past = backtest(case, progress=report, last_only=shown, executor=run_on)
    from headlife.show.spares.screen import print_spares
    from headlife.show.spares.values import spares_values

    screen = on_records.tell(
        args, lambda: spares_values(study, past), lambda on: print_spares(on, study, past)
    )
    on_records.write_file(workbook, lambda: _workbook(study), screen, "The workbook")
    if page is not None or figures is not None:
        from headlife.show.spares.page import spares_page

        on_records.write_page(
            lambda: spares_page(study, past, _sliders(case, study)), page, screen, figures
        )
    return 0


def _workbook(study: SparesStudy) -> bytes:
    from headlife.show.spares.workbook import budget_workbook

    return budget_workbook(study)


def _sliders(case: Case, study: SparesStudy) -> Html | None:
    """Make the page's sliders; there are none where there is no stock to ask about."""
    from headlife.decisions.policy.tried import services_to_try
    from headlife.decisions.spares.tried import tried_stocks
    from headlife.show.page import or_sentence
    from headlife.show.spares.on_page import what_if

    if not study.stock:
        return None
    shop = case.shop
    services = services_to_try(shop.spares.service_level)

    def made() -> Html:
        return what_if(study, shop, tried_stocks(case, services), services)

    return or_sentence("sliders to try other numbers", made)
