"""How different are the sites, in words. From the comparison of their evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.decisions.left_out import CIRCULATION, OTHER_HEADS, SINGLE_LIVES, LeftOut
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
            "both ways and the forecast of a quarter ago need one table."
        )
    if left.what == OTHER_HEADS:
        return (
            "Rows were compared with rows of the same head only: two heads in one position, two "
            "spellings of a name and dates in the far future are not looked for."
        )
    if left.what == CIRCULATION:
        return (
            f"With more than {left.rows:,} rows it is not followed which head went in after "
            "which: spares are counted as if material was never changed and a new head replaced "
            "every one used up."
        )
    return (
        f"With {left.positions:,} positions each is simulated for itself in {left.draws:,} "
        "futures: spares are counted without joint visits, changes of material, late swaps, "
        "part-used heads on the shelf, planned changes of printing, printers that will come, and "
        "print hours that vary."
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
