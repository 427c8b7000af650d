"""`headlife backtest`: did past forecasts come true?

Rolls the records back to each past quarter end, forecasts the next quarter and prints it beside
what happened. Quarters have nothing to do with each other, so workers can share them.
"""

from __future__ import annotations

import argparse

from headlife.commands import on_records, workers


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """As in `Command`."""
    on_records.add_arguments(parser, as_of="use nothing after this day", page=False)
    workers.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """As in `Command`: compare past forecasts with what happened."""
    on_records.check(args)
    from headlife.show.terminal import progress_bar

    with workers.executor_asked_for(args) as executor, progress_bar("reading the records") as tell:
        case = on_records.case_of(args, tell)
        from headlife.decisions.backtest import backtest

        past = backtest(case, progress=tell, executor=executor)
    from headlife.show.backtest.screen import print_backtest
    from headlife.show.backtest.values import past_values

    on_records.tell(
        args, lambda: past_values(past), lambda on: print_backtest(on, case.shop.name, past)
    )
    return 0
