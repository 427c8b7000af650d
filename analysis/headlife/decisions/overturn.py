"""What would overturn this verdict: heads pulled before their time, another kind of life, doubts?

From the lives behind one verdict. Three questions, each with a number: how many of the heads that
were taken out working would have had to be about to fail; would the verdict stand if heads had a
log-normal or log-logistic life, each weighted by how well it fits; and does it stand however the
removals in doubt are read? Failures alone cannot tell whether pulled heads were sound (dependent
censoring is not identifiable), so what is given is the distance to the tipping point, never a
corrected share. Never reads records.

References
----------
[1] F. Siannis, J. Copas and G. Lu, "Sensitivity analysis for informative censoring in parametric
    survival models", Biostatistics 6 (2005) 77-91.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from headlife.decisions.other_readings import About, OtherReading
from headlife.decisions.rating import FALLS_SHORT, NOT_SETTLED, Verdict, checked_claim, verdict_of
from headlife.life.evidence import Evidence
from headlife.life.kinds import WEIBULL, KindsOfLife, LifeKind, kinds_of_life
from headlife.life.posterior import Life, fit_life
from headlife.numbers import Floats

if TYPE_CHECKING:
    import pandas as pd

# A verdict that so small a share of the pulled heads would overturn does not stand. Where life and
# pull have a rank correlation of .3, 2.5 to 4 % of the pulled heads are failures that a pull at
# random would not have hidden (half to three quarters of 60 to 300 heads pulled before the rating).
FEW: Final = 0.05
FEWEST: Final = 1  # one head alone never carries a verdict, however few were pulled
# A kind of life is worth a word from this weight on.
WORTH_A_WORD: Final = 0.1


@dataclass(frozen=True)
class PulledHeads:
    """The tipping point for heads that were taken out working before their time."""

    pulled: int
    """Heads taken out working before the age at which the shop swaps them [heads]."""
    to_overturn: int | None
    """How many of them would have had to be about to fail for "holds" to be no verdict any more
    [heads]; None where no number of them would, or the verdict is not "holds"."""
    few: bool
    """Whether that is so few that the verdict does not stand."""


@dataclass(frozen=True)
class Reading:
    """The verdict under one reading of what is in doubt."""

    about: About
    """What is in doubt."""
    name: str
    """How it is read, such as "as failures"."""
    heads: int
    """Heads that it is about [heads]."""
    failures: float
    """Failures then [heads]."""
    share_reaching: float
    """Share of heads that reach the rating then, posterior median [-]."""
    probability: float
    """Posterior probability that the claim is true [-]."""
    verdict: Verdict
    """The verdict then."""


@dataclass(frozen=True)
class Overturn:
    """What would overturn one verdict."""

    verdict: Verdict
    """The verdict it is about."""
    probability: float
    """Its posterior probability that the claim is true [-]."""
    share_reaching: float
    """Share of heads that reach the rating, posterior median [-]."""
    confidence: float
    """Probability asked for before a verdict [-]."""
    pulled: PulledHeads
    """Heads taken out working before their time."""
    kinds: KindsOfLife
    """The claim under several kinds of life."""
    averaged: float
    """Probability that the claim is true, averaged over the kinds of life [-]."""
    readings: tuple[Reading, ...]
    """Readings of what is in doubt; empty when nothing is."""

    @property
    def other_kinds_agree(self) -> bool:
        """Whether the verdict is the same when other kinds of life are allowed.

        A rating is not said to fall short where a kind worth a word says otherwise: with lives
        that are log-logistic in truth the average alone is wrong too often.
        """
        if self.verdict == FALLS_SHORT and self.opposed:
            return False
        return self.average_agrees

    @property
    def average_agrees(self) -> bool:
        """Whether the verdict is that of the probability averaged over kinds of life."""
        return verdict_of(self.averaged, self.confidence) == self.verdict

    @property
    def opposed(self) -> tuple[LifeKind, ...]:
        """Kinds of life worth a word under which the verdict would be another."""
        return tuple(
            kind
            for kind in self.kinds.kinds
            if kind.weight >= WORTH_A_WORD
            and verdict_of(kind.probability, self.confidence) != self.verdict
        )

    @property
    def readings_agree(self) -> bool:
        """Whether every reading of what is in doubt gives the same verdict."""
        return all(reading.verdict == self.verdict for reading in self.readings)

    @property
    def stands(self) -> bool:
        """Whether nothing of this overturns it; True where nothing is settled."""
        if self.verdict == NOT_SETTLED:
            return True
        return self.other_kinds_agree and self.readings_agree and not self.pulled.few

    @property
    def table(self) -> pd.DataFrame:
        """One row per question: `question`, `case`, `weight` [-], `probability` [-], `verdict`.

        For pulled heads `weight` is the share of them that overturns; NaN where none does.
        """
        import pandas as pd

        rows: list[tuple[str, str, float, float, str]] = []
        if self.pulled.pulled:
            some = self.pulled.to_overturn
            share = np.nan if some is None else some / self.pulled.pulled
            case = "none would" if some is None else f"{some} of {self.pulled.pulled}"
            left = self.verdict if some is None else NOT_SETTLED
            rows.append(("pulled heads about to fail", case, share, np.nan, left))
        for kind in self.kinds.kinds:
            found = verdict_of(kind.probability, self.confidence)
            rows.append(("kind of life", kind.name, kind.weight, kind.probability, found))
        averaged = verdict_of(self.averaged, self.confidence)
        rows.append(("kind of life", "averaged", 1.0, self.averaged, averaged))
        for each in self.readings:
            rows.append((each.about, each.name, np.nan, each.probability, each.verdict))
        return pd.DataFrame(rows, columns=["question", "case", "weight", "probability", "verdict"])


def what_would_overturn(
    entry_hours: npt.ArrayLike,
    exit_hours: npt.ArrayLike,
    failed: npt.ArrayLike,
    pulled: npt.ArrayLike,
    rated_hours: float,
    share: float = 0.90,
    confidence: float = 0.95,
    last_good_hours: npt.ArrayLike | None = None,
    readings: Sequence[OtherReading] = (),
) -> Overturn:
    """Find what would overturn the verdict on a claim.

    Parameters
    ----------
    entry_hours, exit_hours, failed : float or array of float
        Lives, as for `Evidence.from_lives`, (n,).
    pulled : array of bool
        True for heads that were taken out working before the shop would have swapped them, (n,);
        see `pulled_before_time`.
    rated_hours, share, confidence : float
        The claim, as for `judge_rating`.
    last_good_hours : array of float, optional
        As for `Evidence.from_lives`, (n,).
    readings : sequence of OtherReading
        The same heads with what is in doubt read in other ways.

    Returns
    -------
    Overturn
        What turns the verdict, and how far away it is.

    Raises
    ------
    HeadlifeError
        Lives or a claim that make no sense.
    """
    rated, share, confidence = checked_claim(rated_hours, share, confidence)
    evidence = Evidence.from_lives(
        entry_hours,
        exit_hours,
        failed,
        reference_hours=rated,
        last_good_hours=last_good_hours,
    )
    life = fit_life(evidence)
    chance = float(life.probability_reliability_above(share, rated))
    verdict = verdict_of(chance, confidence)
    kinds = kinds_of_life(entry_hours, exit_hours, failed, rated, share, last_good_hours)
    exits = np.atleast_1d(np.asarray(exit_hours, float))
    taken = np.broadcast_to(np.asarray(pulled, bool), exits.shape)
    taken = taken & ~np.broadcast_to(np.asarray(failed, bool), exits.shape)
    return Overturn(
        verdict=verdict,
        probability=chance,
        share_reaching=life.median_reliability(rated),
        confidence=confidence,
        pulled=pulled_tipping_point(life, exits[taken], rated, share, confidence),
        kinds=kinds,
        averaged=_averaged_probability(chance, kinds),
        readings=tuple(_reading(one, rated, share, confidence) for one in readings),
    )


def _averaged_probability(chance: float, kinds: KindsOfLife) -> float:
    """Probability of the claim averaged over kinds of life [-], about the exact Weibull one.

    The grid of `kinds_of_life` is a little coarse for the Weibull life, whose probability
    ``chance`` [-] is known exactly: its error is taken out.
    """
    return float(np.clip(chance + kinds.probability - kinds.of(WEIBULL).probability, 0.0, 1.0))


def opinion_of_kinds(chance: float, kinds: KindsOfLife, confidence: float = 0.95) -> float:
    """Probability of the claim [-] that a verdict must go by when it is confirmed.

    The average over the kinds of life; where that says that a rating falls short, the highest
    under any kind worth a word.

    Parameters
    ----------
    chance : float
        Probability [-] of the claim under the exact Weibull life.
    kinds : KindsOfLife
        What every kind of life says of it.
    confidence : float
        Probability asked for before a verdict [-].

    Returns
    -------
    float
        The probability [-].
    """
    averaged = _averaged_probability(chance, kinds)
    if verdict_of(averaged, confidence) != FALLS_SHORT:
        return averaged
    likely = (kind.probability for kind in kinds.kinds if kind.weight >= WORTH_A_WORD)
    return max(averaged, *likely)


def pulled_before_time(
    exit_hours: npt.ArrayLike, suspended: npt.ArrayLike, due_hours: float
) -> npt.NDArray[np.bool_]:
    """Tell which heads were taken out working before their time.

    Parameters
    ----------
    exit_hours : array of float
        Ages at which lives ended or are now [h], (n,).
    suspended : array of bool
        True where the head was taken out working, for whatever reason; heads in service are not,
        (n,).
    due_hours : float
        Age from which the shop swaps heads anyhow, its notice for example [h].

    Returns
    -------
    array of bool
        (n,).
    """
    ages = np.atleast_1d(np.asarray(exit_hours, float))
    return np.broadcast_to(np.asarray(suspended, bool), ages.shape) & (ages < due_hours)


def pulled_tipping_point(
    life: Life, ages: Floats, rated_hours: float, share: float, confidence: float
) -> PulledHeads:
    """Count how many pulled heads would have had to be about to fail to overturn "holds".

    Which of them were is unknown. As in [1], a pulled head is taken to be the likelier to have
    been about to fail the higher its hazard at that age; that many failures are added at the
    ages which this gives on average.

    Parameters
    ----------
    life : Life
        Posterior of the mode the claim is about, the pulled heads censored.
    ages : array of float
        Ages at which heads were pulled [h], (m,).
    rated_hours, share, confidence : float
        The claim, as for `judge_rating`.

    Returns
    -------
    PulledHeads
        How many of the pulled heads would have to be failures.
    """
    ran = ages[ages > 0]
    count = int(ages.size)
    typical = _typical_log_age(life, ran) if ran.size else 0.0

    def holds(turned: int) -> bool:
        known = life.evidence
        grown = replace(
            known,
            failures=known.failures + turned,
            log_sum=known.log_sum + turned * typical,
        )
        found = replace(life, evidence=grown)
        return bool(found.probability_reliability_above(share, rated_hours) >= confidence)

    if not count or not holds(0) or holds(ran.size):
        return PulledHeads(count, None, False)
    low, high = 0, int(ran.size)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if holds(middle) else (low, middle)
    return PulledHeads(count, high, high <= max(FEWEST, FEW * count))


def _typical_log_age(life: Life, ages: Floats) -> float:
    """Mean log of ages [h] over the reference, each counted by its hazard at the shape learned."""
    mixture = life.mixture
    shape = float(np.exp(mixture.weights @ np.log(mixture.shapes)))
    logs = np.log(ages / life.evidence.reference_hours)
    hazard = np.exp((shape - 1.0) * (logs - logs.max()))
    return float(hazard @ logs / hazard.sum())


def _reading(other: OtherReading, rated_hours: float, share: float, confidence: float) -> Reading:
    life = fit_life(other.evidence)
    chance = float(life.probability_reliability_above(share, rated_hours))
    return Reading(
        about=other.about,
        name=other.name,
        heads=other.heads,
        failures=other.evidence.all_failures,
        share_reaching=life.median_reliability(rated_hours),
        probability=chance,
        verdict=verdict_of(chance, confidence),
    )
