"""Ratings from a plain table of lifetimes as plain values: what a program reads."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from headlife.show.plain import document
from headlife.show.words.lifetimes import group_sentence

if TYPE_CHECKING:
    from headlife.decisions.lifetimes import GroupVerdict


def lifetimes_values(groups: Sequence[GroupVerdict]) -> dict[str, Any]:
    """Give the answer of every group; a number that does not exist is null.

    Parameters
    ----------
    groups : sequence of GroupVerdict
        The verdict of every group.

    Returns
    -------
    dict
        `format`, `rated_hours` [h] and `groups`. Every pair of bounds is a range that as a whole
        holds `range_confidence` [-]: each bound alone is `confidence` sure.
    """
    return document(
        rated_hours=groups[0].verdict.rated_hours,
        groups=[_group(one) for one in groups],
    )


def _group(one: GroupVerdict) -> dict[str, Any]:
    verdict, life = one.verdict, one.life
    found = life.has_ml
    return {
        "group": one.group,
        "heads": one.heads,
        "failures": one.failures,
        "hours_run": one.hours_run,
        "verdict": verdict.verdict,
        "probability": verdict.probability,
        "confidence": verdict.confidence,
        "sentence": group_sentence(one),
        "share_reaching": verdict.share_reaching,
        "hours_at_claimed_share": verdict.life_at_share,
        "shape": life.shape if found else None,
        "scale": life.scale if found else None,
        "shape_posterior": one.shape_bounds,
        "b_life_percent": 100.0 * (1.0 - verdict.share),
        "b_life": one.b_life,
        "b_life_posterior": verdict.life_at_share_bounds,
        "reliability": one.reliability,
        "reliability_posterior": verdict.bounds,
        "range_confidence": one.range_confidence,
        "b_life_likelihood_ratio": one.b_life_likelihood_ratio,
        "reliability_likelihood_ratio": one.reliability_likelihood_ratio,
    }
