"""What changed, on a terminal. From `Changes`; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.show.changes import tables
from headlife.show.terminal import Screen
from headlife.show.words import changes as words
from headlife.show.words.days import day

if TYPE_CHECKING:
    from headlife.decisions.changes import Changes


def print_changes(screen: Screen, changes: Changes) -> None:
    """Print what changed.

    Parameters
    ----------
    screen : Screen
        Printed on.
    changes : Changes
        What changed.
    """
    screen.head(
        f"{changes.shop_name}: what changed from {day(changes.since)} to {day(changes.as_of)}"
    )
    screen.say(f"{words.changed_sentence(changes)} {words.removals_sentence(changes)}")
    screen.table(
        "Ratings",
        ["Heads of", "What changed"],
        [list(line) for line in words.rating_lines(changes)],
    )
    screen.table("Stock levels, and why", *tables.stock(changes))
    screen.say(words.EXCHANGED)
    screen.table("Heads to look after", ["", "Which"], tables.head_rows(changes))
    screen.gap()
    for said in words.forecast_sentences(changes):
        screen.say(said)
    screen.table(
        "Decided differently", ["Setting"], [[words.setting_sentence(x)] for x in changes.settings]
    )
    if said := words.not_exchanged_sentence(changes):
        screen.say(said)
