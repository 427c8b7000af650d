"""`headlife review`: the answers of the quarter in the terminal and as one page.

Executes the notebook `quarterly_review.ipynb` on the records given, prints the answers it found
and writes the page. On a mistake in the input no page is written or changed.
"""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any, Final

from headlife.commands import on_records

NOTEBOOK: Final = "quarterly_review.ipynb"
_TITLE: Final = "Quarterly head review"
_STOCK_WORDS: Final = ("sentence", "ahead_sentence", "doubt_sentence", "last_quarter_sentence")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    on_records.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Run the review."""
    from headlife.shop import read_shop
    from headlife.show.report import check_writable

    given = on_records.parameters_of(args)
    page = Path(args.out).absolute() if args.out else None
    if page is not None:
        check_writable(page)
        on_records.keep_inputs(page, args)
    read_shop(given["shop_file"])  # a mistake in the settings is told before any Python starts
    from headlife.show.notebook import NotebookFailure
    from headlife.show.terminal import print_json, progress_bar

    try:
        with progress_bar("starting Python for the notebook") as report:
            answers = on_records.answers_and_page(NOTEBOOK, _TITLE, given, page, report)
    except NotebookFailure as fault:
        return on_records.own_fault(fault)
    if args.json:
        print_json(answers)
    else:
        _print(answers, args.out)
    return 0


def _print(answers: dict[str, Any], out: str | None) -> None:
    from headlife.show.terminal import console, grid, safe, verdict_text

    screen = console()
    records = answers["records"]
    screen.print(
        safe(f"{answers['shop']}: quarterly head review as of {answers['as_of']}"), style="bold"
    )
    screen.print(
        safe(
            f"{records['rows_read']:,} rows read from {records['file']}, "
            f"{records['rows_set_aside']:,} set aside"
        )
    )
    screen.print()
    ratings = grid("Does the rating hold?", ["Head type, role", "Verdict", "In words"])
    for one in answers["ratings"]:
        ratings.add_row(
            safe(f"{one['head_type']}, {one['role']}"),
            verdict_text(one["verdict"]),
            safe(f"{one['sentence']} {one['doubt_sentence']}".strip()),
        )
    spares = grid(
        "\nHow many spares?", ["Head type", "Hold", "Order now", "In words"], right=(1, 2)
    )
    for one in answers["spares"]:
        spares.add_row(
            safe(", ".join(name for name in (one["head_type"], one["site"]) if name)),
            str(one["stock_level"]),
            str(one["order_now"]),
            safe(" ".join(one[part] for part in _STOCK_WORDS if one[part])),
        )
    watch = grid("\nWhich heads to watch?", ["Head type, role", "In words"])
    for one in answers["ratings"]:
        watch.add_row(safe(f"{one['head_type']}, {one['role']}"), safe(one["watch_sentence"]))
    for part in (ratings, spares, watch):
        screen.print(part)
    if out:
        screen.print()
        screen.print(safe(f"The page: {out}"))
