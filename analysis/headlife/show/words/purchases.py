"""What to order when, what it costs, and the year beside others: in words.

From a spares study; computes nothing but sums of what is shown.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.decisions.spares.purchases import LATER, NOW, PLACED
from headlife.show.words.days import day
from headlife.show.words.numbers import hours, listed, money, short, span_of_heads, whole

if TYPE_CHECKING:
    from headlife.decisions.spares.purchases import Purchase
    from headlife.decisions.spares.same_year import SameYear
    from headlife.decisions.spares.study import SparesStudy

STATES: Final = {PLACED: "ordered already", NOW: "order now", LATER: "expected"}
BOUGHT: Final = (
    "Bought is not used up: the first order brings the stock to its level, later ones make up for "
    "what was used. Amounts fall into the quarter in which heads arrive. Later orders are what "
    "four futures of five hold; at each review the records decide."
)
AT_TODAYS_PRICES: Final = "What the last year would cost at today's prices; not what was paid."
BESIDE: Final = (
    f"{AT_TODAYS_PRICES} Another policy is there to compare and no advice: headlife replace weighs "
    "it, and quality-critical heads never run past their rating."
)


def purchase_words(one: Purchase) -> str:
    """Write how many heads an order has: a number, or a median with its range.

    Parameters
    ----------
    one : Purchase
        An order.

    Returns
    -------
    str
        The words.
    """
    if one.state != LATER or one.low == one.high:
        return whole(one.heads)
    return f"{whole(one.heads)} ({span_of_heads(one.low, one.high)})"


def ordered_words(one: Purchase) -> str:
    """Say when an order is placed.

    Parameters
    ----------
    one : Purchase
        An order.

    Returns
    -------
    str
        The words.
    """
    if one.ordered is None:
        return STATES[one.state]
    return f"{day(one.ordered)}{', now' if one.state == NOW else ''}"


def bought_sentence(study: SparesStudy) -> str:
    """Say what is used up and what is bought over the quarters, apart.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.

    Returns
    -------
    str
        The sentence.
    """
    last = study.budget.quarters[-1].last
    own = [one for one in study.purchases if one.arrives <= last]
    heads = sum(one.mean for one in own)
    known = [one.cash for one in own if one.cash is not None]
    cost = ""
    if own and len(known) == len(own):
        cost = f" for {money(sum(known), study.budget.currency)}"
    used = study.budget.line("heads").mean
    part_used = any(one.shelf_heads or one.new_after_use for one in study.stock)
    some = ", of which part-used ones replace some" if part_used else ""
    return (
        f"To {day(last)} about {short(heads)} new heads arrive{cost}; in a year about "
        f"{short(used)} heads are used up{some}."
    )


def last_year_sentence(study: SparesStudy) -> str:
    """Set the heads used up in the last four quarters beside those of the next.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.

    Returns
    -------
    str
        The sentence.
    """
    last, ahead = study.last_year, study.budget.line("heads")
    span = f"{last.quarters[0].name} to {last.quarters[-1].name}"
    since = "" if last.complete else ", with records of a part of it"
    return (
        f"{whole(last.happened('heads') or 0.0)} heads used up from {span}{since}; "
        f"{whole(ahead.median)} ({span_of_heads(ahead.low, ahead.high)}) expected ahead."
    )


def policy_name(one: SameYear) -> str:
    """Name a policy, with its ages where it is a proposal.

    Parameters
    ----------
    one : SameYear
        The year under one policy.

    Returns
    -------
    str
        The words.
    """
    if not one.ages:
        return one.name[0].upper() + one.name[1:]
    ages = [f"{name} {hours(age)}" for name, age in one.ages.items()]
    return f"Swapped at {listed(ages)}, to compare"
