"""How different are the sites, in words. From the comparison of their evidence."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.scale.differences import LEVEL
from headlife.show.words.numbers import chance, counted, decimals, percent, whole

if TYPE_CHECKING:
    from headlife.scale.cluster import LargeReview, LargeStock
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


def files_sentence(found: LargeReview) -> str:
    """Say what was read from many files.

    Parameters
    ----------
    found : LargeReview
        The answers from many files.

    Returns
    -------
    str
        The sentence.
    """
    every = found.whole
    return (
        f"{found.source}: {every.rows_read:,} rows read, {every.accepted:,} accepted "
        f"({counted(every.heads, 'head', 'heads')}), {len(every.set_aside):,} set aside, "
        f"{counted(len(every.findings), 'doubt', 'doubts')}."
    )


def large_stock_sentence(stock: LargeStock) -> str:
    """Say how many heads all sites together hold, and what that leaves out.

    Parameters
    ----------
    stock : LargeStock
        The answers about one stock.

    Returns
    -------
    str
        The sentence.
    """
    plan, weeks = stock.plan, stock.demand.weeks
    return (
        f"{stock.head_type}, all sites together: hold {counted(plan.stock_level, 'head', 'heads')} "
        f"for {weeks:g} weeks ({decimals(stock.demand.mean, 1)} needed on average), enough with a "
        f"chance of {chance(plan.service)}; {plan.on_hand:,} on the shelf and {plan.on_order:,} on "
        f"order, so order {whole(plan.order_now)} now. Joint visits, part-used heads on the shelf, "
        f"planned changes and new printers are not counted; {stock.draws:,} futures."
    )
