"""The answers of a review as plain values: what the terminal prints and a program reads.

From a `Review`; gives a dictionary of text, numbers and lists that survives JSON. Computes
nothing but the wording.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

from headlife.show import sentences
from headlife.show.doubts import doubt_line, stock_doubt

if TYPE_CHECKING:
    from headlife.case import Provenance
    from headlife.decisions.review import Review, StockAnswer, Stratum
    from headlife.decisions.two_ways import TwoWays

ANSWERS_MIME: Final = "application/vnd.headlife.answers+json"
FORMAT: Final = 1


def review_answers(review: Review, both: TwoWays | None = None) -> dict[str, Any]:
    """Collect every answer of the quarter.

    Parameters
    ----------
    review : Review
        The answers.
    both : TwoWays, optional
        The answers with removals in doubt read the other way, told beside them.

    Returns
    -------
    dict
        `shop`, `as_of`, `ratings` (per head type and role), `spares` (per head type), `watch`
        (per head in service, worst first), `records` and `stamp`. Hours [h], shares and
        probabilities [-], heads [heads]; a number that does not exist is null.
    """
    answers = {
        "format": FORMAT,
        "shop": review.shop_name,
        "as_of": review.as_of.date().isoformat(),
        "ratings": [_rating(review, stratum, both) for stratum in review.strata],
        "spares": [_spares(review, answer, both) for answer in review.stock],
        "watch": _watch(review),
        "build_hours": review.build_hours,
        "records": {
            "file": review.source,
            "rows_read": review.rows_read,
            "rows_accepted": review.rows_accepted,
            "rows_set_aside": review.rows_read - review.rows_accepted,
        },
        "stamp": stamp(review),
    }
    return dict(plain(answers))


def stamp(made: Provenance) -> dict[str, Any]:
    """Name everything needed to make the same page again."""
    return {
        "records_sha256": made.records_sha256,
        "settings_sha256": made.shop_sha256,
        "as_of": made.as_of.date().isoformat(),
        "seed": made.seed,
        "version": made.version,
    }


class Out:
    """Carries answers from a notebook to whoever executed it."""

    def __init__(self, answers: dict[str, Any]) -> None:
        self._answers = answers

    def _repr_mimebundle_(self, **_: Any) -> dict[str, Any]:
        return {ANSWERS_MIME: self._answers, "text/plain": "the answers, for programs"}


class AnswersOut(Out):
    """Carries the answers of a review."""

    def __init__(self, review: Review, both: TwoWays | None = None) -> None:
        super().__init__(review_answers(review, both))


def answers_in(notebook: Any) -> dict[str, Any]:
    """Find the answers in an executed notebook."""
    for cell in notebook.cells:
        for output in cell.get("outputs", []):
            if ANSWERS_MIME in output.get("data", {}):
                return dict(output["data"][ANSWERS_MIME])
    raise LookupError("the executed notebook holds no answers")


def _rating(review: Review, stratum: Stratum, both: TwoWays | None) -> dict[str, Any]:
    verdict, life = stratum.verdict, stratum.life
    watch = sentences.stratum_watch(review.watch, stratum)
    answer: dict[str, Any] = {
        "head_type": stratum.head_type,
        "role": stratum.role,
        "rated_hours": stratum.rated_hours,
        "heads": stratum.heads,
        "in_service": stratum.in_service,
        "hours_run": sentences.hours_run(stratum.lives),
        "failures": stratum.failures,
        "verdict": verdict.verdict if verdict else None,
        "sentence": sentences.rating_sentence(verdict),
        "rests_on": sentences.evidence_sentence(stratum),
        "doubt_sentence": doubt_line(stratum, both),
        "watch_sentence": sentences.watch_sentence(watch, review.build_hours),
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


def _spares(review: Review, answer: StockAnswer, both: TwoWays | None) -> dict[str, Any]:
    plan, demand = answer.plan, answer.demand
    return {
        **stock_values(answer),
        "part_used_heads": answer.shelf_heads,
        "expected_idle_hours": answer.idle_hours,
        "service_asked": plan.service_level,
        "service": plan.service,
        "service_sure": None if math.isnan(plan.sure) else plan.sure,
        "heads_for_doubt": plan.added,
        "fill_rate": plan.fill_rate,
        "demand_mean": demand.mean,
        "demand_planned": demand.planned_mean,
        "demand_failures": demand.failure_mean,
        "demand_80_percent": list(demand.interval(0.80)),
        "sentence": sentences.stock_sentence(answer),
        "ahead_sentence": answer.ahead,
        "doubt_sentence": stock_doubt(answer, both),
        "last_quarter_sentence": sentences.last_quarter_sentence(
            review.last_quarter, answer.head_type
        ),
        "note": answer.note,
    }


def stock_values(answer: StockAnswer) -> dict[str, Any]:
    """Name a stock and say what to hold, what is there and when to order again [heads]."""
    return {
        "head_type": answer.head_type,
        "site": answer.site,
        "horizon_weeks": answer.horizon_weeks,
        "stock_level": answer.plan.stock_level,
        "order_now": answer.plan.order_now,
        "on_hand": answer.plan.on_hand,
        "on_order": answer.plan.on_order,
        "reorder_point": answer.reorder_point,
    }


def _watch(review: Review) -> list[dict[str, Any]]:
    columns = ["head", "head_type", "role", "printer", "position", "age_hours", "rated_hours"]
    wanted = [*columns, "probability", "low", "high"]
    return [dict(zip(wanted, row, strict=True)) for row in review.watch[wanted].to_numpy(object)]


def plain(value: Any) -> Any:
    """Turn numpy numbers into Python's, and what is not a finite number into nothing."""
    if isinstance(value, dict):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if isinstance(value, (str, int, float, bool, type(None))) else str(value)
