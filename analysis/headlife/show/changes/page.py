"""The page of what changed. From `Changes`; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.show.changes import tables
from headlife.show.markup import Html, escape, first_lines, items, table, typeset
from headlife.show.page import Page, Section, closing
from headlife.show.plain import lines
from headlife.show.words import changes as words
from headlife.show.words.days import day
from headlife.show.words.numbers import hours
from headlife.show.words.stock import stock_name

if TYPE_CHECKING:
    from headlife.decisions.changes import Changes

TITLE: Final = "What changed"


def changes_page(changes: Changes) -> Page:
    """Lay out the page.

    Parameters
    ----------
    changes : Changes
        What changed.

    Returns
    -------
    Page
        The page.
    """
    settings = [words.setting_sentence(one) for one in changes.settings]
    settings += [said for said in (words.not_exchanged_sentence(changes),) if said]
    sections = {
        "stock": Section(
            "Why are stock levels what they are?",
            words.EXCHANGED,
            (("stock levels", lambda: _stock(changes)),),
            short="Stock levels",
            stays_open=True,
        ),
        "heads": Section(
            "Which heads are new among those to look after, which are gone?",
            "",
            (("heads to look after", lambda: _heads(changes)),),
            short="Heads",
            stays_open=True,
        ),
        "removals": Section(
            "Which heads were taken out?",
            "",
            (("heads taken out", lambda: _removals(changes)),),
            short="Taken out",
            result=lambda: words.removals_sentence(changes),
        ),
    }
    if settings:
        sections["settings"] = Section(
            "What was decided differently?",
            "",
            (("settings", lambda: items(settings)),),
            short="Settings",
            stays_open=True,
        )
    title = f"{TITLE}: {changes.shop_name}, {day(changes.as_of)}"
    return Page(title, first_screen(changes), sections, closing(changes))


def first_screen(changes: Changes) -> Html:
    """Say the answer on one screen.

    Parameters
    ----------
    changes : Changes
        The answers.

    Returns
    -------
    Html
        A piece of the page.
    """
    when = f"from {day(changes.since)} to {day(changes.as_of)}"
    ratings = "".join(
        f'<p class="line"><b>{escape(name)}</b> {typeset(said)}</p>'
        for name, said in words.rating_lines(changes)
    )
    levels = "".join(
        f'<p class="line"><b>{escape(stock_name(one))}</b> {typeset(words.level_sentence(one))}</p>'
        for one in changes.stock
    )
    forecasts = "".join(
        f'<p class="line">{typeset(said)}</p>' for said in words.forecast_sentences(changes)
    )
    return first_lines(TITLE, changes.shop_name, when) + Html(
        f"<p><b>{typeset(words.changed_sentence(changes))}</b> "
        f"{typeset(words.removals_sentence(changes))}</p>"
        f'<div class="cards"><section class="card"><h2>Ratings</h2>{ratings}</section>'
        f'<section class="card"><h2>Stock levels</h2>{levels}'
        f"<h3>Forecasts</h3>{forecasts}</section></div>"
    )


def _stock(changes: Changes) -> Html:
    return table(
        *tables.stock(changes),
        caption="Stock level [heads], and in brackets the mean need [heads]",
    )


def _heads(changes: Changes) -> Html:
    return table(
        ["Change", "Which"], tables.head_rows(changes), caption="Heads to look after", words=(1,)
    )


def _removals(changes: Changes) -> Html:
    rows = [
        [
            day(row.date_out),
            row.head,
            f"{row.head_type}, {row.role}",
            f"{row.printer} {row.position}",
            hours(row.hours_out),
            row.reason,
        ]
        for row in lines(changes.removals)
    ]
    return table(
        ["Day", "Head", "Heads of", "Place", "Hours", "Reason"],
        rows,
        caption=f"Heads taken out since {day(changes.since)}",
        numbers=(4,),
    )
