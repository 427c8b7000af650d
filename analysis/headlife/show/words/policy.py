"""What does a proposed swap age mean, in words? Sentences for the what-if, the page, the terminal.

From the answers to one proposal; says what it saves, how sure that is, what it costs if it is
wrong, what it breaks, and first of all where it must not be done. Computes nothing.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING, Final

from headlife.decisions.policy.past_rating import NOT_PAST, YARDSTICK, verdict_on
from headlife.decisions.policy.steps import SURE as SURE_STEP
from headlife.show.words.numbers import (
    bought_now,
    chance,
    counted,
    decimals,
    hourly_cost,
    hours,
    listed,
    money,
    percent,
)

if TYPE_CHECKING:
    from headlife.decisions.policy.both_heads import BothHeads
    from headlife.decisions.policy.past_rating import Kind
    from headlife.decisions.policy.past_rating_answer import PastRating

# Below this chance of being wrong nothing is said of what that would cost [-].
HARDLY_WRONG: Final = 0.001
EVEN: Final = 0.01  # of the cost; differences below are not worth a change


# Every sentence about a proposal, with the numbers it takes. The page's own script fills in the
# same templates when somebody tries other numbers.
TEMPLATES: Final = {
    "age": "at {hours}",
    "age_never": "only at failure",
    "forbidden": "No: {kind} heads are quality-critical and are not advised past their rating of "
    "{rated}, whatever it would save.",
    "now": "Swapping {kind} heads {age} costs about {cost} per print hour ({low} to {high}), "
    "spares held included.",
    "yardstick": "This is swapping at the rating, the yardstick.",
    "against": "Against swapping at the rating it {change} a quarter, and the chance that it is "
    "the cheaper one is {chance}{wrong}.",
    "saves": "saves about {amount}",
    "costs_more": "costs about {amount} more",
    "wrong": "; if it is not, it costs about {amount} a quarter more",
    "failures": "Failed builds per quarter: {after} instead of {before}.",
    "extrapolated": "No head has run past {seen} here: beyond it all is extrapolation.",
    "not_on_one": "Not on {printers}, which is quality-critical: the rating stays the limit there.",
    "not_on": "Not on {printers}, which are quality-critical: the rating stays the limit there.",
    "capped": "Swap at the rating of {rated} at the latest ({per_hour}): these heads are "
    "quality-critical, so a longer run is not advised even where it is cheaper.",
    "even": "Swapping {age} or at the rating costs about the same ({per_hour}).",
    "to_failure": "By these records no planned swap pays: running to failure is expected cheapest "
    "({per_hour}).",
    "cheapest": "By these records the cheapest age to swap is about {hours} ({per_hour}).",
    "with_spares": "{cost} per print hour, spares held included",
    "without_spares": "{cost} per print hour, spares held not counted",
    "beyond_data": "The oldest head seen ran {seen}: beyond it this is extrapolation, so go there "
    "in steps and watch.",
    "step": "Until the next review let them run to {age} and no farther: the chance that this is "
    "cheaper than the rating is {chance}. {watch}",
    "watch": "Of {heads} that may pass the rating by then expect {expected} to fail on the way; at "
    "{stop} go back to the rating and review.",
    "no_heads": "No head passes the rating by then.",
    "stay": "Stay at the rating until the next review: the chance that the next step, to {age}, "
    "is cheaper is {chance}, and a step takes {sure}.",
    "assumed": "It rests on {failures}, so how the risk grows with age is assumed.",
}


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
    return _say("age_never") if math.isinf(age) else _say("age", hours=hours(age))


def rated_words(kind: Kind) -> str:
    """Write the rating of a kind of head and, where lots are told apart, how new ones live.

    Parameters
    ----------
    kind : Kind
        A head type and role.

    Returns
    -------
    str
        Such as: rated 1,200 h; new heads as those of lot B.
    """
    said = f"rated {hours(kind.rated_hours)}"
    return f"{said}; new heads as those of {bought_now(now)}" if (now := kind.bought_now) else said


def gives_way_sentence(kind: Kind) -> str:
    """Say that another head type takes the place of this one, or this one that of another.

    Parameters
    ----------
    kind : Kind
        A head type and role.

    Returns
    -------
    str
        The sentences; empty where neither is so.
    """
    one = kind.gives_way
    if one is not None:
        return (
            f"{one.heads} of the last {one.of} used up were followed by {one.to} heads, so this is "
            f"about the {kind.in_service} still in place: what goes in costs a {one.to} head, and "
            f"no {one.head_type} spares are held. The cheapest age is as if such heads followed "
            f"each other; where {one.to} heads cost less per print hour, swap earlier."
        )
    if not kind.to_follow:
        return ""
    those = listed(
        [counted(n, f"{name} head", f"{name} heads") for name, n in kind.to_follow.items()]
    )
    count = "counts" if sum(kind.to_follow.values()) == 1 else "count"
    return (
        f"{those} still in place {count} here too, at the same share of the rating, since "
        f"{kind.head_type} heads follow."
    )


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
    verdict = verdict_on(kind, answer)
    if verdict == NOT_PAST:
        return _say("forbidden", kind=kind.name, rated=hours(kind.rated_hours))
    if verdict == YARDSTICK:
        return f"{_now(kind, answer)} {_say('yardstick')}"
    said = (_now(kind, answer), _against(answer), _failures(answer), *_limits(kind, answer))
    return " ".join(said)


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
        return _say("capped", rated=hours(kind.rated_hours), per_hour=per_hour)
    gain = answer.at_rating.cost_per_hour.expected - answer.at_rating.holding_per_hour
    if abs(gain - advice.cost_per_hour) < EVEN * gain:
        said = _say("even", age=age_words(advice.age), per_hour=per_hour)
    elif math.isinf(advice.age):
        said = _say("to_failure", per_hour=per_hour)
    else:
        said = _say("cheapest", hours=hours(advice.age), per_hour=per_hour)
    return " ".join((said, *_limits_of_advice(kind, answer)))


def _say(name: str, **values: str) -> str:
    """Fill in a template."""
    return TEMPLATES[name].format(**values)


def _advised_cost(answer: PastRating) -> str:
    """Write the cost of the advised age as the table beside it has it, or say what differs."""
    listed, currency = answer.listed(answer.advice.age), answer.costs.currency
    if listed is not None:
        return _say("with_spares", cost=hourly_cost(listed.cost_per_hour.expected, currency))
    # The curve and its best age count no spares; the policies beside it do.
    return _say("without_spares", cost=hourly_cost(answer.advice.cost_per_hour, currency))


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
    joined = answer.ways[1][1]
    pair = " and ".join(answer.names)
    where = f"{pair} ({', '.join(answer.printers)})"
    if not answer.pays:
        return f"{where}: swapping the other head along does not pay."
    when = (
        "always swap the other head too"
        if joined.policies[0].join_from == 0
        else f"swap the other head too once it has run {hours(joined.policies[0].join_from)}"
    )
    return (
        f"{where}: when one head comes out at its rating or fails, {when}; about "
        f"{money(answer.saved, answer.costs[0].currency)} a quarter less than each on its own."
    )


def step_sentence(answer: PastRating) -> str:
    """Say how far to go until the next review, and when it is enough; empty where not past it.

    Parameters
    ----------
    answer : PastRating
        The answers about one kind of head.

    Returns
    -------
    str
        The sentence.
    """
    step = answer.next_step
    if step is None:
        return ""
    if not step.advised:
        return _say(
            "stay",
            age=hours(step.looked_at),
            chance=chance(step.chance_cheaper),
            sure=percent(SURE_STEP),
        )
    watch = _say("no_heads")
    if step.heads:
        watch = _say(
            "watch",
            heads=counted(step.heads, "head", "heads"),
            expected=decimals(step.expected_failures, 1),
            stop=str(step.stop_at),
        )
    return _say("step", age=hours(step.age), chance=chance(step.chance_cheaper), watch=watch)


def _now(kind: Kind, answer: PastRating) -> str:
    cost = answer.proposed.cost_per_hour
    return _say(
        "now",
        kind=kind.name,
        age=age_words(answer.choices.age_hours),
        cost=hourly_cost(cost.expected, answer.costs.currency),
        low=hourly_cost(cost.low),
        high=hourly_cost(cost.high),
    )


def _against(answer: PastRating) -> str:
    versus, currency = answer.proposed.against_rating, answer.costs.currency
    saving = versus.expected_saving * answer.hours_per_quarter
    regret = versus.regret * answer.hours_per_quarter
    change = "saves" if saving >= 0 else "costs_more"
    wrong = regret > 0 and 1.0 - versus.probability_cheaper >= HARDLY_WRONG
    return _say(
        "against",
        change=_say(change, amount=money(abs(saving), currency)),
        chance=chance(versus.probability_cheaper),
        wrong=_say("wrong", amount=money(regret, currency)) if wrong else "",
    )


def _failures(answer: PastRating) -> str:
    before = answer.at_rating.failed_builds_per_quarter.expected
    after = answer.proposed.failed_builds_per_quarter.expected
    return _say("failures", after=decimals(after, 1), before=decimals(before, 1))


def _limits(kind: Kind, answer: PastRating) -> Iterator[str]:
    age, seen = answer.choices.age_hours, answer.advice.oldest_seen
    if age > seen:
        yield _say("extrapolated", seen=hours(seen))
    if age > kind.rated_hours and answer.advice.never_past:
        yield _never_past(answer)


def _limits_of_advice(kind: Kind, answer: PastRating) -> Iterator[str]:
    advice = answer.advice
    if advice.beyond_data:
        yield _say("beyond_data", seen=hours(advice.oldest_seen))
    if not kind.shape_learned:
        yield _say("assumed", failures=counted(kind.failures, "failure", "failures"))
    if advice.age > kind.rated_hours and advice.never_past:
        yield _never_past(answer)


def _never_past(answer: PastRating) -> str:
    names = answer.advice.never_past
    return _say("not_on_one" if len(names) == 1 else "not_on", printers=", ".join(names))
