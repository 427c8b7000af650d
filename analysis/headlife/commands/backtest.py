"""`headlife backtest`: did past forecasts come true?

Rolls the records back to each past quarter end, forecasts the next quarter and prints it beside
what happened. Quarters have nothing to do with each other, so workers can share them.
"""

from __future__ import annotations

import argparse
from typing import Any

from headlife.commands import on_records
from headlife.show import workers


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the arguments of this command."""
    on_records.add_arguments(parser, as_of="use nothing after this day", page=False)
    workers.add_arguments(parser)


def run(args: argparse.Namespace) -> int:
    """Compare past forecasts with what happened."""
    import headlife
    from headlife.show.page import shop_in_force
    from headlife.show.past_forecasts import backtest_answers
    from headlife.show.terminal import print_json, progress_bar

    given = on_records.parameters_of(args)
    shop = shop_in_force(given["shop_file"], seed=given["seed"], set_aside=given["set_aside"])
    with workers.executor_asked_for(args) as executor, progress_bar("reading the records") as tell:
        records = headlife.read_records(given["records_file"], shop)
        past = headlife.backtest(
            records, shop, as_of=given["as_of"], progress=tell, executor=executor
        )
    answers = backtest_answers(past)
    if args.json:
        print_json(answers)
    else:
        _print(shop.name, answers)
    return 0


def _print(shop: str, answers: dict[str, Any]) -> None:
    from headlife.show.sentences import span_of_heads
    from headlife.show.terminal import console, grid, safe

    screen = console()
    screen.print(safe(f"{shop}: past forecasts, up to {answers['as_of']}"), style="bold")
    made = grid(
        "\nHeads used up in each past quarter: said on its first day, and happened",
        ["Quarter", "Head type", "Positions", "Said, 80 %", "Said, 95 %", "Happened", "Outcome"],
        right=(2, 3, 4, 5),
    )
    for row in answers["quarters"]:
        outcome = "outside"
        if row["inside_95"]:
            outcome = "inside 80 %" if row["inside_80"] else "inside 95 %"
        made.add_row(
            row["quarter"],
            safe(row["head_type"]),
            str(row["positions"]),
            span_of_heads(row["low_80"], row["high_80"]),
            span_of_heads(row["low_95"], row["high_95"]),
            str(row["happened"]),
            outcome,
        )
    screen.print(made)
    screen.print()
    screen.print(safe(answers["coverage_sentence"]))
    if answers["last_quarter"]:
        screen.print(safe(answers["last_quarter"]))
