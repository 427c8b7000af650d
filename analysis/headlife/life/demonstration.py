"""How many heads must run how long, with how many failures, to show a rating?

Plans for a demonstration test, and what a test has shown: heads counted as reaching the rating
or not (binomial, exact limits), heads run longer than the rating when the Weibull shape is
known, and hours between failures at a constant rate (Poisson). Formulas only; never reads
records and judges no shop's rating.

Sources: [1] Clopper and Pearson, Biometrika 26 (1934), exact binomial limits; [2] NIST/SEMATECH
e-Handbook of Statistical Methods (2012), sections 8.3.1.1 and 8.4.5.1; [3] MIL-HDBK-781A (1996),
plans of fixed length; [4] Meeker and Escobar, Statistical Methods for Reliability Data (1998),
chapter 10, tests run longer than the life to be shown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import bdtr, betaincinv, gammaincinv, pdtr

from headlife.errors import HeadlifeError

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


@dataclass(frozen=True)
class HoursPlan:
    """A test of fixed total hours for a mean time between failures (MTBF), constant rate."""

    test_hours: float
    """Hours of all heads together [h]."""
    failures_allowed: int
    """The test is passed with at most this many failures [heads]."""
    consumer_risk: float
    """Chance that the lower MTBF passes [-]."""
    producer_risk: float
    """Chance that the higher MTBF does not pass [-]."""


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
    _share("share of heads", share)
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
        a share R of the rating is a share ``R ** (lengths ** shape)`` of the test ([4]).
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
    """
    reaching = _tested_share(share, lengths, shape)
    risk = 1.0 - _share("confidence", confidence)
    _whole("failures allowed", failures_allowed)
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
    return float(betaincinv(failures + 1, heads - failures, _share("confidence", confidence)))


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
    tail = 0.5 * (1.0 - _share("confidence", confidence))
    low = float(betaincinv(failures, heads - failures + 1, tail)) if failures else 0.0
    return low, failing_share_bound(heads, failures, 1.0 - tail)


def lengths_needed(
    heads: int, share: float, confidence: float, shape: float, failures_allowed: int = 0
) -> float:
    """How many times the rated hours [-] must ``heads`` run to show ``share`` [-] at the rating?

    With a known Weibull ``shape`` [-]: inverse of ``R ** (lengths ** shape)``, [4].

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
    _share("share of heads", share)
    _positive("shape", shape)
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
    _share("producer's risk", producer_risk)
    for failures in range(MOST_FAILURES):
        heads = heads_needed(low_share, 1.0 - _share("consumer's risk", consumer_risk), failures)
        missed = 1.0 - chance_of_passing(heads, failures, high_share)
        if missed <= producer_risk:
            passed = chance_of_passing(heads, failures, low_share)
            return AttributePlan(heads, failures, passed, missed)
    raise HeadlifeError(_TOO_CLOSE)


def mtbf_bound(test_hours: float, failures: int, confidence: float) -> float:
    """One-sided lower limit [h] on the MTBF of a test stopped at ``test_hours`` [h] ([2]).

    ``2 T / chi2(confidence, 2 r + 2)``, a gamma quantile.

    Parameters
    ----------
    test_hours : float
        Hours of all heads together [h].
    failures : int
        Failures in them [heads].
    confidence : float
        One-sided [-].

    Returns
    -------
    float
        The limit [h].
    """
    _positive("test hours", test_hours)
    _whole("failures", failures)
    return test_hours / float(gammaincinv(failures + 1, _share("confidence", confidence)))


def mtbf_limits(test_hours: float, failures: int, confidence: float) -> tuple[float, float]:
    """Two-sided limits (low, high) [h] on the MTBF of a test stopped at ``test_hours`` [h] ([2]).

    ``2 r + 2`` degrees of freedom below and ``2 r`` above; without a failure nothing bounds the
    MTBF above.

    Parameters
    ----------
    test_hours : float
        Hours of all heads together [h].
    failures : int
        Failures in them [heads].
    confidence : float
        Two-sided [-].

    Returns
    -------
    tuple of float
        Lower and upper limit [h].
    """
    tail = 0.5 * (1.0 - _share("confidence", confidence))
    low = mtbf_bound(test_hours, failures, 1.0 - tail)
    return low, test_hours / float(gammaincinv(failures, tail)) if failures else np.inf


def hours_needed(mtbf_hours: float, confidence: float, failures_allowed: int = 0) -> float:
    """Total hours [h] whose test shows an MTBF [h] with at most so many failures ([2]).

    Parameters
    ----------
    mtbf_hours : float
        Mean time between failures to be shown [h].
    confidence : float
        One-sided [-].
    failures_allowed : int, optional
        Failures with which it still passes [heads].

    Returns
    -------
    float
        Hours of all heads together [h].
    """
    _positive("mean time between failures", mtbf_hours)
    _whole("failures allowed", failures_allowed)
    return mtbf_hours * float(gammaincinv(failures_allowed + 1, _share("confidence", confidence)))


def chance_of_passing_hours(test_hours: float, failures_allowed: int, mtbf_hours: float) -> float:
    """Chance [-] that heads of this MTBF [h] pass a test of ``test_hours`` [h] in all.

    Parameters
    ----------
    test_hours : float
        Hours of all heads together [h].
    failures_allowed : int
        Failures with which it still passes [heads].
    mtbf_hours : float
        True mean time between failures [h].

    Returns
    -------
    float
        The chance [-].
    """
    _positive("mean time between failures", mtbf_hours)
    return float(pdtr(failures_allowed, test_hours / mtbf_hours))


def plan_hours_both_risks(
    low_mtbf_hours: float, high_mtbf_hours: float, consumer_risk: float, producer_risk: float
) -> HoursPlan:
    """Shortest test of fixed length that tells a low MTBF [h] from a high one [h] ([3]).

    Parameters
    ----------
    low_mtbf_hours : float
        MTBF that should fail the test [h].
    high_mtbf_hours : float
        MTBF that should pass it [h].
    consumer_risk : float
        Greatest chance [-] that the low one passes.
    producer_risk : float
        Greatest chance [-] that the high one fails.

    Returns
    -------
    HoursPlan
        The plan with its two true risks.

    Raises
    ------
    HeadlifeError
        MTBFs or risks out of range or the wrong way round, or no plan of reasonable size.
    """
    _positive("lower mean time between failures", low_mtbf_hours)
    if not low_mtbf_hours < high_mtbf_hours:
        raise HeadlifeError(
            f"The lower mean time between failures ({low_mtbf_hours:g} h) must lie below the "
            f"higher one ({high_mtbf_hours:g} h)."
        )
    confidence = 1.0 - _share("consumer's risk", consumer_risk)
    _share("producer's risk", producer_risk)
    for failures in range(MOST_FAILURES):
        hours = hours_needed(low_mtbf_hours, confidence, failures)
        missed = 1.0 - chance_of_passing_hours(hours, failures, high_mtbf_hours)
        if missed <= producer_risk:
            return HoursPlan(hours, failures, consumer_risk, missed)
    raise HeadlifeError(_TOO_CLOSE)


_TOO_CLOSE: Final = (
    "The two are too close to be told apart by a test of reasonable size. Move them apart, or "
    "accept more risk."
)


def _tested_share(share: float, lengths: float, shape: float) -> float:
    """Share of heads that reach the end of the test when ``share`` reach the rating."""
    _positive("length of the test", lengths)
    _positive("shape", shape)
    return float(np.exp(np.log(_share("share of heads", share)) * lengths**shape))


def _share(name: str, value: float) -> float:
    if not 0.0 < value < 1.0:
        raise HeadlifeError(f"The {name} is a fraction between 0 and 1; got {value:g}.")
    return float(value)


def _positive(name: str, value: float) -> None:
    if not (np.isfinite(value) and value > 0):
        raise HeadlifeError(f"The {name} must be a positive number; got {value:g}.")


def _whole(name: str, value: int) -> None:
    if value < 0 or value != int(value):
        raise HeadlifeError(f"The number of {name} must be 0, 1, 2, ...; got {value:g}.")


def _counts(heads: int, failures: int) -> None:
    _whole("failures", failures)
    _whole("heads", heads)
    if heads <= 0 or failures > heads:
        raise HeadlifeError(f"{failures} failures among {heads} heads do not make sense.")
