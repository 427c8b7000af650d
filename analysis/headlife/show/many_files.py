"""Verdicts and stock levels from a folder of many files, on a terminal.

From a `Review`; prints what `headlife evidence FOLDER --answers` shows after the evidence is
written, in the sentences of every review, and what was left out. Calculates nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.show.sentences import counted, rating_sentence, stock_name, stock_sentence
from headlife.show.terminal import console, safe, verdict_text

if TYPE_CHECKING:
    from headlife.decisions.review import Review


def print_answers(found: Review) -> None:
    """Print what was read, the verdict on every rating, and how many new heads to hold."""
    screen = console()
    heads = sum(stratum.heads for stratum in found.strata)
    screen.print(
        safe(
            f"{found.source}: {found.rows_read:,} rows read, {found.rows_accepted:,} accepted "
            f"({counted(heads, 'head', 'heads')}), {len(found.set_aside):,} set aside, "
            f"{counted(len(found.findings), 'doubt', 'doubts')}."
        ),
        style="bold",
    )
    divided = [part for division in found.divisions for part in division.parts]
    for stratum in [*found.strata, *divided]:
        screen.print()
        screen.print(
            safe(
                f"{stratum.name}, rated {stratum.rated_hours:,.0f} h: "
                f"{counted(stratum.heads, 'head', 'heads')}, {stratum.in_service:,} in service"
            ),
            style="bold",
        )
        word = stratum.verdict.verdict if stratum.verdict else None
        screen.print(verdict_text(word), safe(rating_sentence(stratum.verdict)))
    for answer in found.stock:
        screen.print()
        screen.print(safe(f"{stock_name(answer)}: {stock_sentence(answer)} {answer.note}".strip()))
    screen.print()
    for sentence in found.left_out:
        screen.print(safe(f"Left out: {sentence}"))
