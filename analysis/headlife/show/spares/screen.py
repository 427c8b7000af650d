"""Spares and budget on a terminal. From a `SparesStudy`; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.decisions.spares.budget import ALL, HEADS, PLANNED_KIND, UNPLANNED
from headlife.show.terminal import Screen
from headlife.show.words import budget as budget_words
from headlife.show.words import stock
from headlife.show.words.days import day
from headlife.show.words.past_forecasts import last_quarter_sentence
from headlife.show.words.purchases import BESIDE, bought_sentence

if TYPE_CHECKING:
    from headlife.decisions.backtest import Backtest
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.spares.study import SparesStudy

_BUDGET: Final = [
    (HEADS, ALL),
    (HEADS, PLANNED_KIND),
    (HEADS, UNPLANNED),
    ("labour hours", ALL),
    ("standstill hours", ALL),
    ("total", ALL),
]


def print_spares(screen: Screen, study: SparesStudy, past: Backtest) -> None:
    """Print stock, budget and what is said beside them.

    Parameters
    ----------
    screen : Screen
        Printed on.
    study : SparesStudy
        The answers about stock and budget.
    past : Backtest
        Past forecasts beside what happened.
    """
    from headlife.show.spares import purchases
    from headlife.show.spares.budget import by_quarter

    screen.head(f"{study.shop_name}: spares and budget as of {day(study.as_of)}")
    for note in study.notes:
        screen.say(note)
    screen.table(
        "What to hold and to order",
        ["Head type", "Hold", "Order now", "Again at", "In words"],
        [_stock(answer) for answer in study.stock],
        right=(1, 2, 3),
    )
    screen.table(
        "The calendar quarters ahead: median (80 % range)", *by_quarter(study.budget, _BUDGET)
    )
    screen.table("Orders by day", *purchases.orders(study))
    screen.table(
        "The year beside last year's, and under other policies", *purchases.year_beside(study)
    )
    screen.say(BESIDE)
    screen.gap()
    for said in (
        budget_words.budget_sentence(study.budget),
        bought_sentence(study),
        budget_words.coming_sentence(study),
        budget_words.pooling_sentence(study),
        last_quarter_sentence(past.last),
        stock.lead_time_sentence(study),
    ):
        if said:
            screen.say(said)


def _stock(answer: StockAnswer) -> list[object]:
    plan, words = answer.plan, stock.stock_words(answer)
    name, again = stock.stock_name(answer), answer.reorder_point
    return [name, plan.stock_level, plan.order_now, again, words]
