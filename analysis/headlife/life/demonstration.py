"""How many heads must run how long, with how many failures, to show a rating?

Plans for a demonstration test, and what a test has shown: heads counted as reaching the rating
or not (binomial, exact limits), and heads run longer than the rating when the Weibull shape is
known. Formulas only; never reads records and judges no shop's rating.

Sources: [1] Clopper and Pearson, Biometrika 26 (1934), exact binomial limits; [2] NIST/SEMATECH
e-Handbook of Statistical Methods (2012), section 8.3.1.1; [3] Meeker and Escobar, Statistical
Methods for Reliability Data (1998), chapter 10, tests run longer than the life to be shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import bdtr, betaincinv

from headlife.errors import HeadlifeError
from headlife.life.asked import fraction

MOST_HEADS: Final = 10_000_000
MOST_FAILURES: Final = 10_000


@dataclass(frozen=True)
class AttributePlan:
    """A test of heads that reach the rating or do not."""

    heads: int
    """Heads to test [heads]."""
    failures_allowed: int
    """The test is passed with at most this many failures [heads]."""
    consumer_risk: float
    """Chance that heads of the lower share pass [-]."""
    producer_risk: float
    """Chance that heads of the higher share do not pass [-]."""


def chance_of_passing(heads: int, failures_allowed: int, share: float) -> float:
    """Chance [-] that a test of ``heads`` passes when ``share`` [-] of heads reach the rating.

    ``P(N <= failures_allowed)``, N binomial.

    Parameters
    ----------
    heads : int
        Heads on test [heads].
    failures_allowed : int
        Failures with which it still passes [heads].
    share : float
        True share [-] that reach the rating.

    Returns
    -------
    float
        The chance [-].
    """
    fraction(share, "share of heads")
    return float(bdtr(failures_allowed, heads, 1.0 - share))


def heads_needed(
    share: float,
    confidence: float,
    failures_allowed: int = 0,
    *,
    lengths: float = 1.0,
    shape: float = 1.0,
) -> int:
    """Fewest heads [heads] whose test shows that ``share`` [-] of heads reach the rating.

    Parameters
    ----------
    share : float
        Share of heads to be shown [-].
    confidence : float
        One-sided [-].
    failures_allowed : int, optional
        The test is passed with at most this many failures [heads].
    lengths : float, optional
        Every head runs this many times the rated hours [-]: with a known Weibull ``shape`` [-]
        a share R of the rating is a share ``R ** (lengths ** shape)`` of the test ([3]).
    shape : float, optional
        Weibull shape [-], known; 1 where nothing is known and lengths is 1.

    Returns
    -------
    int
        Heads to test [heads].

    Raises
    ------
    HeadlifeError
        A share, confidence, length or shape out of range, or no plan below ten million heads.

    Examples
    --------
    >>> import headlife as hl
    >>> hl.heads_needed(0.90, 0.90)  # heads run to the rating without a failure
    22
    >>> hl.heads_needed(0.90, 0.90, lengths=1.5, shape=2.0)  # to one and a half times the rating
    10
    """
    reaching = _tested_share(share, lengths, shape)
    risk = 1.0 - float(fraction(confidence, "confidence"))
    refuse_not_whole("failures allowed", failures_allowed)
    low, high = failures_allowed, failures_allowed + 1
    while bdtr(failures_allowed, high, 1.0 - reaching) > risk:
        low, high = high, 2 * high
        if high > MOST_HEADS:
            raise HeadlifeError(
                f"Showing a share of {share:g} would take more than {MOST_HEADS:,} heads. "
                "Ask for a lower share or confidence, or a longer test."
            )
    while high - low > 1:
        middle = (low + high) // 2
        passes = bdtr(failures_allowed, middle, 1.0 - reaching) > risk
        low, high = (middle, high) if passes else (low, middle)
    return high


def share_shown(heads: int, failures: int, confidence: float) -> float:
    """Share [-] of heads that a test has shown to reach the rating, one-sided ``confidence``.

    Parameters
    ----------
    heads : int
        Heads that were on test [heads].
    failures : int
        How many of them failed [heads].
    confidence : float
        One-sided [-].

    Returns
    -------
    float
        The share [-].
    """
    return 1.0 - failing_share_bound(heads, failures, confidence)


def failing_share_bound(heads: int, failures: int, confidence: float) -> float:
    """One-sided exact upper limit [-] on the failing share after a test ([1]).

    Parameters
    ----------
    heads : int
        Heads that were on test [heads].
    failures : int
        How many of them failed [heads].
    confidence : float
        One-sided [-].

    Returns
    -------
    float
        The limit [-].
    """
    _counts(heads, failures)
    if failures == heads:
        return 1.0
    return float(betaincinv(failures + 1, heads - failures, fraction(confidence, "confidence")))


def failing_share_limits(heads: int, failures: int, confidence: float) -> tuple[float, float]:
    """Two-sided exact limits (low, high) [-] on the failing share after a test ([1]).

    Parameters
    ----------
    heads : int
        Heads that were on test [heads].
    failures : int
        How many of them failed [heads].
    confidence : float
        Two-sided [-].

    Returns
    -------
    tuple of float
        Lower and upper limit [-].
    """
    _counts(heads, failures)
    tail = 0.5 * (1.0 - float(fraction(confidence, "confidence")))
    low = float(betaincinv(failures, heads - failures + 1, tail)) if failures else 0.0
    return low, failing_share_bound(heads, failures, 1.0 - tail)


def lengths_needed(
    heads: int, share: float, confidence: float, shape: float, failures_allowed: int = 0
) -> float:
    """How many times the rated hours [-] must ``heads`` run to show ``share`` [-] at the rating?

    With a known Weibull ``shape`` [-]: inverse of ``R ** (lengths ** shape)``, [3].

    Parameters
    ----------
    heads : int
        Heads on test [heads].
    share : float
        Share [-] to be shown at the rating.
    confidence : float
        One-sided [-].
    shape : float
        Weibull shape [-], known.
    failures_allowed : int, optional
        Failures with which it still passes [heads].

    Returns
    -------
    float
        Test length in rated lives [-].
    """
    shown = share_shown(heads, failures_allowed, confidence)
    fraction(share, "share of heads")
    refuse_not_positive("shape", shape)
    if shown <= 0:
        raise HeadlifeError("A test in which every head may fail shows nothing.")
    return float((np.log(shown) / np.log(share)) ** (1.0 / shape))


def plan_both_risks(
    low_share: float, high_share: float, consumer_risk: float, producer_risk: float
) -> AttributePlan:
    """Smallest test that rarely passes the low share and rarely fails the high one.

    Parameters
    ----------
    low_share, high_share : float
        Shares of heads reaching the rating [-]: passes at most with chance ``consumer_risk``
        [-], fails at most with chance ``producer_risk`` [-].
    consumer_risk : float
        Greatest chance [-] that the low share passes.
    producer_risk : float
        Greatest chance [-] that the high share fails.

    Returns
    -------
    AttributePlan
        The plan with its two true risks.

    Raises
    ------
    HeadlifeError
        Shares or risks out of range or the wrong way round, or no plan of reasonable size.
    """
    if not low_share < high_share:
        raise HeadlifeError(
            f"The lower share ({low_share:g}) must lie below the higher one ({high_share:g})."
        )
    fraction(producer_risk, "producer's risk")
    for failures in range(MOST_FAILURES):
        heads = heads_needed(
            low_share, 1.0 - float(fraction(consumer_risk, "consumer's risk")), failures
        )
        missed = 1.0 - chance_of_passing(heads, failures, high_share)
        if missed <= producer_risk:
            passed = chance_of_passing(heads, failures, low_share)
            return AttributePlan(heads, failures, passed, missed)
    raise HeadlifeError(TOO_CLOSE)


TOO_CLOSE: Final = (
    "The two are too close to be told apart by a test of reasonable size. Move them apart, or "
    "accept more risk."
)


def _tested_share(share: float, lengths: float, shape: float) -> float:
    """Share of heads that reach the end of the test when ``share`` reach the rating."""
    refuse_not_positive("length of the test", lengths)
    refuse_not_positive("shape", shape)
    return float(np.exp(np.log(fraction(share, "share of heads")) * lengths**shape))


def refuse_not_positive(name: str, value: float) -> None:
    """Refuse what is no positive number.

    Parameters
    ----------
    name : str
        What it is.
    value : float
        The number.

    Raises
    ------
    HeadlifeError
        It is none.
    """
    if not (np.isfinite(value) and value > 0):
        raise HeadlifeError(f"The {name} must be a positive number; got {value:g}.")


def refuse_not_whole(name: str, value: int) -> None:
    """Refuse what is no count.

    Parameters
    ----------
    name : str
        What is counted.
    value : int
        The count.

    Raises
    ------
    HeadlifeError
        It is none.
    """
    if value < 0 or value != int(value):
        raise HeadlifeError(f"The number of {name} must be 0, 1, 2, ...; got {value:g}.")


def _counts(heads: int, failures: int) -> None:
    refuse_not_whole("failures", failures)
    refuse_not_whole("heads", heads)
    if heads <= 0 or failures > heads:
        raise HeadlifeError(f"{failures} failures among {heads} heads do not make sense.")
