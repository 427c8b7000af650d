"""`headlife review`: the answers of the quarter in the terminal and as one page.

Executes the notebook `quarterly_review.ipynb` on the records given, prints the answers it found
and writes the page. On a mistake in the input no page is written or changed.
"""

from __future__ import annotations

import argparse
import datetime
import sys
from pathlib import Path
from typing import Any, Final

from headlife.errors import HeadlifeError

NOTEBOOK: Final = "quarterly_review.ipynb"
_STOCK_WORDS: Final = ("sentence", "doubt_sentence", "last_quarter_sentence")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    parser.add_argument("records", metavar="RECORDS", help="table of head removals")
    parser.add_argument("--shop", required=True, help="the shop's settings file (TOML)")
    parser.add_argument("--out", metavar="PAGE.html", help="where to write the page")
    parser.add_argument("--as-of", metavar="DATE", help="look at the records as on this day")
    parser.add_argument("--seed", type=int, help="seed of the random numbers (default: settings)")
    parser.add_argument(
        "--set-aside",
        choices=("stop", "continue"),
        help="what to do when rows cannot be used (default: settings)",
    )
    parser.add_argument("--json", action="store_true", help="print the answers for a program")


def run(args: argparse.Namespace) -> int:
    """Run the review."""
    from headlife.shop import read_shop
    from headlife.show.report import check_writable

    given = parameters_of(args)
    page = Path(args.out).absolute() if args.out else None
    if page is not None:
        check_writable(page)
        keep_inputs(page, args)
    read_shop(given["shop_file"])  # a mistake in the settings is told before any Python starts
    from headlife.show.notebook import NotebookFailure
    from headlife.show.terminal import print_json, progress_bar

    try:
        with progress_bar("starting Python for the notebook") as report:
            answers = _execute(given, page, report)
    except NotebookFailure as fault:
        print(f"headlife: a fault of headlife, not of your files. {fault}", file=sys.stderr)
        return 1
    if args.json:
        print_json(answers)
    else:
        _print(answers, args.out)
    return 0


def _execute(given: dict[str, Any], page: Path | None, report: Any) -> dict[str, Any]:
    from headlife.show.answers import answers_in
    from headlife.show.notebook import execute, shipped_notebook
    from headlife.show.report import page_html, write_whole

    notebook = execute(shipped_notebook(NOTEBOOK), given, folder=Path.cwd(), progress=report)
    answers = answers_in(notebook)
    if page is not None:
        report("writing the page", 0, 0)
        title = f"Quarterly head review: {answers['shop']}, {answers['as_of']}"
        write_whole(page, page_html(notebook, title))
    return answers


def parameters_of(args: argparse.Namespace) -> dict[str, Any]:
    """Turn the arguments into parameters of a notebook; a mistake becomes its sentence."""
    if args.seed is not None and args.seed < 0:
        raise HeadlifeError(f"--seed is a whole number, 0 or more; got {args.seed}.")
    if args.as_of is not None:
        try:
            datetime.date.fromisoformat(args.as_of)
        except ValueError:
            raise HeadlifeError(
                f"--as-of '{args.as_of}' is not a date; write year-month-day, such as 2026-09-30."
            ) from None
    given = {
        "records_file": str(Path(args.records).absolute()),
        "shop_file": str(Path(args.shop).absolute()),
        "as_of": args.as_of,
        "seed": args.seed,
        "set_aside": args.set_aside,
    }
    for name, what in (("records_file", "records"), ("shop_file", "settings")):
        if not Path(given[name]).is_file():
            raise HeadlifeError(
                f"The {what} file {given[name]} does not exist; check its name and folder."
            )
    return given


def keep_inputs(page: Path, args: argparse.Namespace) -> None:
    """Refuse a page that would overwrite the records or the settings."""
    for source in (args.records, args.shop):
        if page.resolve() == Path(source).resolve():
            raise HeadlifeError(f"--out {args.out} would overwrite the input; choose another name.")


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
