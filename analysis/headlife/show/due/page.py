"""The page of what is due: a card for each head to act on, readable on a phone at the printer.

From a `DueList`; computes nothing.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.due import ACTIONS, LEAVE
from headlife.show.markup import Html, escape, first_lines, table, typeset
from headlife.show.page import Page, Section, closing
from headlife.show.plain import lines
from headlife.show.words import due as words
from headlife.show.words.days import day
from headlife.show.words.numbers import counted, of_rating, whole
from headlife.show.words.watch import to_finish

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.due import DueList

TITLE: Final = "What is due"
_TITLES: Final = dict(
    zip(
        ACTIONS,
        ("Swap now", "Swap before the next long build", "Plan for", "Can stay"),
        strict=True,
    )
)
_NAMES: Final = {word: word.replace(" ", "_") for word in ACTIONS}


def due_page(due: DueList) -> Page:
    """Lay out the page.

    Parameters
    ----------
    due : DueList
        The list.

    Returns
    -------
    Page
        The page.
    """
    when = f"as of {day(due.as_of)} · next long build {due.build_hours:g} h"
    which = typeset(words.choice_of_spares(lines(due.heads)))
    first = first_lines(TITLE, due.shop_name, when) + Html(
        f"<p><b>{typeset(words.due_sentence(due))}</b> {which}</p>"
    )
    sections = {
        _NAMES[word]: Section(
            _TITLES[word],
            "",
            ((word, partial(stay if word == LEAVE else cards, own, due.build_hours)),),
            result=partial(counted, len(own), "head", "heads"),
            stays_open=word != LEAVE,
        )
        for word in ACTIONS
        if len(own := due.of_action(word))
    }
    return Page(f"{TITLE}: {due.shop_name}", first, sections, closing(due))


def cards(heads: pd.DataFrame, build_hours: float) -> Html:
    """Make a card for every head.

    Parameters
    ----------
    heads : DataFrame
        Rows of `DueList.heads`.
    build_hours : float
        Length of the next long build [h].

    Returns
    -------
    Html
        A piece of the page.
    """
    each = "".join(_card(row, build_hours) for row in lines(heads))
    return Html(f'<div class="cards due">{each}</div>', f"{len(heads)} heads")


def stay(heads: pd.DataFrame, build_hours: float) -> Html:
    """Tabulate the heads that can stay.

    Parameters
    ----------
    heads : DataFrame
        Rows of `DueList.heads`.
    build_hours : float
        Length of the next long build [h].

    Returns
    -------
    Html
        A piece of the page.
    """
    rows = [
        (
            row.head,
            f"{row.printer} {row.position}",
            whole(row.age_hours),
            of_rating(row.age_hours, row.rated_hours).removesuffix(" %"),
            words.ahead(row, "swap"),
            to_finish(row.probability),
            words.spare_words(row),
        )
        for row in lines(heads)
    ]
    headings = [
        *("Head", "Place", "Hours now [h]", "Of its rating [%]", "Swap by policy in"),
        *(f"Finishes {build_hours:g} h", "Spare"),
    ]
    return table(
        headings, rows, caption="Heads that can stay, the next due first", numbers=(2, 3, 5)
    )


def _chance(row: Any) -> str:
    said = to_finish(row.probability)
    return f"{said}, as heads of {row.lives_as} live" if row.lives_as else said


def _card(row: Any, build_hours: float) -> str:
    rating, policy = (words.ahead(row, mark) for mark in ("rating", "swap"))
    apart = (("Rating", rating), ("Swap by policy", policy))
    facts = (
        *((("Rating, policy", rating),) if rating == policy else apart),
        (f"Finishes {build_hours:g} h", _chance(row)),
        ("Spare", words.spare_words(row)),
    )
    shown = "".join(f"<dt>{escape(name)}</dt><dd>{typeset(what)}</dd>" for name, what in facts)
    return (
        f'<section class="card"><h3>{typeset(words.done(row))}</h3>'
        f'<dl class="stamp">{shown}</dl>'
        f'<p class="note">{typeset(words.standing_rule(row))}.</p></section>'
    )
