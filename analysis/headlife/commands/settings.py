"""`headlife settings`: a first draft of the settings file, from the shop's own table.

Finds how the log is laid out and written, which column is which, and proposes what its reasons and
roles mean; a person finishes and confirms the lines marked TO DO. It ends by saying what is left
to state, in order. Never overwrites a file.
"""

from __future__ import annotations

import argparse
from typing import Final

from headlife.commands.on_records import input_file
from headlife.show.files import Outputs, write_whole

_NOTHING: Final = "Nothing in the log is new."


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    parser.add_argument("records", metavar="RECORDS", help="the shop's own table of removals")
    parser.add_argument("--out", metavar="SHOP.toml", help="where to write it (default: print it)")
    parser.add_argument(
        "--from",
        dest="earlier",
        metavar="EARLIER.toml",
        help="an earlier settings file: what it says stays, what is new in the log is added",
    )
    parser.add_argument("--sheet", help="sheet of a workbook, when several look like the table")


def run(args: argparse.Namespace) -> int:
    """As in `Command`: draft the settings."""
    input_file(args.records, "records")
    from headlife.records.draft import draft_with_steps
    from headlife.show.terminal import Screen, print_file

    place = None
    if args.out is not None:
        inputs = [args.records, *([args.earlier] if args.earlier else [])]
        place = Outputs(inputs).claim(args.out, "--out", ending=".toml", replace=False)
    text, steps = draft_with_steps(args.records, args.sheet, args.earlier)
    if place is None:
        print_file(text)
        return 0
    write_whole(place, text.encode(), replace=False)
    screen = Screen()
    screen.say(f"Draft written to {args.out}. Left to state, in order:" if steps else _NOTHING)
    for n, step in enumerate(steps, start=1):
        screen.say(f"{n}. {step}.")
    screen.say(f"Then: headlife check {args.records} --shop {args.out}")
    return 0
