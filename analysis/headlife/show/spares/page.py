"""The page of spares and budget: which sections, in which order, with which words.

From a spares study and the back-test; the notebook shows the same sections.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.show.markup import Html, badge, escape, first_lines, table, typeset
from headlife.show.page import Page, Section, closing
from headlife.show.words.budget import budget_sentence, coming_sentence, pooling_sentence
from headlife.show.words.days import day
from headlife.show.words.numbers import sentences
from headlife.show.words.past_forecasts import last_quarter_sentence
from headlife.show.words.purchases import BESIDE, BOUGHT, bought_sentence, last_year_sentence
from headlife.show.words.records import rows_read
from headlife.show.words.stock import (
    lead_time_sentence,
    note_sentence,
    order_sentence,
    order_words,
    stock_name,
    stock_sentence,
)

if TYPE_CHECKING:
    from headlife.decisions.backtest import Backtest
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.spares.study import SparesStudy

TITLE: Final = "Spares and budget"
_WHAT_IF: Final = (
    "Everything else on this page is answered for the numbers of the settings; here they move."
)
_RISK: Final = (
    "Above, the chance that someone asks for a head and finds none until the next delivery; below, "
    "what it costs to carry the heads and to let printers wait. The two measures of service "
    "differ: the cycle service level is the chance that nobody waits at all, the fill rate the "
    "share of requests served from the shelf."
)
_WEEKLY: Final = (
    "Counted from now: heads that fail, and heads that are swapped by plan as late after they are "
    "due as the records show. Both heads of a printer run its hours, or the share of them that "
    "their counters show; a change of material puts another head of those in circulation in place. "
    "What is not known about the life is in the range."
)
_BUDGET: Final = (
    "What is used up, not a change of the stock level; waiting for heads is left out, since the "
    "stock level above is there to prevent it. Do not add the quarters' ranges: the year has its "
    "own."
)
_YEAR: Final = "The year: median with the 80 % range; by plan and failures in the mean"
_PAST: Final = (
    "Every past quarter, forecast from what was known on its first day and compared with what "
    "happened. Heads are whole, so a range called 80 % holds about 80 %, never exactly; the "
    "chance it has is what is counted."
)


def spares_page(study: SparesStudy, past: Backtest, moved: Html | None = None) -> Page:
    """Lay out the page of spares and budget.

    Parameters
    ----------
    study : SparesStudy
        Stock, pooling and budget.
    past : Backtest
        Past forecasts beside what happened.
    moved : Html, optional
        The sliders, from `show.spares.on_page`; a notebook goes without.

    Returns
    -------
    Page
        The page.
    """
    from headlife.show.backtest import section
    from headlife.show.sliders import script
    from headlife.show.spares import budget, purchases, stock
    from headlife.show.words import in_short

    made = study.budget
    sections = {
        "stock": Section(
            "What does each stock level risk and cost?",
            _RISK,
            (
                (
                    "stock level against risk and money",
                    lambda: stock.risk_figures(study.stock, made.currency),
                ),
                ("stock levels", lambda: stock.level_table(study.stock, made.currency)),
            ),
            short="Stock levels",
            result=lambda: in_short.stock_in_short(study.stock),
        ),
        "weekly": Section(
            "What will be used up, week by week?",
            _WEEKLY,
            (("heads used up week by week", lambda: budget.weekly_figures(study)),),
            short="Week by week",
            result=lambda: in_short.weekly_in_short(study.weekly),
        ),
        "orders": Section(
            "What is to be ordered when?",
            BOUGHT,
            (
                (
                    "orders by day",
                    lambda: table(*purchases.orders(study), caption="Orders by day"),
                ),
            ),
            short="Orders",
            result=lambda: bought_sentence(study),
        ),
        "budget": Section(
            "What will the next four calendar quarters cost?",
            _BUDGET,
            (
                ("budget by quarter", lambda: budget.budget_figures(made)),
                ("budget", lambda: budget.budget_table(made)),
                ("budget by head type and site", lambda: budget.budget_parts_table(made)),
            ),
            short="Budget",
            result=lambda: in_short.budget_in_short(made),
        ),
        "beside": Section(
            "How does the year compare with the last one, and with other policies?",
            BESIDE,
            (
                (
                    "the year beside others",
                    lambda: table(*purchases.year_beside(study), caption=_YEAR),
                ),
            ),
            short="Year beside",
            result=lambda: last_year_sentence(study),
        ),
        "past": Section(
            "Did past forecasts come true?",
            _PAST,
            (
                ("past forecasts", lambda: section.backtest_figures(past)),
                ("past forecasts", lambda: section.backtest_table(past)),
            ),
            short="Past forecasts",
            result=lambda: in_short.past_in_short(past),
        ),
    }
    if moved is not None:
        tried = Section(
            "What if? Try your own numbers",
            _WHAT_IF,
            (("sliders", lambda: moved),),
            short="What if?",
            result=lambda: (
                "Service level, swap age, lead time, price: move them and read the answer."
            ),
            stays_open=True,
        )
        sections = {"what_if": tried} | sections
    title = f"{TITLE}: {study.shop_name}, {day(study.as_of)}"
    ours = "" if moved is None else script("spares")
    return Page(title, first_screen(study, past), sections, closing(study), ours)


def first_screen(study: SparesStudy, past: Backtest) -> Html:
    """Answer the storeroom and finance on one screen.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.
    past : Backtest
        Past forecasts beside what happened.

    Returns
    -------
    Html
        A piece of the page.
    """
    below = sentences(
        *study.notes,
        budget_sentence(study.budget),
        coming_sentence(study),
        pooling_sentence(study),
        last_quarter_sentence(past.last),
        lead_time_sentence(study),
    )
    when = f"as of {day(study.as_of)} · {rows_read(study)}"
    return first_lines(TITLE, study.shop_name, when) + Html(
        f'<div class="cards">{"".join(map(_card, study.stock))}</div>'
        f'<p class="reading">{typeset(below)}</p>'
    )


def _card(answer: StockAnswer) -> str:
    said = note_sentence(answer)
    note = f'<p class="note">{typeset(said)}</p>' if said else ""
    return (
        f'<section class="card"><h2>{escape(stock_name(answer))}</h2>'
        f'<p class="line">{badge(order_words(answer.plan))} {typeset(stock_sentence(answer))}</p>'
        f"<p>{typeset(order_sentence(answer))}</p>{note}</section>"
    )
