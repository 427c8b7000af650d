"""Pooled evidence as plain values: what a program reads."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from headlife.show.plain import document
from headlife.show.words.sites import difference_sentence, pooling_notes, stratum_notes

if TYPE_CHECKING:
    from headlife.scale.pooling import PooledStratum, Pooling, SiteAnswer


def pooling_values(found: Pooling) -> dict[str, Any]:
    """Give every answer as plain data for JSON.

    Parameters
    ----------
    found : Pooling
        The verdicts for all sites and each.

    Returns
    -------
    dict of str to Any
        Values that survive JSON.
    """
    return document(
        sites=found.sites,
        first_as_of=found.first_as_of,
        last_as_of=found.last_as_of,
        shared_shape=found.shared_shape,
        notes=pooling_notes(found),
        strata=[_stratum(stratum) for stratum in found.strata],
    )


def _stratum(stratum: PooledStratum) -> dict[str, Any]:
    difference = stratum.difference
    return {
        "head_type": stratum.group.head_type,
        "role": stratum.group.role,
        "mode": stratum.mode,
        "rated_hours": stratum.rated_hours,
        "rounding": stratum.rounding,
        "unsettled_by_rounding": stratum.unsettled_by_rounding,
        "decided_by": [vars(one) for one in stratum.decided_by],
        "notes": stratum_notes(stratum),
        "all_sites": _verdict(stratum),
        "difference": {
            "alike": difference.alike,
            "sentence": difference_sentence(difference),
            "shape_probability": difference.shape_probability,
            "risk_probability": difference.risk_probability,
            "risk_spread": difference.risk_spread,
        },
        "sites": [{"site": one.site, **_verdict(one)} for one in stratum.sites],
    }


def _verdict(answer: PooledStratum | SiteAnswer) -> dict[str, Any]:
    verdict = answer.verdict
    return {
        "heads": answer.heads,
        "failures": answer.failures,
        "verdict": verdict.verdict,
        "probability": verdict.probability,
        "confidence": verdict.confidence,
        "share_reaching": verdict.share_reaching,
        "share_reaching_bounds": verdict.bounds,
        "shape": answer.life.shape,
        "scale": answer.life.scale,
    }
