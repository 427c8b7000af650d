"""What do lists, plans, statements, evidence and settings show of themselves?

As `show.results`, which looks them up here by the name of their class: the line at a prompt, and
what a notebook shows, in the words and tables of the pages.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

from headlife.show.markup import Html, badge, escape, paragraphs, table, typeset
from headlife.show.plain import lines
from headlife.show.words import numbers
from headlife.show.words.days import day
from headlife.show.words.numbers import counted, decimals, hours, percent, span, whole

_ROWS: Final = 12  # of a table in a cell; the command shows all of them


def titled(title: str, *parts: Html) -> Html:
    """Put a heading above parts.

    Parameters
    ----------
    title : str
        The heading.
    *parts : Html
        The parts.

    Returns
    -------
    Html
        A piece of a page.
    """
    return sum(parts, Html(f"<h3>{escape(title)}</h3>"))


def _actions(found: Any) -> str:
    from headlife.show.words.actions import what

    count = counted(len(found.each), "thing to do", "things to do")
    first = f"; first: {what(found.each[0])}" if found.each else ""
    return f"{found.shop_name} as of {found.as_of.date()}: {count}{first}"


def _actions_html(found: Any) -> Html:
    from headlife.show.actions.section import action_list

    return action_list(found) if found.each else paragraphs("Nothing is to be done.")


def _changes(found: Any) -> str:
    verdicts = counted(
        sum(one.verdict_before != one.verdict_now for one in found.groups),
        "other verdict",
        "other verdicts",
    )
    taken = counted(len(found.removals), "head taken out", "heads taken out")
    return f"{found.shop_name}, {found.since.date()} to {found.as_of.date()}: {verdicts}, {taken}"


def _changes_html(found: Any) -> Html:
    from headlife.show.changes.page import first_screen

    return first_screen(found)


def _due(found: Any) -> str:
    from headlife.show.words.due import due_sentence

    return f"{found.shop_name} as of {found.as_of.date()}: {due_sentence(found)}".rstrip(".")


def _due_html(found: Any) -> Html:
    from headlife.decisions.due import BEFORE_BUILD, SWAP_NOW
    from headlife.show.due.page import cards
    from headlife.show.words.due import due_sentence

    urgent = found.heads[found.heads["action"].isin([SWAP_NOW, BEFORE_BUILD])]
    return paragraphs(due_sentence(found)) + cards(urgent, found.build_hours)


def _plan(found: Any) -> str:
    builds = counted(len(found.builds), "build", "builds")
    swaps = counted(len(found.swaps), "swap", "swaps")
    return f"{found.shop_name}: {builds} to {found.until.date()}, {swaps} between them"


def _plan_html(found: Any) -> Html:
    from headlife.show.plan.page import cards
    from headlife.show.words import plan as words

    return paragraphs(words.plan_sentence(found), *words.cautions(found)) + cards(found)


def _vendor(found: Any) -> str:
    roles = "; ".join(f"{one.role} {one.stated or 'no verdict'}" for one in found.roles)
    return f"{found.head_type}, rated {hours(found.rated_hours)}: {roles}"


def _vendor_html(found: Any) -> Html:
    from headlife.show.vendor.page import first_screen

    return first_screen(found)


def _proposal(found: Any) -> str:
    from headlife.show.words.in_short import policies_in_short

    return f"{found.review.shop_name}. {policies_in_short(found)}".rstrip(".")


def _proposal_html(found: Any) -> Html:
    from headlife.show.past_rating.page import first_screen
    from headlife.show.past_rating.tables import policy_tables

    return first_screen(found) + policy_tables(found)


def _policies(found: Any) -> str:
    own, rating = found.proposed.cost_per_hour, found.at_rating.cost_per_hour
    return (
        f"{found.proposed.policy.name}: {decimals(own.expected, 2)} {found.costs.currency}/h, "
        f"at the rating {decimals(rating.expected, 2)}; cheaper with a chance of "
        f"{percent(found.proposed.against_rating.probability_cheaper)}"
    )


def _policies_html(found: Any) -> Html:
    from headlife.show.past_rating.tables import policies

    made = table(
        *policies(found),
        caption=f"The policies side by side, amounts in {found.costs.currency}",
    )
    return paragraphs(f"{_policies(found)}.") + made


def _evidence(found: Any) -> str:
    failed = counted(round(found.all_failures), "failure", "failures")
    return f"{failed} of {whole(found.heads)} heads, beside {hours(found.reference_hours)}"


def _evidence_html(found: Any) -> Html:
    between = len(found.intervals)
    known = f"{between} of the failures are known only to lie between two readings."
    return paragraphs(f"{_evidence(found)}.", known if between else "")


def _competing(found: Any) -> str:
    failed = ", ".join(
        f"{mode} {whole(life.evidence.all_failures)}" for mode, life in found.modes.items()
    )
    return f"failures by mode: {failed}"


def _competing_html(found: Any) -> Html:
    reference = next(iter(found.modes.values())).evidence.reference_hours
    ages = [reference * share for share in (0.5, 1.0, 1.5)]
    made = shares_reaching(found, ages, ", whatever ends them")
    return paragraphs(f"{_competing(found)}.".capitalize()) + made


def shares_reaching(life: Any, ages: Sequence[float], more: str) -> Html:
    """Tabulate the share of heads that reach some ages.

    Parameters
    ----------
    life : Life or CompetingLife
        The life.
    ages : sequence of float
        Ages [h].
    more : str
        What the caption says besides.

    Returns
    -------
    Html
        The table, and what its ranges hold.
    """
    low, high = life.reliability_bounds(ages)
    rows = [
        [hours(age), percent(float(life.reliability(age))), span(float(a), float(b))]
        for age, a, b in zip(ages, low, high, strict=True)
    ]
    caption = f"Share of heads that reach an age{more}"
    made = table(["Age [h]", "Estimate", "Range"], rows, caption=caption, numbers=(0, 1, 2))
    return made + paragraphs(numbers.ranges(numbers.SURE))


def _compared(found: Any) -> str:
    return f"{found.advice}: " + ", ".join(
        f"{name} {whole(count)}" for name, count in found.failures.items()
    )


def _compared_html(found: Any) -> Html:
    rows = [[name, whole(count)] for name, count in found.failures.items()]
    few = ", ".join(found.too_few)
    return paragraphs(
        f"Advice: {found.advice}. p = {decimals(found.same_shape, 3)} for equal shapes, "
        f"{decimals(found.same_scale, 3)} for equal scales given equal shapes.",
        f"Too few failures for this to mean much: {few}." if few else "",
    ) + table(["Part", "Failures"], rows, caption="Failures [heads]", numbers=(1,))


def _pooling(found: Any) -> str:
    verdicts = "; ".join(f"{one.name} {one.verdict.verdict}" for one in found.strata)
    return f"{counted(len(found.sites), 'site', 'sites')}: {verdicts}"


def _pooling_html(found: Any) -> Html:
    from headlife.show.words.rating import rating_sentence
    from headlife.show.words.sites import difference_sentence, pooling_notes

    parts = [
        titled(
            one.name,
            Html(f"<p>{badge(one.verdict.verdict)} {typeset(rating_sentence(one.verdict))}</p>"),
            paragraphs(difference_sentence(one.difference)),
        )
        for one in found.strata
    ]
    return sum(parts, paragraphs(*pooling_notes(found)))


def _site(found: Any) -> str:
    told = sum(not one.withheld for one in found.strata)
    groups = counted(len(found.strata), "group", "groups")
    return f"{found.site} as of {found.as_of}: {told} of {groups} of heads told"


def _site_html(found: Any) -> Html:
    rows = [
        [
            one.group.name,
            "" if one.withheld else whole(one.heads),
            one.withheld or ", ".join(f"{m} {whole(e.all_failures)}" for m, e in one.modes.items()),
        ]
        for one in found.strata
    ]
    headings = ["Heads of", "Heads", "Failures by mode, or why they are withheld"]
    return paragraphs(f"{_site(found)}.") + table(headings, rows, caption=found.site, numbers=(1,))


def _builds(found: Any) -> str:
    aside = len(found.set_aside)
    rest = f", {counted(aside, 'row', 'rows')} set aside" if aside else ""
    return f"{counted(len(found.builds), 'build', 'builds')} of {found.source}{rest}"


def _builds_html(found: Any) -> Html:
    rows = [
        [row.build, row.printer or "any", hours(row.build_hours), day(row.due) if row.due else ""]
        for row in lines(found.builds.head(_ROWS).astype(object).where(found.builds.notna(), None))
    ]
    more = len(found.builds) - len(rows)
    return (
        paragraphs(f"{_builds(found)}.")
        + table(["Build", "Printer", "Hours", "Due"], rows, caption="Builds ahead", numbers=(2,))
        + paragraphs(f"And {more} more." if more else "", *found.set_aside["sentence"])
    )


def _readings(found: Any) -> str:
    return f"{counted(len(found.doubtful), 'removal', 'removals')} in doubt, read both ways"


def _readings_html(found: Any) -> Html:
    rows = [
        [row.head, f"{row.head_type}, {row.role}", hours(row.exit_hours), row.why]
        for row in lines(found.doubtful.head(_ROWS))
    ]
    headings = ["Head", "Heads of", "Hours", "Why"]
    made = table(headings, rows, caption="Removals in doubt", numbers=(2,), words=(3,))
    return paragraphs(f"{_readings(found)}.".capitalize()) + made


def _shop(found: Any) -> str:
    types = ", ".join(
        f"{name} rated {hours(kind.rated_hours)}" for name, kind in found.head_types.items()
    )
    return f"{found.name}: {types}"


def _shop_html(found: Any) -> Html:
    rows = [
        [
            name,
            whole(kind.rated_hours),
            whole(kind.notice_hours),
            "yes" if kind.quality_critical else "no",
            "" if kind.price is None else numbers.money(kind.price, found.costs.currency),
        ]
        for name, kind in found.head_types.items()
    ]
    headings = ["Head type", "Rating [h]", "Notice [h]", "Quality-critical", "Price"]
    return titled(found.name, table(headings, rows, caption="Head types", numbers=(1, 2, 4)))


# Name of a class -> its line at a prompt, and what a notebook shows.
LOOKS: Final[dict[str, tuple[Callable[[Any], str], Callable[[Any], Html]]]] = {
    "Actions": (_actions, _actions_html),
    "Changes": (_changes, _changes_html),
    "DueList": (_due, _due_html),
    "BuildPlan": (_plan, _plan_html),
    "VendorStatement": (_vendor, _vendor_html),
    "ProposalStudy": (_proposal, _proposal_html),
    "PastRating": (_policies, _policies_html),
    "Evidence": (_evidence, _evidence_html),
    "CompetingLife": (_competing, _competing_html),
    "Comparison": (_compared, _compared_html),
    "Pooling": (_pooling, _pooling_html),
    "SiteEvidence": (_site, _site_html),
    "Builds": (_builds, _builds_html),
    "TwoReadings": (_readings, _readings_html),
    "Shop": (_shop, _shop_html),
}
