"""The page of the plan: what comes first, swaps as cards, a calendar of the printers, the costs.

From a `BuildPlan`; computes nothing. The calendar is a strip of days for each printer, as wide as
the screen, so that it reads on a phone.
"""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, Final

from headlife.show.markup import Html, badge, escape, first_lines, items, table, typeset
from headlife.show.page import Page, Section, closing
from headlife.show.plain import lines
from headlife.show.plan.screen import costs
from headlife.show.words import plan as words
from headlife.show.words.days import day, day_span
from headlife.show.words.numbers import counted, hours, money

if TYPE_CHECKING:
    import datetime

    from headlife.decisions.plan.build_plan import BuildPlan

TITLE: Final = "Swaps between the builds ahead"
_MONDAY: Final = 0
_MOST_MARKS: Final = 6  # days named above the calendar
_HOW_TO_READ: Final = (
    "A bar is a build, a dark one quality-critical; a triangle is a swap before it. Lines are "
    "Mondays."
)


def plan_page(plan: BuildPlan) -> Page:
    """Lay out the page.

    Parameters
    ----------
    plan : BuildPlan
        The plan.

    Returns
    -------
    Page
        The page.
    """
    first = first_lines(TITLE, plan.shop_name, f"{day_span(plan.first, plan.until)}") + Html(
        "".join(f'<p class="caution">{typeset(one)}</p>' for one in words.cautions(plan))
        + f"<p><b>{typeset(words.plan_sentence(plan))}</b></p>"
    )
    sections = {}
    doubts = words.doubts(plan)
    if doubts:
        sections["doubts"] = Section(
            "Not as asked",
            "The rest is planned.",
            (("what is not as asked", partial(items, doubts)),),
            result=partial(counted, len(doubts), "line", "lines"),
            stays_open=True,
        )
    if len(plan.swaps):
        sections["swaps"] = Section(
            "Swaps, by day",
            "",
            (("the swaps", partial(cards, plan)),),
            result=partial(counted, len(plan.swaps), "swap", "swaps"),
            stays_open=True,
        )
    if len(plan.builds):
        sections["calendar"] = Section(
            "Printers, builds and swaps",
            _HOW_TO_READ,
            (("the calendar", partial(_calendar, plan)),),
            result=partial(counted, len(plan.builds), "build", "builds"),
            stays_open=True,
        )
        total = money(plan.costs["total"].iloc[0], plan.currency)
        sections["costs"] = Section(
            "What it is expected to cost",
            f"{words.bound_sentence(plan)} {words.HOW}",
            (("the costs", partial(_costs, plan)),),
            result=lambda: total,
            stays_open=True,
        )
    return Page(f"{TITLE}: {plan.shop_name}", first, sections, closing(plan))


def cards(plan: BuildPlan) -> Html:
    """Make a card for every swap.

    Parameters
    ----------
    plan : BuildPlan
        The plan.

    Returns
    -------
    Html
        A piece of the page.
    """
    each = "".join(_card(row) for row in lines(plan.swaps))
    return Html(f'<div class="cards due">{each}</div>', f"{len(plan.swaps)} swaps")


def _card(row: Any) -> str:
    mark = badge("both heads in one visit") if row.together else ""
    facts = (
        ("Before", row.build),
        ("Out", words.comes_out(row)),
        ("In", words.goes_in(row)),
    )
    shown = "".join(f"<dt>{escape(name)}</dt><dd>{typeset(what)}</dd>" for name, what in facts)
    return (
        f'<section class="card"><h3>{typeset(day(row.day))}: {escape(row.printer)} '
        f'{escape(row.position)} {mark}</h3><dl class="stamp">{shown}</dl>'
        f'<p class="note">{typeset(words.why(row))}</p></section>'
    )


def _calendar(plan: BuildPlan) -> Html:
    """Draw a strip for each printer, and name its builds and swaps below it."""
    begins = plan.first.normalize()
    span = max((plan.until.normalize() - begins).days + 1, 1)
    mondays = [at for at in range(span) if _day_at(begins, at).weekday() == _MONDAY]
    strips = [_axis(begins, span, mondays)]
    for printer, builds in plan.builds.groupby("printer", sort=True):
        swaps = plan.swaps[plan.swaps["printer"] == printer]
        strips.append(_strip(str(printer), builds, swaps, begins, span, mondays))
    if plan.idle:
        strips.append(f'<p class="note">Without a build: {escape(", ".join(plan.idle))}.</p>')
    return Html(f'<div class="calendar">{"".join(strips)}</div>', f"{len(plan.builds)} builds")


def _day_at(begins: Any, at: int) -> datetime.date:
    from datetime import timedelta

    return begins.date() + timedelta(days=at)  # type: ignore[no-any-return]


def _axis(begins: Any, span: int, mondays: list[int]) -> str:
    """Name a few Mondays above the strips."""
    apart = -(-len(mondays) // _MOST_MARKS) if mondays else 1
    named = mondays[::apart] or [0]
    texts = "".join(
        f'<text x="{_part(at, span)}" y="13">{words.short_day(_day_at(begins, at))}</text>'
        for at in named
        if at <= 0.9 * span
    )
    return f'<svg class="days" width="100%" height="18" aria-hidden="true">{texts}</svg>'


def _strip(
    printer: str, builds: Any, swaps: Any, begins: Any, span: int, mondays: list[int]
) -> str:
    """Draw one printer's days: lines on Mondays, bars of builds, triangles of swaps."""

    def at(moment: Any) -> float:
        return float((moment - begins).total_seconds()) / 86_400

    marks = [
        f'<line x1="{_part(one, span)}" x2="{_part(one, span)}" y1="0" y2="34"/>' for one in mondays
    ]
    for row in lines(builds):
        kind = "critical" if row.quality_critical else "usual"
        start, end = at(row.start), at(row.end)
        marks.append(
            f'<rect class="{kind}" x="{_part(start, span)}" y="12" height="18" rx="2" '
            f'width="{_part(end - start, span)}"><title>{escape(words.build_line(row))}</title>'
            "</rect>"
        )
    starts = {row.build: row.start for row in lines(builds)}
    for build in dict.fromkeys(swaps["build"]):
        # A nested drawing: its place is a share of the strip, its size is not.
        marks.append(
            f'<svg x="{_part(at(starts[build]), span)}" y="0" overflow="visible">'
            '<polygon class="swap" points="-6,0 6,0 0,11"/></svg>'
        )
    swapped = {build: list(lines(own)) for build, own in swaps.groupby("build")}
    named = "".join(_named(row, swapped.get(row.build, [])) for row in lines(builds))
    words_for_all = f"{printer}: {len(builds)} builds, {len(swaps)} swaps"
    return (
        f'<section class="lane"><h3>{escape(printer)}</h3>'
        f'<svg width="100%" height="34" role="img" aria-label="{escape(words_for_all)}">'
        f"{''.join(marks)}</svg><ul>{named}</ul></section>"
    )


def _named(row: Any, swaps: list[Any]) -> str:
    """Name a build, and what is swapped before it."""
    before = "".join(
        f"<b>swap {escape(one.position)}: {typeset(words.goes_in(one))}</b>, then " for one in swaps
    )
    star = " (quality-critical)" if row.quality_critical else ""
    late = f", <b>{int(row.late_days)} d late</b>" if row.late_days > 0 else ""
    long = typeset(hours(row.build_hours))
    return f"<li>{before}{typeset(words.build_line(row))}{star}, {long}{late}</li>"


def _part(value: float, span: int) -> str:
    """Write a place as a share of the strip."""
    return f"{100 * value / span:.2f}%"


def _costs(plan: BuildPlan) -> Html:
    return table(
        *costs(plan),
        caption=f"Expected costs [{plan.currency}]; heads by the life they are used up by",
    )
