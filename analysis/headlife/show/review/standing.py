"""How do the verdicts stand? A strip of quarters for each, and the table of what overturns them.

From a `Review`; computes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from headlife.decisions.rating import NOT_SETTLED
from headlife.show.markup import Html, badge, escape, table, typeset
from headlife.show.words import standing
from headlife.show.words.days import day
from headlife.show.words.numbers import chance, percent

if TYPE_CHECKING:
    from headlife.decisions.review_answers import Review
    from headlife.decisions.standing import Standing


def strips(review: Review) -> Html:
    """Tabulate what every quarter end said of each rating.

    Parameters
    ----------
    review : Review
        The quarter's answers.

    Returns
    -------
    Html
        A piece of the page.
    """
    rows = [_strip_row(name, one) for name, one in _told(review)]
    found = table(
        ["Heads of", "Quarter by quarter", "Today", "Confirmed"],
        rows,
        caption=f"Verdicts over time. {standing.SIGNS}",
    )
    if not review.standings:
        return found
    first = next(iter(review.standings.values()))
    said = standing.looks_sentence(first.history)
    return found + Html(f'<p class="reading">{typeset(said)}</p>', said)


def _told(review: Review) -> Iterator[tuple[str, Standing]]:
    """Go through what has a standing of its own; a lot that is all heads has none."""
    for one in review.told:
        if (found := review.standings.get(one.group)) is not None:
            yield one.name, found


def _strip_row(name: str, one: Standing) -> list[object]:
    history = one.history
    signs = "".join(standing.look_sign(look) for look in history.looks)
    words = escape(standing.strip_words(history))
    confirmed = history.confirmed_on
    return [
        name,
        Html(f'<span class="strip" role="img" aria-label="{words}">{signs}</span>'),
        history.standing,
        "–" if confirmed is None else f"{history.verdict}, {day(confirmed)}",
    ]


def overturn_table(review: Review) -> Html:
    """Tabulate what would overturn each verdict.

    Parameters
    ----------
    review : Review
        The quarter's answers.

    Returns
    -------
    Html
        A piece of the page.
    """
    rows = [row for name, one in _told(review) for row in _rows(name, one)]
    return table(
        ["Heads of", "Question", "Case", "Weight or share [%]", "Chance [%]", "Verdict then"],
        rows,
        numbers=(3, 4),
        caption="What would overturn the verdicts",
    )


def _rows(name: str, one: Standing) -> list[list[object]]:
    if one.overturn.verdict == NOT_SETTLED:
        return []
    rows: list[list[object]] = []
    for line in one.overturn.table.to_dict("records"):
        share, probability = float(line["weight"]), float(line["probability"])
        rows.append(
            [
                name,
                str(line["question"]),
                str(line["case"]),
                "–" if share != share else percent(share),
                "–" if probability != probability else chance(probability),
                Html(badge(str(line["verdict"]))),
            ]
        )
    return rows
