"""What would the answers be if the removals in doubt were no failures?

Where heads called worn out pile up at the counter's mark, or were pulled on their looks, the
records cannot tell failures from suspensions. The review counts them as failures; here every
answer is given again with them as suspensions. The truth lies between; no point between is
offered (dependent censoring is not identifiable from failures alone).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from headlife.case import Case, as_case, shop_evidence
from headlife.decisions.review import answers_from
from headlife.decisions.review_answers import Review

if TYPE_CHECKING:
    import pandas as pd

    from headlife.records.record_set import Records
    from headlife.shop import Shop


@dataclass(frozen=True)
class TwoWays:
    """Every answer read both ways; the same twice where no removal is in doubt."""

    doubtful: pd.DataFrame
    """The heads in question: head, head_type, role, exit_hours [h], why; empty when none."""
    as_failures: Review
    """The review, with all of them as failures."""
    as_suspensions: Review
    """The same review with all of them as suspensions."""


def read_both_ways(
    review: Review, case: Case | Records, shop: Shop | None = None, as_of: Any = None
) -> TwoWays:
    """Give every answer of a review again, with the removals in doubt as suspensions.

    Parameters
    ----------
    review : Review
        From `quarterly_review` on the same case.
    case, shop, as_of : Case or Records, Shop, date
        As for `quarterly_review`.

    Returns
    -------
    TwoWays
        Both readings; the other one is empty where nothing is in doubt.
    """
    from headlife.records.lives import two_readings

    case = as_case(case, shop, as_of)
    readings = two_readings(case.records, case.as_of)
    if readings.doubtful.empty:
        return TwoWays(readings.doubtful, review, review)

    # What stands in the printers and on the shelf is the same, whatever took a head out.
    lives, shop = readings.as_suspensions, case.shop
    evidence = shop_evidence(lives, shop)
    answers = answers_from(evidence, review.fleet, shop, case.day, lambda *_: None, lives=lives)
    return TwoWays(readings.doubtful, review, replace(review, lives=lives, **vars(answers)))
