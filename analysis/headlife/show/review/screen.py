"""The answers of the quarter on a terminal, what is to be done first. Computes nothing."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from headlife.decisions.actions import BUILD, SWAP
from headlife.show.review.doubts import other_stock, other_stratum
from headlife.show.review.watched import stratum_watch
from headlife.show.terminal import Screen, Verdict
from headlife.show.words import actions as to_do
from headlife.show.words import rating, standing, stock
from headlife.show.words.cautions import CAUTIONS
from headlife.show.words.days import day
from headlife.show.words.newest import division_answer, newest_sentence
from headlife.show.words.numbers import sentences
from headlife.show.words.practice import practice_sentence
from headlife.show.words.records import rows_read
from headlife.show.words.sites import left_out_sentence

if TYPE_CHECKING:
    from headlife.decisions.actions import Actions
    from headlife.decisions.came_of import CameOf
    from headlife.decisions.review_answers import Review, Stratum
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.two_ways import TwoWays


def print_review(
    screen: Screen,
    review: Review,
    both: TwoWays | None,
    actions: Actions | None = None,
    given_back: tuple[Sequence[CameOf], Sequence[str]] | None = None,
) -> None:
    """Print what is to be done, rating, spares and heads to watch.

    Parameters
    ----------
    screen : Screen
        Printed on.
    review : Review
        The quarter's answers.
    both : TwoWays or None
        Both readings of the removals in doubt; None where single lives are not known.
    actions : Actions, optional
        What is to be done, printed first.
    given_back : tuple, optional
        What came of earlier actions, and sentences about rows that could not be answered.
    """
    screen.head(f"{review.shop_name}: quarterly head review as of {day(review.as_of)}")
    screen.say(rows_read(review))
    left_out = (f"Left out: {left_out_sentence(left)}" for left in review.left_out)
    for note in (*review.notes, *left_out):
        screen.say(note)
    if actions is not None:
        _actions(screen, actions)
    if given_back is not None:
        _came_of(screen, *given_back)
    screen.table(
        "Does the rating hold?",
        ["Heads of", "Verdict", "In words"],
        [_rating(review, stratum, both) for stratum in review.told],
    )
    for division in review.divisions:
        screen.say(division_answer(review, division))
    if review.newest:
        screen.say(newest_sentence(review.newest))
    of_all = {
        head_type: stock.said_of_all(
            [one for one in review.stock if one.head_type == head_type], review.last_quarter
        )
        for head_type in dict.fromkeys(one.head_type for one in review.stock)
    }
    screen.table(
        "How many spares?",
        ["Head type", "Hold", "Order now", "In words"],
        [_stock(review, answer, both, of_all[answer.head_type]) for answer in review.stock],
        right=(1, 2),
    )
    for head_type, alike in of_all.items():
        if alike:
            screen.say(f"{head_type}: {' '.join(alike)}")
    for found in review.practised:
        if said := practice_sentence(found):
            screen.say(said)
    screen.table(
        "Which heads to watch?",
        ["Head type, role", "In words"],
        [[one.name, stratum_watch(review, one)] for one in review.strata],
    )


def _rating(review: Review, stratum: Stratum, both: TwoWays | None) -> list[object]:
    words = sentences(
        rating.rating_sentence(stratum.verdict),
        rating.assumed_sentence(stratum),
        standing.standing_sentence(review.standings.get(stratum.group)),
        rating.doubt_sentence(stratum, other_stratum(stratum, both)),
    )
    return [stratum.name, Verdict(review.stated_verdict(stratum)), words]


def _stock(
    review: Review, answer: StockAnswer, both: TwoWays | None, of_all: Sequence[str]
) -> list[object]:
    words = sentences(
        stock.stock_sentence(answer),
        *stock.said_of_one(answer, of_all),
        stock.doubt_sentence(answer, other_stock(answer, both)),
        "" if of_all else stock.last_quarter_sentence(review.last_quarter, answer.head_type),
    )
    plan = answer.plan
    return [stock.stock_name(answer), plan.stock_level, plan.order_now, words]


def _actions(screen: Screen, actions: Actions) -> None:
    """Print what is to be done; nothing where there is nothing."""
    screen.table(
        "What to do",
        ["", "What", "When", "Why, and what hangs on it"],
        [
            [
                number,
                to_do.what(one),
                to_do.by(one, actions),
                "; ".join(
                    part for part in (to_do.why(one, actions), to_do.stake(one, actions)) if part
                ),
            ]
            for number, one in enumerate(actions.first(to_do.SHOWN), start=1)
        ],
    )
    if more := to_do.more_sentence(actions):
        screen.say(more)
    if any(one.kind in (SWAP, BUILD) for one in actions.each):
        screen.say(CAUTIONS[0])


def _came_of(screen: Screen, found: Sequence[CameOf], problems: Sequence[str]) -> None:
    """Print what came of the actions of an earlier review."""
    screen.table("What came of the actions given back", *to_do.came_of(found))
    for problem in problems:
        screen.say(problem)
