"""The swaps between the builds ahead, in words: what, why, what cannot be done and what it costs.

From rows of a `BuildPlan`; gives lines and sentences.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import TYPE_CHECKING, Any, Final

from headlife.alike import nearest
from headlife.decisions.plan.build_plan import LIMIT, PART_USED, POLICY, TOGETHER
from headlife.decisions.plan.schedule import NO_PRINTER, TOO_LONG, TOO_SOON
from headlife.decisions.plan.stocks import ON_ORDER, ON_SHELF, TO_ORDER
from headlife.show.plain import lines
from headlife.show.words.cautions import CAUTIONS
from headlife.show.words.days import day
from headlife.show.words.numbers import chance, counted, hours, listed, money, of_rating, percent
from headlife.show.words.stock import put_one_in

if TYPE_CHECKING:
    from headlife.decisions.plan.build_plan import BuildPlan

HOW: Final = (
    "The build that is due first goes to the printer that fits and would end it first; the swaps "
    "between the builds of a printer are then those of least expected cost by which heads keep to "
    "their swap age, as [policy] of the settings states it; whether that should be another age is "
    "what headlife replace answers. Time for a visit is kept between any two builds. After a "
    "failure, or when builds move, plan again."
)
_TO_SAY: Final = 3


def plan_sentence(plan: BuildPlan) -> str:
    """Say how many builds and swaps there are, and what the plan costs beside other ways.

    Parameters
    ----------
    plan : BuildPlan
        The plan.

    Returns
    -------
    str
        The sentence.
    """
    if not len(plan.builds):
        return "No build can be planned."
    builds = counted(len(plan.builds), "build", "builds")
    printers = counted(plan.builds["printer"].nunique(), "printer", "printers")
    swaps = counted(len(plan.swaps), "swap", "swaps")
    visits = counted(len(plan.swaps[["printer", "build"]].drop_duplicates()), "visit", "visits")
    this, rating, record = plan.costs["total"]
    said = f"{builds} on {printers}; {swaps}"
    if len(plan.swaps):
        said += f" in {visits}"
    return (
        f"{said}; expected cost {money(this, plan.currency)}, where swapping at the rating costs "
        f"{money(rating)} and as on record {money(record)}."
    )


def bound_sentence(plan: BuildPlan) -> str:
    """Say how far the plan may be from the best.

    Parameters
    ----------
    plan : BuildPlan
        The plan.

    Returns
    -------
    str
        The sentence.
    """
    within = "none" if plan.gap < 5e-5 else f"at most {percent(plan.gap)}"
    spares = (
        "There are fewer spares than the printers would use alone, so they were given out together."
        if plan.shared
        else "The spares serve every printer's own best."
    )
    return (
        f"{spares} Of what these builds on these printers cost, {within} could be saved by other "
        "swaps."
    )


def _not_done(row: Any, plan: BuildPlan) -> str:
    """Say which build cannot be done, why, and what would make it possible."""
    name = f"{row.build} ({hours(row.build_hours)})"
    if row.why == NO_PRINTER:
        return f"{name}: {_no_printer(row, plan)}"
    if row.why == TOO_LONG:
        return (
            f"{name}: it is longer than the rating of the heads it would run with "
            f"({hours(row.limit)}); split it into builds of at most {hours(row.limit)}."
        )
    if row.why == TOO_SOON:
        return (
            f"{name}: it cannot be done by {day(row.due)}, even if it starts at once on a free "
            f"printer; it could be by {day(row.possible)}."
        )
    return (
        f"{name} on {row.printer}: a {row.head_type} head has to be swapped before it, or it would "
        f"pass its rating, and no spare is there. It can be done with one spare more by then, or "
        f"from {day(row.possible)} on with one ordered today, or on a printer whose heads have "
        "the hours to go."
    )


def _no_printer(row: Any, plan: BuildPlan) -> str:
    if isinstance(row.printer, str) and row.printer not in plan.printers:
        return (
            f"no printer '{row.printer}' is in service{nearest(row.printer, plan.printers)}; name "
            f"one of {listed(plan.printers)}, or leave its printer blank."
        )
    asked = [
        said
        for value, said in (
            (row.printer, f"is {row.printer}"),
            (row.head_type, f"has a {row.head_type} head"),
            (row.site, f"stands at {row.site}"),
        )
        if isinstance(value, str)
    ]
    return f"no printer in service {listed(asked)}; correct the table, or leave one of them blank."


def late(row: Any) -> str:
    """Say that a build ends after its due day.

    Parameters
    ----------
    row : named tuple
        A row of `builds`.

    Returns
    -------
    str
        The sentence.
    """
    days = counted(int(row.late_days), "day", "days")
    return (
        f"{row.build} ({hours(row.build_hours)}) ends {day(row.end)}, {days} after its due day: "
        f"{row.printer} is taken by other builds until {day(row.start)}. On another printer, or "
        "with one of these moved, it could be in time."
    )


def runs_on(row: Any, plan: BuildPlan) -> str:
    """Say that a head runs on past its swap age for want of a spare.

    Parameters
    ----------
    row : named tuple
        A row of `overdue`.
    plan : BuildPlan
        The plan.

    Returns
    -------
    str
        The sentence.
    """
    there = plan.as_of + timedelta(weeks=plan.lead_time_weeks)
    return (
        f"{_head(row)} runs on past its swap age of {hours(row.swap_at)}, to "
        f"{hours(row.age_hours)}, for no spare is there for it; one ordered today is there on "
        f"{day(there)}."
    )


def _columns(names: Sequence[str]) -> str:
    which = "the column" if len(names) == 1 else "the columns"
    return (
        f"{which} {listed([repr(name) for name in names])} of the table of builds; what a plan is "
        "to use has a name that shared/columns.md lists."
    )


def _head(row: Any) -> str:
    name = row.head if isinstance(row.head, str) else "a new head"
    return f"{name} in {row.printer} {row.position}"


def doubts(plan: BuildPlan) -> list[str]:
    """List what cannot be done as asked: rows, builds left out, heads without a spare, lateness.

    Parameters
    ----------
    plan : BuildPlan
        The plan.

    Returns
    -------
    list of str
        Sentences.
    """
    behind = plan.builds[plan.builds["late_days"] > 0]
    return [
        *([f"Not used: {_columns(plan.unread)}"] if plan.unread else []),
        *plan.set_aside,
        *([f"{put_one_in(plan.empty)} This plan counts on it."] if plan.empty else []),
        *(_not_done(row, plan) for row in lines(plan.left_out)),
        *(runs_on(row, plan) for row in lines(plan.overdue)),
        *_elsewhere(plan),
        *(late(row) for row in lines(behind)),
    ]


def _elsewhere(plan: BuildPlan) -> list[str]:
    """Say which new heads lie at other sites, where one is lacking; the plan moves none."""
    if not plan.left_elsewhere:
        return []
    there = [
        f"{counted(heads, f'new {name} head', f'new {name} heads')} at "
        f"{site or 'printers without a site'}"
        for name, site, heads in plan.left_elsewhere
    ]
    return [
        f"Left on the shelf of another site: {listed(there)}. Sites keep separate stocks, so this "
        "plan moves none; if one can be moved, count it under on_hand_by_site where it goes, and "
        "plan again."
    ]


def goes_in(row: Any) -> str:
    """Say which head goes in.

    Parameters
    ----------
    row : named tuple
        A row of `swaps`.

    Returns
    -------
    str
        The words.
    """
    if row.spare == PART_USED:
        kind = "" if row.type_in == row.head_type else f"{row.type_in} "
        return f"{kind}{row.head_in} (used {hours(row.age_in)})"
    new = f"new {row.type_in}"
    if row.spare == ON_SHELF:
        return new
    if row.spare == ON_ORDER:
        return f"{new}, on order for {day(row.spare_day)}"
    if row.spare == TO_ORDER:
        return f"{new}, to be ordered by {day(row.spare_day)}"
    return f"{new}: no spare is there"


def comes_out(row: Any) -> str:
    """Say which head comes out, with its age and share of its rating.

    Parameters
    ----------
    row : named tuple
        A row of `swaps`.

    Returns
    -------
    str
        The words.
    """
    name = row.head_out if isinstance(row.head_out, str) else "the head put in before"
    return f"{name} at {hours(row.age_out)} ({of_rating(row.age_out, row.rated_hours)})"


def why(row: Any) -> str:
    """Say why a head is swapped here.

    Parameters
    ----------
    row : named tuple
        A row of `swaps`.

    Returns
    -------
    str
        The words.
    """
    if row.why == LIMIT:
        return f"would pass its rating of {hours(row.rated_hours)}, quality-critical"
    if row.why == POLICY:
        due = hours(row.swap_at)
        return f"{'past' if row.age_out >= row.swap_at else 'would pass'} its swap age of {due}"
    if row.why == TOGETHER:
        return "both heads in one visit cost less"
    return "costs less here than to run on"


def build_line(row: Any) -> str:
    """Name a build with its days.

    Parameters
    ----------
    row : named tuple
        A row of `builds`.

    Returns
    -------
    str
        The words.
    """
    until = f", due {short_day(row.due)}" if row.due == row.due else ""
    return f"{row.build}: {short_day(row.start)} to {short_day(row.end)}{until}"


def short_day(moment: Any) -> str:
    """Write a day in few letters: 30 Sep.

    Parameters
    ----------
    moment : datetime.date
        The day, or a moment of it.

    Returns
    -------
    str
        The words.
    """
    number, month, _ = day(moment).split()
    return f"{number} {month[:3]}"


def finishes(row: Any) -> str:
    """Say how likely no head fails in a build.

    Parameters
    ----------
    row : named tuple
        A row of `builds`.

    Returns
    -------
    str
        The words.
    """
    return chance(1.0 - row.spoiled)


def cautions(plan: BuildPlan) -> list[str]:
    """List what comes before the plan: safety first, then what it asks of heads.

    Parameters
    ----------
    plan : BuildPlan
        The plan.

    Returns
    -------
    list of str
        Sentences.
    """
    said = [CAUTIONS[0]]
    past = plan.past_rating
    if len(past):
        some = [
            f"{_head(row)} (to {hours(row.age_hours)} of {hours(row.rated_hours)})"
            for row in lines(past.head(_TO_SAY))
        ]
        more = [f"{len(past) - _TO_SAY} more"] if len(past) > _TO_SAY else []
        said.append(f"Run past the rating in this plan: {listed([*some, *more])}. {CAUTIONS[1]}")
    if plan.builds["quality_critical"].any():
        said.append("In quality-critical builds no head runs past its rating.")
    if plan.swaps["together"].any():
        said.append(
            "Where both heads are swapped in one visit, the checks after it are for both of them."
        )
    return said
