"""Which heads are due and what is to be done about them, in words.

From rows of a `DueList`; gives the line about one head, and the sentence about all of them.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.due import ACTIONS, BEFORE_BUILD, LEAVE, PLAN, SWAP_NOW
from headlife.decisions.spare_for import ELSEWHERE, NEW, NONE, ORDERED
from headlife.show.words.days import day, day_span
from headlife.show.words.numbers import counted, hours, hours_span, of_rating
from headlife.show.words.stock import put_one_in
from headlife.show.words.watch import to_finish

if TYPE_CHECKING:
    from headlife.decisions.due import DueList

NOTHING_DUE: Final = "No head is due, and each is likely to finish the next long build."
WHICH_PART_USED: Final = (
    "Where several part-used heads fit, headlife plan says which of them goes in, by the builds "
    "ahead."
)
_ALL: Final = {
    SWAP_NOW: "to be swapped now",
    BEFORE_BUILD: "to be swapped before the next long build",
    PLAN: "to be planned for",
}


def due_sentence(due: DueList) -> str:
    """Count the heads by what is to be done, the most urgent first.

    Parameters
    ----------
    due : DueList
        The list.

    Returns
    -------
    str
        The sentence.
    """
    counts = [(word, len(due.of_action(word))) for word in ACTIONS]
    said = [
        f"{counted(n, 'head', 'heads')} {_ALL[word]}" for word, n in counts if n and word in _ALL
    ]
    rest = counted(dict(counts)[LEAVE], "other head", "other heads")
    if not said:
        whole = NOTHING_DUE if len(due.heads) else "No head is in service."
    else:
        whole = "; ".join([*said, *([f"{rest} can stay"] if dict(counts)[LEAVE] else [])]) + "."
    return f"{whole} {put_one_in(due.empty)}".rstrip()


def hours_left(left: float) -> str:
    """Say how far a head is from an age, or by how much it is past it.

    Parameters
    ----------
    left : float
        Hours to go; below zero when past [h].

    Returns
    -------
    str
        The words.
    """
    if math.isinf(left):
        return "never"
    return f"{hours(-left)} past" if left <= -0.5 else hours(max(left, 0.0))


def ahead(row: Any, mark: str) -> str:
    """Say how far a head is from an age, and on which day it gets there, with the range.

    Parameters
    ----------
    row : named tuple
        A row of the list.
    mark : str
        `notice`, `rating` or `swap`.

    Returns
    -------
    str
        The words.
    """
    left = getattr(row, f"to_{mark}")
    if left <= 0 or math.isinf(left):
        return hours_left(left)
    between = day_range(row, mark)
    when = f"{expected_day(row, mark)} ({between})" if between else expected_day(row, mark)
    return f"{hours_left(left)}, {when}"


def expected_day(row: Any, mark: str) -> str:
    """Say on which day a head is expected to reach an age.

    Parameters
    ----------
    row : named tuple
        A row of the list.
    mark : str
        `notice`, `rating` or `swap`.

    Returns
    -------
    str
        The words.
    """
    left, when = getattr(row, f"to_{mark}"), getattr(row, f"day_{mark}")
    if left <= 0:
        return "past"
    if math.isinf(left):
        return "never"
    return day(when) if when == when else "in over two years"


def day_range(row: Any, mark: str) -> str:
    """Give the range of the day on which a head reaches an age; nothing where there is none.

    Parameters
    ----------
    row : named tuple
        A row of the list.
    mark : str
        `notice`, `rating` or `swap`.

    Returns
    -------
    str
        The words.
    """
    first, last = getattr(row, f"earliest_{mark}"), getattr(row, f"latest_{mark}")
    if first != first:
        return ""
    return day_span(first, last) if last == last else f"{day(first)} or later"


def spare_words(row: Any) -> str:
    """Say whether a spare is there for a head.

    Parameters
    ----------
    row : named tuple
        A row of the list.

    Returns
    -------
    str
        The words.
    """
    # Said only where it is another type than that of the head that comes out.
    kind = "" if row.spare_type == row.head_type else f"{row.spare_type} "
    if row.spare == NEW:
        return f"new {kind}head, on the shelf" if kind else "new, on the shelf"
    if row.spare == ELSEWHERE:
        return f"new {kind}head, to be moved from {row.spare_site}"
    if row.spare == ORDERED:
        return f"{kind}on order, {day(row.spare_day)}"
    if row.spare == NONE:
        return f"none; {row.spare_site} has a new {kind}head" if row.spare_site else "none"
    if len(row.spare_heads) == 1:
        return f"{kind}{row.spare_heads[0]} (used {hours(row.spare_ages[0])})"
    spread = hours_span(row.spare_ages[0], row.spare_ages[-1])
    return f"one of {len(row.spare_heads)} part-used {kind}heads ({spread})"


def choice_of_spares(heads: Any) -> str:
    """Say where to look which of several part-used heads goes in.

    Parameters
    ----------
    heads : iterable of named tuple
        Rows of the list.

    Returns
    -------
    str
        The sentence; empty where there is no such choice.
    """
    choice = any(row.action != LEAVE and len(row.spare_heads) > 1 for row in heads)
    return WHICH_PART_USED if choice else ""


def why(row: Any, build_hours: float) -> str:
    """Say why something is to be done about a head, policy and practice side by side.

    Parameters
    ----------
    row : named tuple
        A row of the list.
    build_hours : float
        Length of the next long build [h].

    Returns
    -------
    str
        The sentence.
    """
    said = standing_rule(row)
    if row.probability == row.probability:
        said += f"; {to_finish(row.probability)} to finish a build of {hours(build_hours)}"
        if row.lives_as:
            said += f", as heads of {row.lives_as} live"
    return f"{said}."


def standing_rule(row: Any) -> str:
    """Say when the settings swap a head, and what is done on record.

    Parameters
    ----------
    row : named tuple
        A row of the list.

    Returns
    -------
    str
        The sentence, without its full stop.
    """
    parts = []
    if math.isfinite(row.swap_at):
        late = row.practice_at - row.swap_at
        habit = f"; on record heads come out {hours(late)} later" if late >= 0.5 else ""
        parts.append(f"The settings say swap at {hours(row.swap_at)}{habit}")
    else:
        parts.append("The settings let it run to failure")
    if row.quality_critical:
        parts.append("quality-critical: not past its rating")
    return "; ".join(parts)


def done(row: Any) -> str:
    """Name a head with its place and age, for a list or a calendar.

    Parameters
    ----------
    row : named tuple
        A row of the list.

    Returns
    -------
    str
        The words.
    """
    share = of_rating(row.age_hours, row.rated_hours)
    return (
        f"{row.head} in {row.printer} {row.position}: {hours(row.age_hours)}, {share} of its rating"
    )
