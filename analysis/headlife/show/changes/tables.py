"""The rows of what changed, for terminal and page alike. From `Changes`; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.decisions.spares.exchange import ORDER
from headlife.show.plain import Table, lines
from headlife.show.words import changes as words
from headlife.show.words.changes import signed
from headlife.show.words.due import done
from headlife.show.words.numbers import decimals
from headlife.show.words.stock import stock_name

if TYPE_CHECKING:
    from headlife.decisions.changes import Changes


def stock(changes: Changes) -> Table:
    """Tabulate how stock levels changed, part by part.

    Parameters
    ----------
    changes : Changes
        What changed.

    Returns
    -------
    Table
        A row for each stock.
    """
    headings = ("Stock of", "Then", *(part.capitalize() for part in ORDER), "Now")
    rows = [
        [
            stock_name(one),
            f"{one.level_before} ({decimals(one.need_before, 1)})",
            *(f"{signed(step.level)} ({signed(step.need, 1)})" for step in one.steps),
            f"{one.level_now} ({decimals(one.need_now, 1)})",
        ]
        for one in changes.stock
    ]
    return Table(headings, rows, range(1, len(headings)))


def head_rows(changes: Changes) -> list[list[object]]:
    """Tabulate heads that are new among those to look after, and those that are gone.

    Parameters
    ----------
    changes : Changes
        What changed.

    Returns
    -------
    list of list
        New or gone, and which.
    """
    new: list[list[object]] = [["new", f"{done(row)}; {row.action}"] for row in lines(changes.new)]
    gone: list[list[object]] = [["gone", words.gone_words(row)] for row in lines(changes.gone)]
    return new + gone
