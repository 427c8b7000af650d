"""Does a rated life hold by a plain table of lifetimes, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.show.words.numbers import counted
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
