"""Does the vendor's rated life hold for our heads? From the posterior of a life and a claim.

The claim is explicit: at least a share of heads reach the rated hours, or the mean life does.
The answer is one of three verdicts with the probability that the claim is true. Estimates are the
posterior's medians, so that an estimate meets the claim exactly where the claim is at least as
likely as not. Never turns "not settled" into a yes or a no, and never looks at records.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple

from headlife.display import shows_itself
from headlife.errors import DecisionError
from headlife.numbers import fraction, positive

if TYPE_CHECKING:
    from headlife.life.lot_life import LotLife
    from headlife.life.many import ManyLives
    from headlife.life.posterior import Life

Verdict = Literal["holds", "falls short", "not settled"]
Claim = Literal["share", "mean"]

HOLDS: Final[Verdict] = "holds"
FALLS_SHORT: Final[Verdict] = "falls short"
NOT_SETTLED: Final[Verdict] = "not settled"


@shows_itself
@dataclass(frozen=True)
class RatingVerdict:
    """What the records say about one claim on the rated life.

    Every pair of bounds is two one-sided bounds at `confidence` each.
    """

    verdict: Verdict
    """holds, falls short or not settled."""
    probability: float
    """Posterior probability that the claim is true [-]."""
    rated_hours: float
    """The rated life the claim is about [h]."""
    share: float
    """Share of heads that should reach the rated hours [-]."""
    confidence: float
    """Probability asked for before the verdict is holds or falls short [-]."""
    claim: Claim
    """share: at least `share` of heads reach the rating; mean: the mean life does."""
    share_reaching: float
    """Share of heads that reach the rated hours, posterior median [-]: as likely above as below."""
    bounds: tuple[float, float]
    """Lower and upper bound on the share that reaches the rated hours [-]."""
    b_life: float
    """The rating is the shop's B-life of this number: percent failed by the rated hours [%]."""
    b_life_bounds: tuple[float, float]
    """Lower and upper bound on `b_life` [%]."""
    life_at_share: float
    """Hours that `share` of heads reach, posterior median [h]."""
    life_at_share_bounds: tuple[float, float]
    """Lower and upper bound on `life_at_share` [h]."""


def judge_rating(
    life: Life | LotLife,
    rated_hours: float,
    share: float = 0.90,
    confidence: float = 0.95,
    claim: Claim = "share",
) -> RatingVerdict:
    """Judge a claim on the rated life from the posterior of a life.

    Parameters
    ----------
    life : Life or LotLife
        Posterior of the life, from `fit_life` or `lot_lives`.
    rated_hours : float
        Rated life [h]; for a claim on the mean, the mean life required [h].
    share : float
        Share of heads that should reach the rated hours [-].
    confidence : float
        The verdict is "holds" when the claim is true with at least this probability, "falls
        short" when it is false with at least this probability [-], above 0.5.
    claim : {"share", "mean"}
        What is claimed to reach the rated hours.

    Returns
    -------
    RatingVerdict
        Verdict, share reaching the rating, and their ranges.

    Raises
    ------
    DecisionError
        A number is out of range, for example a confidence of 95 instead of 0.95.

    Examples
    --------
    >>> import headlife as hl
    >>> hours = [210, 340, 480, 500, 500, 500]
    >>> failed = [True, True, True, False, False, False]
    >>> evidence = hl.Evidence.from_lives(0, hours, failed, reference_hours=500)
    >>> verdict = hl.judge_rating(hl.fit_life(evidence), 500)
    >>> verdict.verdict, round(verdict.probability, 2)
    ('falls short', 0.0)
    """
    asked = _Asked.checked(rated_hours, share, confidence, claim)
    probability, shares, ages = asked.of(life)
    return asked.answer(float(probability), shares.tolist(), ages.tolist())


def judge_ratings(
    lives: ManyLives,
    rated_hours: float,
    share: float = 0.90,
    confidence: float = 0.95,
    claim: Claim = "share",
) -> list[RatingVerdict]:
    """Judge one claim on the rated life at each of many groups of heads, all at once.

    Parameters
    ----------
    lives : ManyLives
        Posteriors of their lives, from `fit_many`.
    rated_hours, share, confidence, claim : float, float, float, Claim
        The claim, as for `judge_rating`.

    Returns
    -------
    list of RatingVerdict
        The verdict on each group, as `judge_rating` gives it.

    Raises
    ------
    DecisionError
        As for `judge_rating`.
    """
    asked = _Asked.checked(rated_hours, share, confidence, claim)
    each = zip(*(answers.tolist() for answers in asked.of(lives)), strict=True)
    return [asked.answer(*one) for one in each]


def checked_claim(
    rated_hours: float, share: float, confidence: float
) -> tuple[float, float, float]:
    """Take a claim that makes sense.

    Parameters
    ----------
    rated_hours : float
        The vendor's rated life [h].
    share : float
        Share of heads that should reach it [-].
    confidence : float
        How sure a verdict must be [-], above 0.5.

    Returns
    -------
    tuple of float
        The same three.

    Raises
    ------
    DecisionError
        One of them is out of range.
    """
    rated = positive("The rating", rated_hours, "[h]")
    share = fraction("The share of heads that should reach the rating", share)
    # At 0.5 or less one record could both hold and fall short.
    return rated, share, fraction("The confidence of a verdict", confidence, above=0.5)


class _Asked(NamedTuple):
    """A claim that makes sense."""

    rated_hours: float
    share: float
    confidence: float
    claim: Claim

    @classmethod
    def checked(cls, rated_hours: float, share: float, confidence: float, claim: Claim) -> _Asked:
        checked = checked_claim(rated_hours, share, confidence)
        if claim not in ("share", "mean"):
            raise DecisionError(f"A claim is about the 'share' or the 'mean'; got {claim!r}.")
        return cls(*checked, claim)

    def of(self, life: Life | LotLife | ManyLives) -> tuple[Any, Any, Any]:
        """Probability of the claim; lower bound, median and upper bound of its share and life."""
        wanted = [1.0 - self.confidence, 0.5, self.confidence]
        shares, ages = life.share_and_life(self.rated_hours, 1.0 - self.share, wanted)
        if self.claim == "mean":
            return life.probability_mean_life_above(self.rated_hours), shares, ages
        return life.probability_reliability_above(self.share, self.rated_hours), shares, ages

    def answer(self, probability: float, shares: list[float], lives: list[float]) -> RatingVerdict:
        """Put the answer together from the claim's probability and quantiles of the posterior."""
        low, reaching, high = shares
        return RatingVerdict(
            verdict=verdict_of(probability, self.confidence),
            probability=probability,
            rated_hours=self.rated_hours,
            share=self.share,
            confidence=self.confidence,
            claim=self.claim,
            share_reaching=reaching,
            bounds=(low, high),
            b_life=100.0 * (1.0 - reaching),
            b_life_bounds=(100.0 * (1.0 - high), 100.0 * (1.0 - low)),
            life_at_share=lives[1],
            life_at_share_bounds=(lives[0], lives[2]),
        )


def verdict_of(probability: float, confidence: float) -> Verdict:
    """Turn the probability [-] that a claim is true into a verdict.

    Parameters
    ----------
    probability : float
        That the claim is true [-].
    confidence : float
        How sure a verdict must be [-].

    Returns
    -------
    Verdict
        The verdict.
    """
    if probability >= confidence:
        return HOLDS
    if probability <= 1.0 - confidence:
        return FALLS_SHORT
    return NOT_SETTLED
