"""The storeroom's and finance's page: how many heads, when to order, what the year costs.

From a `SparesStudy` and a `Backtest`; gives sentences, tables and figures for the notebook, and
the same as plain values for the terminal and for programs. Computes no answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.spares.budget import ALL, HEADS, MONEY, PLANNED_KIND, UNPLANNED, YEAR
from headlife.show import sentences
from headlife.show.answers import ANSWERS_MIME, plain, stamp
from headlife.show.figures import spares as figures
from headlife.show.figures import style
from headlife.show.markup import Html, badge, escape, table, typeset

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.backtest import Backtest
    from headlife.decisions.spares.budget import Budget
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.spares.study import SparesStudy

FORMAT: Final = 1
_NEAR_LEVEL: Final = 3  # stock levels listed below and above the planned one
_PERIODS: Final = ("Q1", "Q2", "Q3", "Q4", YEAR)
_HOURS: Final = ("labour hours", "calibration hours", "standstill hours", "scrapped builds")


def spares_answers(study: SparesStudy) -> dict[str, Any]:
    """Collect every answer as plain values that survive JSON.

    Returns
    -------
    dict
        `stock` by head type, `pooling`, `budget` (one line per period, kind and item, and by head
        type and site), `weekly` and the stamp. Heads [heads], hours [h], shares [-].
    """
    budget = study.budget
    lines = budget.lines.to_dict(orient="records")
    return dict(
        plain(
            {
                "format": FORMAT,
                "shop": study.shop_name,
                "as_of": study.as_of.date().isoformat(),
                "stock": [_stock_answer(answer) for answer in study.stock],
                "pooling": [
                    {
                        "head_type": one.head_type,
                        "shared_level": one.shared_level,
                        "separate_levels": one.separate_levels,
                        "saving": one.saving,
                    }
                    for one in study.pooling
                ],
                "budget": {
                    "currency": budget.currency,
                    "missing": list(budget.missing),
                    "quarters": [
                        {"period": n, "begins": a.date().isoformat(), "ends": b.date().isoformat()}
                        for n, a, b in budget.quarters
                    ],
                    "sentence": budget_sentence(budget),
                    "lines": lines,
                },
                "extrapolated_from_week": study.extrapolated_from,
                "stamp": stamp(study),
            }
        )
    )


def _stock_answer(answer: StockAnswer) -> dict[str, Any]:
    plan, demand = answer.plan, answer.demand
    low, high = demand.interval(0.80)
    return {
        "head_type": answer.head_type,
        "site": answer.site,
        "horizon_weeks": answer.horizon_weeks,
        "stock_level": plan.stock_level,
        "order_now": plan.order_now,
        "on_hand": plan.on_hand,
        "on_order": plan.on_order,
        "reorder_point": answer.reorder_point,
        "least_cost_level": answer.balanced_level,
        "service_asked": plan.service_level,
        "service": plan.service,
        "fill_rate": plan.fill_rate,
        "idle_hours": answer.idle_hours,
        "shelf_heads": answer.shelf_heads,
        "positions": answer.positions,
        "demand_mean": demand.mean,
        "demand_80_percent": [low, high],
        "sentence": sentences.stock_sentence(answer),
        "order_sentence": order_sentence(answer),
        "note": answer.note,
        "levels": plan.table.to_dict(orient="records"),
    }


def order_sentence(answer: StockAnswer) -> str:
    """Say when to order between reviews, what waiting is left, and where cost is least."""
    said = (
        "Between reviews, order as soon as heads on hand and on order are down to "
        f"{answer.reorder_point}."
    )
    waits = f"Printers then wait {answer.idle_hours:.1f} h on average until the next delivery."
    if answer.balanced_level is None:
        return f"{said} {waits}"
    least = f"Carrying and waiting cost least at {answer.balanced_level}."
    return f"{said} {waits} {least}"


def pooling_sentence(study: SparesStudy) -> str:
    """Say what one stock for all sites saves."""
    if not study.pooling:
        return "There is one site, so there is nothing to pool."
    parts = []
    for one in study.pooling:
        apart = ", ".join(f"{site or 'no site'} {n}" for site, n in one.separate_levels.items())
        saves = sentences.counted(one.saving, "head", "heads")
        parts.append(f"{one.head_type}: {one.shared_level} together, apart {apart}; saves {saves}")
    return f"One stock for all sites. {'. '.join(parts)}."


def budget_sentence(budget: Budget) -> str:
    """Say what the year is likely to use and cost, planned and unplanned."""
    heads = budget.line(HEADS)
    used = f"{heads.median:.0f} heads ({heads.low:.0f} to {heads.high:.0f})"
    planned = budget.line(HEADS, kind=PLANNED_KIND)
    failed = budget.line(HEADS, kind=UNPLANNED)
    split = f"about {planned.mean:.0f} by plan and {failed.mean:.0f} after failures"
    total = budget.line("total")
    if total is None:
        missing = ", ".join(budget.missing)
        return (
            f"The next four quarters use {used}, {split}. For amounts, add {missing} to the "
            "settings."
        )
    return (
        f"The next four quarters use {used}, {split}, and cost {money(total.median)} "
        f"{budget.currency} ({money(total.low)} to {money(total.high)}): in four years of five "
        "the sum lies in that range."
    )


def backtest_sentence(last: pd.DataFrame) -> str:
    """Say how the forecast of the last full quarter came out; empty without one."""
    parts = [
        f"{span_of_heads(row.low_80, row.high_80)} {row.head_type} heads, it was {row.happened}"
        for row in sentences.lines(last)
    ]
    if not parts:
        return ""
    quarter = last["quarter"].iloc[0]
    return f"For the last full quarter ({quarter}) we would have said {'; '.join(parts)}."


def coverage_sentence(past: Backtest) -> str:
    """Say how often past forecasts came true, and whether chance explains the rest."""
    if past.coverage.empty:
        return "The records hold no full quarter after a first one, so nothing can be compared yet."
    parts = []
    for level in (0.80, 0.95):
        row = past.coverage[past.coverage["interval"] == level].iloc[-1]
        fair = row.low <= row.share <= row.high
        verdict = "as chance allows" if fair else "not as chance allows"
        parts.append(
            f"{row.inside} of {row.forecasts} inside the {100 * level:.0f} % interval "
            f"({sentences.percent(row.said)} expected, since heads are whole; {verdict})"
        )
    return f"{parts[0]}, {parts[1]}."


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
    return _panels([_risk(answer, study.budget.currency) for answer in study.stock])


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
    return _panels(parts)


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
    return _panels(parts)


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


_SPLIT: Final = (HEADS, "total")


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


def backtest_figures(past: Backtest) -> Html:
    """Draw past forecasts beside what happened, and the running coverage."""
    parts = []
    for name, quarters in past.quarters.groupby("head_type", sort=True):
        parts.append(
            style.figure_html(
                style.as_svg(_past(quarters, str(name))),
                f"Past forecasts of {name} heads and what happened, quarter by quarter.",
                "Every bar is what would have been said on the first day of that quarter.",
            )
        )
    if not past.coverage.empty:
        parts.append(
            style.figure_html(
                style.as_svg(
                    lambda ax: figures.draw_coverage(ax, past.coverage, title="Coverage so far")
                ),
                f"Running share of forecasts that came true. {coverage_sentence(past)}",
                "Dashed: what the forecasts claim for their own intervals; shaded: what chance "
                f"allows around it. {coverage_sentence(past)}",
            )
        )
    return _panels(parts)


def _past(quarters: pd.DataFrame, name: str) -> Any:
    return lambda ax: figures.draw_backtest(ax, quarters, title=name)


def backtest_table(past: Backtest) -> Html:
    """Tabulate past forecasts beside what happened."""
    rows = [
        [
            row.quarter,
            row.head_type,
            row.positions,
            row.failures_on_record,
            f"{row.mean:.1f}",
            span_of_heads(row.low_80, row.high_80),
            span_of_heads(row.low_95, row.high_95),
            row.happened,
            "inside 80 %" if row.inside_80 else "inside 95 %" if row.inside_95 else "outside",
            f"{row.taken} of {row.level}",
        ]
        for row in sentences.lines(past.quarters)
    ]
    return table(
        [
            "Quarter",
            "Head type",
            "Positions",
            "Failures on record then",
            "Said, mean [heads]",
            "Said, 80 %",
            "Said, 95 %",
            "Used up [heads]",
            "Outcome",
            "New heads taken, of the stock level [heads]",
        ],
        rows,
        caption="Past quarters: what would have been said, and what happened",
        numbers=(2, 3, 4, 7),
    )


def backtest_answers(past: Backtest) -> dict[str, Any]:
    """Give a back-test as plain values that survive JSON."""
    return dict(
        plain(
            {
                "format": FORMAT,
                "as_of": past.as_of.date().isoformat(),
                "last_quarter": backtest_sentence(past.last),
                "coverage_sentence": coverage_sentence(past),
                "quarters": _dated(past.quarters).to_dict(orient="records"),
                "coverage": _dated(past.coverage).to_dict(orient="records"),
            }
        )
    )


def _dated(frame: pd.DataFrame) -> pd.DataFrame:
    """Write days as text."""
    days = {
        name: [day.date().isoformat() for day in frame[name]]
        for name in ("begins", "ends")
        if name in frame
    }
    return frame.assign(**days)


class SparesOut:
    """Carries the answers from the notebook to whoever executed it."""

    def __init__(self, study: SparesStudy, past: Backtest) -> None:
        self._answers = {**spares_answers(study), "backtest": backtest_answers(past)}

    def _repr_mimebundle_(self, **_: Any) -> dict[str, Any]:
        return {ANSWERS_MIME: self._answers, "text/plain": "the answers, for programs"}


def money(amount: float) -> str:
    """Write an amount, thousands apart, with decimals only where it is small."""
    return f"{amount:,.0f}" if abs(amount) >= 100 or amount == 0 else f"{amount:.2f}"


def span_of_heads(low: float, high: float) -> str:
    """Write a range of heads: 3 to 9."""
    return f"{low:.0f}" if low == high else f"{low:.0f} to {high:.0f}"


def _panels(parts: list[str]) -> Html:
    return Html(
        f'<div class="panels">{"".join(parts)}</div>',
        sentences.counted(len(parts), "figure", "figures"),
    )
