"""The answers of a review as plain values: what a program reads.

From a `Review`; gives a dictionary of text, numbers and lists that survives JSON. Computes
nothing but the wording.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from headlife.show.actions.table import action_values, came_values
from headlife.show.plain import answers, rows
from headlife.show.review.doubts import other_stock, other_stratum
from headlife.show.review.watched import stratum_watch
from headlife.show.spares.values import stock_values
from headlife.show.words import rating, standing, stock
from headlife.show.words.newest import division_answer, newest_sentence
from headlife.show.words.practice import practice_sentence
from headlife.show.words.sites import left_out_sentence

if TYPE_CHECKING:
    from headlife.decisions.actions import Actions
    from headlife.decisions.came_of import CameOf
    from headlife.decisions.newest import Newest
    from headlife.decisions.review_answers import Review, Stratum
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.two_ways import TwoWays
    from headlife.fleet.practised import Practised

_WATCHED = [
    "head", "head_type", "role", "printer", "position", "age_hours", "rated_hours",
    "probability", "low", "high", "lives_as",
]  # fmt: skip


def review_values(
    review: Review,
    both: TwoWays | None = None,
    actions: Actions | None = None,
    given_back: tuple[Sequence[CameOf], Sequence[str]] | None = None,
) -> dict[str, Any]:
    """Collect every answer of the quarter.

    Parameters
    ----------
    review : Review
        The answers.
    both : TwoWays, optional
        The answers with removals in doubt read the other way, told beside them.
    actions : Actions, optional
        What is to be done.
    given_back : tuple, optional
        What came of earlier actions, and sentences about rows that could not be answered.

    Returns
    -------
    dict
        `format`, `shop`, `as_of`, `actions` (the most urgent first) and those given back with
        what came of them, `ratings` (per head type and role), `divisions` (the same by further
        columns, such as the lot, with the part that is bought now), `newest_purchases` (failures
        of the newest beside those to be expected), `stock` (per head type, in the shape that the
        spares study has too), `watch` (per head in service, worst first),
        `practice` (stated and done, per head
        type), `build_hours`, `records` and `stamp`. Hours [h], shares and probabilities [-], heads
        [heads]; a number that does not exist is null.
    """
    return answers(
        review,
        actions=[] if actions is None else action_values(actions),
        actions_given_back=[] if given_back is None else came_values(given_back[0]),
        actions_not_answered=[] if given_back is None else list(given_back[1]),
        ratings=[_rating(review, stratum, both) for stratum in review.strata],
        divisions=[
            {
                "head_type": one.group.head_type,
                "role": one.group.role,
                "columns": one.columns,
                "sentence": division_answer(review, one),
                "bought_now": [
                    dict(bought.group.further) | {"share": bought.share}
                    for bought in one.bought_now
                ],
                "parts": [_part(review, part) for part in one.parts],
            }
            for one in review.divisions
        ],
        newest_purchases=[_newest(one) for one in review.newest],
        newest_sentence=newest_sentence(review.newest),
        stock=[_stock(review, answer, both) for answer in review.stock],
        watch=rows(review.watch[_WATCHED]),
        practice=[_practised(found) for found in review.practised],
        build_hours=review.build_hours,
        left_out=[left_out_sentence(left) for left in review.left_out],
        records={
            "file": review.source,
            "rows_read": review.rows_read,
            "rows_accepted": review.rows_accepted,
            "rows_set_aside": review.rows_read - review.rows_accepted - review.rows_no_record,
            "rows_no_record": review.rows_no_record,
            "sheets_not_read": list(review.not_read),
            "notes": list(review.notes),
        },
    )


def _rating(review: Review, stratum: Stratum, both: TwoWays | None) -> dict[str, Any]:
    return _judged(review, stratum) | {
        "standing": _standing(review, stratum),
        "doubt_sentence": rating.doubt_sentence(stratum, other_stratum(stratum, both)),
        "watch_sentence": stratum_watch(review, stratum),
    }


def _part(review: Review, stratum: Stratum) -> dict[str, Any]:
    """Answer for one part of a division: what divides it, then what a whole group has."""
    return {
        "further": dict(stratum.group.further),
        **_judged(review, stratum),
        "standing": _standing(review, stratum),
    }


def _standing(review: Review, stratum: Stratum) -> dict[str, Any] | None:
    """How a verdict stands over time, and what would overturn it; null where not known."""
    found = review.standings.get(stratum.group)
    if found is None:
        return None
    history, overturn = found.history, found.overturn
    return {
        "today": history.standing,
        "verdict": history.verdict,
        "confirmed_on": history.confirmed_on,
        "seen_since": history.seen_since,
        "looks": [
            {
                "day": look.day,
                "failures": look.failures,
                "probability": look.probability,
                "verdict": look.verdict,
                "holds_from": look.holds_from,
                "falls_short_to": look.falls_short_to,
                "confirms": look.confirms,
            }
            for look in history.looks
        ],
        "pulled": overturn.pulled.pulled,
        "pulled_to_overturn": overturn.pulled.to_overturn,
        "kinds_of_life": {
            kind.name: {"weight": kind.weight, "probability": kind.probability}
            for kind in overturn.kinds.kinds
        },
        "probability_over_kinds": overturn.averaged,
        "stands": overturn.stands,
        "sentence": standing.standing_sentence(found),
    }


def _newest(found: Newest) -> dict[str, Any]:
    """Give how the newest purchases of a head type and role have fared."""
    group = found.group
    return {
        "head_type": group.head_type,
        "role": group.role,
        **{name: value for name, value in vars(found).items() if name != "group"},
    }


def _practised(found: Practised) -> dict[str, Any]:
    """Give what is stated and what is done, for one head type."""
    practice, visits = found.practice, found.visits
    return {
        "head_type": found.head_type,
        "stated": practice.stated,
        "practised": practice.policy,
        "probability": practice.chance,
        "since": found.since,
        "mean_hours_late": practice.lag_hours,
        "planned_swaps": practice.swaps,
        "reached": practice.reached,
        "ran_past": practice.ran_past,
        "visits": visits.visits,
        "joined": visits.joined,
        "probability_joined": visits.chance,
        "sentence": practice_sentence(found),
    }


def _judged(review: Review, stratum: Stratum) -> dict[str, Any]:
    verdict, life = stratum.verdict, stratum.life
    answer: dict[str, Any] = {
        "head_type": stratum.head_type,
        "role": stratum.role,
        "rated_hours": stratum.rated_hours,
        "heads": stratum.heads,
        "in_service": stratum.in_service,
        "hours_run": stratum.evidence.print_hours,
        "failures": stratum.failures,
        "verdict": review.stated_verdict(stratum),
        "verdict_of_this_look": verdict.verdict if verdict else None,
        "sentence": rating.rating_sentence(verdict),
        "rests_on": rating.evidence_sentence(stratum),
    }
    if verdict is not None:
        answer |= {
            "probability": verdict.probability,
            "claimed_share": verdict.share,
            "confidence": verdict.confidence,
            "share_reaching": verdict.share_reaching,
            "share_reaching_bounds": list(verdict.bounds),
            "b_life_of_rating": verdict.b_life,
            "b_life_of_rating_bounds": list(verdict.b_life_bounds),
            "hours_at_claimed_share": verdict.life_at_share,
            "hours_at_claimed_share_bounds": list(verdict.life_at_share_bounds),
        }
    if life is not None:
        answer |= {"shape": life.shape, "scale": life.scale, "shape_learned": life.shape_learned}
    return answer


def _stock(review: Review, answer: StockAnswer, both: TwoWays | None) -> dict[str, Any]:
    return {
        **stock_values(answer),
        "doubt_sentence": stock.doubt_sentence(answer, other_stock(answer, both)),
        "last_quarter_sentence": stock.last_quarter_sentence(review.last_quarter, answer.head_type),
    }
