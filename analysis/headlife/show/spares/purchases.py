"""What to order when, and the year beside others: tables for page and terminal.

From a `SparesStudy`; computes no answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.decisions.spares.budget import ALL, HEADS, PLANNED_KIND, UNPLANNED, YEAR
from headlife.show.plain import Table
from headlife.show.words import purchases as words
from headlife.show.words.budget import banded
from headlife.show.words.days import day
from headlife.show.words.numbers import decimals, money, whole
from headlife.show.words.stock import stock_name

if TYPE_CHECKING:
    from headlife.decisions.spares.study import SparesStudy

_KINDS: Final = (ALL, PLANNED_KIND, UNPLANNED)


def orders(study: SparesStudy) -> Table:
    """Tabulate the orders ahead.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.

    Returns
    -------
    Table
        A row for each.
    """
    currency = study.budget.currency
    rows = [
        [
            words.ordered_words(one),
            stock_name(one),
            words.purchase_words(one),
            day(one.arrives),
            "–" if one.cash is None else money(one.cash, currency),
        ]
        for one in study.purchases
    ]
    return Table(("Order on", "Stock of", "Heads", "Arrives", "Amount"), rows, (2, 4))


def year_beside(study: SparesStudy) -> Table:
    """Tabulate last year's actuals and the year ahead under each policy.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.

    Returns
    -------
    Table
        A row for each year.
    """
    last = study.last_year
    cost = last.happened("total")
    since = "" if last.complete else ", records begin later"
    rows: list[list[object]] = [
        [
            f"{last.quarters[0].name} to {last.quarters[-1].name}: happened{since}",
            *(whole(last.happened(HEADS, YEAR, kind) or 0.0) for kind in _KINDS),
            "–" if cost is None else money(cost),
        ]
    ]
    for one in study.same_year:
        heads, total = one.budget.line(HEADS), one.budget.line("total")
        rows.append(
            [
                words.policy_name(one),
                banded(heads),
                *(
                    decimals(one.budget.line(HEADS, kind=kind).mean, 1)
                    for kind in (PLANNED_KIND, UNPLANNED)
                ),
                "–" if total is None else banded(total),
            ]
        )
    cost_heading = f"Cost [{study.budget.currency}]"
    return Table(
        ("Year", "Used up [heads]", "By plan", "Failures", cost_heading), rows, (1, 2, 3, 4)
    )
