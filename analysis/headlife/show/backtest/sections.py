"""Did past forecasts come true? The back-test in words, figures, a table and plain values.

From a `Backtest`; serves the spares page, the terminal and programs. Computes no answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from headlife.show import sentences
from headlife.show.answers import plain
from headlife.show.figures import spares as figures
from headlife.show.figures import style
from headlife.show.markup import Html, panels, table
from headlife.show.sentences import span_of_heads

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.backtest import Backtest

FORMAT: Final = 1


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
    return panels(parts)


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
