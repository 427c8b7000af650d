"""`headlife changes`: what changed since the last quarter end, or another day.

Computes the answers, prints them, and then writes the page from the same answers. On a mistake in
the input no page is written or changed.
"""

from __future__ import annotations

import argparse
from pathlib import Path

from headlife.commands import on_records


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    on_records.add_arguments(parser)
    parser.add_argument(
        "--since", metavar="DATE", help="the earlier day (default: the last quarter end)"
    )
    parser.add_argument(
        "--earlier-shop", metavar="SHOP.toml", help="the settings file of that day, if you kept it"
    )


def run(args: argparse.Namespace) -> int:
    """As in `Command`: tell what changed."""
    if args.since is not None:
        on_records.day_of("--since", args.since)
    kept = args.earlier_shop
    more = [] if kept is None else [on_records.input_file(kept, "earlier settings")]
    outputs = on_records.check(args, *more)
    page = outputs.claim(args.out, "--out", ending=".html") if args.out else None
    from headlife.show.terminal import progress_bar

    with progress_bar("reading the records") as report:
        case = on_records.case_of(args, report)
        from headlife.decisions.changes import changes_since
        from headlife.shop import read_shop

        earlier = None if kept is None else read_shop(Path(kept).absolute())
        changes = changes_since(case, args.since, earlier, report)
    from headlife.show.changes.screen import print_changes
    from headlife.show.changes.values import changes_values

    screen = on_records.tell(
        args, lambda: changes_values(changes), lambda on: print_changes(on, changes)
    )
    if page is not None:
        from headlife.show.changes.page import changes_page

        on_records.write_page(lambda: changes_page(changes), page, screen)
    return 0
