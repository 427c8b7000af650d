"""Spares and budget as plain values: what a program reads.

From a `SparesStudy` and the back-test; gives a dictionary of text, numbers and lists that survives
JSON. One stock answer has one shape, in the review too. Computes nothing but the wording.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from headlife.decisions.spares.budget import ALL
from headlife.show.backtest.values import past_values
from headlife.show.plain import answers, rows
from headlife.show.words import budget as budget_words
from headlife.show.words import stock as words

if TYPE_CHECKING:
    from headlife.decisions.backtest import Backtest
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.spares.study import SparesStudy


def spares_values(study: SparesStudy, past: Backtest) -> dict[str, Any]:
    """Collect every answer as plain values that survive JSON.

    Parameters
    ----------
    study : SparesStudy
        Stock, pooling and budget.
    past : Backtest
        Past forecasts beside what happened.

    Returns
    -------
    dict
        `format`, `shop`, `as_of`, `stock` by head type (with `levels`), `pooling`,
        `new_printers`, `budget` (one line per period, kind and item, and by head type and site),
        `purchases` (orders by day), `last_year` (what happened, at today's prices), `same_year`
        (the year under each policy), `extrapolated_from_week`, `backtest` and `stamp`. Heads
        [heads], hours [h], shares [-].
    """
    budget = study.budget
    return answers(
        study,
        stock=[
            stock_values(answer) | {"levels": rows(answer.plan.table)} for answer in study.stock
        ],
        pooling=[
            {
                "head_type": one.head_type,
                "shared_level": one.shared_level,
                "separate_levels": one.separate_levels,
                "saving": one.saving,
            }
            for one in study.pooling
        ],
        new_printers={
            "sentence": budget_words.coming_sentence(study),
            "heads": [vars(head) for head in study.coming],
        },
        budget={
            "currency": budget.currency,
            "missing": list(budget.missing),
            "quarters": [
                {"period": one.name, "begins": one.first, "ends": one.last, "whole": one.whole}
                for one in budget.quarters
            ],
            "sentence": budget_words.budget_sentence(budget),
            "lines": rows(budget.lines),
        },
        purchases=[vars(one) | {"cash": one.cash} for one in study.purchases],
        last_year={
            "quarters": [vars(one) for one in study.last_year.quarters],
            "lines": rows(study.last_year.lines),
            "new_heads_taken": dict(study.last_year.taken),
            "complete": study.last_year.complete,
        },
        same_year=[
            {
                "policy": one.name,
                "ages": one.ages,
                "lines": rows(
                    one.budget.lines[
                        (one.budget.lines["head_type"] == ALL) & (one.budget.lines["site"] == ALL)
                    ]
                ),
            }
            for one in study.same_year
        ],
        extrapolated_from_week=study.extrapolated_from,
        backtest=past_values(past),
    )


def stock_values(answer: StockAnswer) -> dict[str, Any]:
    """Give one stock answer as plain values, the same wherever a program meets it.

    Parameters
    ----------
    answer : StockAnswer
        The answers about one stock.

    Returns
    -------
    dict
        What to hold, order and have again at [heads]; the demand it is to cover [heads]; how it
        serves [-]; hours that printers wait [h]; and the sentences that say so.
    """
    plan, demand = answer.plan, answer.demand
    return {
        "head_type": answer.head_type,
        "site": answer.site,
        "horizon_weeks": answer.horizon_weeks,
        "next_order": answer.next_order,
        "positions": answer.positions,
        "positions_left_out": answer.left_out,
        "stock_level": plan.stock_level,
        "order_now": plan.order_now,
        "on_hand": plan.on_hand,
        "on_order": plan.on_order,
        "reorder_point": answer.reorder_point,
        "least_cost_level": answer.balanced_level,
        "orders": [vars(order) for order in answer.orders],
        "elsewhere": [vars(one) for one in answer.elsewhere],
        "order_with_elsewhere": answer.order_moved,
        "part_used_heads": answer.shelf_heads,
        "new_after_use": answer.new_after_use,
        "new_heads_as": answer.new_heads_as,
        "share_of_printer_hours": answer.run_shares,
        "refurbished": [vars(one) for one in answer.refurbished],
        "empty_positions": [one._asdict() for one in answer.empty],
        "giving_way": [vars(one) for one in answer.giving_way],
        "standing_printers": answer.standing,
        "service_asked": plan.service_level,
        "service": plan.service,
        "service_sure": plan.sure,
        "heads_for_doubt": plan.added,
        "fill_rate": plan.fill_rate,
        "idle_hours": answer.idle_hours,
        "demand_mean": demand.mean,
        "demand_planned": demand.planned_mean,
        "demand_failures": demand.failure_mean,
        "demand_80_percent": list(demand.interval(0.80)),
        "sentence": words.stock_sentence(answer),
        "order_sentence": words.order_sentence(answer),
        "ahead_sentence": words.ahead_sentence(answer),
        "note": words.note_sentence(answer),
    }
