"""Which answer belongs to which, where removals in doubt are read both ways?

From the two readings of a review; finds the other reading of one answer. Words nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from headlife.decisions.review_answers import Stratum
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.two_ways import TwoWays


def other_stratum(stratum: Stratum, both: TwoWays | None) -> Stratum | None:
    """Find the other reading of a rating, where a removal of its heads is in doubt.

    Parameters
    ----------
    stratum : Stratum
        The answers about one head type and role.
    both : TwoWays
        Both readings of the removals in doubt.

    Returns
    -------
    Stratum or None
        The other reading; None where nothing of it is in doubt.
    """
    if both is None or both.doubtful.empty:
        return None
    touched = (both.doubtful["head_type"] == stratum.head_type) & (
        both.doubtful["role"] == stratum.role
    )
    same = (one for one in both.as_suspensions.strata if one.name == stratum.name)
    return next(same, None) if touched.any() else None


def other_stock(answer: StockAnswer, both: TwoWays | None) -> StockAnswer | None:
    """Find the other reading of a stock, where a removal of its heads is in doubt.

    Parameters
    ----------
    answer : StockAnswer
        The answers about one stock.
    both : TwoWays
        Both readings of the removals in doubt.

    Returns
    -------
    StockAnswer or None
        The other reading; None where nothing of it is in doubt.
    """
    if both is None or not (both.doubtful["head_type"] == answer.head_type).any():
        return None
    wanted = (answer.head_type, answer.site)
    same = (one for one in both.as_suspensions.stock if (one.head_type, one.site) == wanted)
    return next(same, None)
