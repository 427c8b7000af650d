"""How different are the sites, in words. From the comparison of their evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.scale.differences import LEVEL
from headlife.show.words.numbers import chance, counted, percent

if TYPE_CHECKING:
    from headlife.decisions.review import Review
    from headlife.scale.differences import Difference


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


def files_sentence(found: Review) -> str:
    """Say what was read from many files.

    Parameters
    ----------
    found : Review
        The answers from many files.

    Returns
    -------
    str
        The sentence.
    """
    heads = sum(stratum.heads for stratum in found.strata)
    return (
        f"{found.source}: {found.rows_read:,} rows read, {found.rows_accepted:,} accepted "
        f"({counted(heads, 'head', 'heads')}), {len(found.set_aside):,} set aside, "
        f"{counted(len(found.findings), 'doubt', 'doubts')}."
    )
