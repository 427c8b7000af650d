"""`headlife review`: the answers of the quarter in the terminal and as one page.

Computes the answers, prints them, and then writes the page from the same answers. On a mistake in
the input no page is written or changed.
"""

from __future__ import annotations

import argparse

from headlife.commands import on_records


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command.

    Parameters
    ----------
    parser : argparse.ArgumentParser
        Of this command.
    """
    on_records.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Run the review.

    Parameters
    ----------
    args : argparse.Namespace
        The arguments of the command line, read.

    Returns
    -------
    int
        Exit code: 0 done.
    """
    outputs = on_records.check(args)
    page = outputs.claim(args.out, "--out") if args.out else None
    from headlife.show.terminal import Screen, print_json, progress_bar

    with progress_bar("reading the records") as report:
        case = on_records.case_of(args, report)
        from headlife.decisions.review import quarterly_review
        from headlife.decisions.two_ways import read_both_ways

        review = quarterly_review(case, progress=report)
        both = read_both_ways(review, case)
    screen = None
    if args.json:
        from headlife.show.review.values import review_values

        print_json(review_values(review, both))
    else:
        from headlife.show.review.screen import print_review

        screen = Screen()
        print_review(screen, review, both)
    if page is not None:
        from headlife.show.review.page import review_page

        on_records.write_page(lambda: review_page(case, review, both), page, screen)
    return 0
