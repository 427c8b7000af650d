"""The swaps between the builds ahead, on a terminal. From a `BuildPlan`; computes nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.show.plain import Table, lines
from headlife.show.terminal import Screen
from headlife.show.words import plan as words
from headlife.show.words.days import day, day_span
from headlife.show.words.numbers import decimals, hours, money

if TYPE_CHECKING:
    from headlife.decisions.plan.build_plan import BuildPlan

_SWAPS: Final = ("Day", "Place", "Before", "Head out", "Head in", "Why")
_BUILDS: Final = ("Printer", "Build", "Hours", "Start", "End", "Due", "No head fails", "Swap")
_COSTS: Final = (
    "Way to swap", "Visits", "Heads", "Failed", "Late", "Total", "Number of visits",
    "Failed builds", "of which critical",
)  # fmt: skip


def print_plan(screen: Screen, plan: BuildPlan) -> None:
    """Print the plan: what comes first, swaps by day, builds by printer, what it costs.

    Parameters
    ----------
    screen : Screen
        Printed on.
    plan : BuildPlan
        The plan.
    """
    between = day_span(plan.first, plan.until)
    screen.head(f"{plan.shop_name}: swaps between the builds ahead, {between}")
    for sentence in words.cautions(plan):
        screen.say(sentence)
    screen.gap()
    screen.say(words.plan_sentence(plan))
    doubts = words.doubts(plan)
    if doubts:
        screen.gap()
        screen.head("Not as asked; the rest is planned")
        for sentence in doubts:
            screen.say(f"- {sentence}")
    screen.table(
        "Swaps, by day",
        _SWAPS,
        [
            [
                day(row.day),
                f"{row.printer} {row.position}",
                row.build,
                words.comes_out(row),
                words.goes_in(row),
                words.why(row),
            ]
            for row in lines(plan.swaps)
        ],
    )
    swapped = {
        (printer, build): " and ".join(own["position"])
        for (printer, build), own in plan.swaps.groupby(["printer", "build"])
    }
    screen.table(
        "Builds, by printer; a quality-critical one is marked *",
        _BUILDS,
        [
            [
                row.printer,
                f"{row.build} *" if row.quality_critical else row.build,
                hours(row.build_hours),
                words.short_day(row.start),
                words.short_day(row.end),
                words.short_day(row.due) if row.due == row.due else "",
                words.finishes(row),
                swapped.get((row.printer, row.build), ""),
            ]
            for row in lines(plan.builds)
        ],
        right=(2, 6),
    )
    screen.table(
        f"What it is expected to cost [{plan.currency}]; heads by the life they are used up by",
        *costs(plan),
    )
    screen.gap()
    screen.say(words.bound_sentence(plan))
    screen.say(words.HOW)


def costs(plan: BuildPlan) -> Table:
    """Tabulate what the plan and other ways cost.

    Parameters
    ----------
    plan : BuildPlan
        The plan.

    Returns
    -------
    Table
        A row for each way.
    """
    rows = [
        [
            row.way,
            *(money(value) for value in (row.visits, row.heads, row.failed, row.late, row.total)),
            *(decimals(value, 1) for value in (row.visits_n, row.failed_n, row.critical_n)),
        ]
        for row in lines(plan.costs)
    ]
    return Table(_COSTS, rows, range(1, len(_COSTS)))
