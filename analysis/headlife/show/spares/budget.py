"""What will be used up, and what will it cost? Week by week and by quarter, as figures and tables.

From a `SparesStudy`; computes no answer.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Final

from headlife.decisions.spares.budget import ALL, HEADS, MONEY, PLANNED_KIND, UNPLANNED, YEAR
from headlife.show.figures import budget as figures
from headlife.show.figures import style, svg
from headlife.show.markup import Html, table
from headlife.show.page import panels
from headlife.show.plain import Table
from headlife.show.words import pictures
from headlife.show.words.budget import banded, budget_sentence, item_words, period_names
from headlife.show.words.numbers import span_of_heads, whole

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.spares.budget import Budget
    from headlife.decisions.spares.study import SparesStudy

_HOURS: Final = ("labour hours", "calibration hours", "standstill hours", "spoiled builds")
_SPLIT: Final = (HEADS, "total")  # items told apart by plan and by failure


def weekly_figures(study: SparesStudy) -> Html:
    """Draw heads used up week by week over the year, one panel per head type.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.

    Returns
    -------
    Html
        A piece of the page.
    """
    return panels(
        "heads used up week by week",
        [
            (str(name), partial(_weekly, str(name), weekly, study.extrapolated_from.get(str(name))))
            for name, weekly in study.weekly.groupby("head_type", sort=False)
        ],
    )


def _weekly(name: str, weekly: pd.DataFrame, beyond: int | None) -> Html:
    last = weekly.iloc[-1]
    said = "" if beyond is None else f" From week {beyond} on it goes beyond the data."
    words = (
        f"{whole(last['median'])} {name} heads used up in a year, "
        f"{span_of_heads(last['low'], last['high'])} in four years of five.{said}"
    )
    return svg.figure_html(
        style.as_svg(lambda ax: figures.draw_weekly(ax, weekly, beyond, title=name)),
        pictures.weekly_shown(name, weekly),
        words,
    )


def budget_figures(budget: Budget) -> Html:
    """Draw the budget by quarter: heads, and money where costs are stated.

    Parameters
    ----------
    budget : Budget
        Four quarters.

    Returns
    -------
    Html
        A piece of the page.
    """
    drawn: list[tuple[str, Callable[[], Html]]] = [
        (title, partial(_quarters, budget, item, unit, title))
        for item, unit, title in (
            (HEADS, "heads", "Heads"),
            ("total", budget.currency, "Total cost"),
        )
        if budget.line(item) is not None
    ]
    return panels("budget by quarter", drawn)


def _quarters(budget: Budget, item: str, unit: str, title: str) -> Html:
    bars = figures.budget_bars(budget.lines, item)
    return svg.figure_html(
        style.as_svg(lambda ax: figures.draw_budget(ax, bars, unit=unit, title=title)),
        pictures.bars_shown(title, unit, bars),
        budget_sentence(budget),
    )


def budget_table(budget: Budget) -> Html:
    """Tabulate the budget by quarter, planned and unplanned.

    Parameters
    ----------
    budget : Budget
        Four quarters.

    Returns
    -------
    Html
        A piece of the page.
    """
    kinds = (ALL, PLANNED_KIND, UNPLANNED)
    wanted = [(item, kind) for item in (HEADS, *_HOURS, *MONEY) for kind in kinds]
    return table(
        *by_quarter(budget, [one for one in wanted if one[1] == ALL or one[0] in _SPLIT]),
        caption="Budget: median and, in brackets, the 80 % range",
    )


def by_quarter(budget: Budget, wanted: list[tuple[str, str]]) -> Table:
    """Tabulate items of the budget, one row each, as far as they are there.

    Parameters
    ----------
    budget : Budget
        What the quarters use and cost.
    wanted : list of (item, kind)
        Which rows, in order.

    Returns
    -------
    Table
        Quarters across, the year at the end.
    """
    rows = []
    for item, kind in wanted:
        cells = [budget.line(item, period, kind=kind) for period in budget.periods]
        if all(cell is not None for cell in cells):
            named = f"{item_words(item, kind)} [{cells[0].unit}]"
            rows.append([named, *(banded(cell) for cell in cells)])
    headings = ["Item", *period_names(budget)]
    return Table(headings, rows, range(1, len(headings)))


def budget_parts_table(budget: Budget) -> Html:
    """Tabulate the year by head type and site.

    Parameters
    ----------
    budget : Budget
        Four quarters.

    Returns
    -------
    Html
        A piece of the page.
    """
    lines = budget.lines
    year = lines[(lines["period"] == YEAR) & (lines["kind"] == ALL)]
    rows = []
    for key, _ in year.groupby(["head_type", "site"], sort=False):
        head_type, site = str(key[0]), str(key[1])
        heads = budget.line(HEADS, head_type=head_type, site=site)
        total = budget.line("total", head_type=head_type, site=site)
        rows.append(
            [
                "all" if head_type == ALL else head_type,
                "all" if site == ALL else site or "no site",
                banded(heads),
                "–" if total is None else banded(total),
            ]
        )
    return table(
        ["Head type", "Site", "Heads in the year [heads]", f"Cost [{budget.currency}]"],
        rows,
        caption="The year by head type and site: median and 80 % range",
        numbers=(2, 3),
    )
