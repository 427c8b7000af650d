"""`headlife vendor`: one page on one head type for its vendor, and nothing else of the shop.

Computes the answers, prints them, and then writes the page and the list of heads that failed within
the warranty from the same answers. On a mistake in the input no file is written or changed.
"""

from __future__ import annotations

import argparse

from headlife.commands import on_records


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    on_records.add_arguments(parser)
    parser.add_argument("--type", required=True, metavar="NAME", help="the head type it is about")
    parser.add_argument(
        "--vendor", metavar="NAME", help="whose heads, where the records name several vendors"
    )
    parser.add_argument(
        "--csv", metavar="HEADS.csv", help="where to write heads that failed within the warranty"
    )


def run(args: argparse.Namespace) -> int:
    """As in `Command`: tell what a vendor may know."""
    outputs = on_records.check(args)
    page = outputs.claim(args.out, "--out", ending=".html") if args.out else None
    table = outputs.claim(args.csv, "--csv", ending=".csv") if args.csv else None
    from headlife.show.terminal import progress_bar

    with progress_bar("reading the records") as report:
        case = on_records.case_of(args, report)
        from headlife.decisions.vendor import vendor_statement

        said = vendor_statement(case, args.type, args.vendor)
    from headlife.show.vendor.screen import print_vendor
    from headlife.show.vendor.table import warranty_csv
    from headlife.show.vendor.values import vendor_values

    screen = on_records.tell(args, lambda: vendor_values(said), lambda on: print_vendor(on, said))
    heads = "Heads that failed within the warranty"
    on_records.write_file(table, lambda: warranty_csv(said), screen, heads)
    if page is not None:
        from headlife.show.vendor.page import vendor_page

        on_records.write_page(lambda: vendor_page(said), page, screen)
    return 0
