"""Find removals called wear that pile up where the counter calls for a swap.

Answers, from lives, whether more heads were called worn out just at the notice or at the rating
than in the bands of hours beside it: then the counter may have taken them out, not wear. It
never decides which of them were worn; every answer is to be given both ways.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import pandas as pd
from scipy.special import bdtrc

from headlife.shop import Shop

# Own choices, no source. A head comes out soon after the counter calls, seldom before: the band
# runs from 1 % of the rating below the mark to 4 % above it, and is compared with 5 % on either
# side. Wear that rises with age may make the band's rate up to half as high again as its
# neighbours' (a Weibull shape of 8 does): only more than that counts as a pile-up.
BAND_BELOW: Final = 0.01
BAND_ABOVE: Final = 0.04
BESIDE: Final = 0.05
RATE_RATIO_ALLOWED: Final = 1.5
FALSE_ALARM_RATE: Final = 0.01  # per mark, at most


@dataclass(frozen=True)
class CounterTest:
    """Wear at one mark of one head type, against the bands beside it."""

    head_type: str
    """Head type, both roles together: the counter is the same."""
    mark: str
    """Either notice or rating."""
    mark_hours: float
    """Hours at which the counter calls [h]."""
    rated_hours: float
    """The rating of the heads tested [h]."""
    band_from: float
    """The band begins above this [h]."""
    band_to: float
    """The band ends here [h]."""
    worn_in_band: int
    """Heads called worn out in the band [heads]."""
    worn_beside: int
    """Heads called worn out in the two bands beside it [heads]."""
    hours_in_band: float
    """Hours run in the band by all heads [h]."""
    hours_beside: float
    """Hours run in the two bands beside it [h]."""
    expected: float
    """Heads expected in the band if wear went on as beside it [heads]."""
    p_value: float
    """Probability of so many or more without a pile-up, at most; 1 where it cannot be tested."""
    piled_up: bool
    """True when that probability is at or below the false-alarm rate."""


def counter_tests(lives: pd.DataFrame, shop: Shop) -> tuple[CounterTest, ...]:
    """Test every head type for wear that piles up at the notice and at the rating.

    Heads at risk are accounted for by the hours they ran in each band. Given all n heads called
    worn out in the band or beside it, the number in the band is binomial with probability
    q = r E / (r E + E'), E and E' the hours run in the band and beside it and r = 1.5 the ratio
    of rates still allowed; the exact one-sided test at 1 % raises a false alarm in at most 1 of
    100 marks as long as the true rate in the band is no more than 1.5 times that beside it.

    Parameters
    ----------
    lives : DataFrame
        From `lives`, wear counted as failures.
    shop : Shop
        The settings: ratings, notices, the primary mode.

    Returns
    -------
    tuple of CounterTest
        One per head type and mark.
    """
    return tuple(
        _test(_of(lives, name, rated), name, mark, rated * share, rated, shop)
        for name, kind in shop.head_types.items()
        for rated in kind.ratings.values()
        for mark, share in (("notice", kind.notice_fraction), ("rating", 1.0))
        if mark == "rating" or share < 1
    )


def _of(lives: pd.DataFrame, head_type: str, rated: float) -> pd.DataFrame:
    mine: pd.DataFrame = lives[
        ((lives["head_type"] == head_type) & (lives["rated_hours"] == rated)).to_numpy()
    ]
    return mine


def counter_driven(lives: pd.DataFrame, shop: Shop) -> np.ndarray:
    """Tell which lives end in a pile-up at the counter's marks.

    Parameters
    ----------
    lives : DataFrame
        From `lives`, wear counted as failures.
    shop : Shop
        The settings.

    Returns
    -------
    ndarray of bool
        True for heads called worn out within a band that has a pile-up.
    """
    hit = np.zeros(len(lives), dtype=bool)
    worn = (lives["mode"] == shop.review.primary_mode).to_numpy()
    hours = lives["exit_hours"].to_numpy()
    for test in counter_tests(lives, shop):
        if test.piled_up:
            own = (lives["head_type"] == test.head_type).to_numpy()
            own &= (lives["rated_hours"] == test.rated_hours).to_numpy()
            hit |= own & worn & (hours > test.band_from) & (hours <= test.band_to)
    return hit


def _test(
    own: pd.DataFrame, name: str, mark: str, hours: float, rated: float, shop: Shop
) -> CounterTest:
    low, high = hours - BAND_BELOW * rated, hours + BAND_ABOVE * rated
    entries, exits = own["entry_hours"].to_numpy(), own["exit_hours"].to_numpy()
    worn = exits[(own["mode"] == shop.review.primary_mode).to_numpy()]

    def count(start: float, end: float) -> tuple[int, float]:
        ran = np.clip(exits, start, end) - np.clip(entries, start, end)
        return int(((worn > start) & (worn <= end)).sum()), float(ran.sum())

    inside, hours_inside = count(low, high)
    below, hours_below = count(low - BESIDE * rated, low)
    above, hours_above = count(high, high + BESIDE * rated)
    beside, hours_beside = below + above, hours_below + hours_above
    testable = hours_beside > 0 and hours_inside > 0 and inside > 0
    lifted = RATE_RATIO_ALLOWED * hours_inside
    chance = lifted / (lifted + hours_beside) if testable else 1.0
    p = float(bdtrc(inside - 1, inside + beside, chance)) if testable else 1.0
    return CounterTest(
        head_type=name,
        mark=mark,
        mark_hours=hours,
        rated_hours=rated,
        band_from=low,
        band_to=high,
        worn_in_band=inside,
        worn_beside=beside,
        hours_in_band=hours_inside,
        hours_beside=hours_beside,
        expected=beside * hours_inside / hours_beside if hours_beside > 0 else float("nan"),
        p_value=p,
        piled_up=p <= FALSE_ALARM_RATE,
    )
