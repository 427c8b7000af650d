"""For the vendor, in words: does the rating hold, how was it worked out, what is warranted.

From a `VendorStatement`, which holds nothing else of the shop. The standard and the book are named
from memory.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.show.words.days import day
from headlife.show.words.numbers import counted, hours, listed, percent
from headlife.show.words.rating import rating_sentence

if TYPE_CHECKING:
    from headlife.decisions.vendor import RoleStatement, VendorStatement

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
    return (
        f"{counted(one.heads, 'head', 'heads')}, {hours(one.print_hours)} of printing; "
        f"{failed}{early}. "
        f"{rating_sentence(one.verdict)}{on}"
    )


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
