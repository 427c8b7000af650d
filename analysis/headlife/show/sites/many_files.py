"""Verdicts and stock levels from a folder of many files, on a terminal.

From a `LargeReview`; prints what `headlife evidence FOLDER --answers` shows after the evidence is
written. Calculates nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.show.sentences import chance, counted, rating_sentence
from headlife.show.terminal import console, safe, verdict_text

if TYPE_CHECKING:
    from headlife.scale.cluster import LargeReview, LargeStock


def print_answers(found: LargeReview) -> None:
    """Print what was read, the verdict on every rating, and how many new heads to hold."""
    screen = console()
    whole = found.whole
    screen.print(
        safe(
            f"{found.source}: {whole.rows_read:,} rows read, {whole.accepted:,} accepted "
            f"({counted(whole.heads, 'head', 'heads')}), {len(whole.set_aside):,} set aside, "
            f"{counted(len(whole.findings), 'doubt', 'doubts')}."
        ),
        style="bold",
    )
    for stratum in found.strata:
        evidence = stratum.evidence
        screen.print()
        screen.print(
            safe(
                f"{evidence.head_type}, {evidence.role}, rated {evidence.rated_hours:,.0f} h: "
                f"{counted(evidence.heads, 'head', 'heads')}, {stratum.in_service:,} in service"
            ),
            style="bold",
        )
        word = stratum.verdict.verdict if stratum.verdict else None
        screen.print(verdict_text(word), safe(rating_sentence(stratum.verdict)))
    for stock in found.stock:
        screen.print()
        screen.print(safe(_stock(stock)))


def _stock(stock: LargeStock) -> str:
    plan, weeks = stock.plan, stock.demand.weeks
    return (
        f"{stock.head_type}, all sites together: hold {counted(plan.stock_level, 'head', 'heads')} "
        f"for {weeks:g} weeks ({stock.demand.mean:,.1f} needed on average), enough with a chance "
        f"of {chance(plan.service)}; {plan.on_hand:,} on the shelf and {plan.on_order:,} on order, "
        f"so order {plan.order_now:,} now. Joint visits, part-used heads on the shelf, planned "
        f"changes and new printers are not counted; {stock.draws:,} futures."
    )
