"""The swaps between the builds ahead, as plain values and as tables that a spreadsheet opens."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from headlife.show.plain import answers, lines, plain, rows
from headlife.show.words import plan as words

if TYPE_CHECKING:
    from headlife.decisions.plan.build_plan import BuildPlan

_HEADINGS: Final = (
    "Start", "What", "Printer", "Position", "Build", "Hours [h]", "End", "Due", "Days late",
    "Chance no head fails [-]", "Head out", "Its hours [h]", "Head in", "Why",
)  # fmt: skip
_COSTS: Final = (
    "Way", "Visits", "Heads' life used", "Failed builds", "Late builds", "Total",
    "Visits [-]", "New heads [-]", "Failed builds [-]", "of them quality-critical [-]",
)  # fmt: skip
COST_COLUMNS: Final = (
    "way", "visits", "heads", "failed", "late", "total",
    "visits_n", "heads_n", "failed_n", "critical_n",
)  # fmt: skip


def plan_values(plan: BuildPlan) -> dict[str, Any]:
    """Give the plan as plain values that survive JSON.

    Parameters
    ----------
    plan : BuildPlan
        The plan.

    Returns
    -------
    dict
        `sentence`, `cautions`, `not_done` (sentences), `builds`, `swaps`, `left_out`,
        `past_rating`, `overdue`, `left_elsewhere` and `costs` as in the plan, `currency`, `bound`,
        `gap`, `missing`, `shared`, `rows_asked` and `idle`.
    """
    swaps = rows(plan.swaps)
    for values, row in zip(swaps, lines(plan.swaps), strict=True):
        values["words"] = f"{words.goes_in(row)}: {words.why(row)}"
    return answers(
        plan,
        sentence=words.plan_sentence(plan),
        cautions=words.cautions(plan),
        not_done=words.doubts(plan),
        builds=rows(plan.builds),
        swaps=swaps,
        left_out=rows(plan.left_out),
        past_rating=rows(plan.past_rating),
        overdue=rows(plan.overdue),
        left_elsewhere=[
            {"head_type": name, "site": site, "heads": heads}
            for name, site, heads in plan.left_elsewhere
        ],
        costs=rows(plan.costs),
        currency=plan.currency,
        bound=plan.bound,
        gap=plan.gap,
        missing=plan.missing,
        shared=plan.shared,
        rows_asked=plan.rows_asked,
        idle=plain(plan.idle),
    )


def plan_sheets(plan: BuildPlan) -> dict[str, list[list[Any]]]:
    """Give the plan as sheets of a workbook, headings first; days and hours as such.

    Parameters
    ----------
    plan : BuildPlan
        The plan.

    Returns
    -------
    dict of str to rows
        Builds and swaps by day; what cannot be done as asked; what it costs.
    """
    costs = [[getattr(row, name) for name in COST_COLUMNS] for row in lines(plan.costs)]
    return {
        "Plan": plan_rows(plan),
        "Not as asked": [["What"], *([sentence] for sentence in words.doubts(plan))],
        "Costs": [[*_COSTS], *([row[0], *(round(v, 2) for v in row[1:])] for row in costs)],
    }


def plan_rows(plan: BuildPlan) -> list[list[Any]]:
    """Give builds and swaps as rows for a spreadsheet, headings first, by day.

    Parameters
    ----------
    plan : BuildPlan
        The plan.

    Returns
    -------
    list of list
        Rows; a cell without a value is None.
    """
    builds = [
        (
            (row.start, row.printer, 1),
            [
                row.start.date(), "build", row.printer, None, row.build, float(row.build_hours),
                row.end.date(), None if row.due != row.due else row.due.date(),
                int(row.late_days), round(1.0 - row.spoiled, 3), None, None, None, None,
            ],
        )
        for row in lines(plan.builds)
    ]  # fmt: skip
    swaps = [
        (
            (row.day, row.printer, 0),
            [
                row.day.date(), "swap", row.printer, row.position, row.build, None, None, None,
                None, None, row.head_out if isinstance(row.head_out, str) else None,
                round(float(row.age_out), 1), words.goes_in(row), words.why(row),
            ],
        )
        for row in lines(plan.swaps)
    ]  # fmt: skip
    ordered = sorted([*builds, *swaps], key=lambda one: one[0])
    return [list(_HEADINGS), *(row for _, row in ordered)]
