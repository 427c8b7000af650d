"""How many spares? Demand, stock level against risk and money, as figures and tables.

From stock answers, those of the review and of the spares study alike; computes no answer.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from headlife.show.figures import demand, style, svg
from headlife.show.figures import stock_risk as figures
from headlife.show.markup import Html, table
from headlife.show.page import panels
from headlife.show.plain import lines
from headlife.show.words import pictures
from headlife.show.words.numbers import decimals, money, percent
from headlife.show.words.stock import note_sentence, order_sentence, stock_name, stock_sentence

if TYPE_CHECKING:
    from headlife.decisions.spares.levels import StockAnswer

_NEAR_LEVEL: Final = 3  # stock levels listed below and above the planned one


def demand_figures(stock: Sequence[StockAnswer]) -> Html:
    """Draw the demand of each head type against its stock level.

    Parameters
    ----------
    stock : sequence of StockAnswer
        The answers about every stock.

    Returns
    -------
    Html
        A piece of the page.
    """
    return panels("demand", [(stock_name(answer), partial(_demand, answer)) for answer in stock])


def _demand(answer: StockAnswer) -> Html:
    plan, name = answer.plan, stock_name(answer)
    bars = demand.demand_bars(answer.demand.pmf, plan.stock_level)
    picture = style.as_svg(
        lambda ax: demand.draw_service(ax, bars, plan.stock_level, plan.service_level, title=name),
        lambda ax: demand.draw_demand(
            ax, bars, plan.stock_level, horizon_weeks=answer.horizon_weeks
        ),
        heights=(1.0, 2.0),
    )
    said = stock_sentence(answer)
    return svg.figure_html(
        picture,
        pictures.demand_shown(name, bars, plan.stock_level),
        f"{said} {note_sentence(answer)}".strip(),
    )


def risk_figures(stock: Sequence[StockAnswer], currency: str) -> Html:
    """Draw stock level against risk and money, one panel per stock.

    Parameters
    ----------
    stock : sequence of StockAnswer
        The answers about every stock.
    currency : str
        In which amounts are stated; empty where none is.

    Returns
    -------
    Html
        A piece of the page.
    """
    return panels(
        "stock level against risk and money",
        [(stock_name(answer), partial(_risk, answer, currency)) for answer in stock],
    )


def _risk(answer: StockAnswer, currency: str) -> Html:
    level, least = answer.plan.stock_level, answer.balanced_level
    bars = figures.risk_bars(answer.plan.table, level, least)
    name = stock_name(answer)
    return svg.figure_html(
        style.as_svg(
            lambda ax: figures.draw_risk(ax, bars, level, title=name),
            lambda ax: figures.draw_cost(ax, bars, level, least, currency=currency),
            heights=(1.0, 1.6),
        ),
        pictures.risk_shown(name, bars),
        order_sentence(answer),
    )


def level_table(stock: Sequence[StockAnswer], currency: str) -> Html:
    """Tabulate stock level against risk, and money where costs are stated, near the planned one.

    Parameters
    ----------
    stock : sequence of StockAnswer
        The answers about every stock.
    currency : str
        In which amounts are stated; empty where none is.

    Returns
    -------
    Html
        A piece of the page.
    """
    priced = bool(stock) and all("total_cost" in answer.plan.table for answer in stock)
    headings = level_headings(priced, currency)
    return table(
        headings,
        [row for answer in stock for row in _level_rows(answer, priced)],
        caption=f"Stock level against risk{' and money' if priced else ''}, over lead time and "
        "review period",
        numbers=tuple(range(1, len(headings))),
    )


def level_headings(priced: bool, currency: str) -> list[str]:
    """Name the columns of a table of stock levels.

    Parameters
    ----------
    priced : bool
        Whether carrying and waiting have a cost.
    currency : str
        In which amounts are stated.

    Returns
    -------
    list of str
        Headings with their units.
    """
    headings = [
        "Head type",
        "Stock level [heads]",
        "Nobody waits (cycle service) [%]",
        "Requests filled from stock (fill rate) [%]",
        "Heads short on average [heads]",
        "Printers wait [h]",
    ]
    return headings + ([f"Carrying [{currency}]", f"Waiting [{currency}]"] if priced else [])


def _level_rows(answer: StockAnswer, priced: bool) -> Iterator[list[object]]:
    level, levels = answer.plan.stock_level, answer.plan.table
    near: Any = levels[levels["stock_level"].between(level - _NEAR_LEVEL, level + _NEAR_LEVEL)]
    for line in lines(near):
        row: list[object] = [
            stock_name(answer),
            f"{line.stock_level}{' ← planned' if line.stock_level == level else ''}",
            percent(line.service),
            percent(line.fill_rate),
            decimals(line.expected_shortfall, 2),
            decimals(line.idle_hours, 1),
        ]
        if priced:
            row += [money(line.carrying_cost), money(line.waiting_cost)]
        yield row
