"""The budget, the orders and the stock as a workbook that a buyer opens.

From a `SparesStudy`; one sheet for each question, the summary first and the long tables last,
amounts as numbers, days as days, names as text whatever they begin with. Same study, same bytes.
Computes no answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.spares.budget import (
    ALL,
    HEADS,
    MONEY,
    PLANNED_KIND,
    UNPLANNED,
    YEAR,
)
from headlife.decisions.spares.purchases import by_quarter
from headlife.show.spares.assumptions import assumptions_sheet
from headlife.show.words import purchases as words
from headlife.show.words.budget import (
    budget_sentence,
    coming_sentence,
    item_words,
    period_names,
    pooling_sentence,
)
from headlife.show.words.days import day
from headlife.show.words.numbers import sentences
from headlife.show.words.stock import stock_name, stock_words
from headlife.show.xlsx import Row, new_workbook, workbook_of
from headlife.show.xlsx_report import DAY, ONE, SHARE, WHOLE, Chart, ReportSheet, add_sheet, money

if TYPE_CHECKING:
    from headlife.decisions.spares.study import SparesStudy

_HOURS: Final = ("visits", "labour hours", "calibration hours", "standstill hours",
                 "spoiled builds")  # fmt: skip


def budget_workbook(study: SparesStudy) -> bytes:
    """Make the workbook.

    Parameters
    ----------
    study : SparesStudy
        What to write.

    Returns
    -------
    bytes
        The XLSX file.
    """
    book = new_workbook()
    for sheet in (
        _summary(study),
        _orders(study),
        _budget(study),
        _beside(study),
        _stock(study),
        _levels(study),
        _weeks(study),
        _detail(study),
        assumptions_sheet(study),
    ):
        add_sheet(book, sheet)
    return workbook_of(book)


def _summary(study: SparesStudy) -> ReportSheet:
    """Show what is used up and bought, quarter by quarter; the year at the end."""
    budget, currency = study.budget, study.budget.currency
    bought = by_quarter(study.purchases, budget.quarters)
    rows: list[Row] = []
    for quarter, name in zip(budget.quarters, period_names(budget), strict=False):
        rows.append([name, *_used(study, quarter.name), *bought[quarter.name]])
    whole = [one.name for one in budget.quarters if one.whole]
    paid = [bought[name][1] for name in whole]
    total = None if any(one is None for one in paid) else sum(one or 0.0 for one in paid)
    rows.append(["Year", *_used(study, YEAR), sum(bought[n][0] for n in whole), total])
    said = sentences(
        budget_sentence(budget),
        words.bought_sentence(study),
        coming_sentence(study),
        pooling_sentence(study),
    )
    last = len(budget.quarters)
    return ReportSheet(
        "Summary",
        f"{study.shop_name}: spares and budget, as of {day(study.as_of)}",
        said,
        (
            "Quarter", "Used up, median [heads]", "Low [heads]", "High [heads]",
            "By plan, mean [heads]", "After failures, mean [heads]",
            f"Cost of use, median [{currency}]", "Bought, arriving [heads]",
            f"Paid for heads [{currency}]",
        ),
        rows,
        (22, 13, 10, 10, 13, 13, 20, 13, 20),
        (None, WHOLE, WHOLE, WHOLE, ONE, ONE, money(currency), ONE, money(currency)),
        (
            Chart("Heads used up by quarter, mean", "heads", (5, 6), (1, last), "stacked"),
            Chart("Paid for heads by quarter", currency, (9,), (1, last)),
        ),
    )  # fmt: skip


def _used(study: SparesStudy, period: str) -> list[Any]:
    heads = study.budget.line(HEADS, period)
    planned, failed = (study.budget.line(HEADS, period, kind=k) for k in (PLANNED_KIND, UNPLANNED))
    cost = study.budget.line("total", period)
    return [
        heads.median, heads.low, heads.high, planned.mean, failed.mean,
        None if cost is None else cost.median,
    ]  # fmt: skip


def _orders(study: SparesStudy) -> ReportSheet:
    currency = study.budget.currency
    rows = [
        [
            one.ordered, words.STATES[one.state], one.head_type, one.site, one.heads, one.low,
            one.high, one.mean, one.multiple, one.arrives, one.price, one.cash,
        ]
        for one in study.purchases
    ]  # fmt: skip
    return ReportSheet(
        "Orders",
        "What to order when",
        words.BOUGHT,
        (
            "Order on", "State", "Head type", "Site", "Heads", "Low", "High", "Mean",
            "Multiple of", "Arrives", f"Price [{currency}]", f"Amount [{currency}]",
        ),
        rows,
        (13, 16, 18, 16, 9, 9, 9, 9, 11, 13, 18, 20),
        (DAY, None, None, None, WHOLE, WHOLE, WHOLE, ONE, WHOLE, DAY, money(currency),
         money(currency)),
    )  # fmt: skip


def _budget(study: SparesStudy) -> ReportSheet:
    """Items down, quarters across: medians, and the year's band."""
    budget = study.budget
    wanted = [(HEADS, kind) for kind in (ALL, PLANNED_KIND, UNPLANNED)]
    wanted += [(item, ALL) for item in (*_HOURS, *MONEY)]
    rows = []
    for item, kind in wanted:
        found = [budget.line(item, period, kind=kind) for period in budget.periods]
        if any(one is None for one in found):
            continue
        year = found[-1]
        what = item_words(item, kind)
        rows.append([what, year.unit, *(one.median for one in found), year.low, year.high])
    names = [*(one.name for one in budget.quarters), "Year"]
    return ReportSheet(
        "Budget",
        "What the quarters use and cost",
        "Medians; low and high hold four futures of five (80 %). The medians of quarters do not "
        "add up to the year's: it has a range of its own.",
        ("Item", "Unit", *names, "Year, low", "Year, high"),
        rows,
        (28, 12, *[19] * (len(names) + 2)),
        (None, None, *[ONE] * (len(names) + 2)),
        row_formats=[_UNIT_FORMATS.get(row[1], money(row[1])) for row in rows],
    )


_UNIT_FORMATS: Final = {"heads": WHOLE, "visits": WHOLE, "builds": WHOLE, "h": ONE}


def _beside(study: SparesStudy) -> ReportSheet:
    """Last year's actuals, and the year under each policy."""
    last, currency = study.last_year, study.budget.currency
    span = f"{last.quarters[0].name} to {last.quarters[-1].name}"
    note = "" if last.complete else " (records begin later)"
    rows: list[Row] = [
        [
            f"Last year, {span}{note}",
            *(last.happened(HEADS, kind=kind) for kind in (ALL, PLANNED_KIND, UNPLANNED)),
            None, None, last.happened("total"), None, None, last.taken[YEAR],
        ]
    ]  # fmt: skip
    for one in study.same_year:
        heads, total = one.budget.line(HEADS), one.budget.line("total")
        kinds = (one.budget.line(HEADS, kind=kind) for kind in (PLANNED_KIND, UNPLANNED))
        rows.append(
            [
                words.policy_name(one),
                heads.mean,
                *(line.mean for line in kinds),
                heads.low,
                heads.high,
                *((None,) * 3 if total is None else (total.mean, total.low, total.high)),
                None,
            ]
        )
    return ReportSheet(
        "Year beside",
        "The same year beside last year's and under other policies",
        f"{words.BESIDE} Means of the year ahead, with the range that holds four futures of five.",
        (
            "Year", "Used up [heads]", "By plan [heads]", "After failures [heads]", "Low [heads]",
            "High [heads]", f"Cost [{currency}]", f"Low [{currency}]", f"High [{currency}]",
            "New heads taken [heads]",
        ),
        rows,
        (40, 12, 12, 12, 10, 10, 20, 20, 20, 12),
        (None, ONE, ONE, ONE, WHOLE, WHOLE, *[money(currency)] * 3, WHOLE),
    )  # fmt: skip


def _stock(study: SparesStudy) -> ReportSheet:
    rows = [
        [
            stock_name(answer), answer.plan.order_now, answer.plan.stock_level,
            answer.reorder_point, answer.plan.on_hand, answer.plan.on_order, answer.plan.service,
            answer.plan.fill_rate, answer.idle_hours,
            stock_words(answer),
        ]
        for answer in study.stock
    ]  # fmt: skip
    return ReportSheet(
        "Order now",
        "What to hold and to order now",
        "",
        (
            "Head type", "Order now [heads]", "Stock level [heads]", "Order again at [heads]",
            "On hand [heads]", "On order [heads]", "Service", "Fill rate", "Printers wait [h]",
            "In words",
        ),
        rows,
        (18, 11, 11, 12, 10, 10, 10, 10, 11, 70),
        (None, *[WHOLE] * 5, SHARE, SHARE, ONE, None),
    )  # fmt: skip


def _levels(study: SparesStudy) -> ReportSheet:
    currency = study.budget.currency
    columns: list[str] = []
    rows: list[Row] = []
    for answer in study.stock:
        table = answer.plan.table
        columns = columns or list(table.columns)
        rows += [[stock_name(answer), *row] for row in table.itertuples(index=False, name=None)]
    formats = [_LEVEL.get(name, money(currency) if name.endswith("_cost") else ONE)
               for name in columns]  # fmt: skip
    return ReportSheet(
        "Stock levels",
        "What each stock level risks and costs",
        "",
        ("Head type", *(_heading(name, currency) for name in columns)),
        rows,
        (18, *[15] * len(columns)),
        (None, *formats),
    )


_LEVEL: Final = {"stock_level": WHOLE, "service": SHARE, "ready_rate": SHARE, "fill_rate": SHARE,
                 "expected_shortfall": "0.000"}  # fmt: skip
_UNITS: Final = {"stock_level": "heads", "expected_shortfall": "heads", "idle_hours": "h"}


def _heading(name: str, currency: str) -> str:
    words_of = name.replace("_", " ").capitalize()
    unit = _UNITS.get(name) or (currency if name.endswith("_cost") else "")
    return f"{words_of} [{unit}]" if unit else words_of


def _weeks(study: SparesStudy) -> ReportSheet:
    weekly = study.weekly
    first = weekly["head_type"].iloc[0] if len(weekly) else ""
    own = int((weekly["head_type"] == first).sum())
    rows = [
        [begins.date(), head_type, week, failures, planned, median, low, high]
        for head_type, week, begins, failures, planned, median, low, high in weekly[
            ["head_type", "week", "begins", "failures", "planned", "median", "low", "high"]
        ].itertuples(index=False, name=None)
    ]
    charts = (Chart(f"{first}: heads used up so far", "heads", (6, 7, 8), (1, own), "lines"),)
    return ReportSheet(
        "Week by week",
        "What is used up, week by week",
        "",
        (
            "Begins", "Head type", "Week", "Failures, mean", "Planned, mean",
            "Used up so far, median", "Low", "High",
        ),
        rows,
        (13, 18, 8, 12, 12, 14, 9, 9),
        (DAY, None, WHOLE, "0.00", "0.00", WHOLE, WHOLE, WHOLE),
        charts if own else (),
    )  # fmt: skip


def _detail(study: SparesStudy) -> ReportSheet:
    """Every item by head type and site: long, for a pivot table."""
    lines = study.budget.lines
    columns = ["period", "head_type", "site", "item", "kind", "unit", "median", "low", "high"]
    rows = list(lines[[*columns, "mean"]].itertuples(index=False, name=None))
    return ReportSheet(
        "By type and site",
        "Every item by head type and site",
        "Sums are rows of their own, called all, with ranges of their own.",
        ("Period", "Head type", "Site", "Item", "Kind", "Unit", "Median", "Low", "High", "Mean"),
        rows,
        (14, 18, 16, 20, 12, 12, 12, 12, 12, 12),
        (*[None] * 6, *[ONE] * 4),
    )
