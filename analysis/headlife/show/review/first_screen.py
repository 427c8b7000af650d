"""The first screen: does the rating hold, how many spares, which heads to watch?

From a `Review`; gives one card per head type with a sentence for each role, then the notes on how
to read them. Computes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from headlife.show.actions.section import action_list
from headlife.show.markup import Html, badge, escape, first_lines, share_bar, typeset
from headlife.show.review.doubts import other_stock, other_stratum
from headlife.show.review.watched import stratum_watch
from headlife.show.words import rating, standing, stock
from headlife.show.words.days import day
from headlife.show.words.newest import bought_now_sentence, purchase_sentence
from headlife.show.words.numbers import hours, percent, sentences, span
from headlife.show.words.practice import practice_sentence
from headlife.show.words.records import rows_read

if TYPE_CHECKING:
    from headlife.decisions.actions import Actions
    from headlife.decisions.review_answers import Division, Review, Stratum
    from headlife.decisions.spares.levels import StockAnswer
    from headlife.decisions.two_ways import TwoWays


def first_screen(
    review: Review, both: TwoWays | None = None, actions: Actions | None = None
) -> Html:
    """Answer the quarter on one screen.

    Parameters
    ----------
    review : Review
        The answers.
    both : TwoWays, optional
        The answers with removals in doubt read the other way, told beside them.
    actions : Actions, optional
        What is to be done, told first.

    Returns
    -------
    Html
        A piece of the page.
    """
    cards = [
        _card(
            review,
            both,
            [answer for answer in review.stock if answer.head_type == head_type],
            [stratum for stratum in review.strata if stratum.head_type == head_type],
        )
        for head_type in dict.fromkeys(stratum.head_type for stratum in review.strata)
    ]
    when = f"as of {day(review.as_of)} · {rows_read(review)}"
    head = first_lines("Quarterly head review", review.shop_name, when) + action_list(actions)
    return head + Html(
        f'<div class="cards">{"".join(cards)}</div>{_without_card(review)}'
        f"{_practised(review)}"
        f'<p class="reading">{typeset(_reading(review))}</p>',
    )


def _without_card(review: Review) -> str:
    """Tell of stocks of head types that nobody has run yet, such as those of a new printer."""
    judged = {stratum.head_type for stratum in review.strata}
    return "".join(
        f'<p class="reading"><b>{escape(stock.stock_name(answer))}</b> '
        f"{typeset(stock.note_sentence(answer))}</p>"
        for answer in review.stock
        if answer.head_type not in judged and stock.note_sentence(answer)
    )


def _practised(review: Review) -> str:
    """Ask about every head type for which the shop clearly does not do what it says."""
    said = [practice_sentence(found) for found in review.practised]
    return "".join(f'<p class="reading">{typeset(one)}</p>' for one in said if one)


def _card(
    review: Review, both: TwoWays | None, stocks: list[StockAnswer], strata: list[Stratum]
) -> str:
    ratings = "".join(_rating_line(review, stratum, both) for stratum in strata)
    of_all = stock.said_of_all(stocks, review.last_quarter)
    spares = "".join(_stock_line(review, answer, both, of_all) for answer in stocks)
    if of_all:
        spares += f'<p class="line">{_soft(*of_all)}</p>'
    watch = "".join(
        f"<b>{escape(_role(s))}</b><p>{typeset(stratum_watch(review, s))}</p>" for s in strata
    )
    return (
        f'<section class="card"><h2>{escape(strata[0].head_type)}'
        f'<span class="rated">rated {hours(strata[0].rated_hours)}</span></h2>'
        f"<h3>Does the rating hold?</h3>{ratings}"
        f"<h3>How many spares?</h3>{spares}"
        f'<h3>Which heads to watch?</h3><div class="watched">{watch}</div></section>'
    )


def _stock_line(
    review: Review, answer: StockAnswer, both: TwoWays | None, of_all: Sequence[str]
) -> str:
    site = f"<b>{escape(answer.site)}</b> " if answer.site is not None else ""
    notes = (
        *stock.said_of_one(answer, of_all),
        stock.doubt_sentence(answer, other_stock(answer, both)),
        "" if of_all else stock.last_quarter_sentence(review.last_quarter, answer.head_type),
    )
    return (
        f'<p class="line">{site}{badge(stock.order_words(answer.plan))} '
        f"{typeset(stock.stock_sentence(answer))}{_soft(*notes)}</p>"
    )


def _soft(*notes: str) -> str:
    said = sentences(*notes)
    return f' <span class="note">{typeset(said)}</span>' if said else ""


def _rating_line(review: Review, stratum: Stratum, both: TwoWays | None) -> str:
    """Judge what is bought now where that is told apart, else all heads; then the others."""
    words = f"{rating.rating_sentence(stratum.verdict)} {rating.assumed_sentence(stratum)}".strip()
    notes = (
        standing.standing_sentence(review.standings.get(stratum.group)),
        rating.basis(stratum),
        rating.doubt_sentence(stratum, other_stratum(stratum, both)),
    )
    divided = [
        one
        for one in review.divisions
        if one.group == stratum.group and one.purchases and len(one.parts) > 1
    ]
    parts = review.decisive(stratum)
    if parts[0].group == stratum.group:
        young = "".join(
            f"<p>{typeset(bought_now_sentence(review, one, named=False))}</p>" for one in divided
        )
        return _verdict_line(review, stratum, f"{typeset(words)}{_soft(*notes)}", young)
    lines = [_verdict_line(review, part, _of_part(review, divided, part)) for part in parts]
    stated = review.stated_verdict(stratum)
    all_heads = _soft(f"All {stratum.name} heads on record: {stated}. {words}", *notes)
    return f'{"".join(lines)}<p class="line">{all_heads}</p>'


def _of_part(review: Review, divided: Sequence[Division], part: Stratum) -> str:
    """Say what the verdict is on one part that is bought now, and how it stands."""
    division = next(d for d in divided if any(one.group == part.group for one in d.purchases))
    notes = (
        standing.standing_sentence(review.standings.get(part.group)),
        rating.basis(part),
    )
    return f"{typeset(purchase_sentence(review, division, part))}{_soft(*notes)}"


def _verdict_line(review: Review, stratum: Stratum, words: str, more: str = "") -> str:
    """Badge, bar and words of one verdict."""
    role, verdict = escape(_role(stratum)), stratum.verdict
    if verdict is None:
        return f'<div class="line rating"><b>{role}</b><p>{words}</p></div>'
    low, high = verdict.bounds
    bar = share_bar(
        low,
        verdict.share_reaching,
        high,
        verdict.share,
        f"{percent(verdict.share_reaching)} reach the rating, "
        f"{span(low, high)}; claimed {percent(verdict.share)}",
    )
    stated = badge(review.stated_verdict(stratum) or verdict.verdict)
    return f'<div class="line rating"><b>{role}</b> {stated}{bar}<p>{words}</p>{more}</div>'


def _role(stratum: Stratum) -> str:
    return stratum.role.capitalize()


def _reading(review: Review) -> str:
    judged = [s.verdict for s in review.strata if s.verdict is not None]
    if not judged:
        return ""
    claim = percent(judged[0].share)
    return (
        f"{rating.claim_sentence(judged[0])} On each bar the dot is the estimate, the thick line "
        f"its range and the tick the claimed {claim}."
    )
