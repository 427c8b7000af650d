"""The storeroom's and finance's page: how many heads, when to order, what the year costs.

From a `SparesStudy`; gives the first screen, tables and figures for cells of the notebook.
Computes no answer and words none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.spares.budget import ALL, HEADS, MONEY, PLANNED_KIND, UNPLANNED, YEAR
from headlife.show import sentences
from headlife.show.figures import spares as figures
from headlife.show.figures import style
from headlife.show.markup import Html, badge, escape, panels, table, typeset
from headlife.show.past_forecasts import backtest_sentence
from headlife.show.sentences import money, span_of_heads
from headlife.show.spares_answers import (
    budget_sentence,
    coming_sentence,
    order_sentence,
    pooling_sentence,
)

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.backtest import Backtest
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.spares.study import SparesStudy

_NEAR_LEVEL: Final = 3  # stock levels listed below and above the planned one
_PERIODS: Final = ("Q1", "Q2", "Q3", "Q4", YEAR)
_HOURS: Final = ("labour hours", "calibration hours", "standstill hours", "scrapped builds")
_SPLIT: Final = (HEADS, "total")  # items told apart by plan and by failure


def headline(study: SparesStudy, past: Backtest) -> Html:
    """Answer the storeroom and finance on one screen."""
    cards = "".join(
        f'<section class="card"><h2>{escape(sentences.stock_name(answer))}</h2>'
        f'<p class="line">{badge(_order(answer))} {typeset(sentences.stock_sentence(answer))}</p>'
        f"<p>{typeset(order_sentence(answer))}</p>"
        + (f'<p class="note">{typeset(answer.note)}</p>' if answer.note else "")
        + "</section>"
        for answer in study.stock
    )
    below = " ".join(
        part
        for part in (
            budget_sentence(study.budget),
            coming_sentence(study),
            pooling_sentence(study),
            backtest_sentence(past.last),
        )
        if part
    )
    return Html(
        f'<header class="first"><p class="what">Spares and budget</p>'
        f"<h1>{escape(study.shop_name)}</h1>"
        f'<p class="when">as of {study.as_of.date().isoformat()} · {study.rows_read:,} rows read '
        f"from {escape(study.source)}</p></header>"
        f'<div class="cards">{cards}</div><p class="reading">{typeset(below)}</p>',
        f"Spares and budget of {study.shop_name}",
    )


def _order(answer: StockAnswer) -> str:
    return f"order {answer.plan.order_now} now" if answer.plan.order_now else "order none"


def risk_figures(study: SparesStudy) -> Html:
    """Draw stock level against risk and money, one panel per stock."""
    return panels([_risk(answer, study.budget.currency) for answer in study.stock])


def _risk(answer: StockAnswer, currency: str) -> str:
    level, least = answer.plan.stock_level, answer.balanced_level
    bars = figures.risk_bars(answer.plan.table, level, least)
    name = sentences.stock_name(answer)
    return style.figure_html(
        style.as_svg(
            lambda ax: figures.draw_risk(ax, bars, level, least, currency=currency, title=name)
        ),
        f"Cost and chance that someone waits, by stock level of {name} heads.",
        order_sentence(answer),
    )


def level_table(study: SparesStudy) -> Html:
    """Tabulate stock level against risk and money around the planned one."""
    priced = all("total_cost" in answer.plan.table for answer in study.stock)
    rows = []
    for answer in study.stock:
        level = answer.plan.stock_level
        shown = answer.plan.table
        near = shown[shown["stock_level"].between(level - _NEAR_LEVEL, level + _NEAR_LEVEL)]
        for line in sentences.lines(near):
            row: list[object] = [
                sentences.stock_name(answer),
                f"{line.stock_level}{' ← planned' if line.stock_level == level else ''}",
                sentences.percent(line.service),
                sentences.percent(line.fill_rate),
                f"{line.expected_shortfall:.2f}",
                f"{line.idle_hours:.1f}",
            ]
            if priced:
                row += [money(line.carrying_cost), money(line.waiting_cost)]
            rows.append(row)
    headings = [
        "Head type",
        "Stock level [heads]",
        "Nobody waits (cycle service) [%]",
        "Requests filled from stock (fill rate) [%]",
        "Heads short on average [heads]",
        "Printers wait [h]",
    ]
    if priced:
        headings += [f"Carrying [{study.budget.currency}]", f"Waiting [{study.budget.currency}]"]
    return table(
        headings,
        rows,
        caption="Stock level against risk and money, over lead time and review period",
        numbers=tuple(range(1, len(headings))),
    )


def weekly_figures(study: SparesStudy) -> Html:
    """Draw heads used up week by week over the year, one panel per head type."""
    parts = []
    for name, weekly in study.weekly.groupby("head_type", sort=False):
        beyond = study.extrapolated_from.get(str(name))
        said = "" if beyond is None else f" From week {beyond} on it goes beyond the data."
        parts.append(_weekly(str(name), weekly, beyond, said))
    return panels(parts)


def _weekly(name: str, weekly: pd.DataFrame, beyond: int | None, said: str) -> str:
    last = weekly.iloc[-1]
    words = (
        f"{last['median']:.0f} {name} heads used up in a year, "
        f"{span_of_heads(last['low'], last['high'])} in four years of five.{said}"
    )
    return style.figure_html(
        style.as_svg(lambda ax: figures.draw_weekly(ax, weekly, beyond, title=name)),
        f"Heads of type {name} used up, week by week over a year. {words}",
        words,
    )


def budget_figures(study: SparesStudy) -> Html:
    """Draw the budget by quarter: heads, and money where costs are stated."""
    budget, parts = study.budget, []
    for item, unit, title in (
        (HEADS, "heads", "Heads"),
        ("total", budget.currency, "Total cost"),
    ):
        if budget.line(item) is None:
            continue
        bars = figures.budget_bars(budget.lines, item)
        parts.append(
            style.figure_html(
                style.as_svg(_drawing(bars, unit, title)),
                f"{title} by quarter, planned and unplanned, with the 80 % band.",
                budget_sentence(budget),
            )
        )
    return panels(parts)


def _drawing(bars: pd.DataFrame, unit: str, title: str) -> Any:
    return lambda ax: figures.draw_budget(ax, bars, unit=unit, title=title)


def budget_table(study: SparesStudy) -> Html:
    """Tabulate the budget by quarter, planned and unplanned."""
    budget = study.budget
    rows = []
    for item in (HEADS, *_HOURS, *MONEY):
        for kind in (ALL, PLANNED_KIND, UNPLANNED):
            cells = [budget.line(item, period, kind=kind) for period in _PERIODS]
            if any(cell is None for cell in cells) or (kind != ALL and item not in _SPLIT):
                continue
            named = item if kind == ALL else f"{item}, {kind}"
            rows.append([f"{named} [{cells[0].unit}]", *(_banded(cell) for cell in cells)])
    return table(
        ["Item", *_PERIODS],
        rows,
        caption="Budget: median and, in brackets, the 80 % band",
        numbers=tuple(range(1, 6)),
    )


def budget_parts_table(study: SparesStudy) -> Html:
    """Tabulate the year by head type and site."""
    budget = study.budget
    lines = budget.lines
    year = lines[(lines["period"] == YEAR) & (lines["kind"] == ALL)]
    rows = []
    for key, _ in year.groupby(["head_type", "site"], sort=False):
        head_type, site = str(key[0]), str(key[1])
        heads = budget.line(HEADS, head_type=head_type, site=site)
        total = budget.line("total", head_type=head_type, site=site)
        rows.append(
            [
                "all" if head_type == ALL else head_type,
                "all" if site == ALL else site or "no site",
                _banded(heads),
                "–" if total is None else _banded(total),
            ]
        )
    return table(
        ["Head type", "Site", "Heads in the year [heads]", f"Cost [{budget.currency}]"],
        rows,
        caption="The year by head type and site: median and 80 % band",
        numbers=(2, 3),
    )


def _banded(line: Any) -> str:
    if line.unit in ("heads", "visits", "builds"):
        return f"{line.median:.0f} ({line.low:.0f}–{line.high:.0f})"
    return f"{money(line.median)} ({money(line.low)}–{money(line.high)})"
