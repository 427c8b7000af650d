"""`headlife spares`: what to hold, when to order, what the next four quarters cost.

Prints stock and budget, writes the workbook for a buyer with `--xlsx` and the page with `--out`.
On a mistake in the input no file is written or changed.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any, Final

from headlife.commands import on_records

NOTEBOOK: Final = "spares_budget.ipynb"
_TITLE: Final = "Spares and budget"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    on_records.add_arguments(parser)
    parser.add_argument("--xlsx", metavar="BUDGET.xlsx", help="where to write the workbook")


def run(args: argparse.Namespace) -> int:
    """Answer the storeroom and finance."""
    from headlife.shop import read_shop
    from headlife.show.report import check_writable

    given = on_records.parameters_of(args)
    page = Path(args.out).absolute() if args.out else None
    workbook = Path(args.xlsx).absolute() if args.xlsx else None
    for file in (page, workbook):
        if file is not None:
            check_writable(file)
            on_records.keep_inputs(file, args)
    from headlife.show.notebook import NotebookFailure
    from headlife.show.terminal import print_json, progress_bar

    try:
        with progress_bar("reading the records") as report:
            answers = {}
            if page is not None:
                read_shop(given["shop_file"])  # a mistake there is told before any Python starts
                answers = on_records.answers_and_page(NOTEBOOK, _TITLE, given, page, report)
            if workbook is not None or page is None:
                answers = _answers(given, workbook, report)
    except NotebookFailure as fault:
        return on_records.own_fault(fault)
    if args.json:
        print_json(answers)
    else:
        _print(answers, [args.out, args.xlsx])
    return 0


def _answers(given: dict[str, Any], workbook: Path | None, report: Any) -> dict[str, Any]:
    import headlife
    from headlife.show.page import shop_in_force
    from headlife.show.spares_answers import spares_answers
    from headlife.show.workbook import write_workbook

    shop = shop_in_force(given["shop_file"], seed=given["seed"], set_aside=given["set_aside"])
    records = headlife.read_records(given["records_file"], shop)
    study = headlife.spares_study(records, shop, as_of=given["as_of"], progress=report)
    if workbook is not None:
        report("writing the workbook", 0, 0)
        write_workbook(study, workbook)
    return spares_answers(study)


def _print(answers: dict[str, Any], files: list[str | None]) -> None:
    from headlife.show.terminal import console, grid, safe

    screen = console()
    screen.print(
        safe(f"{answers['shop']}: spares and budget as of {answers['as_of']}"), style="bold"
    )
    stock = grid(
        "\nWhat to hold and to order",
        ["Head type", "Hold", "Order now", "Again at", "In words"],
        right=(1, 2, 3),
    )
    for one in answers["stock"]:
        name = one["head_type"] if one["site"] is None else f"{one['head_type']}, {one['site']}"
        words = f"{one['sentence']} {one['order_sentence']} {one['note']}".strip()
        stock.add_row(
            safe(name),
            str(one["stock_level"]),
            str(one["order_now"]),
            str(one["reorder_point"]),
            safe(words),
        )
    screen.print(stock)
    screen.print(_budget(answers["budget"]))
    screen.print()
    screen.print(safe(answers["budget"]["sentence"]))
    if answers["new_printers"]["sentence"]:
        screen.print(safe(answers["new_printers"]["sentence"]))
    for file in files:
        if file:
            screen.print(safe(f"Written: {file}"))


def _budget(budget: dict[str, Any]) -> Any:
    from headlife.show.sentences import money
    from headlife.show.terminal import grid, safe

    periods = ["Q1", "Q2", "Q3", "Q4", "year"]
    made = grid(
        "\nThe next four quarters: median (80 % band)",
        ["Item", *periods],
        right=tuple(range(1, 6)),
    )
    whole = [
        line for line in budget["lines"] if line["head_type"] == "all" and line["site"] == "all"
    ]
    for item, kind in (
        ("heads", "all"),
        ("heads", "planned"),
        ("heads", "unplanned"),
        ("labour hours", "all"),
        ("standstill hours", "all"),
        ("total", "all"),
    ):
        found = {
            line["period"]: line for line in whole if (line["item"], line["kind"]) == (item, kind)
        }
        if not found:
            continue
        name = item if kind == "all" else f"{item}, {kind}"
        unit = next(iter(found.values()))["unit"]
        cells = [
            f"{money(found[p]['median'])} ({money(found[p]['low'])}–{money(found[p]['high'])})"
            if item not in ("heads",)
            else f"{found[p]['median']:.0f} ({found[p]['low']:.0f}–{found[p]['high']:.0f})"
            for p in periods
        ]
        made.add_row(safe(f"{name} [{unit}]"), *cells)
    return made
