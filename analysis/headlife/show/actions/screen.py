"""What is to be done, and what came of it, on a terminal. From `Actions`; computes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from headlife.decisions.actions import BUILD, SWAP
from headlife.show.terminal import Screen
from headlife.show.words import actions as words
from headlife.show.words.cautions import CAUTIONS

if TYPE_CHECKING:
    from headlife.decisions.actions import Actions
    from headlife.decisions.came_of import CameOf


def print_actions(screen: Screen, actions: Actions) -> None:
    """Print what is to be done; nothing where there is nothing.

    Parameters
    ----------
    screen : Screen
        Printed on.
    actions : Actions
        The list.
    """
    screen.table(
        "What to do",
        ["", "What", "When", "Why, and what hangs on it"],
        [
            [
                number,
                words.what(one),
                words.by(one, actions),
                "; ".join(
                    part for part in (words.why(one, actions), words.stake(one, actions)) if part
                ),
            ]
            for number, one in enumerate(actions.first(words.SHOWN), start=1)
        ],
    )
    if more := words.more_sentence(actions):
        screen.say(more)
    if any(one.kind in (SWAP, BUILD) for one in actions.each):
        screen.say(CAUTIONS[0])


def print_came_of(screen: Screen, found: Sequence[CameOf], problems: Sequence[str]) -> None:
    """Print what came of the actions of an earlier review.

    Parameters
    ----------
    screen : Screen
        Printed on.
    found : sequence of CameOf
        What came of them.
    problems : sequence of str
        Rows that could not be answered.
    """
    screen.table(
        "What came of the actions given back",
        words.CAME_HEADINGS,
        words.came_rows(found),
    )
    for problem in problems:
        screen.say(problem)
