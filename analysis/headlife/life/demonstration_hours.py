"""How many hours, with how many failures, show a mean time between failures?

Plans for a test of fixed length and what it has shown, at a constant failure rate (Poisson, exact
limits). Formulas only; never reads records and judges no shop's rating.

Sources: [1] NIST/SEMATECH e-Handbook of Statistical Methods (2012), sections 8.3.1.1 and 8.4.5.1;
[2] MIL-HDBK-781A (1996), plans of fixed length.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincinv, pdtr

from headlife.errors import HeadlifeError
from headlife.life.asked import fraction
from headlife.life.demonstration import (
    MOST_FAILURES,
    TOO_CLOSE,
    refuse_not_positive,
    refuse_not_whole,
)


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


def mtbf_bound(test_hours: float, failures: int, confidence: float) -> float:
    """One-sided lower limit [h] on the MTBF of a test stopped at ``test_hours`` [h] ([1]).

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
    refuse_not_positive("test hours", test_hours)
    refuse_not_whole("failures", failures)
    return test_hours / float(gammaincinv(failures + 1, fraction(confidence, "confidence")))


def mtbf_limits(test_hours: float, failures: int, confidence: float) -> tuple[float, float]:
    """Two-sided limits (low, high) [h] on the MTBF of a test stopped at ``test_hours`` [h] ([1]).

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
    tail = 0.5 * (1.0 - float(fraction(confidence, "confidence")))
    low = mtbf_bound(test_hours, failures, 1.0 - tail)
    return low, test_hours / float(gammaincinv(failures, tail)) if failures else np.inf


def hours_needed(mtbf_hours: float, confidence: float, failures_allowed: int = 0) -> float:
    """Total hours [h] whose test shows an MTBF [h] with at most so many failures ([1]).

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
    refuse_not_positive("mean time between failures", mtbf_hours)
    refuse_not_whole("failures allowed", failures_allowed)
    return mtbf_hours * float(gammaincinv(failures_allowed + 1, fraction(confidence, "confidence")))


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
    refuse_not_positive("mean time between failures", mtbf_hours)
    return float(pdtr(failures_allowed, test_hours / mtbf_hours))


def plan_hours_both_risks(
    low_mtbf_hours: float, high_mtbf_hours: float, consumer_risk: float, producer_risk: float
) -> HoursPlan:
    """Shortest test of fixed length that tells a low MTBF [h] from a high one [h] ([2]).

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
    refuse_not_positive("lower mean time between failures", low_mtbf_hours)
    if not low_mtbf_hours < high_mtbf_hours:
        raise HeadlifeError(
            f"The lower mean time between failures ({low_mtbf_hours:g} h) must lie below the "
            f"higher one ({high_mtbf_hours:g} h)."
        )
    confidence = 1.0 - float(fraction(consumer_risk, "consumer's risk"))
    fraction(producer_risk, "producer's risk")
    for failures in range(MOST_FAILURES):
        hours = hours_needed(low_mtbf_hours, confidence, failures)
        missed = 1.0 - chance_of_passing_hours(hours, failures, high_mtbf_hours)
        if missed <= producer_risk:
            return HoursPlan(hours, failures, consumer_risk, missed)
    raise HeadlifeError(TOO_CLOSE)
