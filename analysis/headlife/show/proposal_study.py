"""What does one proposal do to a whole shop? Every kind of head, both heads, and what is learned.

Asks `decisions.policy` about each kind of head of a review and keeps the answers together as a
`Study`; gives them as plain values for the terminal and for programs. Computes no answer.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

from headlife.decisions.policy.both_heads import BothHeads, both_heads
from headlife.decisions.policy.past_rating import Choices, Kind, PastRating, kinds
from headlife.show.answers import Out, plain, stamp
from headlife.show.learning import Learned, what_we_learn
from headlife.show.proposal import advice_sentence, both_heads_sentence, proposal_sentence

if TYPE_CHECKING:
    from headlife.decisions.review import Review
    from headlife.shop import Shop

PAST: Final = 1.25  # times the rating: the age looked at when nobody proposes one


@dataclass(frozen=True)
class Study:
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
    def learned(self) -> Learned:
        """What would be learned; worked out when first asked for."""
        return what_we_learn(self.kinds, self.answers, self.shop)

    def each(self) -> Iterator[tuple[Kind, PastRating]]:
        """Go through kinds of head and their answers."""
        yield from zip(self.kinds, self.answers, strict=True)


def study(review: Review, shop: Shop, **tried: Any) -> Study:
    """Answer one proposal for every kind of head.

    Parameters
    ----------
    review : Review
    shop : Shop
    **tried
        Fields of `Choices` in place of the shop's settings; None leaves them. Without an
        `age_hours` each kind is looked at a quarter past its rating, quality-critical ones at it.

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
    return Study(
        shop, review, ready, answers, both_heads(review, ready, proposals, shop.review.seed)
    )


def with_build(shop: Shop, build_hours: float | None) -> Shop:
    """Take another length of builds into the settings, for the build check as well [h]."""
    if build_hours is None:
        return shop
    return shop.with_(review={"build_hours": build_hours})


def _choices(kind: Kind, asked: dict[str, Any]) -> Choices:
    usual = kind.rated_hours if kind.quality_critical else PAST * kind.rated_hours
    return kind.choices(**({"age_hours": usual} | asked))


def study_answers(made: Study) -> dict[str, Any]:
    """Collect the answers as plain values; an age that is null is running to failure.

    Ages and standstill [h], shares and probabilities [-], costs [currency/h], savings and regret
    [currency/quarter], heads, builds and visits [1/quarter].
    """
    watch = ["head", "head_type", "role", "printer", "position", "age_hours"]
    watch += ["probability", "low", "high"]
    answers = {
        "shop": made.review.shop_name,
        "as_of": made.review.as_of.date().isoformat(),
        "currency": made.currency,
        "kinds": [_kind_answers(kind, answer) for kind, answer in made.each()],
        "both_heads": [
            {
                "kinds": pair.names,
                "printers": pair.printers,
                "sentence": both_heads_sentence(pair),
                "policies": pair.table.to_dict(orient="records"),
            }
            for pair in made.pairs
        ],
        "learning": {"sentences": made.learned.sentences, "rows": made.learned.rows},
        "build_hours": made.review.build_hours,
        "build_check": made.review.watch[watch].to_dict(orient="records"),
        "stamp": stamp(made.review),
    }
    return dict(plain(answers))


class StudyOut(Out):
    """Carries the answers of a study."""

    def __init__(self, made: Study) -> None:
        super().__init__(study_answers(made))


def _kind_answers(kind: Kind, answer: PastRating) -> dict[str, Any]:
    return {
        "head_type": kind.head_type,
        "role": kind.role,
        "rated_hours": kind.rated_hours,
        "quality_critical": kind.quality_critical,
        "advised_age": answer.advice.age,
        "oldest_seen": answer.advice.oldest_seen,
        "extrapolated": answer.advice.beyond_data,
        "never_past_on": answer.advice.never_past,
        "advice": advice_sentence(kind, answer),
        "proposal": proposal_sentence(kind, answer),
        "policies": answer.table.to_dict(orient="records"),
    }
