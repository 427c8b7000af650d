"""How different are the sites, in words. From pooled evidence and many files."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from headlife.decisions.review_answers import OTHER_HEADS, SINGLE_LIVES, LeftOut
from headlife.scale.differences import LEVEL
from headlife.show.words.days import day
from headlife.show.words.numbers import chance, hours, percent

if TYPE_CHECKING:
    from headlife.scale.differences import Difference
    from headlife.scale.pooling import PooledStratum, Pooling

_NAMED: Final = 5  # sites named in one sentence before "and more"


def difference_sentence(difference: Difference) -> str:
    """Say how different the sites are, and how sure that is.

    Parameters
    ----------
    difference : Difference
        How different the sites are.

    Returns
    -------
    str
        The sentence.
    """
    if difference.sites < 2:
        return "One site only; there is nothing to compare."
    if difference.alike:
        return (
            f"Nothing says that the {difference.sites} sites differ: chance alone spreads "
            f"failures this unevenly in {chance(difference.risk_probability)} of cases."
        )
    said = []
    if difference.risk_probability < LEVEL / 2:
        said.append(
            f"the risk of their heads varies by about {percent(difference.risk_spread)} from "
            f"site to site (by chance alone in {chance(difference.risk_probability)} of cases)"
        )
    if difference.shape_probability < LEVEL / 2:
        said.append(
            "their heads wear out in different ways (by chance alone in "
            f"{chance(difference.shape_probability)} of cases)"
        )
    return (
        f"The {difference.sites} sites differ: {' and '.join(said)}. "
        "Read each site's own verdict; the one for all is that of their mixture."
    )


def pooling_notes(found: Pooling) -> list[str]:
    """Say what a reader must know about all answers, one sentence each.

    Parameters
    ----------
    found : Pooling
        Every answer from the evidence of several sites.

    Returns
    -------
    list of str
        The sentences; none where all sites looked on one day and each adds something.
    """
    said = []
    if found.first_as_of != found.last_as_of:
        said.append(
            "The sites looked at their records on different days, the earliest on "
            f"{day(found.first_as_of)} ({found.oldest}), the latest on {day(found.last_as_of)}."
        )
    if found.empty:
        said.append(
            f"Nothing to add from {_named(found.empty)}: every stratum is withheld or has no hours."
        )
    return said


def stratum_notes(stratum: PooledStratum) -> list[str]:
    """Say which sites are not, or only moved, in the answer about one kind of head.

    Parameters
    ----------
    stratum : PooledStratum
        One head type in one role over all sites.

    Returns
    -------
    list of str
        One sentence each.
    """
    said = []
    if stratum.rounding is not None:
        said += _rounding_notes(stratum.verdict.probability, stratum)
    if stratum.decided_by:
        first = stratum.decided_by[0]
        more = [one.site for one in stratum.decided_by[1:]]
        also = f" So it would be without {_named(more)}." if more else ""
        said.append(
            f"One site decides this: without {first.site} it is {first.verdict} (chance "
            f"{chance(first.probability)} instead of {chance(stratum.verdict.probability)}).{also} "
            "Make sure of that site's file before you rely on the verdict."
        )
    if stratum.without:
        said.append(f"No such heads at {_named(stratum.without)}.")
    if stratum.withheld:
        said.append(f"Withheld by {_named(stratum.withheld)}: not in any number here.")
    if stratum.silent:
        said.append(f"No running hours for the mode '{stratum.mode}' at {_named(stratum.silent)}.")
    if stratum.moved:
        said.append(
            f"Evidence of {_named(stratum.moved)} was stated at another age than "
            f"{hours(stratum.rated_hours)} and moved to it, which changes no likelihood."
        )
    return said


def _rounding_notes(probability: float, stratum: PooledStratum) -> list[str]:
    assert stratum.rounding is not None
    low, high = map(chance, stratum.rounding)
    if stratum.unsettled_by_rounding:
        between = "a little more or less" if low == high else f"anything from {low} to {high}"
        return [
            f"The sites tell rounded answers. They give a chance of {chance(probability)}, the "
            f"lives themselves {between}, so this is left open. Sites of one owner can settle it "
            "with exact sums (headlife evidence --exact)."
        ]
    if low == high:
        return []
    return [
        f"The sites tell rounded answers; from their lives themselves the chance would be between "
        f"{low} and {high}."
    ]


def _named(sites: Sequence[str]) -> str:
    more = len(sites) - _NAMED
    text = ", ".join(sites[:_NAMED])
    return f"{text} and {more} more" if more > 0 else text


def left_out_sentence(left: LeftOut) -> str:
    """Say one thing that an answer leaves out, and because of what.

    Parameters
    ----------
    left : LeftOut
        What is left out.

    Returns
    -------
    str
        The sentence.
    """
    if left.what == SINGLE_LIVES:
        return (
            "Lives were reduced file by file: curves and plots of single lives, the answers read "
            "both ways, heads called worn out where the counter calls for a swap, whether a "
            "verdict is confirmed, what would overturn it and what is to be done about it, how the "
            "newest heads fare, which refurbished heads came with hours on their counter, and the "
            "forecast of a quarter ago need one table."
        )
    if left.what == OTHER_HEADS:
        return (
            f"With more than {left.rows:,} rows, rows are compared with rows of the same head "
            "only: not looked for are two heads in one position, hours that may be the printer's "
            "meter, heads and reasons missing from the log, hours a week that changed, serials of "
            "repaired heads, days to come, old readings and times without a row."
        )
    return (
        f"With more than {left.rows:,} rows it is not followed which head went in after "
        "which, how print hours vary together, nor whether the shop does what its settings say: "
        "spares are counted as if it did, material was never changed, a new head replaced every "
        "one used up and each printer varied by itself."
    )
