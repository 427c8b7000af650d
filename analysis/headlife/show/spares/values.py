"""The storeroom's and finance's answers in words and as plain values.

From a `SparesStudy`; gives sentences for the page, the workbook and the terminal, and a dictionary
of text, numbers and lists that survives JSON. Computes nothing but the wording.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.spares.budget import HEADS, PLANNED_KIND, UNPLANNED
from headlife.show import sentences
from headlife.show.answers import Out, plain, stamp, stock_values
from headlife.show.past_forecasts import backtest_answers
from headlife.show.sentences import money

if TYPE_CHECKING:
    from headlife.decisions.backtest import Backtest
    from headlife.decisions.spares.budget import Budget
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.spares.study import SparesStudy

FORMAT: Final = 1


def spares_answers(study: SparesStudy) -> dict[str, Any]:
    """Collect every answer as plain values that survive JSON.

    Returns
    -------
    dict
        `stock` by head type, `pooling`, `new_printers`, `budget` (one line per period, kind and
        item, and by head type and site), `weekly` and the stamp. Heads [heads], hours [h],
        shares [-].
    """
    budget = study.budget
    lines = budget.lines.to_dict(orient="records")
    return dict(
        plain(
            {
                "format": FORMAT,
                "shop": study.shop_name,
                "as_of": study.as_of.date().isoformat(),
                "stock": [_stock_answer(answer) for answer in study.stock],
                "pooling": [
                    {
                        "head_type": one.head_type,
                        "shared_level": one.shared_level,
                        "separate_levels": one.separate_levels,
                        "saving": one.saving,
                    }
                    for one in study.pooling
                ],
                "new_printers": {
                    "sentence": coming_sentence(study),
                    "heads": [vars(head) for head in study.coming],
                },
                "budget": {
                    "currency": budget.currency,
                    "missing": list(budget.missing),
                    "quarters": [
                        {"period": n, "begins": a.date().isoformat(), "ends": b.date().isoformat()}
                        for n, a, b in budget.quarters
                    ],
                    "sentence": budget_sentence(budget),
                    "lines": lines,
                },
                "extrapolated_from_week": study.extrapolated_from,
                "stamp": stamp(study),
            }
        )
    )


def _stock_answer(answer: StockAnswer) -> dict[str, Any]:
    plan, demand = answer.plan, answer.demand
    return {
        **stock_values(answer),
        "least_cost_level": answer.balanced_level,
        "service_asked": plan.service_level,
        "service": plan.service,
        "service_sure": None if math.isnan(plan.sure) else plan.sure,
        "heads_for_doubt": plan.added,
        "fill_rate": plan.fill_rate,
        "idle_hours": answer.idle_hours,
        "shelf_heads": answer.shelf_heads,
        "positions": answer.positions,
        "demand_mean": demand.mean,
        "demand_80_percent": list(demand.interval(0.80)),
        "sentence": sentences.stock_sentence(answer),
        "order_sentence": order_sentence(answer),
        "note": answer.note,
        "levels": plan.table.to_dict(orient="records"),
    }


class SparesOut(Out):
    """Carries the answers from the notebook to whoever executed it."""

    def __init__(self, study: SparesStudy, past: Backtest) -> None:
        super().__init__({**spares_answers(study), "backtest": backtest_answers(past)})


def order_sentence(answer: StockAnswer) -> str:
    """Say when to order between reviews, what waiting is left, and where cost is least."""
    said = (
        "Between reviews, order as soon as heads on hand and on order are down to "
        f"{answer.reorder_point}."
    )
    waits = f"Printers then wait {answer.idle_hours:.1f} h on average until the next delivery."
    if answer.balanced_level is None:
        return f"{said} {waits}"
    least = f"Carrying and waiting cost least at {answer.balanced_level}."
    return f"{said} {waits} {least}"


def pooling_sentence(study: SparesStudy) -> str:
    """Say what one stock for all sites saves."""
    if not study.pooling:
        return "There is one site, so there is nothing to pool."
    parts = []
    for one in study.pooling:
        apart = ", ".join(f"{site or 'no site'} {n}" for site, n in one.separate_levels.items())
        saves = sentences.counted(one.saving, "head", "heads")
        parts.append(f"{one.head_type}: {one.shared_level} together, apart {apart}; saves {saves}")
    return f"One stock for all sites. {'. '.join(parts)}."


def coming_sentence(study: SparesStudy) -> str:
    """Say which printers that will come are counted in the year, and which are not; or nothing."""
    counted, later = [], []
    for name in dict.fromkeys(head.printer for head in study.coming):
        heads = [head for head in study.coming if head.printer == name]
        first = heads[0]
        if first.weeks <= 0:
            later.append(f"{name} comes on {first.begins.isoformat()}, after this year.")
            continue
        types = " and ".join(
            f"{head.head_type} as {head.role}"
            + ("" if head.known else " (left out: none has run yet)")
            for head in heads
        )
        place = "" if first.site is None else f" at {first.site}"
        counted.append(
            f"{name} from {first.begins.isoformat()} on ({first.weekly_hours:g} h a week{place}, "
            f"{types})"
        )
    if counted:
        counted = [
            f"New printers in these numbers: {'; '.join(counted)}. The heads they come with are "
            "not taken from the stock."
        ]
    return " ".join([*counted, *later])


def budget_sentence(budget: Budget) -> str:
    """Say what the year is likely to use and cost, planned and unplanned."""
    heads = budget.line(HEADS)
    used = f"{heads.median:.0f} heads ({heads.low:.0f} to {heads.high:.0f})"
    planned = budget.line(HEADS, kind=PLANNED_KIND)
    failed = budget.line(HEADS, kind=UNPLANNED)
    split = f"about {planned.mean:.0f} by plan and {failed.mean:.0f} after failures"
    total = budget.line("total")
    if total is None:
        missing = ", ".join(budget.missing)
        return (
            f"The next four quarters use {used}, {split}. For amounts, add {missing} to the "
            "settings."
        )
    return (
        f"The next four quarters use {used}, {split}, and cost {money(total.median)} "
        f"{budget.currency} ({money(total.low)} to {money(total.high)}): in four years of five "
        "the sum lies in that range."
    )
