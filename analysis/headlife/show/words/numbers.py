"""How is a number written for people? Shares, chances, hours, heads, amounts, days, and ranges.

From plain numbers; the only place that rounds for reading. A number that does not exist is
"unknown", and no share or chance is called certain. Files and programs get the plain numbers.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

# How sure each bound of a range by itself is, where no verdict asks for more or less [-].
SURE: Final = 0.95
# Ratings, or ages of the oldest head, from which a life is beyond what records tell (own choice).
_FAR: Final = 5.0
_WHOLE_FROM: Final = 10.0  # amounts from here on are written without decimals


def percent(share: float) -> str:
    """Write a share as percent, with a decimal only near 0 and 1 where it matters.

    Parameters
    ----------
    share : float
        Share [-].

    Returns
    -------
    str
        The words.
    """
    if not math.isfinite(share):
        return "unknown"
    value = 100.0 * share
    if value < 0.1:
        return "under 0.1 %"
    if value > 99.9:
        return "over 99.9 %"
    return f"{value:.1f} %" if value < 1 or value > 99 else f"{value:.0f} %"


def chance(probability: float) -> str:
    """Write a probability in whole percent, never as a certainty.

    Parameters
    ----------
    probability : float
        Probability [-].

    Returns
    -------
    str
        The words.
    """
    if not math.isfinite(probability):
        return "unknown"
    if probability < 0.01:
        return "under 1 %"
    return "over 99 %" if probability > 0.99 else f"{100 * probability:.0f} %"


def chance_beside(probability: float, limit: float) -> str:
    """Write a probability beside a limit that it does not reach, so that the two read apart.

    Parameters
    ----------
    probability, limit : float
        Probabilities [-].

    Returns
    -------
    str
        The words: with a digit more, or "just under", where whole percent would say the limit.
    """
    said = chance(probability)
    if probability >= limit or said != chance(limit):
        return said
    finer = f"{100 * probability:.1f} %"
    return finer if finer != f"{100 * limit:.1f} %" else f"just under {said}"


def of_rating(age_hours: float, rated_hours: float) -> str:
    """Write an age as a share of the rating, 100 % of it only once it is reached.

    Parameters
    ----------
    age_hours, rated_hours : float
        Age of the head and its rating [h].

    Returns
    -------
    str
        The words.
    """
    share = age_hours / rated_hours
    return percent(share) if 0.99 < share < 1 else f"{whole(100 * share)} %"


def about(words: str) -> str:
    """Say that a number is an estimate; what is over or under a bound is no estimate.

    Parameters
    ----------
    words : str
        The number in words.

    Returns
    -------
    str
        The words.
    """
    return words if words.startswith(("over", "under", "unknown")) else f"about {words}"


def in_100(probability: float) -> str:
    """Write a chance as a number of cases: 47 of 100, fewer than 1 of 100.

    Parameters
    ----------
    probability : float
        Probability [-].

    Returns
    -------
    str
        The words.
    """
    if probability < 0.01:
        return "fewer than 1 of 100"
    return "more than 99 of 100" if probability > 0.99 else f"{100 * probability:.0f} of 100"


def hours(value: float, most: float = 1e7) -> str:
    """Write hours with thousands apart; beyond `most` only that it is more.

    Parameters
    ----------
    value : float
        Hours [h].
    most : float, optional
        Beyond this it is only said to be more [h].

    Returns
    -------
    str
        The words.
    """
    if math.isnan(value):
        return "unknown"
    if value > most:
        return f"over {most:,.0f} h"
    return f"{short(value)} h"


def most_known(rated_hours: float, oldest_hours: float = 0.0) -> float:
    """Give the life beyond which records tell nothing: it is only called longer.

    Parameters
    ----------
    rated_hours : float
        Rated life [h].
    oldest_hours : float
        Age of the oldest head seen, where that is known [h].

    Returns
    -------
    float
        Five times the longer of the two [h], for `hours` and `hours_span`.
    """
    return _FAR * max(rated_hours, oldest_hours)


def span(low: float, high: float) -> str:
    """Write a range of shares: 71 to 96 %.

    Parameters
    ----------
    low : float
        Lower share [-].
    high : float
        Upper share [-].

    Returns
    -------
    str
        The words.
    """
    return _joined(percent(low), percent(high), " %")


def hours_span(low: float, high: float, most: float = 1e7) -> str:
    """Write a range of hours: 2,094 to 22,144 h.

    Parameters
    ----------
    low : float
        Lower end [h].
    high : float
        Upper end [h].
    most : float, optional
        Beyond this it is only said to be more [h].

    Returns
    -------
    str
        The words.
    """
    return _joined(hours(low, most), hours(high, most), " h")


def _joined(first: str, last: str, unit: str) -> str:
    if first == last:
        return first
    return f"{first.removesuffix(unit) if first[0].isdigit() else first} to {last}"


def span_of_heads(low: float, high: float) -> str:
    """Write a range of heads: 3 to 9.

    Parameters
    ----------
    low : float
        Lower end [heads].
    high : float
        Upper end [heads].

    Returns
    -------
    str
        The words.
    """
    return whole(low) if low == high else f"{whole(low)} to {whole(high)}"


def counted(number: int, one: str, many: str) -> str:
    """Write a number with its noun: no head, 1 head, 3 heads.

    Parameters
    ----------
    number : int
        How many.
    one : str
        The noun for one.
    many : str
        The noun for any other number.

    Returns
    -------
    str
        The words.
    """
    if number == 0:
        return f"no {one}"
    return f"{number:,} {one if number == 1 else many}"


def whole(value: float) -> str:
    """Write a whole number, thousands apart, and nothing as 0 whatever its sign.

    Parameters
    ----------
    value : float
        The number.

    Returns
    -------
    str
        The words.
    """
    return decimals(value, 0)


def decimals(value: float, digits: int) -> str:
    """Write a number with so many decimals, thousands apart, and nothing as 0.

    Parameters
    ----------
    value : float
        The number.
    digits : int
        Decimals.

    Returns
    -------
    str
        The words.
    """
    if not math.isfinite(value):
        return "unknown"
    written = f"{abs(value) if abs(value) >= 0.5 * 10.0**-digits else 0.0:,.{digits}f}"
    nothing = not any(sign in "123456789" for sign in written)
    return written if value >= 0 or nothing else f"\N{MINUS SIGN}{written}"


def short(value: float) -> str:
    """Write a quantity no finer than it is known: 1,050; 12; 2.8; 0.29.

    Parameters
    ----------
    value : float
        The number.

    Returns
    -------
    str
        The words.
    """
    if abs(value) >= _WHOLE_FROM - 0.05 or abs(value) < 0.005:
        return whole(value)
    return decimals(value, 1 if abs(value) >= 0.995 else 2)


def money(amount: float, currency: str = "") -> str:
    """Write an amount, with its currency where one is given.

    Parameters
    ----------
    amount : float
        The amount [currency].
    currency : str, optional
        In which amounts are stated; empty where none is.

    Returns
    -------
    str
        The words.
    """
    return f"{short(amount)} {currency}".strip()


def hourly_cost(cost: float, currency: str = "") -> str:
    """Write a cost per print hour: always two decimals, so that policies can be compared.

    Parameters
    ----------
    cost : float
        Cost [currency/h].
    currency : str, optional
        In which amounts are stated; empty where none is.

    Returns
    -------
    str
        The words.
    """
    return f"{decimals(cost, 2)} {currency}".strip()


def bought_now(shares: Mapping[str, float]) -> str:
    """Name the lots that are bought now: "lot B", or "vendor A (60 %) and vendor B (40 %)".

    Parameters
    ----------
    shares : mapping of str to float
        Share of the heads bought now that are of each lot [-].

    Returns
    -------
    str
        The names.
    """
    if len(shares) == 1:
        return next(iter(shares))
    return listed([f"{lot} ({percent(share)})" for lot, share in shares.items()])


def listed(names: Sequence[str]) -> str:
    """Join names: "a", "a and b", "a, b and c".

    Parameters
    ----------
    names : sequence of str
        What to join.

    Returns
    -------
    str
        The words.
    """
    *first, last = names
    return f"{', '.join(first)} and {last}" if first else last


def sentences(*said: str) -> str:
    """Put sentences after each other; one that is empty is left out.

    Parameters
    ----------
    *said : str
        The sentences.

    Returns
    -------
    str
        All of them.
    """
    return " ".join(one for one in said if one)


def ranges(sure: float) -> str:
    """Say what a range holds; the same words wherever ranges stand beside a verdict.

    Parameters
    ----------
    sure : float
        How sure each of its bounds is by itself [-], as a verdict asks.

    Returns
    -------
    str
        The words.
    """
    return (
        f"A range runs from a lower to an upper bound. Each bound by itself is {percent(sure)} "
        f"sure, so the range as a whole holds {percent(2.0 * sure - 1.0)}."
    )
