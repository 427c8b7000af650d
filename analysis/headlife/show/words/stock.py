"""How many spares, in words: what to hold, what to order when, what is counted and what is not.

From stock answers; gives sentences and computes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

from headlife.show.plain import lines
from headlife.show.words.days import day
from headlife.show.words.numbers import (
    bought_now,
    chance,
    counted,
    decimals,
    hours,
    in_100,
    listed,
    percent,
    sentences,
    span_of_heads,
)

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.spares.exchange import StockChange
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.spares.purchases import Purchase
    from headlife.decisions.spares.stock import StockPlan
    from headlife.decisions.spares.study import SparesStudy
    from headlife.fleet.empty import EmptyPosition
    from headlife.fleet.on_hand import Elsewhere

# Every sentence about what to hold and order, with the numbers it takes. The page's own script
# fills in the same templates when somebody tries other numbers.
TEMPLATES: Final = {
    "hold": "Hold {heads}, enough with a chance of {chance} ({need});",
    "need": "{mean} needed on average in {weeks} weeks{shelf}{doubt}",
    "need_shelf": ", after {heads}",
    "doubt_one": "; one of them for what is not known of the life",
    "doubt": "; {heads} of them for what is not known of the life",
    "order": "{shelf} on the shelf and {coming} on order, so order {order} now.",
    "exactly": "{shelf} on the shelf and {coming} on order are exactly that, so order none now.",
    "more": "{shelf} on the shelf and {coming} on order make {has}, more than that, so order none "
    "now.",
    "reorder": "Between reviews, order as soon as heads on hand and on order are down to {level}.",
    "waits": "In total, expect printers to wait {hours} before the next delivery.",
    "waits_none": "In total, expect printers to wait no time before the next delivery.",
    "least": "Carrying and waiting cost least at {level}.",
    "order_costs": "At {price} a head the order comes to {amount}.",
    "as_now": "Heads are swapped as they are now.",
    "swapped": "Swapped at {age}, {share} of the rating; quality-critical heads at their rating at "
    "the latest. What other head types are swapped at changes nothing here.",
    "past": "That is no advice to run heads past their rating: what it costs and risks is the "
    "question of headlife replace.",
    "year_costs": "The year uses {heads} of these heads ({range}): {amount} ({amounts}).",
}
WAITS_FROM: Final = 0.05  # expected hours below this are no time [h]


def stock_name(of: StockAnswer | StockChange | Purchase) -> str:
    """Name a stock: its head type, and its site where every site keeps its own.

    Parameters
    ----------
    of : StockAnswer or StockChange or Purchase
        Anything about one stock.

    Returns
    -------
    str
        The words.
    """
    return of.head_type if of.site is None else f"{of.head_type}, {of.site}"


_NOT_SO: Final = (
    "Where one is in, add its row; where a printer prints no more, write 0 hours for it under "
    "[usage]"
)
_NAMED: Final = 5  # printers named in one sentence before "and more"


def stock_sentence(answer: StockAnswer) -> str:
    """Say how many heads to hold, how many to order now and what service that gives.

    Parameters
    ----------
    answer : StockAnswer
        The answers about one stock.

    Returns
    -------
    str
        The sentence.
    """
    plan = answer.plan
    has = plan.on_hand + plan.on_order
    need = {
        "mean": decimals(answer.demand.mean, 1),
        "weeks": f"{answer.horizon_weeks:g}",
        "shelf": _say("need_shelf", heads=_part_used(answer.shelf_heads))
        if answer.shelf_heads
        else "",
        "doubt": _for_doubt(plan),
    }
    hold = _say(
        "hold",
        heads=counted(plan.stock_level, "new head", "new heads"),
        chance=chance(plan.service),
        need=_say("need", **need),
    )
    there = {"shelf": f"{plan.on_hand}", "coming": f"{plan.on_order}"}
    if plan.order_now > 0:
        return f"{hold} {_say('order', **there, order=f'{plan.order_now:,}')}"
    if has == plan.stock_level:
        return f"{hold} {_say('exactly', **there)}"
    return f"{hold} {_say('more', **there, has=f'{has:,}')}"


def _part_used(heads: int) -> str:
    return counted(heads, "part-used head", "part-used heads")


def _for_doubt(plan: StockPlan) -> str:
    """Say how many heads are there because the life is not known exactly."""
    if not plan.added:
        return ""
    return _say("doubt_one") if plan.added == 1 else _say("doubt", heads=f"{plan.added}")


def _say(name: str, **values: str) -> str:
    """Fill in a template."""
    return TEMPLATES[name].format(**values)


def order_words(plan: StockPlan) -> str:
    """Say what to order now in two or three words.

    Parameters
    ----------
    plan : StockPlan
        The stock plan.

    Returns
    -------
    str
        The words.
    """
    return f"order {plan.order_now} now" if plan.order_now else "order none"


def order_sentence(answer: StockAnswer) -> str:
    """Say when to order between reviews, what waiting is left, and where cost is least.

    Parameters
    ----------
    answer : StockAnswer
        The answers about one stock.

    Returns
    -------
    str
        The sentence.
    """
    waits = "waits" if answer.idle_hours >= WAITS_FROM else "waits_none"
    said = [
        _say("reorder", level=f"{answer.reorder_point}"),
        _say(waits, hours=hours(answer.idle_hours)),
    ]
    if answer.balanced_level is not None:
        said.append(_say("least", level=f"{answer.balanced_level}"))
    return " ".join(said)


def note_sentence(answer: StockAnswer) -> str:
    """Say what a reader must know about a stock: what is counted, what is not, how sure it is.

    Parameters
    ----------
    answer : StockAnswer
        What to hold.

    Returns
    -------
    str
        The sentences; empty where there is nothing to say.
    """
    return sentences(
        ahead_sentence(answer),
        _left_out(answer),
        _run_shares(answer),
        _circulation(answer),
        _service_doubt(answer.plan),
    )


def ahead_sentence(answer: StockAnswer) -> str:
    """Say what the records do not show: orders, printers, another policy, builds, lots to come.

    Parameters
    ----------
    answer : StockAnswer
        What to hold.

    Returns
    -------
    str
        The sentences; empty where there is nothing of the kind.
    """
    return sentences(*_ahead(answer))


def stock_words(answer: StockAnswer) -> str:
    """Say all that is to be said of a stock by itself.

    Parameters
    ----------
    answer : StockAnswer
        The answer for one stock.

    Returns
    -------
    str
        What to hold, when to order, and what a reader must know.
    """
    return sentences(stock_sentence(answer), order_sentence(answer), note_sentence(answer))


def said_of_all(answers: Sequence[StockAnswer], last_quarter: pd.DataFrame) -> list[str]:
    """Give what is said alike of every site's stock of a head type, to be said once.

    Parameters
    ----------
    answers : sequence of StockAnswer
        All stocks of one head type.
    last_quarter : DataFrame
        Forecasts of the last full quarter, by head type.

    Returns
    -------
    list of str
        The sentences; none of a stock alone.
    """
    if len(answers) < 2:
        return []
    first, *others = [list(_ahead(one)) for one in answers]
    alike = [one for one in first if one and all(one in other for other in others)]
    past = last_quarter_sentence(last_quarter, answers[0].head_type)
    return [*alike, *([f"All sites together: {past[0].lower()}{past[1:]}"] if past else [])]


def said_of_one(answer: StockAnswer, of_all: Sequence[str]) -> list[str]:
    """Give what lies ahead of one stock, beside what is said of all of its type.

    Parameters
    ----------
    answer : StockAnswer
        What to hold.
    of_all : sequence of str
        From `said_of_all`.

    Returns
    -------
    list of str
        The sentences.
    """
    return [one for one in _ahead(answer) if one and one not in of_all]


def _ahead(answer: StockAnswer) -> Iterator[str]:
    """Give the sentences on what the records do not show; some of them empty."""
    orders = "; ".join(map(_order, answer.orders))
    later, beyond = (
        " and ".join(map(day, days))
        for days in (answer.policy_changes, answer.policy_changes_beyond)
    )
    yield _empty(answer.empty)
    yield f"On order: {orders}." if orders else ""
    if answer.next_order is not None:
        yield (
            f"Heads are ordered on stated days, next on {day(answer.next_order)}: these numbers "
            "are for what has to last until an order of that day arrives."
        )
    yield _elsewhere(answer)
    yield from _coming(answer)
    if later:
        yield f"The settings change the policy on {later}: these numbers are for the one before."
    if beyond:
        yield (
            f"The settings change the policy on {beyond}, after the time that these numbers are "
            "for."
        )
    yield from map(_book_end, answer.book_ends)
    yield from _gives_way(answer)
    yield _refurbished(answer)
    yield _standing(answer.standing)
    yield _new_heads_as(answer.new_heads_as)


def _empty(positions: Sequence[EmptyPosition]) -> str:
    """Say which positions wait for a head, and what to do where they do not."""
    if not positions:
        return ""
    one = len(positions) == 1
    return (
        f"{'1 of these heads goes' if one else f'{len(positions)} of these heads go'} in at once: "
        f"by the records no head is in {_places(positions)}. {_NOT_SO}."
    )


def put_one_in(positions: Sequence[EmptyPosition]) -> str:
    """Ask for a head in every position that waits for one.

    Parameters
    ----------
    positions : sequence of EmptyPosition
        The positions.

    Returns
    -------
    str
        The sentences; empty where none waits.
    """
    if not positions:
        return ""
    return f"By the records no head is in {_places(positions)}: put one in. {_NOT_SO}."


def _places(positions: Sequence[EmptyPosition]) -> str:
    return _some([f"{one.printer} {one.position} (since {day(one.since)})" for one in positions])


def _some(names: Sequence[str]) -> str:
    """Name the first few."""
    more = len(names) - _NAMED
    return listed([*names[:_NAMED], *([f"{more} more"] if more > 0 else [])])


def _elsewhere(answer: StockAnswer) -> str:
    """Say which heads lie where none of their type is at work, and what they can do here."""
    if not answer.elsewhere:
        return ""
    where = listed([lies_at(one) for one in answer.elsewhere])
    several = sum(one.on_hand + one.on_order for one in answer.elsewhere) > 1
    them = "them" if several else "it"
    said = f"Not counted: {where}, where no {answer.head_type} head is at work."
    if answer.order_moved < answer.plan.order_now:
        then = f"{answer.order_moved}" if answer.order_moved else "none"
        return f"{said} With {them} moved here first, order {then}."
    return f"{said} {'They' if several else 'It'} can be moved to where a head is needed."


def lies_at(one: Elsewhere) -> str:
    """Say how many heads lie or are due at a site.

    Parameters
    ----------
    one : Elsewhere
        Heads at a site.

    Returns
    -------
    str
        The words, such as "2 on the shelf at Mill Yard".
    """
    parts = [
        *([f"{one.on_hand} on the shelf"] if one.on_hand else []),
        *([f"{one.on_order} on order"] if one.on_order else []),
    ]
    return f"{' and '.join(parts)} at {one.site}"


def _new_heads_as(lots: Mapping[str, Mapping[str, float]]) -> str:
    """Say which lot new heads are taken to live as, or which lots that are bought side by side."""
    if not lots:
        return ""
    named = {role: bought_now(shares) for role, shares in lots.items()}
    if len(set(named.values())) == 1:
        said = next(iter(named.values()))
    else:
        said = listed([f"{one} ({role})" for role, one in named.items()])
    alone = all(len(shares) == 1 for shares in lots.values())
    why = "which has the newest head" if alone else "bought side by side"
    return (
        f"New heads are taken to live as those of {said}, {why}; each head in place as its own "
        "does."
    )


def _gives_way(answer: StockAnswer) -> Iterator[str]:
    """Say which head type takes the place of another, and where what is needed is counted."""
    changes = dict.fromkeys((one.head_type, one.to) for one in answer.giving_way)
    for old, new in changes:
        counts = [
            f"{one.heads} of the last {one.of} {old} heads used up as {one.role}"
            for one in answer.giving_way
            if (one.head_type, one.to) == (old, new)
        ]
        where = "here" if answer.head_type == new else f"for {new}"
        yield (
            f"{listed(counts)} were followed by {new} heads, and these numbers go on with that: "
            f"what is needed for such heads counts {where}. If not, set [policy] confirmed = true."
        )


def _standing(printers: Sequence[str]) -> str:
    """Say which printers stood still, and what is taken of them."""
    if not printers:
        return ""
    its, are = ("its", "is") if len(printers) == 1 else ("their", "are")
    return (
        f"{_some(printers)} stood still for much of the time since {its} heads went in and {are} "
        "taken to print as little from now on; if not, say so under [plans] or [usage]."
    )


def _book_end(book: Any) -> str:
    """Say what counts once an order book ends; a `BookEnd` of the fleet room."""
    if book.yet:
        return (
            f"The order book “{book.name}” begins on {day(book.begins)}, after the time that these "
            "numbers are for, and is not in them."
        )
    if book.over:
        return (
            f"The order book “{book.name}” ended on {day(book.ends)} and counts no more: print "
            "hours are as the records show them."
        )
    return (
        f"The order book “{book.name}” reaches to {day(book.ends)}; from then on print hours are "
        "as the records show them."
    )


def _order(order: Any) -> str:
    """Say what one open order brings and when; an `OrderDue` of the fleet room."""
    what = f"{order.heads} ({order.name})" if order.name else f"{order.heads}"
    where = f" for {order.site}" if order.site else ""
    if order.due is None:
        when = "no day stated, counted one lead time from now"
    elif order.passed:
        when = f"due on {day(order.due)}, which has passed, and counted as here now"
    else:
        when = f"due on {day(order.due)}"
    return f"{what}{where}, {when}"


def _coming(answer: StockAnswer) -> Iterator[str]:
    """Say which printers that will come are in an answer, and which are not."""
    for name in dict.fromkeys(head.printer for head in answer.coming):
        heads = [head for head in answer.coming if head.printer == name]
        first = heads[0]
        if first.weeks <= 0:
            yield (
                f"The new printer {name} comes on {day(first.begins)}, after these "
                f"{answer.horizon_weeks:g} weeks, and adds nothing yet."
            )
            continue
        roles = " and ".join(head.role for head in heads)
        yield (
            f"The new printer {name} ({roles}, {first.weekly_hours:g} h a week) is counted from "
            f"{day(first.begins)} on; the heads it comes with are not taken from the stock."
        )
        unknown = [head.role for head in heads if not head.known]
        if unknown:
            yield (
                f"Its {' and '.join(unknown)} head is left out: no {answer.head_type} head has "
                "run in that role yet."
            )


def _left_out(answer: StockAnswer) -> str:
    if not answer.left_out:
        return ""
    if answer.left_out == 1:
        return "1 position whose head has not run yet is left out."
    return f"{answer.left_out} positions whose heads have not run yet are left out."


def _run_shares(answer: StockAnswer) -> str:
    shares = [f"{role} heads run {percent(share)}" for role, share in answer.run_shares.items()]
    if not shares:
        return ""
    return f"By their counters {listed(shares)} of their printers' hours on average."


def _circulation(answer: StockAnswer) -> str:
    shares = [
        f"{percent(share)} of the heads used up in the {role} role"
        for role, share in answer.new_after_use.items()
    ]
    if not shares:
        return ""
    return (
        "Part-used heads circulate: by how many wait, and by the records, a new one replaces "
        f"{listed(shares)}."
    )


def _refurbished(answer: StockAnswer) -> str:
    shares = [f"{one.heads} of the last {one.of} as {one.role}" for one in answer.refurbished]
    if not shares:
        return ""
    return (
        f"Of the {answer.head_type} heads that went in for a used-up one, {listed(shares)} were "
        "refurbished; as many are taken to come back, and the numbers are of new heads only. If "
        "no more come back, set [spares] use_shelf = false."
    )


def _service_doubt(plan: StockPlan) -> str:
    if not plan.in_doubt:
        return ""
    return (
        "So little is on record that the true chance may be lower than that: it is at least "
        f"{percent(plan.at_least)} in about {in_100(plan.sure)} cases like this."
    )


def doubt_sentence(answer: StockAnswer, other: StockAnswer | None) -> str:
    """Say what the stock would be if the removals in doubt were no failures.

    Parameters
    ----------
    answer : StockAnswer
        As the review has it, with them as failures.
    other : StockAnswer or None
        The same with them as no failures; None where none is in doubt.

    Returns
    -------
    str
        The sentence.
    """
    if other is None or other.plan.stock_level == answer.plan.stock_level:
        return ""
    return f"With the removals in doubt as no failures: {other.plan.stock_level}."


def last_quarter_sentence(last_quarter: pd.DataFrame, head_type: str) -> str:
    """Say whether the forecast of a quarter ago came true; nothing where there was none.

    Parameters
    ----------
    last_quarter : DataFrame
        Forecasts of the last full quarter, by head type.
    head_type : str
        Head type.

    Returns
    -------
    str
        The sentence.
    """
    if len(last_quarter) == 0:
        return ""
    own = last_quarter[last_quarter["head_type"] == head_type]
    if len(own) == 0:
        return ""
    row = next(lines(own))
    said = span_of_heads(row.low_80, row.high_80)
    missed = "" if row.inside_80 else ", outside the range"
    return f"For the last quarter we would have said {said} used up; it was {row.happened}{missed}."


def lead_time_sentence(study: SparesStudy) -> str:
    """Say what is assumed of deliveries.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.

    Returns
    -------
    str
        The sentence.
    """
    spares = study.spares
    past = len(spares.past_lead_times_weeks)
    if past:
        return (
            f"Lead times are taken from {counted(past, 'past delivery', 'past deliveries')}, the "
            f"longest {max(spares.past_lead_times_weeks):g} weeks."
        )
    if spares.lead_time_sd_weeks:
        return (
            f"Lead times are taken as {spares.lead_time_weeks:g} weeks, give or take "
            f"{spares.lead_time_sd_weeks:g}."
        )
    return (
        f"Every delivery is taken to come after exactly {spares.lead_time_weeks:g} weeks; where "
        "some come late, state past_lead_times_weeks or lead_time_sd_weeks in [spares]: more heads "
        "are needed then."
    )
