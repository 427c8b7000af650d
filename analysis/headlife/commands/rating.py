"""`headlife rating`: does a rated life hold, from nothing but a table of lifetimes?

Reads hours, failed or not, and where given counts, late entries and groups; fits each group and
all together, and prints estimates, bounds of both kinds and the verdict.
"""

from __future__ import annotations

import argparse

from headlife.commands.on_records import input_file, tell
from headlife.errors import HeadlifeError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    parser.add_argument(
        "lives",
        metavar="LIVES.csv",
        help="table with hours, failed and, where given, count, entry_hours, group",
    )
    parser.add_argument(
        "--rated-hours", type=float, required=True, metavar="H", help="the rated hours [h]"
    )
    parser.add_argument(
        "--share", type=float, default=0.90, help="share that should reach it (default 0.90)"
    )
    parser.add_argument(
        "--confidence",
        type=float,
        default=0.95,
        help="how sure a verdict, and each bound of a range by itself, must be (default 0.95; "
        "0.975 gives ranges that as a whole hold 95 %%)",
    )
    parser.add_argument("--json", action="store_true", help="print the answers for a program")


def run(args: argparse.Namespace) -> int:
    """As in `Command`: judge every group, and all groups together when there are several."""
    from headlife.shop.values import LEAST_HOURS, MOST_HOURS

    if not LEAST_HOURS <= args.rated_hours <= MOST_HOURS:
        raise HeadlifeError(
            f"--rated-hours is the rating in hours, above 0 and at most {MOST_HOURS:,.0f}; got "
            f"{args.rated_hours:g}."
        )
    input_file(args.lives, "lifetimes")
    from headlife.decisions.lifetimes import judge_lifetimes
    from headlife.records.lifetimes import read_lifetimes

    lives = read_lifetimes(args.lives)
    groups = judge_lifetimes(lives, args.rated_hours, args.share, args.confidence)
    from headlife.show.lifetimes.screen import print_lifetimes
    from headlife.show.lifetimes.values import lifetimes_values

    tell(args, lambda: lifetimes_values(groups), lambda on: print_lifetimes(on, groups))
    return 0
