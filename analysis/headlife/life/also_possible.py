"""Which other records would a site have told in the same way? The extreme ones, one per direction.

A site's file holds rounded answers (`headlife.life.rounded`), so that many records stand behind it.
Here a few are made up that differ as much as they can: other pictures of the ages that give the
chance told and of which the site would have told the same picture (or, at the edge, the next one),
with failures as young and as old as the rounding lets them be. What a pooled verdict would have
been with them says how far the rounding may have moved it. Pools nothing and judges nothing.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from headlife.life.evidence import Evidence
from headlife.life.rounded import (
    FEW_PICTURES,
    MANY_HEADS,
    PICTURES,
    SPREADS,
    AgePicture,
    Picture,
    ToldChance,
    age_step,
    exposure_when_pooled,
)

FloatArray = NDArray[np.float64]
Indices = NDArray[np.intp]

# Pictures that heads may have of which one of the few is told.
_FINER: Final[tuple[Picture, ...]] = tuple(
    (round(spread, 2), round(0.15 * share, 2))
    for spread in np.geomspace(*SPREADS, 9).tolist()
    for share in range(7)
)
_NEXT: Final = 4  # of the many pictures, those next to the one told may be behind it


def also_possible(evidence: Evidence, ages: AgePicture) -> list[Evidence]:
    """Make up records that would have been told as this one was, as different as they can be.

    Parameters
    ----------
    evidence : Evidence
        Made-up evidence of one group, as its file tells it.
    ages : AgePicture
        The picture of the ages that the file tells.

    Returns
    -------
    list of Evidence
        Others with as many heads and failures and the same chance that the claim is true.
    """
    failures = round(evidence.failures)
    told = evidence.log_sum - failures * math.log(ages.up_to_hours / evidence.reference_hours)
    half = 0.5 * age_step(evidence.heads)
    younger_and_older = (told - half, told, min(told + half, 0.0)) if failures else (0.0,)
    return [
        other
        for log_sum in younger_and_older
        for other in _extreme(evidence, ages, failures, log_sum)
    ]


def _extreme(evidence: Evidence, ages: AgePicture, failures: int, log_sum: float) -> list[Evidence]:
    """Pictures with the most and the least exposure, and the steepest and the flattest one."""
    heads, reference = evidence.heads, evidence.reference_hours
    answers = ToldChance.of(evidence)
    pictures = _FINER if heads < MANY_HEADS else PICTURES
    greatest, exposures = answers.solved(pictures, heads, failures, [log_sum] * len(pictures))
    off = exposures - exposure_when_pooled(evidence)
    if heads < MANY_HEADS:
        _, few = answers.solved(FEW_PICTURES, heads, failures, [log_sum] * len(FEW_PICTURES))
        alike = _told_alike(exposures, few, (ages.spread, ages.together))
    else:
        alike = np.argsort(np.square(off).sum(axis=1), kind="stable")[:_NEXT]
    level, tilt = off[alike].mean(axis=1), off[alike, -1] - off[alike, 0]
    ends = dict.fromkeys(
        int(alike[end(by)]) for by in (level, tilt) for end in (np.argmin, np.argmax)
    )
    return [
        AgePicture(float(greatest[k]), *pictures[k]).evidence(
            heads,
            failures,
            log_sum + failures * math.log(float(greatest[k]) / reference),
            reference,
        )
        for k in ends
    ]


def _told_alike(exposures: FloatArray, few: FloatArray, told: Picture) -> Indices:
    """Pictures of which the one told is the nearest of the few."""
    away = np.square(exposures[:, None] - few[None]).sum(axis=2)
    at = FEW_PICTURES.index(told) if told in FEW_PICTURES else 0
    alike = np.flatnonzero(away.argmin(axis=1) == at)
    return alike if alike.size else away[:, [at]].argmin(axis=0)
