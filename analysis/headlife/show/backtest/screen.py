"""Past forecasts beside what happened, on a terminal. From a `Backtest`; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.show.plain import lines
from headlife.show.terminal import Screen
from headlife.show.words.days import day
from headlife.show.words.numbers import span_of_heads
from headlife.show.words.past_forecasts import coverage_sentence, last_quarter_sentence, outcome

if TYPE_CHECKING:
    from headlife.decisions.backtest import Backtest


def print_backtest(screen: Screen, shop: str, past: Backtest) -> None:
    """Print every past quarter, and how often forecasts came true.

    Parameters
    ----------
    screen : Screen
        Printed on.
    shop : str
        The shop's name.
    past : Backtest
        Past forecasts beside what happened.
    """
    screen.head(f"{shop}: past forecasts, up to {day(past.as_of)}")
    screen.table(
        "Heads used up in each past quarter: said on its first day, and happened",
        ["Quarter", "Head type", "Positions", "Said, 80 %", "Said, 95 %", "Happened", "Outcome"],
        [
            [
                row.quarter,
                row.head_type,
                row.positions,
                span_of_heads(row.low_80, row.high_80),
                span_of_heads(row.low_95, row.high_95),
                row.happened,
                outcome(row),
            ]
            for row in lines(past.quarters)
        ],
        right=(2, 3, 4, 5),
    )
    screen.gap()
    screen.say(coverage_sentence(past))
    said = last_quarter_sentence(past.last)
    if said:
        screen.say(said)
