"""Is a verdict confirmed, and what would overturn it? In words.

From a `Standing`; never calls confirmed what is only seen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.decisions.boundaries import LEAST_STEP
from headlife.decisions.other_readings import HOURS, LEFT_OUT, NO_REASON
from headlife.decisions.rating import FALLS_SHORT, HOLDS, NOT_SETTLED
from headlife.show.words.days import day
from headlife.show.words.numbers import chance, counted, listed, percent, sentences, span

if TYPE_CHECKING:
    from headlife.decisions.looks import Look, VerdictHistory
    from headlife.decisions.overturn import Overturn, Reading
    from headlife.decisions.standing import Standing

_MOVED_BY: Final = {
    HOURS: "The hours of {heads} were worked out and not read: with the least and the most that "
    "they can be,",
    NO_REASON: "No reason is written down of {heads} out early: as working, as they count, or as "
    "failed,",
    LEFT_OUT: "Left out because of what stands in their rows: {heads}. Had they failed as soon as "
    "they can have, or all reached the rating,",
}
# One sign a quarter: by shape, so that no colour is needed.
_SEEN: Final = {HOLDS: "△", FALLS_SHORT: "▽", NOT_SETTLED: "·"}
_CONFIRMED: Final = {HOLDS: "▲", FALLS_SHORT: "▼"}
SIGNS: Final = (
    "Each sign is one quarter end, the oldest first: · not settled, △ holds or ▽ falls short by "
    "that look alone, ▲ or ▼ the same and past the boundary at which it is confirmed."
)


def standing_sentence(standing: Standing | None) -> str:
    """Say in a line or two whether a verdict is confirmed, and what would overturn it.

    Parameters
    ----------
    standing : Standing or None
        How the verdict stands; None where that is not known.

    Returns
    -------
    str
        The sentences; empty where nothing is settled and nothing was confirmed.
    """
    if standing is None:
        return ""
    overturn = standing.overturn
    told = history_sentence(standing.history), _overturn_sentence(overturn)
    return sentences(*told, readings_sentence(overturn))


def readings_sentence(overturn: Overturn) -> str:
    """Say how far an answer could move by what nobody read and by heads that are left out.

    Parameters
    ----------
    overturn : Overturn
        What would overturn a verdict.

    Returns
    -------
    str
        The sentences; empty where every hour was read and no head is left out.
    """
    return " ".join(
        _moved(overturn, [one for one in overturn.readings if one.about == about], start)
        for about, start in _MOVED_BY.items()
        if any(one.about == about for one in overturn.readings)
    )


def _moved(overturn: Overturn, readings: list[Reading], start: str) -> str:
    heads = counted(readings[0].heads, "head", "heads")
    shares = [overturn.share_reaching, *(one.share_reaching for one in readings)]
    reach = f"{span(min(shares), max(shares))} of all heads"
    said = f"{start.format(heads=heads)} {reach} would reach the rating"
    if overturn.verdict == NOT_SETTLED:
        return f"{said}."
    hangs = any(one.verdict != overturn.verdict for one in readings)
    return f"{said}; the verdict {'hangs on them' if hangs else 'stands either way'}."


def history_sentence(history: VerdictHistory) -> str:
    """Say whether a verdict is seen for the first time or confirmed.

    Parameters
    ----------
    history : VerdictHistory
        A verdict at every quarter end.

    Returns
    -------
    str
        The sentence.
    """
    verdict = f"“{history.verdict[0].upper()}{history.verdict[1:]}”"
    if history.confirmed_on is not None:
        on = day(history.confirmed_on)
        if history.standing == "confirmed":
            return f"Confirmed on {on}."
        return f"{verdict}, confirmed on {on}, is not what today's look says."
    if history.seen_since is None:
        return ""
    seen = day(history.seen_since)
    return f"{verdict} first seen on {seen}, not confirmed ({_to_confirm(history)})."


def _to_confirm(history: VerdictHistory) -> str:
    """Say what is missing before a verdict is confirmed."""
    look = history.looks[-1]
    holds = history.verdict == HOLDS
    limit = look.holds_from if holds else 1.0 - look.falls_short_to
    if limit != limit:
        return _no_boundary(history)
    if (look.probability if holds else 1.0 - look.probability) >= limit:
        return "other kinds of life do not agree"
    return f"that takes {percent(limit)} now, less every quarter"


def _no_boundary(history: VerdictHistory) -> str:
    """Say why today's look could confirm nothing, whatever it saw."""
    *before, look = history.looks
    judged = [one for one in before if one.holds_from == one.holds_from]
    ended = any(one.day > judged[-1].day for one in before) if judged else False
    if ended and look.information <= judged[-1].information * (1.0 + LEAST_STEP):
        return f"these heads ran too little since {day(judged[-1].day)} for that"
    return "that takes the end of a quarter"


def looks_sentence(history: VerdictHistory) -> str:
    """Say what confirmed means, and how often it is wrong.

    Parameters
    ----------
    history : VerdictHistory
        A verdict at every quarter end.

    Returns
    -------
    str
        The sentence.
    """
    return (
        "A first decisive look is wrong in about one shop of five where the truth lies at the edge "
        f"of the claim. A confirmed verdict is wrong in about {percent(history.error)} at most, on "
        f"each side, over {history.planned} quarterly looks: it must reach a boundary that falls "
        "from look to look (group-sequential error spending, Lan and DeMets 1983)."
    )


def _overturn_sentence(overturn: Overturn) -> str:
    """Say in one line what would overturn a verdict."""
    if overturn.verdict == NOT_SETTLED:
        return ""
    return sentences(_pulled(overturn), _kinds(overturn))


def _pulled(overturn: Overturn) -> str:
    pulled = overturn.pulled
    if overturn.verdict != HOLDS or not pulled.pulled:
        return ""
    heads = counted(pulled.pulled, "head", "heads")
    if pulled.to_overturn is None:
        return f"It stands even if all {heads} taken out early were about to fail."
    some = f"{pulled.to_overturn} of the {heads} taken out early"
    if pulled.few:
        return f"Not called “holds”: if {some} had been about to fail, it would not."
    return f"It would not hold if {some} had been about to fail."


def _kinds(overturn: Overturn) -> str:
    if not overturn.average_agrees:
        return (
            "It hangs on the Weibull life: with other kinds of life allowed the chance is "
            f"{chance(overturn.averaged)}."
        )
    if overturn.opposed:
        names = listed([kind.name for kind in overturn.opposed])
        if overturn.other_kinds_agree:
            return f"It would not be settled if lives were {names}."
        return f"It hangs on the kind of life: it would not be settled if lives were {names}."
    return ""


def look_sign(look: Look) -> str:
    """Give the sign of one look.

    Parameters
    ----------
    look : Look
        One quarter end.

    Returns
    -------
    str
        One character, of those that `SIGNS` explains.
    """
    return _CONFIRMED.get(look.confirms) or _SEEN[look.verdict]


def strip_words(history: VerdictHistory) -> str:
    """Tell the looks of a verdict in words, for those who do not see the signs.

    Parameters
    ----------
    history : VerdictHistory
        A verdict at every quarter end.

    Returns
    -------
    str
        The words.
    """
    told = []
    for look in history.looks:
        said = f"{look.confirms}, confirmed" if look.confirms != NOT_SETTLED else look.verdict
        told.append(f"{day(look.day)} {said}")
    return "; ".join(told)
