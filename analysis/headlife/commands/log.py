"""`headlife log`: a workbook to keep the log in, for a shop that has none yet.

Made from the settings: headings, lists to choose from, one example row. What is kept in it reads
back by the same settings. Never overwrites a file.
"""

from __future__ import annotations

import argparse

from headlife.show.files import Outputs, write_whole


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    parser.add_argument("--shop", required=True, help="the shop's settings file (TOML)")
    parser.add_argument("--out", metavar="LOG.xlsx", required=True, help="where to write it")


def run(args: argparse.Namespace) -> int:
    """As in `Command`: write the workbook."""
    from headlife.shop import read_shop
    from headlife.show.log_book import log_workbook
    from headlife.show.terminal import Screen

    place = Outputs([args.shop]).claim(args.out, "--out", ending=".xlsx", replace=False)
    write_whole(place, log_workbook(read_shop(args.shop)), replace=False)
    screen = Screen()
    screen.say(f"Written: {args.out}; its sheet How to says how to keep it.")
    screen.say(f"Then: headlife check {args.out} --shop {args.shop}")
    return 0
