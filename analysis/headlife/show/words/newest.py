"""What is bought now, in words: its verdict, or how the newest purchases have fared.

From a division's part bought now, and from `Newest`; a part too young to judge is called so, and
what was judged together with all other heads is said to be.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from headlife.shop.columns import PURCHASE_YEAR
from headlife.show.words.days import day
from headlife.show.words.fit import division_sentence
from headlife.show.words.numbers import counted, decimals, percent, sentences
from headlife.show.words.rating import NO_VERDICT, rating_sentence

if TYPE_CHECKING:
    from headlife.decisions.newest import Newest
    from headlife.decisions.review_answers import Division, Review, Stratum
    from headlife.life.by_lot import Purchased

TOO_YOUNG: Final = "too young to judge"


def division_answer(review: Review, division: Division) -> str:
    """Say whether the parts of a division differ, and what the verdict is on what is bought now.

    Parameters
    ----------
    review : Review
        The quarter's answers.
    division : Division
        A head type and role divided by further columns.

    Returns
    -------
    str
        The sentences.
    """
    if len(division.parts) == 1:
        return f"All {division.group.name} heads are of {division.parts[0].group.part}."
    return sentences(
        bought_now_sentence(review, division),
        division_sentence(division),
        _stands_in_sentence(division),
    )


def bought_now_sentence(review: Review, division: Division, named: bool = True) -> str:
    """Say what the verdict is on the heads that are bought now.

    Parameters
    ----------
    review : Review
        The quarter's answers.
    division : Division
        A head type and role divided by further columns.
    named : bool
        Whether to name the head type and role.

    Returns
    -------
    str
        The sentences; empty where the parts are no purchases.
    """
    now = division.bought_now
    if not now:
        return ""
    begun = f"{division.group.name}, bought now" if named else "Bought now"
    said = [f"{begun}{' side by side' if len(now) > 1 else ''}:"]
    said += [_of_purchase(review, division, one) for one in now]
    judged = [one for one in division.purchases if division.part(one.group).can_be_judged]
    if judged and not any(one in now for one in judged):
        said.append(f"The newest that can be judged: {_of_purchase(review, division, judged[0])}")
    return " ".join(said)


def purchase_sentence(review: Review, division: Division, part: Stratum) -> str:
    """Say what the verdict is on one part that is bought now.

    Parameters
    ----------
    review : Review
        The quarter's answers.
    division : Division
        A head type and role divided by further columns.
    part : Stratum
        One of its parts.

    Returns
    -------
    str
        The sentences.
    """
    bought = next(one for one in division.purchases if one.group == part.group)
    return f"Bought now: {_of_purchase(review, division, bought)}"


def _of_purchase(review: Review, division: Division, one: Purchased) -> str:
    """Say how much of a part is bought now, when it last was, and what its verdict is."""
    part = division.part(one.group)
    much = f" ({percent(one.share)} of them)" if 0 < one.share < 1 else ""
    of = f"{one.group.part}{much}, with its newest head of {day(one.newest)}"
    if part.verdict is None:
        return f"{of}: {NO_VERDICT}."
    if part.too_young:
        return f"{of}: {TOO_YOUNG}."
    verdict = review.stated_verdict(part) or part.verdict.verdict
    return f"{of}: {verdict}. {rating_sentence(part.verdict)}"


def _stands_in_sentence(division: Division) -> str:
    """Say where the first day in a printer stands in for the day of purchase."""
    if PURCHASE_YEAR not in division.columns:
        return ""
    lives = [part.lives for part in division.parts if len(part.lives)]
    if not lives:
        return "Where no day of purchase is on record, the day a head first went in stands in."
    heads = sum(len(one) for one in lives)
    without = sum(
        int((one["date_bought"].isna() & one[PURCHASE_YEAR].notna()).sum()) for one in lives
    )
    if not without:
        return ""
    return (
        f"For {without} of {counted(heads, 'head', 'heads')} no day of purchase is on record, so "
        "the day it first went in stands in."
    )


def newest_sentence(found: Sequence[Newest]) -> str:
    """Say how the newest purchases, and refurbished heads, fared, and how to have them judged.

    Parameters
    ----------
    found : sequence of Newest
        The newest purchases, and the refurbished heads, of every head type and role that can be
        told from others.

    Returns
    -------
    str
        The sentences; empty where there are none.
    """
    newest = [one for one in found if one.since is not None]
    refurbished = [one for one in found if one.since is None]
    return sentences(_bought_last(newest), _refurbished(refurbished))


def _bought_last(found: Sequence[Newest]) -> str:
    if not found:
        return ""
    one, among = _farthest(found)
    columns = dict.fromkeys(each.column for each in found)
    asked = " or ".join(f'[review] groups = ["{column}"]' for column in columns)
    return (
        f"Bought last: of {one.group.name}, {one.failures} of the "
        f"{counted(one.heads, 'head', 'heads')} bought since {one.since} failed where "
        f"{decimals(one.expected, 1)} would be usual{among}. They are judged together with all "
        f"heads before them; {asked} in the settings judges what is bought now by itself."
    )


def _refurbished(found: Sequence[Newest]) -> str:
    if not found:
        return ""
    one, among = _farthest(found)
    return (
        f"Refurbished: of {one.group.name}, {one.failures} of the {one.heads} refurbished heads "
        f"failed where {decimals(one.expected, 1)} would be usual{among}. They are judged together "
        "with new heads, of which the vendor's rating is; "
        '[review] groups = ["refurbished"] in the settings judges new heads by themselves.'
    )


def _farthest(found: Sequence[Newest]) -> tuple[Newest, str]:
    """Take the one whose failures are farthest from what is usual, and say so."""
    among = "; no other kind of head is farther from what is usual" if len(found) > 1 else ""
    return min(found, key=lambda one: one.chance), among
