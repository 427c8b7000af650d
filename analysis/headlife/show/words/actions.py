"""What is to be done, why, by when, what hangs on it, and what came of it: in words.

From `Actions` and what came of earlier ones; gives one short sentence for each column.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from headlife.decisions import actions as todo
from headlife.decisions import came_of as came
from headlife.shop.columns import REFURBISHED
from headlife.show.plain import Table
from headlife.show.words.days import day
from headlife.show.words.due import spare_words
from headlife.show.words.numbers import (
    chance,
    chance_beside,
    counted,
    hours,
    listed,
    money,
    of_rating,
    percent,
    span,
)
from headlife.show.words.stock import lies_at
from headlife.show.words.watch import to_finish

if TYPE_CHECKING:
    from collections.abc import Sequence

    from headlife.decisions.actions import Action, Actions
    from headlife.decisions.came_of import CameOf

# So many are shown on a first screen; the file has all of them.
SHOWN: Final = 9


def what(action: Action) -> str:
    """Say what is to be done.

    Parameters
    ----------
    action : Action
        One action.

    Returns
    -------
    str
        The words, without a full stop.
    """
    kind, about = action.kind, action.about
    if kind == todo.ORDER:
        site = f" for {about[1]}" if about[1] else ""
        return f"Order {counted(action.heads, f'{about[0]} head', f'{about[0]} heads')}{site}"
    if kind in (todo.SWAP, todo.BUILD):
        before = " before the next long build" if kind == todo.BUILD else ""
        return f"Swap {about[0]} in {about[1]} {about[2]}{before}"
    name = ", ".join(about)
    if kind == todo.PRACTICE:
        return f"Settle which is true for {name}, the settings or what is done"
    if kind == todo.MISSING:
        return f"Add the heads that {name} seems to leave out"
    if kind == todo.RECORDS:
        return f"Correct {counted(action.heads, 'row', 'rows')} of {name} that cannot be used"
    if kind == todo.VENDOR:
        return f"Take the rating of {name} heads up with the vendor"
    if kind == todo.RATING:
        return f"Rely on no verdict on {name} heads yet; go on recording"
    those = counted(action.heads, f"{name} head", f"{name} heads")
    return f"Find out how the {those} {_IN_QUESTION[kind]} really were"


_IN_QUESTION: Final = {todo.DOUBT: "in doubt", todo.PULLED: "taken out early"}


def why(action: Action, actions: Actions) -> str:
    """Say why, in half a sentence.

    Parameters
    ----------
    action : Action
        One of them.
    actions : Actions
        All of them.

    Returns
    -------
    str
        The words.
    """
    if action.kind == todo.BUILD:
        return _why_build(action, actions.build_hours)
    return _WHY[action.kind](action)


def _why_swap(action: Action) -> str:
    row = action.facts
    share = f"{of_rating(row.age_hours, row.rated_hours)} of its rating"
    limit = f"the settings swap at {hours(row.swap_at)}"
    if math.isinf(row.swap_at):
        limit = "it is quality-critical"
    elif row.quality_critical and row.rated_hours < row.swap_at:
        limit = "it is quality-critical and never runs past it"
    return f"{hours(row.age_hours)}, {share}; {limit}"


def _why_build(action: Action, build_hours: float) -> str:
    row = action.facts
    limit = min(row.swap_at, row.rated_hours) if row.quality_critical else row.swap_at
    left = limit - row.age_hours
    if left < build_hours:
        return f"{hours(max(left, 0.0))} left to {hours(limit)}, less than the build takes"
    return f"only {to_finish(row.probability)} to finish a build of {hours(build_hours)}"


def _why_order(action: Action) -> str:
    answer = action.facts
    plan = answer.plan
    have = f"{plan.on_hand:,} on the shelf and {plan.on_order:,} on order"
    idle = [lies_at(one) for one in answer.elsewhere]
    moved = f"; {listed(idle)} can be moved here first" if idle else ""
    return f"hold {plan.stock_level:,}; {have}{moved}"


def _why_practice(action: Action) -> str:
    return "forecasts follow the records until the settings say what is done"


def _why_missing(action: Action) -> str:
    return "no answer is right without heads that lasted; headlife check says what is missing"


def _why_records(action: Action) -> str:
    return "they are in no number of this review"


def _why_doubt(action: Action) -> str:
    return "the answers are other ones if they were no failures"


def _why_pulled(action: Action) -> str:
    some = action.facts.overturn.pulled.to_overturn
    return f"the rating would not be said to hold if {some} of them had been about to fail"


def _why_vendor(action: Action) -> str:
    verdict, lives = action.facts.verdict, action.facts.lives
    said = (
        f"about {percent(verdict.share_reaching)} reach {hours(verdict.rated_hours)} "
        f"({span(*verdict.bounds)}); claimed {percent(verdict.share)}, and that is confirmed"
    )
    anew = int(lives[REFURBISHED].notna().sum()) if REFURBISHED in lives else 0
    first = f"; {anew} of {len(lives)} were refurbished, so judge new ones first" if anew else ""
    return said + first


def _why_rating(action: Action) -> str:
    verdict = action.facts.verdict
    likely = chance_beside(verdict.probability, verdict.confidence)
    return (
        f"{likely} that {percent(verdict.share)} reach "
        f"{hours(verdict.rated_hours)}; a verdict takes {chance(verdict.confidence)}"
    )


_WHY: Final = {
    todo.MISSING: _why_missing,
    todo.SWAP: _why_swap,
    todo.ORDER: _why_order,
    todo.PRACTICE: _why_practice,
    todo.RECORDS: _why_records,
    todo.DOUBT: _why_doubt,
    todo.PULLED: _why_pulled,
    todo.VENDOR: _why_vendor,
    todo.RATING: _why_rating,
}


def by(action: Action, actions: Actions) -> str:
    """Say by when.

    Parameters
    ----------
    action : Action
        One of them.
    actions : Actions
        All of them.

    Returns
    -------
    str
        "now", or the day.
    """
    return "now" if action.by == actions.as_of.date() else f"by {day(action.by)}"


def stake(action: Action, actions: Actions) -> str:
    """Say what hangs on it: what it costs, what it risks, which head goes in.

    Parameters
    ----------
    action : Action
        One of them.
    actions : Actions
        All of them.

    Returns
    -------
    str
        The words; empty where nothing is known.
    """
    if action.kind == todo.ORDER:
        plan = action.facts.plan
        cost = "" if action.amount is None else f"; {money(action.amount, actions.currency)}"
        without = chance(action.risk or 0.0)
        return (
            f"{without} that a printer waits within {action.facts.horizon_weeks:g} weeks without "
            f"it, {chance(1.0 - plan.service)} with it{cost}"
        )
    if action.kind in (todo.SWAP, todo.BUILD):
        spare = f"put in: {spare_words(action.facts)}"
        if action.facts.spare == "none":
            other = action.facts.spare_site
            spare = "no spare is there" + (f", {other} has a new head" if other else "")
        if action.risk is None:
            return spare
        lost = ""
        if action.amount is not None:
            lost = f" ({money(action.amount, actions.currency)} at risk)"
        build = hours(actions.build_hours)
        fails = f"{chance(action.risk)} to fail in the next {build}{lost}"
        return f"{fails}; {spare}{_same_visit(action, actions)}"
    return ""


def _same_visit(action: Action, actions: Actions) -> str:
    """Say which other head of the printer can be swapped in the same visit."""
    others = [
        one.about[0]
        for one in actions.each
        if one is not action and one.kind in (todo.SWAP, todo.BUILD)
        if one.about[1] == action.about[1]
    ]
    return f"; one visit and calibration serve {listed(others)} too" if others else ""


def more_sentence(actions: Actions) -> str:
    """Say how many more there are than a first screen shows; nothing where it shows all.

    Parameters
    ----------
    actions : Actions
        All of them.

    Returns
    -------
    str
        The sentence.
    """
    more = len(actions.each) - SHOWN
    return f"And {more:,} more; --actions-to FILE.xlsx lists all of them." if more > 0 else ""


def came_of(found: Sequence[CameOf]) -> Table:
    """Tabulate what came of the actions given back.

    Parameters
    ----------
    found : sequence of CameOf
        What came of them.

    Returns
    -------
    Table
        A row for each.
    """
    rows = [
        [
            one.given.what,
            day(one.given.action.as_of),
            one.given.owner,
            one.given.decision,
            came_sentence(one),
        ]
        for one in found
    ]
    return Table(("What", "Asked on", "Owner", "Decision", "What came of it"), rows)


def came_sentence(one: CameOf) -> str:
    """Say what came of an action.

    Parameters
    ----------
    one : CameOf
        What came of it.

    Returns
    -------
    str
        The words.
    """
    kind = one.given.action.kind
    if kind in (todo.SWAP, todo.BUILD):
        return _came_of_swap(one)
    if kind == todo.ORDER:
        return _came_of_order(one)
    if kind in (todo.MISSING, todo.PRACTICE, todo.RECORDS, todo.DOUBT):
        return "settled" if one.state == came.DONE else "still open"
    if one.state == came.UNKNOWN:
        return "no such heads on record now"
    still = "still " if one.state == came.OPEN else "now "
    return f"{still}{one.verdict} ({chance(one.probability or 0.0)} that the claim is true)"


def _came_of_swap(one: CameOf) -> str:
    if one.state == came.UNKNOWN or one.hours is None:
        return "not on record at that place"
    at = hours(one.hours)
    if one.day is None:
        return f"still in, now at {at}"
    if one.state == came.FAILED:
        return f"failed on {day(one.day)} at {at}, before it was swapped"
    late = (one.day - one.given.action.by).days
    in_time = "in time" if late <= 0 else f"{counted(late, 'day', 'days')} late"
    return f"swapped on {day(one.day)} at {at}, {in_time}"


def _came_of_order(one: CameOf) -> str:
    asked = one.given.action.heads
    if one.state == came.UNKNOWN:
        return "not known: the heads on hand in the settings are fewer than were used up since"
    if one.state == came.OPEN:
        return f"not ordered, by the settings and what was used up since (asked for {asked})"
    return f"{one.ordered} ordered and {one.arrived} of {asked} arrived"
