"""The first screen: does the rating hold, how many spares, which heads to watch?

From a `Review`; gives one card per head type with a sentence for each role, then the notes on how
to read them, and at the end of the page the cautions and the stamp. Computes nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.show import sentences
from headlife.show.answers import stamp
from headlife.show.cautions import CAUTIONS
from headlife.show.doubts import doubt_line, stock_doubt
from headlife.show.markup import Html, badge, escape, share_bar, typeset

if TYPE_CHECKING:
    from headlife.case import Provenance
    from headlife.decisions.review import Review, StockAnswer, Stratum
    from headlife.decisions.two_ways import TwoWays


def headline(review: Review, both: TwoWays | None = None) -> Html:
    """Answer the quarter on one screen.

    Parameters
    ----------
    review : Review
        The answers.
    both : TwoWays, optional
        The answers with removals in doubt read the other way, told beside them.
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
    return Html(
        f'<header class="first"><p class="what">Quarterly head review</p>'
        f"<h1>{escape(review.shop_name)}</h1>"
        f'<p class="when">as of {_date(review)} · {escape(_rows(review))}</p></header>'
        f'<div class="cards">{"".join(cards)}</div>{_without_card(review)}'
        f'<p class="reading">{typeset(_reading(review))}</p>',
        f"Quarterly head review of {review.shop_name}",
    )


def _without_card(review: Review) -> str:
    """Tell of stocks of head types that nobody has run yet, such as those of a new printer."""
    judged = {stratum.head_type for stratum in review.strata}
    return "".join(
        f'<p class="reading"><b>{escape(sentences.stock_name(answer))}</b> '
        f"{typeset(answer.note)}</p>"
        for answer in review.stock
        if answer.head_type not in judged and answer.note
    )


def closing(made_from: Provenance) -> Html:
    """Close the page: cautions, then what it was made from."""
    cautions = "".join(f"<li>{escape(caution)}</li>" for caution in CAUTIONS)
    made = stamp(made_from)
    lines = (
        ("Records", f"{made_from.source}, SHA-256 {made['records_sha256']}"),
        ("Settings", f"SHA-256 {made['settings_sha256']}"),
        ("As of", made["as_of"]),
        ("Seed", made["seed"]),
        ("headlife", f"version {made['version']}"),
    )
    stamped = "".join(f"<dt>{escape(name)}</dt><dd>{escape(text)}</dd>" for name, text in lines)
    return Html(
        f'<footer class="closing"><h2>Before you act on this page</h2><ul>{cautions}</ul>'
        "<h2>Made from</h2>"
        f'<dl class="stamp">{stamped}</dl>'
        "<p>The same records, settings, date, seed and version give the same page.</p></footer>",
        "cautions, and what this page was made from",
    )


def _card(
    review: Review, both: TwoWays | None, stock: list[StockAnswer], strata: list[Stratum]
) -> str:
    ratings = "".join(_rating_line(stratum, both) for stratum in strata)
    spares = "".join(_stock_line(review, answer, both) for answer in stock)
    watch = "".join(
        f"<b>{escape(_role(s))}</b><p>{typeset(_watched(review, s))}</p>" for s in strata
    )
    return (
        f'<section class="card"><h2>{escape(strata[0].head_type)}'
        f'<span class="rated">rated {sentences.hours(strata[0].rated_hours)}</span></h2>'
        f"<h3>Does the rating hold?</h3>{ratings}"
        f"<h3>How many spares?</h3>{spares}"
        f'<h3>Which heads to watch?</h3><div class="watched">{watch}</div></section>'
    )


def _stock_line(review: Review, answer: StockAnswer, both: TwoWays | None) -> str:
    order = f"order {answer.plan.order_now} now" if answer.plan.order_now else "order none"
    site = f"<b>{escape(answer.site)}</b> " if answer.site is not None else ""
    notes = (
        answer.ahead,
        stock_doubt(answer, both),
        sentences.last_quarter_sentence(review.last_quarter, answer.head_type),
    )
    return (
        f'<p class="line">{site}{badge(order)} '
        f"{typeset(sentences.stock_sentence(answer))}{_soft(*notes)}</p>"
    )


def _soft(*notes: str) -> str:
    said = " ".join(note for note in notes if note)
    return f' <span class="note">{typeset(said)}</span>' if said else ""


def _rating_line(stratum: Stratum, both: TwoWays | None) -> str:
    verdict = stratum.verdict
    words = typeset(sentences.rating_sentence(verdict))
    notes = _soft(sentences.basis(stratum), doubt_line(stratum, both))
    if verdict is None:
        return f'<div class="line rating"><b>{escape(_role(stratum))}</b><p>{words}</p></div>'
    low, high = verdict.bounds
    bar = share_bar(
        low,
        verdict.share_reaching,
        high,
        verdict.share,
        f"{sentences.percent(verdict.share_reaching)} reach the rating, "
        f"{sentences.span(low, high)}; claimed {sentences.percent(verdict.share)}",
    )
    return (
        f'<div class="line rating"><b>{escape(_role(stratum))}</b> {badge(verdict.verdict)}{bar}'
        f"<p>{words}{notes}</p></div>"
    )


def _watched(review: Review, stratum: Stratum) -> str:
    return sentences.watch_sentence(
        sentences.stratum_watch(review.watch, stratum), review.build_hours
    )


def _role(stratum: Stratum) -> str:
    return stratum.role.capitalize()


def _rows(review: Review) -> str:
    aside = review.rows_read - review.rows_accepted
    read = f"{review.rows_read:,} rows read from {review.source}"
    return f"{read}, {aside:,} set aside" if aside else f"{read}, all used"


def _date(review: Review) -> str:
    day = review.as_of
    return f"{day.day} {day:%B %Y}"


def _reading(review: Review) -> str:
    judged = [s.verdict for s in review.strata if s.verdict is not None]
    if not judged:
        return ""
    sure, share = sentences.percent(judged[0].confidence), sentences.percent(judged[0].share)
    return (
        f"The claim judged: at least {share} of heads reach their rated hours. It holds, or falls "
        f"short, once that is at least {sure} sure; otherwise it is not settled. Ranges run from a "
        f"lower to an upper bound, each of them {sure} sure. On each bar the dot is the estimate, "
        f"the thick line its range and the tick the claimed {share}."
    )
