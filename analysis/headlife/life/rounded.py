"""What may a site tell of one group's lives so that nobody gets a single life back?

The sums of an `Evidence` of ten heads can be turned back into their ages. So a site tells less: the
answers that its lives give, rounded, as a made-up record that gives the same answers. Only these
numbers of the lives enter it:

- how many heads there are, and how many failed by each mode;
- which of a few pictures (`FEW_PICTURES` below `MANY_HEADS` heads, `PICTURES` from there on) says
  best how the heads' ages spread: a share of them at the greatest age, the others below it;
- the sum over the failures of each mode of their log ages, over the picture's greatest age, rounded
  to `FEW_AGE_STEP` or `AGE_STEP`: of a single failure among few heads, its age to an eighth;
- the chance that `CLAIM_SHARE` of the heads reach the rating, rounded to steps of `SCORE_STEP` of
  its normal score, which moves no chance by more than 0.2 of a point.

The greatest age that is written is solved for from these, and the mean age of the failures stands
to it as rounded: no head ran these hours, and every record with the same rounded answers gives the
same bytes. The picture is the one whose exposure then comes nearest at the shapes that pooled sites
have: a verdict pooled from several sites hangs on it. Whoever looks at the next quarter's file sees
the next quarter's answers, rounded the same way; there is no noise to average away.
`python -m studies.evidence_attack` attacks the files and builds other records that give them. It
never judges, and never sees a date or a serial.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from headlife.errors import EvidenceError
from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import at_common_nodes, curve_at, resolved_curve
from headlife.life.groups import GroupEvidence
from headlife.life.many import ManyLives, fit_many
from headlife.life.posterior import Life, fit_life

FloatArray = NDArray[np.float64]
Picture = tuple[float, float]

# How ages spread: (exponent [-], share of the heads at the greatest age [-]).
# The few are those that move pooled verdicts least over invented shops; a fourth one shows more.
FEW_PICTURES: Final[tuple[Picture, ...]] = ((0.86, 0.0), (1.27, 0.2), (1.27, 0.6))
SPREADS: Final = (0.3, 8.0)  # the flattest and the steepest
PICTURES: Final[tuple[Picture, ...]] = tuple(
    (round(spread, 2), round(0.05 * share, 2))
    for spread in np.geomspace(*SPREADS, 14).tolist()
    for share in range(20)
)
MANY_HEADS: Final = 30
FEW_AGE_STEP: Final = 0.25  # of the sum of the log ages of failures
AGE_STEP: Final = 0.1  # the same, from `MANY_HEADS` heads on
SCORE_STEP: Final = 0.01  # of the normal score of the chance
CLAIM_SHARE: Final = 0.90  # the claim that is pooled unless another one is asked for
_FARTHEST: Final = 4.0  # normal score beyond which the age is told at which the chance is so large
_CERTAIN_STEP: Final = 0.01  # of the logarithm of that age
_DIGITS: Final = 7  # of the hours written
_NARROW: Final = 1e-6  # confidence of the bounds that stand for a median
_SEEN: Final = np.log(np.geomspace(0.7, 6.0, 15))  # shapes at which forms are compared
_POOLED: Final = np.log(np.geomspace(1.43, 2.98, 7))  # shapes at which exposures are
_LOOKED_AT: Final = 16  # pictures, the nearest by form, whose exposures are compared


@dataclass(frozen=True)
class AgePicture:
    """A made-up picture of how old the heads of a group are."""

    up_to_hours: float
    """The greatest age [h]."""
    spread: float
    """Exponent [-]: a share (age / greatest age) ** spread of the others is younger than an age."""
    together: float
    """Share of the heads at the greatest age [-]."""

    def __post_init__(self) -> None:
        numbers = (self.up_to_hours, self.spread, self.together)
        sound = all(math.isfinite(number) for number in numbers)
        if not (sound and self.up_to_hours > 0 and self.spread > 0 and 0 <= self.together < 1):
            raise EvidenceError(
                "This evidence is damaged: ages up to some hours above 0, a spread above 0 and a "
                "share from 0 to under 1 are needed."
            )

    def evidence(
        self, heads: float, failures: float, log_sum: float, reference_hours: float
    ) -> Evidence:
        """Give the evidence of heads of such ages, watched from new.

        Parameters
        ----------
        heads, failures : float
            How many there are and how many failed [heads].
        log_sum : float
            Sum over the failures of ``ln(age / reference_hours)`` [-].
        reference_hours : float
            Age at which the hazard is stated [h].

        Returns
        -------
        Evidence
            As `Evidence.from_lives` would give it.
        """
        stretch = math.log(self.up_to_hours / reference_hours)

        def values(shapes: FloatArray) -> FloatArray:
            form = _log_mean_power(shapes, (self.spread, self.together))
            return np.asarray(math.log(heads) + shapes * stretch + form)

        curve = resolved_curve(values)
        return Evidence(reference_hours, float(failures), float(log_sum), curve, float(heads))


def rounded(group: GroupEvidence, primary_mode: str) -> tuple[GroupEvidence, AgePicture | None]:
    """Replace the evidence of a group by that of a made-up record with the same rounded answers.

    Parameters
    ----------
    group : GroupEvidence
        What the lives of one group say.
    primary_mode : str
        Failure mode that the claim on the rating is about.

    Returns
    -------
    tuple of GroupEvidence and AgePicture or None
        The group with made-up numbers, and the picture of its ages they belong to; as it was, and
        no picture, where no head has run.

    Examples
    --------
    >>> import headlife as hl
    >>> from headlife.life.rounded import rounded
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> told, ages = rounded(case.evidence[0], "wear")
    >>> told.heads == case.evidence[0].heads, ages.together
    (True, 0.0)
    """
    if not group.modes or not group.heads:
        return group, None
    first = group.modes.get(primary_mode, next(iter(group.modes.values())))
    heads = float(group.heads)
    ages, stretch = _best(first, heads)
    modes = {
        mode: _made_up(evidence, ages, stretch, heads, group.rated_hours)
        for mode, evidence in group.modes.items()
    }
    return GroupEvidence(group.group, group.rated_hours, group.heads, modes), ages


def _made_up(
    evidence: Evidence, ages: AgePicture, stretch: float, heads: float, rated_hours: float
) -> Evidence:
    failures = round(evidence.all_failures)
    if not failures:
        return ages.evidence(heads, 0.0, 0.0, rated_hours)
    mean = _digits(ages.up_to_hours * math.exp(_log_sum(evidence, stretch) / failures))
    return ages.evidence(heads, failures, log_sum_of(failures, mean, rated_hours), rated_hours)


def log_sum_of(failures: float, mean_hours: float, reference_hours: float) -> float:
    """Give the sum of log ages [-] of failures by their geometric mean.

    Parameters
    ----------
    failures : float
        How many failed [heads].
    mean_hours : float
        Geometric mean of their ages [h].
    reference_hours : float
        Age at which the hazard is stated [h].

    Returns
    -------
    float
        Sum of ``ln(age / reference_hours)`` [-].
    """
    return failures * math.log(mean_hours / reference_hours)


def mean_hours_of(evidence: Evidence) -> float:
    """Give the geometric mean of the ages of failures [h] that made-up evidence is written with.

    Parameters
    ----------
    evidence : Evidence
        With failures.

    Returns
    -------
    float
        The mean [h], to as many digits as are written.
    """
    return _digits(evidence.reference_hours * math.exp(evidence.log_sum / evidence.failures))


def _told_chance(life: Life, rated_hours: float) -> tuple[float, float]:
    """Give an age [h] and the rounded normal score of the chance that so many heads reach it."""
    chance = float(life.probability_reliability_above(CLAIM_SHARE, rated_hours))
    score = float(np.clip(ndtri(chance), -_FARTHEST, _FARTHEST))
    if abs(score) < _FARTHEST:
        return rated_hours, SCORE_STEP * round(score / SCORE_STEP)
    # All but certain: a chance of 1 says nothing more, the age that is all but certain does.
    ahead = math.log(float(_ages_of_chance(life, score)) / rated_hours)
    return rated_hours * math.exp(_CERTAIN_STEP * round(ahead / _CERTAIN_STEP)), score


def _ages_of_chance(lives: Life | ManyLives, score: float) -> FloatArray:
    """Ages [h] that so many heads reach with a chance of that normal score."""
    confidence = max(abs(2.0 * float(ndtr(score)) - 1.0), _NARROW)
    low, high = lives.life_bounds(1.0 - CLAIM_SHARE, confidence)
    return np.asarray(low if score > 0 else high)


def _log_sum(evidence: Evidence, stretch: float) -> float:
    """Sum of log ages of the failures over the greatest age [-], rounded.

    Failures between two readings count in the middle of them, which nobody else is told.
    """
    ahead = evidence.log_sum - evidence.failures * stretch
    for low, high, heads in evidence.intervals:
        middle = math.log(0.5 * (low + high) / evidence.reference_hours)
        ahead += heads * (middle - stretch)
    step = age_step(evidence.heads)
    return step * round(min(ahead, 0.0) / step)


def _best(evidence: Evidence, heads: float) -> tuple[AgePicture, float]:
    """Picture told of the ages, and the log of the greatest age that fits them best.

    That age, over the reference, is what ages at failure are told in; the one in the picture is
    solved for: with it the picture gives the chance that is told.
    """
    nearest = _nearest(evidence)
    pictures = [picture for picture, _ in nearest]
    log_sums = [_log_sum(evidence, stretch) for _, stretch in nearest]
    answers = ToldChance.of(evidence)
    greatest, exposures = answers.solved(pictures, heads, round(evidence.all_failures), log_sums)
    best = int(np.argmin(np.square(exposures - exposure_when_pooled(evidence)).sum(axis=1)))
    return AgePicture(_digits(float(greatest[best])), *pictures[best]), nearest[best][1]


@dataclass(frozen=True)
class ToldChance:
    """The chance that is told, as what every picture of the ages is made to give."""

    reference_hours: float
    """The rating [h]."""
    hours: float
    """Age [h] that `CLAIM_SHARE` of the heads reach with the chance of the score."""
    score: float
    """Rounded normal score of that chance [-]."""

    @classmethod
    def of(cls, evidence: Evidence) -> ToldChance:
        """Give the answers of exact or of made-up evidence, which are the same.

        Parameters
        ----------
        evidence : Evidence
            What the lives of one group say.

        Returns
        -------
        ToldChance
            Its rounded chance.
        """
        return cls(
            evidence.reference_hours, *_told_chance(fit_life(evidence), evidence.reference_hours)
        )

    def solved(
        self,
        pictures: Sequence[Picture],
        heads: float,
        failures: float,
        log_sums: Sequence[float],
    ) -> tuple[FloatArray, FloatArray]:
        """Stretch pictures until they give the chance.

        Parameters
        ----------
        pictures : sequence of tuple
            How ages spread.
        heads, failures : float
            How many there are and how many failed [heads].
        log_sums : sequence of float
            With each picture, sum over the failures of the log age over the greatest one [-].

        Returns
        -------
        tuple of array
            Greatest age [h], (pictures,), and log exposures at the shapes that pooled sites have
            [-], (pictures, shapes).
        """
        # With a greatest age of 1: what is solved for only stretches the ages.
        units = [
            AgePicture(1.0, *picture).evidence(heads, failures, log_sum, 1.0)
            for picture, log_sum in zip(pictures, log_sums, strict=True)
        ]
        greatest = self.hours / _ages_of_chance(fit_many(units), self.score)
        at_unit = _at_pooled(at_common_nodes([unit.log_curve for unit in units]))
        return greatest, at_unit + np.log(greatest / self.reference_hours)[:, None] * np.exp(
            _POOLED
        )


def exposure_when_pooled(evidence: Evidence) -> FloatArray:
    """Give log exposures [-] at the shapes that pooled sites have.

    Parameters
    ----------
    evidence : Evidence
        What the lives of one group say.

    Returns
    -------
    array of float
        Log exposures [-], (shapes,).
    """
    return np.asarray(_at_pooled(evidence.log_curve[None])[0])


def _at_pooled(log_curves: FloatArray) -> FloatArray:
    return curve_at(log_curves, np.broadcast_to(_POOLED, (len(log_curves), _POOLED.size)))


def _pictures_of(heads: float) -> tuple[Picture, ...]:
    """Give the pictures of which one is told of a group."""
    return FEW_PICTURES if heads < MANY_HEADS else PICTURES


def age_step(heads: float) -> float:
    """Give the step to which the sum of log ages at failure is told [-].

    Parameters
    ----------
    heads : float
        How many there are [heads].

    Returns
    -------
    float
        The step [-].
    """
    return FEW_AGE_STEP if heads < MANY_HEADS else AGE_STEP


def _nearest(evidence: Evidence) -> list[tuple[Picture, float]]:
    """Pictures nearest in form, and the log of the greatest age [-] that fits each."""
    curve = curve_at(evidence.log_curve[None], _SEEN[None])[0] - math.log(evidence.heads)
    shapes = np.exp(_SEEN)
    pictures = _pictures_of(evidence.heads)
    left = curve - _forms(pictures)
    stretch = (left @ shapes) / (shapes @ shapes)
    left -= stretch[:, None] * shapes
    order = np.argsort(np.square(left).sum(axis=1), kind="stable")[:_LOOKED_AT]
    return [(pictures[each], float(stretch[each])) for each in order]


@lru_cache
def _forms(pictures: tuple[Picture, ...]) -> FloatArray:
    return np.array([_log_mean_power(np.exp(_SEEN), picture) for picture in pictures])


def _log_mean_power(shapes: FloatArray, picture: Picture) -> FloatArray:
    """Logarithm of the mean of ``age ** shape`` with a greatest age of 1 [-]."""
    spread, together = picture
    return np.asarray(np.log(together + (1.0 - together) / (1.0 + shapes / spread)))


def _digits(value: float) -> float:
    return float(f"{value:.{_DIGITS}g}")
