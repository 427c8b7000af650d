"""What in the records is doubtful, and what would it change?

From the audit and from answers read both ways; gives the lines of the first screen that say so,
a table of both answers and a table of findings. Computes no answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.show import sentences
from headlife.show.markup import Html, badge, table

if TYPE_CHECKING:
    from headlife.decisions.review import Review, StockAnswer, Stratum
    from headlife.decisions.two_ways import TwoWays
    from headlife.records.record_set import Records

_SHOWN: Final = 40  # findings on the page; `headlife check` lists all of them
_NO_VERDICT: Final = "no hours yet"


def doubt_line(stratum: Stratum, both: TwoWays | None) -> str:
    """Say how a rating would be judged if the removals in doubt were no failures."""
    other = _other_stratum(stratum, both)
    if other is None or other.verdict is None:
        return ""
    heads = stratum.failures[_mode(stratum)] - other.failures.get(_mode(stratum), 0)
    return (
        f"{sentences.counted(heads, 'of these is', 'of these are')} in doubt (see below); as no "
        f"failures: {other.verdict.verdict}, {sentences.percent(other.verdict.share_reaching)} "
        f"({sentences.span(*other.verdict.bounds)}), chance "
        f"{sentences.chance(other.verdict.probability)}."
    )


def stock_doubt(answer: StockAnswer, both: TwoWays | None) -> str:
    """Say what the stock would be if the removals in doubt were no failures."""
    other = _other_stock(answer, both)
    if other is None or other.plan.stock_level == answer.plan.stock_level:
        return ""
    return f"With the removals in doubt as no failures: {other.plan.stock_level}."


def both_ways_table(both: TwoWays) -> Html:
    """Tabulate every answer that changes with the reading of the removals in doubt."""
    if both.doubtful.empty:
        return Html(
            "<p>No removal is in doubt: none was for looks alone, and none of the removals called "
            "failures pile up where the counter calls for a swap.</p>",
            "no removal is in doubt",
        )
    rows: list[list[object]] = []
    for stratum in both.as_failures.strata:
        other = _other_stratum(stratum, both)
        if other is not None:
            rows.append([f"Rating of {stratum.name}", _judged(stratum), _judged(other)])
    for answer in both.as_failures.stock:
        changed = _other_stock(answer, both)
        if changed is not None:
            name = f"Stock of {sentences.stock_name(answer)}"
            rows.append([name, _held(answer), _held(changed)])
    return table(
        ["Answer", "Counted as failures", "Counted as no failures"],
        rows,
        words=(1, 2),
        caption=f"{_why(both)} The truth lies between the two answers.",
    )


def findings_table(records: Records, review: Review) -> Html:
    """List what the audit of the records found, as on the day of the review."""
    from headlife.records.audit import audit

    found = audit(records, today=review.as_of.date())
    if found.empty:
        return Html("<p>The audit of the records found nothing to flag.</p>", "nothing flagged")
    rows = [
        [line.severity, line.rows, line.treatment, line.sentence]
        for line in sentences.lines(found.head(_SHOWN))
    ]
    more = f", the first {_SHOWN} of {len(found):,}" if len(found) > _SHOWN else ""
    return table(
        ["Kind", "Rows", "What was done", "What is wrong"],
        rows,
        caption=f"Findings in the records{more}",
        words=(3,),
    )


def _other_stratum(stratum: Stratum, both: TwoWays | None) -> Stratum | None:
    """Find the other reading of a stratum, where it differs."""
    if both is None or both.doubtful.empty:
        return None
    touched = (both.doubtful["head_type"] == stratum.head_type) & (
        both.doubtful["role"] == stratum.role
    )
    same = (s for s in both.as_suspensions.strata if s.name == stratum.name)
    return next(same, None) if touched.any() else None


def _other_stock(answer: StockAnswer, both: TwoWays | None) -> StockAnswer | None:
    if both is None or not (both.doubtful["head_type"] == answer.head_type).any():
        return None
    return next(
        (
            other
            for other in both.as_suspensions.stock
            if (other.head_type, other.site) == (answer.head_type, answer.site)
        ),
        None,
    )


def _mode(stratum: Stratum) -> str:
    return sentences.primary_mode(stratum)


def _judged(stratum: Stratum) -> Html:
    verdict = stratum.verdict
    words = sentences.rating_sentence(verdict)
    return Html(f"{badge(verdict.verdict if verdict else _NO_VERDICT)} {Html.text(words)}")


def _held(answer: StockAnswer) -> str:
    return f"hold {answer.plan.stock_level}, order {answer.plan.order_now} now"


def _why(both: TwoWays) -> str:
    counts = both.doubtful["why"].value_counts()
    parts = " and ".join(f"{count} ({why})" for why, count in counts.items())
    return f"{sentences.counted(len(both.doubtful), 'removal', 'removals')} in doubt: {parts}."
