"""What the year uses and costs, what one stock for all sites saves, which printers will come.

In words, from a spares study; computes nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.decisions.spares.budget import HEADS, PLANNED_KIND, UNPLANNED
from headlife.show.words.days import day
from headlife.show.words.numbers import money, span_of_heads, whole

if TYPE_CHECKING:
    from headlife.decisions.spares.budget import Budget
    from headlife.decisions.spares.study import SparesStudy


_KINDS: Final = {PLANNED_KIND: "by plan", UNPLANNED: "after failures"}


def item_words(item: str, kind: str) -> str:
    """Name an item of the budget, or the part of it by plan or after failures.

    Parameters
    ----------
    item : str
        The item.
    kind : str
        Of what; all of it is the item itself.

    Returns
    -------
    str
        The words.
    """
    return f"{item}, {_KINDS[kind]}" if kind in _KINDS else item


def pooling_sentence(study: SparesStudy) -> str:
    """Say what one stock for all sites saves.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.

    Returns
    -------
    str
        The sentence.
    """
    if not study.pooling:
        return "There is one site, so there is nothing to pool."
    parts = []
    for one in study.pooling:
        apart = " + ".join(f"{n} ({site or 'no site'})" for site, n in one.separate_levels.items())
        parts.append(
            f"{one.head_type}: one shared stock needs {one.shared_level}; separate stocks need "
            f"{apart}"
        )
    return f"{'. '.join(parts)}."


def coming_sentence(study: SparesStudy) -> str:
    """Say which printers that will come are counted in the year, and which are not; or nothing.

    Parameters
    ----------
    study : SparesStudy
        The answers about stock and budget.

    Returns
    -------
    str
        The sentence.
    """
    counted_in, later = [], []
    for name in dict.fromkeys(head.printer for head in study.coming):
        heads = [head for head in study.coming if head.printer == name]
        first = heads[0]
        if first.weeks <= 0:
            later.append(f"{name} comes on {day(first.begins)}, after this year.")
            continue
        types = " and ".join(
            f"{head.head_type} as {head.role}"
            + ("" if head.known else " (left out: none has run yet)")
            for head in heads
        )
        place = "" if first.site is None else f" at {first.site}"
        counted_in.append(
            f"{name} from {day(first.begins)} on ({first.weekly_hours:g} h a week{place}, {types})"
        )
    if counted_in:
        counted_in = [
            f"New printers in these numbers: {'; '.join(counted_in)}. The heads they come with are "
            "not taken from the stock."
        ]
    return " ".join([*counted_in, *later])


def budget_sentence(budget: Budget) -> str:
    """Say what the year is likely to use and cost, planned and unplanned.

    Parameters
    ----------
    budget : Budget
        Four quarters.

    Returns
    -------
    str
        The sentence.
    """
    heads = budget.line(HEADS)
    used = f"{whole(heads.median)} heads ({span_of_heads(heads.low, heads.high)})"
    planned = budget.line(HEADS, kind=PLANNED_KIND)
    failed = budget.line(HEADS, kind=UNPLANNED)
    split = f"on average {whole(planned.mean)} by plan and {whole(failed.mean)} after failures"
    total = budget.line("total")
    if total is None:
        missing = ", ".join(budget.missing)
        return (
            f"The next four quarters use {used}, {split}. For amounts, add {missing} to the "
            "settings."
        )
    whole_ones = [quarter.name for quarter in budget.quarters if quarter.whole]
    return (
        f"{whole_ones[0]} to {whole_ones[-1]} use {used}, {split}, and cost {money(total.median)} "
        f"{budget.currency} ({money(total.low)} to {money(total.high)}): in four years of five "
        "the sum lies in that range."
    )


def period_names(budget: Budget) -> list[str]:
    """Name the periods of a budget: quarters, in the fiscal year too where one is stated, the year.

    Parameters
    ----------
    budget : Budget
        The budget.

    Returns
    -------
    list of str
        One for each of `Budget.periods`.
    """
    names = [quarter.name for quarter in budget.quarters]
    if budget.fiscal:
        names = [f"{one} ({other})" for one, other in zip(names, budget.fiscal, strict=True)]
    return [*names, "Year"]


def banded(line: object) -> str:
    """Write one line of the budget: the median and, in brackets, its band.

    Parameters
    ----------
    line : object
        One line of the budget.

    Returns
    -------
    str
        The words.
    """
    low, median, high = (getattr(line, name) for name in ("low", "median", "high"))
    written = whole if getattr(line, "unit", "") in ("heads", "visits", "builds") else money
    return f"{written(median)} ({written(low)}–{written(high)})"
