"""The planned swaps as a calendar that phones and mail programs open.

From a `BuildPlan`; one entry for each swap on its day. A swap of the same head keeps its entry, so
that a new plan moves it.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

from headlife.show.calendar_file import Entry, calendar_bytes
from headlife.show.plain import lines
from headlife.show.words import plan as words
from headlife.show.words.cautions import CAUTIONS

if TYPE_CHECKING:
    from pathlib import Path

    from headlife.decisions.plan.build_plan import BuildPlan


def plan_calendar(plan: BuildPlan, place: Path | None = None) -> bytes:
    """Write the swaps as an iCalendar file (RFC 5545).

    Parameters
    ----------
    plan : BuildPlan
        The plan.
    place : Path, optional
        Where the calendar is to be; swaps that an earlier one there has and this plan has not are
        called off.

    Returns
    -------
    bytes
        The file; the same plan over the same earlier file gives the same bytes.
    """
    name = f"Planned swaps, {plan.shop_name}"
    return calendar_bytes(name, "planned swaps", plan.as_of.date(), _entries(plan), place)


def _entries(plan: BuildPlan) -> list[Entry]:
    # A head that the plan itself puts in has no serial yet: its turn in that place names it.
    turn: Counter[tuple[str, str]] = Counter()
    found = []
    for row in lines(plan.swaps):
        place = row.printer, row.position
        turn[place] += 1
        head = row.head_out if isinstance(row.head_out, str) else f"planned {turn[place]}"
        found.append(
            Entry(
                about=(plan.shop_name, "swap", *place, row.head_type, head),
                day=row.day.date(),
                summary=f"swap {row.printer} {row.position}: {words.goes_in(row)}",
                description=f"Before {row.build}. Out: {words.comes_out(row)}; "
                f"{words.why(row)}. {CAUTIONS[0]}",
                location=f"{row.printer} {row.position}",
            )
        )
    return found
