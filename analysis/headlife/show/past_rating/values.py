"""The answers to one proposal as plain values: what a program reads.

From a `ProposalStudy`; an age that is null is running to failure. Computes nothing but wording.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from headlife.show.plain import answers, plain, rows
from headlife.show.words.learning import learned_sentences, learning
from headlife.show.words.policy import (
    advice_sentence,
    both_heads_sentence,
    proposal_sentence,
    step_sentence,
)

if TYPE_CHECKING:
    from headlife.decisions.policy.past_rating import Kind
    from headlife.decisions.policy.past_rating_answer import PastRating
    from headlife.decisions.policy.proposal import Learned, ProposalStudy

_WATCHED = [
    "head", "head_type", "role", "printer", "position", "age_hours", "probability", "low", "high",
]  # fmt: skip


def past_rating_values(made: ProposalStudy) -> dict[str, Any]:
    """Collect the answers as plain values; an age that is null is running to failure.

    Parameters
    ----------
    made : ProposalStudy
        The answers, with what they were made from.

    Returns
    -------
    dict
        `format`, `shop`, `as_of`, `currency`, `kinds` (per head type and role), `both_heads` (per
        pair on a printer), `learning`, `build_hours`, `build_check` and `stamp`. Ages and
        standstill [h], shares and probabilities [-], costs [currency/h], savings and regret
        [currency/quarter], heads, builds and visits [1/quarter].
    """
    taught = learning(made.learned)
    return answers(
        made.review,
        currency=made.currency,
        kinds=[_kind(kind, answer) for kind, answer in made.each()],
        both_heads=[
            {
                "kinds": pair.names,
                "printers": pair.printers,
                "sentence": both_heads_sentence(pair),
                "policies": rows(pair.table),
            }
            for pair in made.pairs
        ],
        learning={
            "headings": taught.headings,
            "rows": taught.rows,
            "sentences": learned_sentences(made.learned, made.currency),
            "kinds": [_learned(one) for one in made.learned],
        },
        build_hours=made.review.build_hours,
        build_check=rows(made.review.watch[_WATCHED]),
    )


def _kind(kind: Kind, answer: PastRating) -> dict[str, Any]:
    return {
        "head_type": kind.head_type,
        "role": kind.role,
        "rated_hours": kind.rated_hours,
        "new_heads_as": kind.bought_now,
        "gives_way_to": None if kind.gives_way is None else kind.gives_way.to,
        "follows": kind.to_follow,
        "quality_critical": kind.quality_critical,
        "advised_age": answer.advice.age,
        "oldest_seen": answer.advice.oldest_seen,
        "extrapolated": answer.advice.beyond_data,
        "never_past_on": answer.advice.never_past,
        "advice": advice_sentence(kind, answer),
        "step": None if answer.next_step is None else vars(answer.next_step),
        "step_sentence": step_sentence(answer),
        "proposal": proposal_sentence(kind, answer),
        "policies": rows(answer.table),
    }


def _learned(one: Learned) -> dict[str, Any]:
    return {
        "head_type": one.kind.head_type,
        "role": one.kind.role,
        "part": "" if one.part is None else one.part.group.part,
        "chances": None if one.chances is None else rows(one.chances),
        "run_to": one.run_to,
        "worth_per_year": [
            {"heads": worth.heads, "saving": plain(worth.value_per_hour * one.hours_per_year)}
            for worth in one.worths
        ],
    }
