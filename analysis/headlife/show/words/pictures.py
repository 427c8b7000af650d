"""What does a figure show, for a reader who cannot see it? The numbers drawn, in a sentence.

From what a figure draws; never the caption again, which says what to think of it.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import singledispatch
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.life.diagnostics import adequacy, drift, rivals, trend
from headlife.show.plain import lines
from headlife.show.words.numbers import (
    decimals,
    hours,
    listed,
    percent,
    span,
    span_of_heads,
    whole,
)

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.policy.past_rating_answer import PastRating
    from headlife.life.diagnostics.effects import Effect

_TOLD: Final = 4  # points of a curve, or rows of a chart, that are told


def survival_shown(name: str, fitted: pd.DataFrame, rated_hours: float) -> str:
    """Tell a survival figure.

    Parameters
    ----------
    name : str
        Head type and role.
    fitted : DataFrame
        The fitted curve with its range.
    rated_hours : float
        The rating [h].

    Returns
    -------
    str
        The sentence.
    """
    at = [0.5 * rated_hours, rated_hours, float(fitted["hours"].iloc[-1])]
    share, low, high = (
        np.interp(at, fitted["hours"], fitted[column]) for column in ("survival", "low", "high")
    )
    told = [
        f"{percent(share[k])} ({span(low[k], high[k])}) at {hours(round(age))}"
        for k, age in enumerate(at)
    ]
    return (
        f"Share of {name} heads still running against print hours, observed steps and fitted "
        f"curve with its range. The curve: {listed(told)}."
    )


def paper_shown(name: str, points: pd.DataFrame) -> str:
    """Tell failures on Weibull paper.

    Parameters
    ----------
    name : str
        Head type and role.
    points : DataFrame
        Where the failures are plotted.

    Returns
    -------
    str
        The sentence.
    """
    start = f"Failures of {name} heads on Weibull paper with the fitted line and its range"
    if len(points) == 0:
        return f"{start}; there is no failure to plot."
    ages = [hours(round(float(one))) for one in (points["hours"].min(), points["hours"].max())]
    if ages[0] == ages[1]:
        return f"{start}; the failures lie at {ages[0]}."
    return f"{start}; the failures lie from {ages[0]} to {ages[1]}."


def demand_shown(name: str, bars: pd.DataFrame, level: int) -> str:
    """Tell the demand against a stock level.

    Parameters
    ----------
    name : str
        The stock.
    bars : DataFrame
        From `demand_bars`.
    level : int
        The stock level [heads].

    Returns
    -------
    str
        The sentence.
    """
    rows = list(lines(bars))
    likeliest = max(rows, key=lambda row: row.probability)
    beyond = 1.0 - next(row.service for row in rows if row.heads == level)
    return (
        f"Two panels for {name} heads: the chance that so many suffice, and bars for the "
        f"chance of each number needed. Likeliest is {whole(likeliest.heads)} "
        f"({percent(likeliest.probability)}); more than {level} has {percent(beyond)}."
    )


def risk_shown(name: str, bars: pd.DataFrame) -> str:
    """Tell stock level against risk and money.

    Parameters
    ----------
    name : str
        The stock.
    bars : DataFrame
        From `risk_bars`.

    Returns
    -------
    str
        The sentence.
    """
    every = max(1, len(bars) // _TOLD)
    told = [f"{percent(one.risk)} at {one.stock_level}" for one in lines(bars.iloc[::every])]
    return (
        f"Two panels for {name} heads by stock level: what it costs, and the chance that someone "
        f"waits: {listed(told)}."
    )


def weekly_shown(name: str, weekly: pd.DataFrame) -> str:
    """Tell heads used up week by week.

    Parameters
    ----------
    name : str
        Head type.
    weekly : DataFrame
        One head type of `SparesStudy.weekly`.

    Returns
    -------
    str
        The sentence.
    """
    told = [
        f"{whole(row.median)} ({span_of_heads(row.low, row.high)}) after {row.week} weeks"
        for row in lines(weekly[weekly["week"] % 13 == 0])
    ]
    return f"Steps of the {name} heads used up since today, median and range: {listed(told)}."


def bars_shown(title: str, unit: str, bars: pd.DataFrame) -> str:
    """Tell the budget by quarter.

    Parameters
    ----------
    title : str
        What is counted.
    unit : str
        Its unit.
    bars : DataFrame
        From `budget_bars`.

    Returns
    -------
    str
        The sentence.
    """
    told = [f"{row.period} {whole(row.planned)} + {whole(row.unplanned)}" for row in lines(bars)]
    return f"{title} by quarter, bars of planned swaps + failures [{unit}]: {listed(told)}."


def past_shown(name: str, quarters: pd.DataFrame) -> str:
    """Tell past forecasts beside what happened.

    Parameters
    ----------
    name : str
        Head type.
    quarters : DataFrame
        Its quarters of a back-test.

    Returns
    -------
    str
        The sentence.
    """
    told = [
        f"{row.quarter} {span_of_heads(row.low_80, row.high_80)}, was {row.happened}"
        for row in lines(quarters.tail(_TOLD))
    ]
    return f"Bars of what was said of {name} heads and what happened, the last: {'; '.join(told)}."


def coverage_shown(part: pd.DataFrame, level: float) -> str:
    """Tell the running share of forecasts that came true.

    Parameters
    ----------
    part : DataFrame
        Running coverage of one interval.
    level : float
        The interval [-].

    Returns
    -------
    str
        The sentence.
    """
    told = [f"{percent(row.share)} by {row.quarter}" for row in lines(part.tail(_TOLD))]
    return f"Line of the share of {percent(level)} ranges that held so far: {listed(told)}."


def costs_shown(name: str, answer: PastRating) -> str:
    """Tell the cost curve.

    Parameters
    ----------
    name : str
        Head type and role.
    answer : PastRating
        Its curve.

    Returns
    -------
    str
        The sentence.
    """
    curve, currency = answer.curve, answer.costs.currency
    every = max(1, len(curve) // _TOLD)
    told = [
        f"{decimals(row.expected, 2)} at {hours(round(row.age))}"
        for row in lines(curve.iloc[every // 2 :: every])
    ]
    return (
        f"Expected cost per print hour of {name} heads against the age at which working heads are "
        f"swapped, with its range, planned swaps and failures apart [{currency}/h]: {listed(told)}."
    )


def policies_shown(name: str, answer: PastRating) -> str:
    """Tell the policies side by side.

    Parameters
    ----------
    name : str
        Head type and role.
    answer : PastRating
        Its table of policies.

    Returns
    -------
    str
        The sentence.
    """
    told = [f"{row.policy} {decimals(row.cost_per_hour, 2)}" for row in lines(answer.table)]
    currency = answer.costs.currency
    return f"Cost per print hour of {name} heads by policy [{currency}/h]: {'; '.join(told)}."


def events_shown(name: str, answer: PastRating) -> str:
    """Tell heads used and builds failed per quarter.

    Parameters
    ----------
    name : str
        Head type and role.
    answer : PastRating
        Its events.

    Returns
    -------
    str
        The sentence.
    """
    events = answer.events
    every = max(1, len(events) // _TOLD)
    told = [
        f"{decimals(row.heads, 1)} and {decimals(row.failed_builds, 1)} at {hours(round(row.age))}"
        for row in lines(events.iloc[every // 2 :: every])
    ]
    return (
        f"Heads used and builds failed per quarter by {name} heads against the swap age: "
        f"{listed(told)}."
    )


def check_shown(title: str, found: Any) -> str:
    """Tell the figure of one check of the fit.

    Parameters
    ----------
    title : str
        Of the figure.
    found : WeibullCheck, Rivals, list of Effect, Drift, Trend or PositionFailures
        What it draws.

    Returns
    -------
    str
        The sentence.
    """
    return f"{title}. {drawn(found)}."


@singledispatch
def drawn(found: Any) -> str:
    """Tell what a figure of one check draws; every kind of check has its own words below.

    Parameters
    ----------
    found : WeibullCheck, Rivals, list of Effect, Drift, Trend or PositionFailures
        What it draws.

    Returns
    -------
    str
        The words, without a full stop.
    """
    raise TypeError(f"there are no words for a figure of {type(found).__name__}")


@drawn.register
def _points(found: adequacy.WeibullCheck) -> str:
    ages = found.points["hours"]
    return (
        f"Failures on Weibull paper from {hours(round(ages.min()))} to {hours(round(ages.max()))}, "
        "the fitted line and the range that nine of ten Weibull fleets stay in"
    )


@drawn.register
def _lives(found: rivals.Rivals) -> str:
    said = [f"{row.life} {percent(row.share_reaching)}" for row in lines(found.table)]
    return f"Dots of the share that would reach the rating under each kind of life: {listed(said)}"


@drawn.register(Sequence)
def _levels(found: Sequence[Effect]) -> str:
    said = [
        f"{row.level} {hours(row.hours)}"
        for effect in found
        for row in lines(effect.table)
        if np.isfinite(row.hours)
    ]
    return f"Dots with ranges of the hours that the claimed share reaches: {listed(said)}"


@drawn.register
def _cohorts(found: drift.Drift) -> str:
    known = found.cohorts[np.isfinite(found.cohorts["hours"])]
    said = [hours(one) for one in known["hours"]]
    return f"Dots with ranges of the hours by purchase date, the oldest first: {listed(said)}"


@drawn.register
def _pattern(found: trend.Trend) -> str:
    last = found.curve.iloc[-1]
    failures = decimals(10 * float(last["failures"]), 1)
    return (
        f"Steps of the failures per 10 positions up to {failures} at "
        f"{hours(round(float(last['hours'])))}, beside a straight line"
    )


@drawn.register
def _places(found: trend.PositionFailures) -> str:
    said = [
        f"{row.printer} {row.position} {row.failures} where {decimals(row.expected, 1)} expected"
        for row in lines(found.table.head(_TOLD))
    ]
    return f"Bars of failures by position, the most first: {listed(said)}"
