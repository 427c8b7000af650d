"""Which heads to watch: a sentence by head type and role, and the list as a table."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from headlife.show.markup import Html, table, typeset
from headlife.show.plain import Table, lines
from headlife.show.words.numbers import of_rating, span, whole
from headlife.show.words.watch import to_finish, watch_sentence

MOST_WATCHED: Final = 60  # heads listed on a page; the list of what is due has all of them

if TYPE_CHECKING:
    from headlife.decisions.review_answers import Review, Stratum


def stratum_watch(review: Review, stratum: Stratum) -> str:
    """Say which heads of a type and role are likely not to finish the next long build.

    Parameters
    ----------
    review : Review
        The quarter's answers.
    stratum : Stratum
        The answers about one head type and role.

    Returns
    -------
    str
        The sentence.
    """
    return watch_sentence(review.watch[stratum.group.rows(review.watch)], review.build_hours)


def watched(review: Review) -> Table:
    """Tabulate the heads in service, the least likely to finish the next long build first.

    Parameters
    ----------
    review : Review
        The quarter's answers.

    Returns
    -------
    Table
        One row per head, `MOST_WATCHED` at most.
    """
    headings = (
        "Head",
        f"Chance to finish a build of {review.build_hours:g} h",
        "Place",
        "Hours now [h]",
        "Of its rating [%]",
        "Head type, role",
    )
    rows = [
        [
            line.head,
            "unknown"
            if math.isnan(line.probability)
            else f"{to_finish(line.probability)} ({span(line.low, line.high)})",
            f"{line.printer} {line.position}",
            whole(line.age_hours),
            of_rating(line.age_hours, line.rated_hours),
            f"{line.head_type}, {line.role}",
        ]
        for line in lines(review.watch.head(MOST_WATCHED))
    ]
    return Table(headings, rows, (1, 3, 4))


def watch_table(review: Review) -> Html:
    """List every head in service, the least likely to finish the next long build first.

    Parameters
    ----------
    review : Review
        The quarter's answers.

    Returns
    -------
    Html
        A piece of the page.
    """
    listed = table(*watched(review), caption="Heads in service, the least likely to finish first")
    left = len(review.watch) - MOST_WATCHED
    rest = f"And {left:,} more that are likelier to finish; headlife due lists all of them."
    return listed + (
        Html(f'<p class="reading">{typeset(rest)}</p>', rest) if left > 0 else Html("")
    )
