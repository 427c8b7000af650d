"""For the vendor, in words: does the rating hold, how was it worked out, what is warranted.

From a `VendorStatement`, which holds nothing else of the shop. The standard and the book are named
from memory.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.show.plain import Table
from headlife.show.words.days import day
from headlife.show.words.fit import finding
from headlife.show.words.newest import TOO_YOUNG
from headlife.show.words.numbers import counted, hours, listed, percent, span, whole
from headlife.show.words.rating import NO_VERDICT, rating_sentence

if TYPE_CHECKING:
    from collections.abc import Callable

    from headlife.decisions.vendor import DividedStatement, RoleStatement, VendorStatement

HEADINGS: Final = ("Head", "Role", "Lot", "Put in on", "Failed on", "At [h]")


def claim_sentence(said: VendorStatement) -> str:
    """Say what is claimed, and how sure a verdict must be.

    Parameters
    ----------
    said : VendorStatement
        The statement.

    Returns
    -------
    str
        The sentence.
    """
    verdict = next((one.verdict for one in said.roles if one.verdict is not None), None)
    rated = f"The rating is {hours(said.rated_hours)}."
    if verdict is None:
        return f"{rated} None of these heads has run yet."
    return (
        f"{rated} It is read as the claim that at least {percent(verdict.share)} of heads reach "
        f"it without failing by {said.mode}; a verdict takes a chance of "
        f"{percent(verdict.confidence)}."
    )


def role_sentence(one: RoleStatement) -> str:
    """Say what is found for one role.

    Parameters
    ----------
    one : RoleStatement
        One role.

    Returns
    -------
    str
        The sentences.
    """
    failed = counted(one.failures, "failure", "failures")
    early = f", {one.before_rating} before the rating" if one.failures else ""
    on = "" if one.confirmed_on is None else f" Confirmed since {day(one.confirmed_on)}."
    judged = f"{TOO_YOUNG.capitalize()}." if one.too_young else rating_sentence(one.verdict)
    return (
        f"{counted(one.heads, 'head', 'heads')}, {hours(one.print_hours)} of printing; "
        f"{failed}{early}. "
        f"{judged}{on}"
    )


def newest(divided: DividedStatement) -> tuple[RoleStatement, ...]:
    """Give the lots that are delivered now, or the newest of them.

    Parameters
    ----------
    divided : DividedStatement
        What is said of the lots of one role.

    Returns
    -------
    tuple of RoleStatement
        Those of them; none where parts have no day of purchase.
    """
    return tuple(one for one in divided.parts if one.bought_now > 0)


def part_name(one: RoleStatement, said: VendorStatement) -> str:
    """Name a lot, and say whether it is the one bought now.

    Parameters
    ----------
    one : RoleStatement
        What is said of it.
    said : VendorStatement
        The statement.

    Returns
    -------
    str
        The words, such as "lot L7, bought now". Of one vendor among several it is the newest:
        whether any of its heads are still bought is not told.
    """
    if not one.bought_now:
        return one.part
    if said.vendor is not None:
        return f"{one.part}, the newest"
    share = f" ({percent(one.bought_now)} of them)" if one.bought_now < 1 else ""
    return f"{one.part}, bought now{share}"


def divided_sentence(divided: DividedStatement) -> str:
    """Say whether the lots of one role differ, and what the verdict on each rests on.

    Parameters
    ----------
    divided : DividedStatement
        What is said of them.

    Returns
    -------
    str
        The sentences.
    """
    columns = listed([name.replace("_", " ") for name in divided.columns])
    by = f"{divided.role.capitalize()} by {columns}"
    if divided.comparison is None:
        return f"{by}: fewer than two of them have run, so there is nothing to compare."
    return (
        f"{by}: {finding(divided.comparison)} Each is judged by its own heads and, as far as "
        "lives are alike, those of the others."
    )


def parts_table(said: VendorStatement, mark: Callable[[str], object]) -> Table:
    """Tabulate what is said of every lot.

    Parameters
    ----------
    said : VendorStatement
        The statement.
    mark : callable
        Shows the word of a verdict, as page or terminal do.

    Returns
    -------
    Table
        A row a lot.
    """
    headings = [
        "Heads of", "Role", "Verdict", "Reach the rating [%]", "Heads", "Print hours [h]",
        "Failures", "Before the rating", "Newest head of",
    ]  # fmt: skip
    rows = [
        [
            part_name(one, said),
            one.role,
            mark(TOO_YOUNG if one.too_young else one.stated or NO_VERDICT),
            "–"
            if one.verdict is None or one.too_young
            else f"{percent(one.verdict.share_reaching)} ({span(*one.verdict.bounds)})",
            one.heads,
            whole(one.print_hours),
            one.failures,
            one.before_rating,
            "–" if one.newest is None else day(one.newest),
        ]
        for divided in said.divided
        for one in divided.parts
    ]
    return Table(headings, rows, (3, 4, 5, 6, 7))


def method_lines(said: VendorStatement) -> tuple[str, str, str]:
    """Say in three lines how it was worked out.

    Parameters
    ----------
    said : VendorStatement
        The statement.

    Returns
    -------
    tuple of str
        Three sentences.
    """
    verdict = next((one.verdict for one in said.roles if one.verdict is not None), None)
    sure = 0.95 if verdict is None else verdict.confidence
    return (
        "Every head counts from the hours at which it came on record to its failure by "
        f"{said.mode}; heads still in service, or taken out for any other reason, count as running "
        "until then (right-censored, with delayed entry).",
        "A Weibull life is fitted to all of them (IEC 61649, Weibull analysis); what is not known "
        "of its shape and scale is carried along as their posterior, with a prior that weighs "
        "less than one failure (W. Q. Meeker and L. A. Escobar, Statistical Methods for "
        "Reliability Data, 1998, on censored and truncated lives and on Bayesian bounds).",
        f"Both ends of a range are bounds that are {percent(sure)} sure each; “confirmed” holds "
        "over repeated quarterly looks (group-sequential error spending, Lan and DeMets 1983).",
    )


def warranty_sentence(said: VendorStatement) -> str:
    """Say which heads failed within the warranty.

    Parameters
    ----------
    said : VendorStatement
        The statement.

    Returns
    -------
    str
        The sentence.
    """
    limits = []
    if said.warranty_hours is not None:
        limits.append(hours(said.warranty_hours))
    if said.warranty_months is not None:
        limits.append(counted(said.warranty_months, "month", "months"))
    if not limits:
        return ""
    found = counted(len(said.warranted), "head", "heads")
    return f"Within the warranty of {listed(limits)}: {found} failed by {said.mode}."
