"""What changed since an earlier day, in words. From `Changes`; judges no change."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, Any, Final

from headlife.show.plain import lines
from headlife.show.words.days import day
from headlife.show.words.numbers import chance, counted, decimals, hours, listed, span_of_heads
from headlife.show.words.rating import NO_VERDICT
from headlife.show.words.stock import stock_name

if TYPE_CHECKING:
    from headlife.decisions.changes import Changes, GroupChange
    from headlife.decisions.spares.exchange import StockChange
    from headlife.shop.differences import SettingChange

EXCHANGED: Final = (
    "Present ages (and with them how near a stated order day is), then use, then what was learned, "
    "then prices and settings are exchanged for today's, one after the other, and the level is "
    "worked out again each time: the steps add up to the whole change. Where parts work together, "
    "the one exchanged later gets what they do "
    "together. In brackets: the mean need over lead time and review period [heads]."
)


def changed_sentence(changes: Changes) -> str:
    """Say in one sentence what is another answer than it was: verdicts, stock levels, heads.

    Parameters
    ----------
    changes : Changes
        What changed.

    Returns
    -------
    str
        The sentence.
    """
    verdicts = [
        f"{one.group.name} is “{one.verdict_now or NO_VERDICT}” now"
        for one in changes.groups
        if one.verdict_now != one.verdict_before
    ]
    levels = [
        f"hold {one.level_now} {stock_name(one)} heads, not {one.level_before}"
        for one in changes.stock
        if one.level_now != one.level_before
    ]
    new, gone = len(changes.new), len(changes.gone)
    heads = f"{counted(new, 'head is', 'heads are')} new among those to look after, {gone} gone"
    said = "; ".join(
        [
            listed(verdicts or ["no verdict changed"]),
            listed(levels or ["no stock level changed"]),
            heads,
        ]
    )
    return f"{said[0].upper()}{said[1:]}."


def rating_lines(changes: Changes) -> list[tuple[str, str]]:
    """Say of every group what changed; lots of which nothing came on record in one line.

    Parameters
    ----------
    changes : Changes
        What changed.

    Returns
    -------
    list of (str, str)
        Name and sentences. A lot that is all heads of its type and role is not said once more.
    """
    parts = Counter((one.group.pooled, one.group.columns) for one in changes.groups)
    told = [
        one
        for one in changes.groups
        if not one.group.further or parts[one.group.pooled, one.group.columns] > 1
    ]
    idle = [one.group.name for one in told if one.group.further and one.as_then]
    found = [(one.group.name, verdict_sentence(one)) for one in told if one.group.name not in idle]
    return [*found, ("As then, without new hours", f"{'; '.join(idle)}.")] if idle else found


def verdict_sentence(one: GroupChange) -> str:
    """Say what changed of a verdict and what was learned for it.

    Parameters
    ----------
    one : GroupChange
        One group of heads.

    Returns
    -------
    str
        The sentences.
    """
    bought = " Bought now, not then." if one.bought_since else ""
    return f"{_verdict(one)}{bought} {_learned_sentence(one)}"


def _verdict(one: GroupChange) -> str:
    now = one.verdict_now or NO_VERDICT
    then = one.verdict_before
    chances = f"{chance(one.probability_before)}, now {chance(one.probability_now)}"
    confirmed = ", confirmed since" if one.confirmed_since else ""
    if then is None:
        return f"New: {now} ({chance(one.probability_now)} that the claim is true){confirmed}."
    if then == one.verdict_now:
        same = (
            chance(one.probability_now)
            if chance(one.probability_before) == chance(one.probability_now)
            else chances
        )
        return f"Still {now} (chance that the claim is true {same}){confirmed}."
    return f"“{then}” then, “{now}” now (chance that the claim is true {chances}){confirmed}."


def _learned_sentence(one: GroupChange) -> str:
    """Say what came on record of one group of heads."""
    failed = [f"{count} by {mode}" for mode, count in one.failures.items() if count]
    failures = f"failures: {listed(failed)}" if failed else "no failure"
    heads = counted(one.heads, "new head", "new heads")
    return f"Since then {heads}, {hours(one.hours)} of printing, {failures}."


def level_sentence(one: StockChange) -> str:
    """Say how a stock level changed and what did it.

    Parameters
    ----------
    one : StockChange
        One stock.

    Returns
    -------
    str
        The sentence.
    """
    did = [f"{step.part} {signed(step.level)}" for step in one.steps if step.level]
    if one.level_now == one.level_before:
        parts = f": {listed(did)}" if did else ""
        return f"{one.level_now} as then{parts}."
    return f"{one.level_before} then, {one.level_now} now: {listed(did)}."


def signed(value: float, digits: int = 0) -> str:
    """Write a difference with its sign.

    Parameters
    ----------
    value : float
        The difference.
    digits : int, optional
        Decimals.

    Returns
    -------
    str
        The words; nothing is 0.
    """
    written = decimals(value, digits)
    return f"+{written}" if value > 0 and any(one in "123456789" for one in written) else written


def removals_sentence(changes: Changes) -> str:
    """Count the heads taken out since, by why.

    Parameters
    ----------
    changes : Changes
        What changed.

    Returns
    -------
    str
        The sentence.
    """
    rows = changes.removals
    since = day(changes.since)
    if not len(rows):
        return f"No head was taken out since {since}."
    failed = rows["mode"].dropna().value_counts()
    others = rows["suspension"].dropna().value_counts()
    parts = [(count, f"failed ({mode})") for mode, count in failed.items()]
    parts += [(count, f"for {kind}") for kind, count in others.items()]
    begun = f"Since {since} {counted(len(rows), 'head was', 'heads were')} taken out"
    if len(parts) == 1:
        ((count, why),) = parts
        return f"{begun}, all {why}." if count > 1 else f"{begun}: {why}."
    return f"{begun}: {listed([f'{count} {why}' for count, why in parts])}."


def gone_words(row: Any) -> str:
    """Say why a head is no longer among those to look after.

    Parameters
    ----------
    row : named tuple
        A row of `Changes.gone`.

    Returns
    -------
    str
        The words.
    """
    where = f"{row.head} in {row.printer} {row.position}, then “{row.action}”"
    if row.went != row.went:
        return f"{where}: nothing is to be done about it now"
    return f"{where}: {row.reason} on {day(row.went)}"


def forecast_sentences(changes: Changes) -> list[str]:
    """Say what would have been said then of the time since, and what happened.

    Parameters
    ----------
    changes : Changes
        What changed.

    Returns
    -------
    list of str
        One sentence per head type.
    """
    return [
        f"{row.head_type}: we would have said {span_of_heads(row.low_80, row.high_80)} used up; it "
        f"was {row.happened}{'' if row.inside_80 else ', outside the range'}. New heads taken: "
        f"{row.taken}; a stock of {row.level} would {'' if row.served else 'not '}have served."
        for row in lines(changes.forecasts)
    ]


def setting_sentence(one: SettingChange) -> str:
    """Say what a setting was and is.

    Parameters
    ----------
    one : SettingChange
        One key.

    Returns
    -------
    str
        The words.
    """
    key = f"[{one.table}] {one.key}" if one.key else one.table
    return f"{key}: {one.before} then, {one.after} now"


def not_exchanged_sentence(changes: Changes) -> str:
    """Name the tables of the earlier settings that could not be gone back to; or nothing.

    Parameters
    ----------
    changes : Changes
        What changed.

    Returns
    -------
    str
        The sentence.
    """
    if not changes.not_exchanged:
        return ""
    return (
        f"Rows are read by {listed(list(changes.not_exchanged))}, so those are today's on both "
        "days, whatever the earlier settings say."
    )
