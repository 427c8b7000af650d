"""Does a rated life hold by a plain table of lifetimes, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.show.words.numbers import counted, hours, most_known, whole
from headlife.show.words.rating import rating_sentence

if TYPE_CHECKING:
    from headlife.decisions.lifetimes import GroupVerdict


def group_sentence(one: GroupVerdict) -> str:
    """Say whether the rating holds, and where the shape of the life was assumed.

    Parameters
    ----------
    one : GroupVerdict
        The verdict of one group.

    Returns
    -------
    str
        The sentence.
    """
    told = rating_sentence(one.verdict)
    if one.life.shape_learned:
        return told
    count = counted(one.failures, "failure", "failures")
    return f"{told} With {count}, how the risk grows with age is assumed, not learned."


def beyond_sentence(one: GroupVerdict) -> str:
    """Say that lives far past every head on record are only called longer; empty without one.

    Parameters
    ----------
    one : GroupVerdict
        The verdict of one group.

    Returns
    -------
    str
        The sentence.
    """
    most = most_known(one.verdict.rated_hours, one.oldest_hours)
    told = [one.b_life, one.verdict.life_at_share, *one.verdict.life_at_share_bounds]
    told += [one.life.scale] if one.life.has_ml else []
    if max(told) <= most:
        return ""
    return (
        f"“Over {whole(most)}”: the oldest of these heads ran {hours(one.oldest_hours)}, so on "
        "lives as long as that these records say nothing."
    )
