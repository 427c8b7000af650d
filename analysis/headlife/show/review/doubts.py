"""What in the records is doubtful, and what would it change?

From the audit and from answers read both ways; gives a table of both answers and a table of
findings, and finds the other reading of one answer. Computes no answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from headlife.show.markup import Html, badge, table
from headlife.show.plain import lines
from headlife.show.words.numbers import counted
from headlife.show.words.rating import NO_VERDICT, rating_sentence
from headlife.show.words.stock import order_words, stock_name

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.review_answers import Stratum
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.two_ways import TwoWays

_SHOWN: Final = 40  # findings on the page; `headlife check` lists all of them


def both_ways_table(both: TwoWays) -> Html:
    """Tabulate every answer that changes with the reading of the removals in doubt.

    Parameters
    ----------
    both : TwoWays
        Both readings of the removals in doubt.

    Returns
    -------
    Html
        A piece of the page.
    """
    if both.doubtful.empty:
        return Html(
            "<p>No removal is in doubt: none was for looks alone, and none of the removals called "
            "failures pile up where the counter calls for a swap.</p>",
            "no removal is in doubt",
        )
    rows: list[list[object]] = []
    for stratum in both.as_failures.strata:
        other = other_stratum(stratum, both)
        if other is not None:
            rows.append([f"Rating of {stratum.name}", _judged(stratum), _judged(other)])
    for answer in both.as_failures.stock:
        changed = other_stock(answer, both)
        if changed is not None:
            rows.append([f"Stock of {stock_name(answer)}", _held(answer), _held(changed)])
    return table(
        ["Answer", "Counted as failures", "Counted as no failures"],
        rows,
        words=(1, 2),
        caption=f"{_why(both)} The truth lies between the two answers.",
    )


def findings_table(found: pd.DataFrame) -> Html:
    """List what the audit of the records found.

    Parameters
    ----------
    found : DataFrame
        From `headlife.audit`, as on the day of the review.

    Returns
    -------
    Html
        A piece of the page.
    """
    if found.empty:
        return Html("<p>The audit of the records found nothing to flag.</p>", "nothing flagged")
    rows = [
        [line.severity, line.rows, line.treatment, line.sentence]
        for line in lines(found.head(_SHOWN))
    ]
    more = f", the first {_SHOWN} of {len(found):,}" if len(found) > _SHOWN else ""
    return table(
        ["Kind", "Rows", "What was done", "What is wrong"],
        rows,
        caption=f"Findings in the records{more}",
        words=(3,),
    )


def _judged(stratum: Stratum) -> Html:
    verdict = stratum.verdict
    words = rating_sentence(verdict)
    return Html(f"{badge(verdict.verdict if verdict else NO_VERDICT)} {Html.text(words)}")


def _held(answer: StockAnswer) -> str:
    return f"hold {answer.plan.stock_level}, {order_words(answer.plan)}"


def _why(both: TwoWays) -> str:
    counts = both.doubtful["why"].value_counts()
    parts = " and ".join(f"{count} ({why})" for why, count in counts.items())
    return f"{counted(len(both.doubtful), 'removal', 'removals')} in doubt: {parts}."


def other_stratum(stratum: Stratum, both: TwoWays | None) -> Stratum | None:
    """Find the other reading of a rating, where a removal of its heads is in doubt.

    Parameters
    ----------
    stratum : Stratum
        The answers about one head type and role.
    both : TwoWays
        Both readings of the removals in doubt.

    Returns
    -------
    Stratum or None
        The other reading; None where nothing of it is in doubt.
    """
    if both is None or both.doubtful.empty:
        return None
    touched = (both.doubtful["head_type"] == stratum.head_type) & (
        both.doubtful["role"] == stratum.role
    )
    same = (one for one in both.as_suspensions.strata if one.name == stratum.name)
    return next(same, None) if touched.any() else None


def other_stock(answer: StockAnswer, both: TwoWays | None) -> StockAnswer | None:
    """Find the other reading of a stock, where a removal of its heads is in doubt.

    Parameters
    ----------
    answer : StockAnswer
        The answers about one stock.
    both : TwoWays
        Both readings of the removals in doubt.

    Returns
    -------
    StockAnswer or None
        The other reading; None where nothing of it is in doubt.
    """
    if both is None or not (both.doubtful["head_type"] == answer.head_type).any():
        return None
    wanted = (answer.head_type, answer.site)
    same = (one for one in both.as_suspensions.stock if (one.head_type, one.site) == wanted)
    return next(same, None)
