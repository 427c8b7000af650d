"""What do the commands that answer from records and settings share?

The arguments that name both, the parameters they give a notebook, and the run of a notebook that
gives answers and perhaps a page. No command itself.
"""

from __future__ import annotations

import argparse
import datetime
import sys
from pathlib import Path
from typing import Any

from headlife.errors import HeadlifeError


def add_arguments(
    parser: argparse.ArgumentParser,
    as_of: str = "look at the records as on this day",
    page: bool = True,
) -> None:
    """Add the arguments that name records, settings and how to look at them.

    Parameters
    ----------
    parser : ArgumentParser
        Of the command.
    as_of : str
        What `--as-of` does, for the help.
    page : bool
        Whether the command can write a page.
    """
    parser.add_argument("records", metavar="RECORDS", help="table of head removals")
    parser.add_argument("--shop", required=True, help="the shop's settings file (TOML)")
    if page:
        parser.add_argument("--out", metavar="PAGE.html", help="where to write the page")
    parser.add_argument("--as-of", metavar="DATE", help=as_of)
    parser.add_argument("--seed", type=int, help="seed of the random numbers (default: settings)")
    parser.add_argument(
        "--set-aside",
        choices=("stop", "continue"),
        help="what to do when rows cannot be used (default: settings)",
    )
    parser.add_argument("--json", action="store_true", help="print the answers for a program")


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


def answers_and_page(
    name: str, title: str, given: dict[str, Any], page: Path | None, report: Any
) -> dict[str, Any]:
    """Execute a notebook on the records given and return the answers it holds.

    Parameters
    ----------
    name : str
        File name of a notebook that comes with headlife.
    title : str
        Of the page; shop and day are added.
    given : dict
        Parameters of the notebook; see `parameters_of`.
    page : Path or None
        Where to write the page, if anywhere.
    report : callable
        Called with (step, done, total).

    Raises
    ------
    NotebookFailure
        A fault of ours stopped the notebook; nothing is written.
    HeadlifeError
        A mistake in the input, or the page cannot be written there.
    """
    from headlife.show.answers import answers_in
    from headlife.show.notebook import execute, shipped_notebook
    from headlife.show.report import page_html, write_whole

    notebook = execute(shipped_notebook(name), given, folder=Path.cwd(), progress=report)
    answers = answers_in(notebook)
    if page is not None:
        report("writing the page", 0, 0)
        write_whole(page, page_html(notebook, f"{title}: {answers['shop']}, {answers['as_of']}"))
    return answers


def own_fault(fault: Exception) -> int:
    """Say that the fault is headlife's own, and give the exit code for it."""
    print(f"headlife: a fault of headlife, not of your files. {fault}", file=sys.stderr)
    return 1
