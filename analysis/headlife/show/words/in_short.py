"""What does each section of a page come to, in one line, for a reader who leaves it folded?

From the answers; says no more than the section does, and computes nothing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from headlife.decisions.policy.past_rating import verdict_on
from headlife.decisions.rating import FALLS_SHORT, HOLDS, NOT_SETTLED
from headlife.decisions.watch import LEAST_CHANCE
from headlife.show.plain import lines
from headlife.show.words.learning import learned_name
from headlife.show.words.numbers import (
    chance,
    counted,
    listed,
    money,
    percent,
    span_of_heads,
    whole,
)
from headlife.show.words.policy import age_words
from headlife.show.words.stock import order_words, stock_name

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.backtest import Backtest
    from headlife.decisions.policy.proposal import ProposalStudy
    from headlife.decisions.review_answers import Review
    from headlife.decisions.spares.budget import Budget
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.two_ways import TwoWays
    from headlife.life.diagnostics.stratum import Diagnosis


def ratings_in_short(review: Review) -> str:
    """Name the head types and roles, or what is bought now of them, under each verdict.

    Parameters
    ----------
    review : Review
        The quarter's answers.

    Returns
    -------
    str
        The line.
    """
    found: dict[str, list[str]] = {}
    for one in review.deciding:
        found.setdefault(review.stated_verdict(one) or "unknown", []).append(one.name)
    kinds = [kind for kind in (HOLDS, FALLS_SHORT, NOT_SETTLED, "unknown") if kind in found]
    said = "; ".join(f"{kind}: {' and '.join(found[kind])}" for kind in kinds)
    return f"{said[:1].upper()}{said[1:]}." if said else ""


def fit_in_short(checks: Mapping[str, Diagnosis]) -> str:
    """Say for how many kinds of head the fit could be checked, and where it was found wanting.

    Parameters
    ----------
    checks : mapping
        Name of a head type and role -> its `Diagnosis`.

    Returns
    -------
    str
        The line.
    """
    told = [name for name, one in checks.items() if one.check.enough]
    if not told:
        return "Too few failures to tell; a Weibull life is assumed."
    stray = [name for name in told if checks[name].check.strays]
    if stray:
        return f"Not for {listed(stray)}: the failures stray from a Weibull life."
    few = len(checks) - len(told)
    rest = f"; too few failures to tell for {few} of {len(checks)} kinds of head" if few else ""
    return f"Yes for {listed(told)}{rest}."


def stock_in_short(stock: Sequence[StockAnswer]) -> str:
    """Say how many heads to hold and to order, stock by stock.

    Parameters
    ----------
    stock : sequence of StockAnswer
        The answers about every stock.

    Returns
    -------
    str
        The line.
    """
    said = [
        f"{stock_name(one)}: hold {one.plan.stock_level}, {order_words(one.plan)}" for one in stock
    ]
    return f"{'; '.join(said)}." if said else ""


def watch_in_short(watch: pd.DataFrame, build_hours: float) -> str:
    """Say how many heads are likely not to finish the next long build.

    Parameters
    ----------
    watch : DataFrame
        The watch list.
    build_hours : float
        Length of the build [h].

    Returns
    -------
    str
        The line.
    """
    few = int((watch["probability"] < LEAST_CHANCE).sum())
    heads = counted(len(watch), "head", "heads")
    return (
        f"{counted(few, 'head', 'heads').capitalize()} of {heads} in service below "
        f"{percent(LEAST_CHANCE)} for a {build_hours:g}-hour build."
    )


def doubts_in_short(both: TwoWays, findings: int) -> str:
    """Say how many removals are in doubt, and how much the audit flagged.

    Parameters
    ----------
    both : TwoWays
        Both readings of the removals in doubt.
    findings : int
        What the audit found.

    Returns
    -------
    str
        The line.
    """
    removals = counted(len(both.doubtful), "removal", "removals").capitalize()
    return f"{removals} in doubt; {counted(findings, 'finding', 'findings')} in the records."


def policies_in_short(made: ProposalStudy) -> str:
    """Say the verdict on the proposal, kind by kind.

    Parameters
    ----------
    made : ProposalStudy
        The answers to the proposal.

    Returns
    -------
    str
        The line.
    """
    said = [f"{kind.name}, {verdict_on(kind, answer)}" for kind, answer in made.each()]
    return f"Against swapping at the rating: {'; '.join(said)}."


def ages_in_short(made: ProposalStudy) -> str:
    """Say at which age swapping costs least, kind by kind.

    Parameters
    ----------
    made : ProposalStudy
        The answers to the proposal.

    Returns
    -------
    str
        The line.
    """
    said = [f"{kind.name}, {age_words(answer.advice.age)}" for kind, answer in made.each()]
    return f"What records and costs speak for: {'; '.join(said)}."


def both_heads_in_short(made: ProposalStudy) -> str:
    """Say for which pairs one visit for both heads pays.

    Parameters
    ----------
    made : ProposalStudy
        The answers to the proposal.

    Returns
    -------
    str
        The line.
    """
    if not made.pairs:
        return "No two heads on record shared a printer."
    pay = [" and ".join(pair.names) for pair in made.pairs if pair.pays]
    if not pay:
        return f"It does not pay for any of the {len(made.pairs)} pairs here."
    return f"It pays for {'; '.join(pay)}."


def learning_in_short(made: ProposalStudy) -> str:
    """Say how likely a verdict within a year is, at the rating and as proposed.

    Parameters
    ----------
    made : ProposalStudy
        The answers to the proposal.

    Returns
    -------
    str
        The line.
    """
    said = []
    for one in made.learned:
        if one.chances is not None:
            chances = [float(row.settled) for row in lines(one.chances)]
            said.append(f"{learned_name(one)} {chance(min(chances))} to {chance(max(chances))}")
    if not said:
        return "Every rating here has its verdict."
    return f"Chance of a verdict within a year, by policy: {'; '.join(said)}."


def weekly_in_short(weekly: pd.DataFrame) -> str:
    """Say how many heads the year uses, head type by head type.

    Parameters
    ----------
    weekly : DataFrame
        `SparesStudy.weekly`.

    Returns
    -------
    str
        The line.
    """
    last = weekly.groupby("head_type", sort=False).tail(1)
    said = [
        f"{row.head_type} {whole(row.median)} ({span_of_heads(row.low, row.high)})"
        for row in lines(last)
    ]
    weeks = int(weekly["week"].max()) if len(weekly) else 0
    return f"Within {weeks} weeks: {'; '.join(said)}." if said else "No head is in service."


def budget_in_short(budget: Budget) -> str:
    """Say what the year uses and costs.

    Parameters
    ----------
    budget : Budget
        Four quarters.

    Returns
    -------
    str
        The line.
    """
    heads, total = budget.line("heads"), budget.line("total")
    said = f"{whole(heads.median)} heads in the year ({span_of_heads(heads.low, heads.high)})"
    if total is None:
        return f"{said}."
    cost = f"{money(total.low)} to {money(total.high)}"
    return f"{said}, {money(total.median, budget.currency)} ({cost})."


def past_in_short(past: Backtest) -> str:
    """Say how many past forecasts came true.

    Parameters
    ----------
    past : Backtest
        Past forecasts beside what happened.

    Returns
    -------
    str
        The line.
    """
    held, all_of_them = int(past.quarters["inside_80"].sum()), len(past.quarters)
    if not all_of_them:
        return "No past quarter to compare with yet."
    return f"{held} of {all_of_them} past forecasts held what happened in their 80 % range."
