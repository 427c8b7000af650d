"""`headlife settings`: a first draft of the settings file, from the shop's own table.

Guesses which column is which and lists every reason, head type and role it found; a person
finishes the lines marked TO DO. Never overwrites a file.
"""

from __future__ import annotations

import argparse

from headlife.commands.on_records import input_file
from headlife.show.files import Outputs, write_whole


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    parser.add_argument("records", metavar="RECORDS", help="the shop's own table of removals")
    parser.add_argument("--out", metavar="SHOP.toml", help="where to write it (default: print it)")
    parser.add_argument("--sheet", help="sheet of a workbook, when several look like the table")


def run(args: argparse.Namespace) -> int:
    """Draft the settings.

    Parameters
    ----------
    args : argparse.Namespace
        The arguments of the command line, read.

    Returns
    -------
    int
        Exit code: 0 done.
    """
    input_file(args.records, "records")
    from headlife.records.draft import draft_settings
    from headlife.show.terminal import Screen, print_file

    place = None
    if args.out is not None:
        place = Outputs([args.records]).claim(args.out, "--out", replace=False)
    text = draft_settings(args.records, args.sheet)
    if place is None:
        print_file(text)
        return 0
    write_whole(place, text.encode(), replace=False)
    Screen().say(
        f"Draft written to {args.out}: finish the lines marked TO DO, then run headlife check."
    )
    return 0
