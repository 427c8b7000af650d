"""What does a proposed swap age mean, in words? Sentences for the what-if, the page, the terminal.

From the answers to one proposal; says what it saves, how sure that is, what it costs if it is
wrong, what it breaks, and first of all where it must not be done. Computes nothing.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from headlife.show.words.numbers import chance, counted, decimals, hourly_cost, hours, money

if TYPE_CHECKING:
    from headlife.decisions.policy.both_heads import BothHeads
    from headlife.decisions.policy.past_rating import Kind, PastRating

_EVEN: Final = 0.01  # of the cost; differences below are not worth a change


def age_words(age: float) -> str:
    """Write a swap age: at 1,200 h, or only at failure.

    Parameters
    ----------
    age : float
        Age [h]; infinite is running to failure.

    Returns
    -------
    str
        The words.
    """
    return "only at failure" if math.isinf(age) else f"at {hours(age)}"


def proposal_sentence(kind: Kind, answer: PastRating) -> str:
    """Say what the proposal does against swapping at the rating, and how sure that is.

    Parameters
    ----------
    kind : Kind
        A head type and role.
    answer : PastRating
        The answers about one kind of head, or one pair.

    Returns
    -------
    str
        The sentence.
    """
    age = answer.choices.age_hours
    if _forbidden(kind, answer):
        return (
            f"No: {kind.name} heads are quality-critical and are not advised past their rating "
            f"of {hours(kind.rated_hours)}, whatever it would save."
        )
    if age == kind.rated_hours:
        return f"{_now(kind, answer)} This is swapping at the rating, the yardstick."
    return f"{_now(kind, answer)} {_against(answer)} {_failures(answer)}{_limits(kind, answer)}"


def advice_sentence(kind: Kind, answer: PastRating) -> str:
    """Say which age the records and costs speak for, and what stands against it.

    Parameters
    ----------
    kind : Kind
        A head type and role.
    answer : PastRating
        The answers about one kind of head, or one pair.

    Returns
    -------
    str
        The sentence.
    """
    advice = answer.advice
    per_hour = _advised_cost(answer)
    if advice.capped:
        return (
            f"Swap at the rating of {hours(kind.rated_hours)} at the latest ({per_hour}): these "
            "heads are quality-critical, so a longer run is not advised even where it is cheaper."
        )
    gain = answer.at_rating.cost_per_hour.expected - answer.at_rating.holding_per_hour
    even = abs(gain - advice.cost_per_hour) < _EVEN * gain
    if even:
        words = f"Swapping {age_words(advice.age)} or at the rating costs about the same"
    elif math.isinf(advice.age):
        words = "By these records no planned swap pays: running to failure is expected cheapest"
    else:
        words = f"By these records the cheapest age to swap is about {hours(advice.age)}"
    return f"{words} ({per_hour}).{_limits_of_advice(kind, answer)}"


def _advised_cost(answer: PastRating) -> str:
    """Write the cost of the advised age as the table beside it has it, or say what differs."""
    listed, currency = answer.listed(answer.advice.age), answer.costs.currency
    if listed is not None:
        cost = hourly_cost(listed.cost_per_hour.expected, currency)
        return f"{cost} per print hour, spares held included"
    # The curve and its best age count no spares; the policies beside it do.
    cost = hourly_cost(answer.advice.cost_per_hour, currency)
    return f"{cost} per print hour, spares held not counted"


def both_heads_sentence(answer: BothHeads) -> str:
    """Say whether swapping both heads in one visit pays at the ratings.

    Parameters
    ----------
    answer : BothHeads
        The answers about one kind of head, or one pair.

    Returns
    -------
    str
        The sentence.
    """
    alone, joined = answer.ways[0][1], answer.ways[1][1]
    pair = " and ".join(answer.names)
    where = f"{pair} ({', '.join(answer.printers)})"
    saved = float(alone.cost.mean() - joined.cost.mean()) * answer.hours_per_quarter
    if math.isinf(joined.policies[0].join_from) or saved <= 0:
        return f"{where}: swapping the other head along does not pay."
    when = (
        "always swap the other head too"
        if joined.policies[0].join_from == 0
        else f"swap the other head too once it has run {hours(joined.policies[0].join_from)}"
    )
    return (
        f"{where}: when one head comes out at its rating or fails, {when}; about "
        f"{money(saved, answer.costs[0].currency)} a quarter less than each on its own."
    )


def _forbidden(kind: Kind, answer: PastRating) -> bool:
    age = answer.choices.age_hours
    return kind.quality_critical and age > kind.rated_hours


def _now(kind: Kind, answer: PastRating) -> str:
    one, currency = answer.proposed, answer.costs.currency
    cost = one.cost_per_hour
    return (
        f"Swapping {kind.name} heads {age_words(answer.choices.age_hours)} costs about "
        f"{hourly_cost(cost.expected, currency)} per print hour "
        f"({hourly_cost(cost.low)} to {hourly_cost(cost.high)}), spares held included."
    )


def _against(answer: PastRating) -> str:
    versus = answer.proposed.against_rating
    saving = versus.expected_saving * answer.hours_per_quarter
    regret = versus.regret * answer.hours_per_quarter
    currency = answer.costs.currency
    change = f"saves about {money(saving, currency)}" if saving >= 0 else (
        f"costs about {money(-saving, currency)} more"
    )  # fmt: skip
    odds = chance(versus.probability_cheaper)
    wrong = f"; if it is not, it loses about {money(regret, currency)} a quarter" if regret else ""
    return (
        f"Against swapping at the rating it {change} a quarter, and the chance that it is the "
        f"cheaper one is {odds}{wrong}."
    )


def _failures(answer: PastRating) -> str:
    before = answer.at_rating.failed_builds_per_quarter.expected
    after = answer.proposed.failed_builds_per_quarter.expected
    return f"Failed builds per quarter: {decimals(after, 1)} instead of {decimals(before, 1)}."


def _limits(kind: Kind, answer: PastRating) -> str:
    age = answer.choices.age_hours
    seen = answer.advice.oldest_seen
    past = age > kind.rated_hours
    words = ""
    if age > seen:
        words += f" No head has run past {hours(seen)} here: beyond it all is extrapolation."
    if past and answer.advice.never_past:
        words += _never_past(answer)
    return words


def _limits_of_advice(kind: Kind, answer: PastRating) -> str:
    advice = answer.advice
    words = ""
    if advice.beyond_data:
        words += (
            f" The oldest head seen ran {hours(advice.oldest_seen)}: beyond it this is "
            "extrapolation, so go there in steps and watch."
        )
    if not kind.shape_learned:
        words += (
            f" It rests on {counted(kind.failures, 'failure', 'failures')}, so how the risk grows "
            "with age is assumed."
        )
    if advice.age > kind.rated_hours and advice.never_past:
        words += _never_past(answer)
    return words


def _never_past(answer: PastRating) -> str:
    names = answer.advice.never_past
    who = ", ".join(names) + (", which is" if len(names) == 1 else ", which are")
    return f" Not on {who} quality-critical: the rating stays the limit there."
