"""Running heads past their rating, on a terminal. From a study of one proposal; computes nothing.

Fewer columns than on the page, since a terminal is narrow.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from headlife.shop.policy import AT_RATING
from headlife.show.past_rating.tables import cost_range, versus_rating
from headlife.show.plain import lines
from headlife.show.review.watched import watched
from headlife.show.terminal import Screen
from headlife.show.words.cautions import CAUTIONS
from headlife.show.words.days import day
from headlife.show.words.learning import learned_sentences, learning
from headlife.show.words.numbers import SURE, decimals, ranges, whole
from headlife.show.words.policy import (
    advice_sentence,
    both_heads_sentence,
    gives_way_sentence,
    proposal_sentence,
    rated_words,
    step_sentence,
)

if TYPE_CHECKING:
    from headlife.decisions.policy.both_heads import BothHeads
    from headlife.decisions.policy.past_rating_answer import PastRating
    from headlife.decisions.policy.proposal import ProposalStudy

_VERSUS = ("Beats rating", "Saves", "Saves if wrong")


def print_past_rating(screen: Screen, made: ProposalStudy) -> None:
    """Print advice, policies, both heads, what is learned, the build check and the cautions.

    Parameters
    ----------
    screen : Screen
        Printed on.
    made : ProposalStudy
        The answers, with what they were made from.
    """
    review = made.review
    screen.head(f"{review.shop_name}: running heads past their rating, as of {day(review.as_of)}")
    for kind, answer in made.each():
        screen.gap()
        screen.head(f"{kind.name}, {rated_words(kind)}")
        if gives_way := gives_way_sentence(kind):
            screen.say(gives_way)
        screen.say(advice_sentence(kind, answer))
        if step := step_sentence(answer):
            screen.say(step)
        screen.say(proposal_sentence(kind, answer))
        _policies(screen, answer, made.currency)
    for pair in made.pairs:
        screen.gap()
        screen.say(both_heads_sentence(pair))
        _both_heads(screen, pair, made.currency)
    screen.table("What would we learn within a year?", *learning(made.learned))
    for said in learned_sentences(made.learned, made.currency):
        screen.say(said)
    title = f"Will this head finish a {review.build_hours:g}-hour build?"
    screen.table(title, *watched(review))
    screen.say(ranges(SURE))
    for caution in CAUTIONS:
        screen.gap()
        screen.say(caution)


def _policies(screen: Screen, answer: PastRating, currency: str) -> None:
    screen.table(
        f"Cost per print hour, spares included, the rest per quarter; amounts in {currency}",
        ["Policy", "Per hour (range)", "Heads", "Failed", "Stands [h]", "Spares", *_VERSUS],
        [
            [
                line.policy,
                cost_range(line),
                decimals(line.heads, 1),
                decimals(line.failed_builds, 1),
                decimals(line.downtime, 1),
                line.spares,
                *_versus(line, line.policy == AT_RATING),
            ]
            for line in lines(answer.table)
        ],
        right=tuple(range(1, 9)),
    )


def _both_heads(screen: Screen, pair: BothHeads, currency: str) -> None:
    screen.table(
        f"Cost per print hour of a printer, the rest per quarter; amounts in {currency}",
        ["Policy", "Along from [h]", "Per hour (range)", "Heads", "Failed", "Visits", "Spares"]
        + list(_VERSUS),
        [
            [
                line.policy,
                "never" if math.isinf(line.limit) else whole(line.limit),
                cost_range(line),
                decimals(line.heads, 1),
                decimals(line.failed_builds, 1),
                decimals(line.visits, 1),
                line.spares,
                *_versus(line, place == 0),
            ]
            for place, line in enumerate(lines(pair.table))
        ],
        right=tuple(range(1, 10)),
    )


def _versus(line: Any, yardstick: bool) -> list[str]:
    return ["–", "–", "–"] if yardstick else versus_rating(line, yardstick)
