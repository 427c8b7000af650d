"""`headlife settings`: a first draft of the settings file, from the shop's own table.

Guesses which column is which and lists every reason, head type and role it found; a person
finishes the lines marked TO DO. Never overwrites a file.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from headlife.errors import HeadlifeError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    parser.add_argument("records", metavar="RECORDS", help="the shop's own table of removals")
    parser.add_argument("--out", metavar="SHOP.toml", help="where to write it (default: print it)")
    parser.add_argument("--sheet", help="sheet of a workbook, when several look like the table")


def run(args: argparse.Namespace) -> int:
    """Draft the settings."""
    from headlife.records.draft import draft_settings

    text = draft_settings(args.records, args.sheet)
    if args.out is None:
        sys.stdout.write(text)
        return 0
    try:
        with Path(args.out).open("x", encoding="utf-8", newline="\n") as stream:
            stream.write(text)
    except FileExistsError:
        raise HeadlifeError(
            f"--out {args.out} exists already; choose another name, so that nothing is lost."
        ) from None
    except OSError as problem:
        raise HeadlifeError(
            f"--out {args.out} cannot be written ({problem.strerror}); choose another folder."
        ) from None
    print(f"Draft written to {args.out}: finish the lines marked TO DO, then run headlife check.")
    return 0
