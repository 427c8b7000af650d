"""Did past forecasts come true? The back-test as figures and a table.

From a `Backtest`; draws with `headlife.show.figures`. Computes no answer.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from headlife.show.figures import past_forecasts as figures
from headlife.show.figures import style, svg
from headlife.show.markup import Html, table
from headlife.show.page import panels
from headlife.show.plain import lines
from headlife.show.words import pictures
from headlife.show.words.numbers import decimals, percent, span_of_heads
from headlife.show.words.past_forecasts import coverage_sentence, outcome

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.backtest import Backtest


def backtest_figures(past: Backtest) -> Html:
    """Draw past forecasts beside what happened, and the running coverage.

    Parameters
    ----------
    past : Backtest
        Past forecasts beside what happened.

    Returns
    -------
    Html
        A piece of the page.
    """
    drawn: list[tuple[str, Callable[[], Html]]] = [
        (str(name), partial(_past, quarters, str(name)))
        for name, quarters in past.quarters.groupby("head_type", sort=False)
    ]
    if not past.coverage.empty:
        drawn += [("coverage so far", partial(_coverage, past, level)) for level in (0.80, 0.95)]
    return panels("past forecasts", drawn)


def _past(quarters: pd.DataFrame, name: str) -> Html:
    return svg.figure_html(
        style.as_svg(lambda ax: figures.draw_backtest(ax, quarters, title=name)),
        pictures.past_shown(name, quarters),
        "Every bar is what would have been said on the first day of that quarter.",
    )


def _coverage(past: Backtest, level: float) -> Html:
    said = coverage_sentence(past)
    return svg.figure_html(
        style.as_svg(
            lambda ax: figures.draw_coverage(
                ax, past.coverage, level, title=f"Coverage so far, {percent(level)}"
            )
        ),
        pictures.coverage_shown(past.coverage[past.coverage["interval"] == level], level),
        "Dashed: what the forecasts claim for their own ranges; shaded: what chance "
        f"allows around it. {said}",
    )


def backtest_table(past: Backtest) -> Html:
    """Tabulate past forecasts beside what happened.

    Parameters
    ----------
    past : Backtest
        Past forecasts beside what happened.

    Returns
    -------
    Html
        A piece of the page.
    """
    rows = [
        [
            row.quarter,
            row.head_type,
            row.positions,
            row.failures_on_record,
            decimals(row.mean, 1),
            span_of_heads(row.low_80, row.high_80),
            span_of_heads(row.low_95, row.high_95),
            row.happened,
            outcome(row).replace(" ", "\N{NO-BREAK SPACE}"),
            f"{row.taken} of {row.level}",
        ]
        for row in lines(past.quarters)
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
