"""Did past forecasts come true, in words. From the back-test; judges nothing by itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from headlife.show.plain import lines
from headlife.show.words.numbers import percent, span_of_heads

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.backtest import Backtest

NOTHING_TO_COMPARE = (
    "The records hold no full quarter after a first one, so nothing can be compared yet."
)


def last_quarter_sentence(last: pd.DataFrame) -> str:
    """Say how the forecast of the last full quarter came out; empty without one.

    Parameters
    ----------
    last : DataFrame
        Forecasts of the last full quarter.

    Returns
    -------
    str
        The sentence.
    """
    parts = [
        f"{span_of_heads(row.low_80, row.high_80)} {row.head_type} heads, it was {row.happened}"
        for row in lines(last)
    ]
    if not parts:
        return ""
    quarter = last["quarter"].iloc[0]
    return f"For the last full quarter ({quarter}) we would have said {'; '.join(parts)}."


def coverage_sentence(past: Backtest) -> str:
    """Say how often past forecasts came true, and whether chance explains the rest.

    Parameters
    ----------
    past : Backtest
        Past forecasts beside what happened.

    Returns
    -------
    str
        The sentence.
    """
    if past.coverage.empty:
        return NOTHING_TO_COMPARE
    parts = []
    for level in (0.80, 0.95):
        row = past.coverage[past.coverage["interval"] == level].iloc[-1]
        fair = row.low <= row.share <= row.high
        verdict = "as chance allows" if fair else "not as chance allows"
        parts.append(
            f"{row.inside} of {row.forecasts} inside the {percent(level)} range "
            f"({percent(row.said)} expected, since heads are whole; {verdict})"
        )
    return f"{parts[0]}, {parts[1]}."


def outcome(row: Any) -> str:
    """Say in which interval of its forecast a quarter fell.

    Parameters
    ----------
    row : object
        One quarter of a back-test.

    Returns
    -------
    str
        The words.
    """
    if row.inside_80:
        return "inside 80 %"
    return "inside 95 %" if row.inside_95 else "outside"
