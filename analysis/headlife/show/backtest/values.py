"""Past forecasts beside what happened, as plain values: what a program reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from headlife.show.plain import document, rows
from headlife.show.words.past_forecasts import coverage_sentence, last_quarter_sentence

if TYPE_CHECKING:
    from headlife.decisions.backtest import Backtest


def past_values(past: Backtest) -> dict[str, Any]:
    """Give a back-test as plain values that survive JSON.

    Parameters
    ----------
    past : Backtest
        Past forecasts beside what happened.

    Returns
    -------
    dict
        `format`, `as_of`, `last_quarter` and `coverage_sentence` in words, `quarters` and
        `coverage` as in `Backtest`, days as text.
    """
    return document(
        as_of=past.as_of,
        last_quarter=last_quarter_sentence(past.last),
        coverage_sentence=coverage_sentence(past),
        quarters=rows(past.quarters),
        coverage=rows(past.coverage),
    )
