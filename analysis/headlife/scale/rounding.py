"""How far may the rounding of the sites' answers have moved a pooled verdict?

From the evidence of the sites and other records that each would have told in the same way
(`headlife.life.also_possible`): one site after the other is replaced by the ones that move the
pooled chance most. Roundings at different sites do not hang together, so the squares of what they
move add, on the scale of normal scores. Over invented sites the chance from exact sums lay in the
range in 98 to 100 of 100 pools (`python -m studies.evidence_attack`). Judges the claim; never
changes evidence.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
from scipy.special import ndtr, ndtri

from headlife.decisions.rating import NOT_SETTLED, RatingVerdict, verdict_of
from headlife.life.also_possible import also_possible
from headlife.life.evidence import Evidence, pool
from headlife.life.rounded import SCORE_STEP, AgePicture

_MOST: Final = 24  # sites replaced one after the other; among more they stand for all
_NEARLY_NEVER: Final = 1e-12  # chances are kept so far from 0 and 1, where scores end
_HALF_STEP: Final = 0.5 * SCORE_STEP  # of the chance that each site tells


def rounding_range(
    parts: Sequence[Evidence],
    pictures: Sequence[AgePicture | None],
    chances: Callable[[list[Evidence]], Sequence[float]],
) -> tuple[float, float] | None:
    """Say between which chances the one lies that exact evidence would have given.

    Parameters
    ----------
    parts : sequence of Evidence
        What each site tells, stated at its own rating.
    pictures : sequence of AgePicture or None
        The picture of the ages that each file tells; None where a site tells exact sums.
    chances : callable
        Gives the chance [-] that the claim is true of each of some pooled evidences.

    Returns
    -------
    tuple of float or None
        Lowest and highest chance [-]; None where every site tells exact sums.
    """
    told = [(place, ages) for place, ages in enumerate(pictures) if ages is not None]
    if not told:
        return None
    # Every so many-th by size: large and small ones in their proportion.
    told.sort(key=lambda one: _size(parts[one[0]]))
    looked_at = told[:: -(-len(told) // _MOST)]
    places = {place for place, _ in looked_at}
    left = [part for place, part in enumerate(parts) if place not in places]
    left = [pool(left)] if left else []
    pools, counts = [pool(list(parts))], []
    for place, ages in looked_at:
        others = also_possible(parts[place], ages)
        rest = [*left, *(parts[other] for other in places if other != place)]
        together = [pool(rest)] if rest else []
        pools += [pool([*together, other]) for other in others]
        counts.append(len(others))
    score, *replaced = ndtri(np.clip(chances(pools), _NEARLY_NEVER, 1.0 - _NEARLY_NEVER))
    moves = np.split(np.abs(np.array(replaced) - score), np.cumsum(counts)[:-1])
    scale = math.sqrt(len(told) / len(looked_at))
    most = math.hypot(scale * math.hypot(*(float(one.max()) for one in moves)), _HALF_STEP)
    return float(ndtr(score - most)), float(ndtr(score + most))


def _size(part: Evidence) -> tuple[float, ...]:
    """Large sites first; what two of one size differ in makes the order that of any list."""
    return -part.failures, -part.heads, part.log_sum, *part.log_curve.tolist()


def settled(verdict: RatingVerdict, possible: tuple[float, float] | None) -> RatingVerdict:
    """Leave a verdict open that rounding might decide.

    Parameters
    ----------
    verdict : RatingVerdict
        From the rounded answers.
    possible : tuple of float or None
        From `rounding_range`.

    Returns
    -------
    RatingVerdict
        The same, not settled where the chances of the range do not all give that verdict.
    """
    if possible is None or all(
        verdict_of(chance, verdict.confidence) == verdict.verdict for chance in possible
    ):
        return verdict
    return replace(verdict, verdict=NOT_SETTLED)
