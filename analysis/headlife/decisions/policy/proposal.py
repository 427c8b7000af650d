"""What does one proposal do to a whole shop? Every kind of head, both heads, and what is learned.

From a review, the shop's settings and what somebody proposes: asks the rooms of policy and of
settling about each kind of head and keeps the answers together. Words and figures are not here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.policy.both_heads import BothHeads, both_heads
from headlife.decisions.policy.costs import shop_costs
from headlife.decisions.policy.learning import WorthOfWatching, worth_of_watching
from headlife.decisions.policy.past_rating import Kind, kinds
from headlife.decisions.policy.past_rating_answer import Choices, PastRating
from headlife.decisions.rating import NOT_SETTLED, Verdict
from headlife.decisions.settle import RUN_TO, what_would_settle
from headlife.decisions.spares.same_year import PAST
from headlife.display import shows_itself
from headlife.shop.policy import compared_policies
from headlife.units import QUARTERS_PER_YEAR

if TYPE_CHECKING:
    import pandas as pd

    from headlife.case import Case
    from headlife.decisions.review_answers import Review, Stratum
    from headlife.shop import Shop

WATCHED: Final = (1, 3, 10)  # heads run past the rating
_DRAWS: Final = 100  # futures for each policy: a chance is then good to about five points


@dataclass(frozen=True)
class Learned:
    """What would be learned about one kind of head, or the lot of it that is bought, in a year."""

    kind: Kind
    """The kind of head."""
    part: Stratum | None
    """The lot, or other purchase, that is bought now; None where none is told apart."""
    chances: pd.DataFrame | None
    """Chance of a verdict on the rating within a year, one row per policy, as
    `what_would_settle` gives it; None where the rating is settled already."""
    worths: tuple[WorthOfWatching, ...]
    """What it is worth to run heads past the rating and watch, for `WATCHED` numbers of heads;
    empty for quality-critical heads, which are not run on."""
    run_to: float
    """Age to which heads would be run [h]."""
    hours_per_year: float
    """Print hours of all these heads together, which turn a worth per hour into one a year [h]."""

    @property
    def verdict(self) -> Verdict | None:
        """Today's verdict; None where nothing has run."""
        found = self.kind.verdict if self.part is None else self.part.verdict
        return None if found is None else found.verdict


@shows_itself
@dataclass(frozen=True)
class ProposalStudy:
    """All answers to one proposal, for a whole shop."""

    shop: Shop
    """The shop's settings."""
    review: Review
    """The review they start from."""
    kinds: tuple[Kind, ...]
    """Kinds of head in service."""
    answers: tuple[PastRating, ...]
    """The answer for each."""
    pairs: tuple[BothHeads, ...]
    """Both heads in one visit, for each pair seen on a printer."""

    @property
    def currency(self) -> str:
        """Label of amounts."""
        return self.answers[0].costs.currency

    @cached_property
    def learned(self) -> tuple[Learned, ...]:
        """What would be learned, by kind of head; worked out when first asked for."""
        return tuple(
            one for kind, answer in self.each() for one in _learned(kind, answer, self.shop)
        )

    def each(self) -> Iterator[tuple[Kind, PastRating]]:
        """Go through kinds of head and their answers."""
        yield from zip(self.kinds, self.answers, strict=True)


def proposal_study(review: Review, shop: Shop, **tried: Any) -> ProposalStudy:
    """Answer one proposal for every kind of head.

    Parameters
    ----------
    review : Review
        The quarter's answers.
    shop : Shop
        The settings they were made with.
    **tried : object
        Fields of `Choices` in place of the shop's settings; None leaves them. Without an
        `age_hours` each kind is looked at a quarter past its rating, quality-critical ones at it.

    Returns
    -------
    ProposalStudy
        The answers to the proposal.

    Raises
    ------
    HeadlifeError
        Costs are missing, a choice makes no sense, or no head is in service.
    """
    asked = {name: value for name, value in tried.items() if value is not None}
    ready = kinds(review, shop)
    choices = [_choices(kind, asked) for kind in ready]
    answers = tuple(kind.answer(one) for kind, one in zip(ready, choices, strict=True))
    proposals = {kind.name: one for kind, one in zip(ready, choices, strict=True)}
    return ProposalStudy(
        shop, review, ready, answers, both_heads(review, ready, proposals, shop.review.seed)
    )


def refuse_without_costs(case: Case) -> None:
    """Refuse settings without the costs that a proposal needs, before minutes of review.

    Parameters
    ----------
    case : Case
        Records and settings.

    Raises
    ------
    SettingsError
        Costs are missing; all of them are named.
    """
    positions = case.fleet.positions
    for one in case.evidence:
        if one.modes and one.group.rows(positions).any():
            shop_costs(case.shop, one.group.head_type)


def _choices(kind: Kind, asked: dict[str, Any]) -> Choices:
    usual = kind.rated_hours if kind.quality_critical else PAST * kind.rated_hours
    return kind.choices(**({"age_hours": usual} | asked))


def _learned(kind: Kind, answer: PastRating, shop: Shop) -> Iterator[Learned]:
    """Say what would be learned of a kind of head, or of each lot of it that is bought now."""
    worths = () if kind.quality_critical else tuple(_worths(kind, answer, shop.review.seed))
    for part, share in kind.bought or ((None, 1.0),):
        verdict = kind.verdict if part is None else part.verdict
        settled = verdict is not None and verdict.verdict != NOT_SETTLED
        yield Learned(
            kind=kind,
            part=part,
            chances=None if settled else _chances(kind, answer, shop, part, share),
            worths=worths,
            run_to=RUN_TO * kind.rated_hours,
            hours_per_year=answer.hours_per_quarter * QUARTERS_PER_YEAR,
        )


def _chances(
    kind: Kind, answer: PastRating, shop: Shop, part: Stratum | None, share: float
) -> pd.DataFrame:
    places = kind.served(answer.choices)
    policies = compared_policies(
        kind.rated_hours, notice_hours=kind.notice_hours, proposed=[answer.choices.age_hours]
    )
    if kind.quality_critical:
        policies = tuple(one for one in policies if one.swap_at <= kind.rated_hours)
    own = kind.lives[0] if part is None or part.life is None else part.life
    return what_would_settle(
        own,
        places.ages,
        places.weekly_hours,
        kind.rated_hours,
        shop.claim.share,
        shop.claim.confidence,
        policies=policies,
        quarters=(QUARTERS_PER_YEAR,),
        draws=_DRAWS,
        seed=shop.review.seed,
        others=kind.lives[1:],
        # What other lots tell of this one is known today; a verdict takes its own heads.
        drawn_from=None if part is None else part.leans_on,
        counted=kind.speak_of(part),
        # Where another type takes its place no new head is of this one.
        new_counted=0.0 if kind.gives_way else share,
    )


def _worths(kind: Kind, answer: PastRating, seed: int) -> Iterator[WorthOfWatching]:
    listed = compared_policies(
        kind.rated_hours,
        notice_hours=kind.notice_hours,
        proposed=[RUN_TO * kind.rated_hours, answer.choices.age_hours],
    )
    for heads in WATCHED:
        yield worth_of_watching(
            kind.lives[0],
            answer.costs,
            sorted(one.swap_at for one in listed),
            kind.rated_hours,
            heads,
            run_to=RUN_TO * kind.rated_hours,
            others=kind.lives[1:],
            seed=seed,
        )
