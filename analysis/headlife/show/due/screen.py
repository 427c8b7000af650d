"""What is due, on a terminal. From a `DueList`; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.decisions.due import LEAVE
from headlife.show.plain import lines
from headlife.show.terminal import Screen
from headlife.show.words import due as words
from headlife.show.words.cautions import CAUTIONS
from headlife.show.words.days import day
from headlife.show.words.numbers import hours
from headlife.show.words.watch import to_finish

if TYPE_CHECKING:
    from headlife.decisions.due import DueList

_HEADINGS: Final = (
    "What to do", "Head", "Place", "Hours now", "To notice", "To rating", "Rating reached",
    "Build", "Spare",
)  # fmt: skip


def print_due(screen: Screen, due: DueList) -> None:
    """Print every head in service, the most urgent first.

    Parameters
    ----------
    screen : Screen
        Printed on.
    due : DueList
        The list.
    """
    screen.head(f"{due.shop_name}: what is due, as of {day(due.as_of)}")
    for note in due.notes:
        screen.say(note)
    screen.say(words.due_sentence(due))
    screen.table(
        f"Heads in service, the most urgent first; the next long build is {due.build_hours:g} h",
        _HEADINGS,
        [
            [
                row.action,
                row.head,
                f"{row.printer} {row.position}",
                hours(row.age_hours),
                words.hours_left(row.to_notice),
                words.hours_left(row.to_rating),
                words.day_range(row, "rating") or words.expected_day(row, "rating"),
                to_finish(row.probability),
                "" if row.action == LEAVE else words.spare_words(row),
            ]
            for row in lines(due.heads)
        ],
        right=(3, 4, 5, 7),
    )
    screen.gap()
    if which := words.choice_of_spares(lines(due.heads)):
        screen.say(which)
    screen.say(CAUTIONS[0])
