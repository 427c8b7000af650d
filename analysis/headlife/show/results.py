"""What does a result show of itself: a line at a prompt, sentences and tables in a notebook?

By the name of its class; the words and tables are those of the pages. A result that is marked with
`headlife.display.shows_itself` and not named here fails its test.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

from headlife.show.looks import LOOKS as OTHERS
from headlife.show.looks import shares_reaching, titled
from headlife.show.markup import Html, paragraphs, stylesheet, typeset
from headlife.show.plain import lines
from headlife.show.terminal import cleaned
from headlife.show.words import budget as budget_words
from headlife.show.words import numbers, rating, stock
from headlife.show.words.days import day
from headlife.show.words.numbers import counted, decimals, hours, most_known, percent, span, whole


def line(result: Any) -> str:
    """Say in one line what a result is.

    Parameters
    ----------
    result : object
        Of a class that `LOOKS` names.

    Returns
    -------
    str
        Such as ``<RatingVerdict holds: 96 % of heads reach 1,200 h (80 to 99.8 %)>``.
    """
    name = type(result).__name__
    return cleaned(f"<{name} {LOOKS[name][0](result)}>")


def markup(result: Any) -> str:
    """Show a result in a notebook.

    Parameters
    ----------
    result : object
        Of a class that `LOOKS` names.

    Returns
    -------
    str
        HTML with its own look.
    """
    shown = LOOKS[type(result).__name__][1](result)
    return f'<style>{stylesheet()}</style><div class="hl">{shown.markup}</div>'


def _records(records: Any) -> str:
    return str(records.summary()).rstrip(".")


def _records_html(records: Any) -> Html:
    from headlife.show.review.doubts import findings_table

    return paragraphs(records.summary()) + findings_table(records.findings)


def _case(case: Any) -> str:
    return f"{case.shop.name}, {case.records.source} as of {case.day.date()}, seed {case.seed}"


def _case_html(case: Any) -> Html:
    here = f"{len(case.fleet.positions)} heads in service, {len(case.lives)} lives"
    return titled(
        f"{case.shop.name}, as of {day(case.day)}",
        paragraphs(case.records.summary(), f"{here}; seed {case.seed}."),
    )


def _life(life: Any) -> str:
    scale = hours(life.scale, most_known(life.evidence.reference_hours))
    found = f"shape {decimals(life.shape, 2)}, scale {scale}"
    failed = counted(round(life.evidence.all_failures), "failure", "failures")
    return f"{found if life.has_ml else 'shape assumed'}: {failed} of {life.evidence.heads:g} heads"


def _life_html(life: Any) -> Html:
    from headlife.show.words.fit import shape_sentence

    at = [life.evidence.reference_hours * share for share in (0.5, 1.0, 1.5, 2.0)]
    return paragraphs(shape_sentence(life)) + shares_reaching(life, at, "")


def _verdict(verdict: Any) -> str:
    return (
        f"{verdict.verdict}: {percent(verdict.share_reaching)} of heads reach "
        f"{hours(verdict.rated_hours)} ({span(*verdict.bounds)})"
    )


def _verdict_html(verdict: Any) -> Html:
    from headlife.show.markup import badge

    shown = Html(f"<p>{badge(verdict.verdict)} {typeset(rating.rating_sentence(verdict))}</p>")
    return shown + paragraphs(rating.claim_sentence(verdict))


def _stratum(one: Any) -> str:
    word = one.verdict.verdict if one.verdict else rating.NO_VERDICT
    return f"{one.name}: {word}, {counted(one.heads, 'head', 'heads')}"


def _stratum_html(one: Any) -> Html:
    evidence = paragraphs(rating.evidence_sentence(one))
    shown = (
        paragraphs(rating.rating_sentence(None))
        if one.verdict is None
        else _verdict_html(one.verdict)
    )
    return titled(one.name, shown, evidence)


def _review(review: Any) -> str:
    ratings = "; ".join(map(_stratum, review.strata))
    return f"{review.shop_name} as of {review.as_of.date()}: {ratings}"


def _review_html(review: Any) -> Html:
    from headlife.show.review.first_screen import first_screen

    return first_screen(review)


def _demand(demand: Any) -> str:
    low, high = demand.interval(0.80)
    return (
        f"{decimals(demand.mean, 1)} heads on average in {demand.weeks:g} weeks, "
        f"{numbers.span_of_heads(low, high)} in four of five cases"
    )


def _demand_html(demand: Any) -> Html:
    from headlife.show.markup import table

    ends = [demand.interval(level) for level in (0.50, 0.80, 0.95)]
    rows = [
        [f"{whole(100 * level)} %", numbers.span_of_heads(*pair), percent(demand.chance_of(*pair))]
        for level, pair in zip((0.50, 0.80, 0.95), ends, strict=True)
    ]
    made = table(
        ["Range", "Heads needed", "Chance"],
        rows,
        caption=f"Heads needed in {demand.weeks:g} weeks",
        numbers=(1, 2),
    )
    return paragraphs(f"{_demand(demand)}.") + made


def _plan(plan: Any) -> str:
    return f"hold {plan.stock_level}, {stock.order_words(plan)}, service {percent(plan.service)}"


def _plan_html(plan: Any) -> Html:
    from headlife.show.markup import table

    rows = [
        [one.stock_level, percent(one.service), percent(one.fill_rate)]
        for one in lines(plan.table)
        if abs(one.stock_level - plan.stock_level) <= 3
    ]
    headings = ["Stock level [heads]", "Nobody waits [%]", "Filled from stock [%]"]
    caption = "Stock level against risk"
    return paragraphs(f"{_plan(plan)}.") + table(headings, rows, caption=caption, numbers=(0, 1, 2))


def _stock(answer: Any) -> str:
    return f"{stock.stock_name(answer)}: {_plan(answer.plan)}"


def _stock_html(answer: Any) -> Html:
    said = stock.stock_sentence(answer), stock.order_sentence(answer), stock.note_sentence(answer)
    return titled(stock.stock_name(answer), paragraphs(*said))


def _budget(budget: Any) -> str:
    heads, total = budget.line("heads"), budget.line("total")
    money = "" if total is None else f" and {budget_words.banded(total)} {budget.currency}"
    return f"four quarters from {budget.start.date()}: {budget_words.banded(heads)} heads{money}"


def _budget_html(budget: Any) -> Html:
    from headlife.show.spares.budget import budget_table

    return paragraphs(budget_words.budget_sentence(budget)) + budget_table(budget)


def _study(study: Any) -> str:
    stocks = "; ".join(map(_stock, study.stock))
    return f"{study.shop_name} as of {study.as_of.date()}: {stocks}"


def _study_html(study: Any) -> Html:
    parts: Sequence[Html] = [_stock_html(answer) for answer in study.stock]
    return titled(study.shop_name, *parts, _budget_html(study.budget))


def _past(past: Any) -> str:
    quarters = past.quarters["quarter"].nunique()
    return f"{counted(quarters, 'past quarter', 'past quarters')}, up to {past.as_of.date()}"


def _past_html(past: Any) -> Html:
    from headlife.show.backtest.section import backtest_table
    from headlife.show.words.past_forecasts import coverage_sentence

    return paragraphs(coverage_sentence(past)) + backtest_table(past)


# Name of a class -> its line at a prompt, and what a notebook shows.
LOOKS: Final[dict[str, tuple[Callable[[Any], str], Callable[[Any], Html]]]] = {
    "Records": (_records, _records_html),
    "Case": (_case, _case_html),
    "Life": (_life, _life_html),
    "RatingVerdict": (_verdict, _verdict_html),
    "Stratum": (_stratum, _stratum_html),
    "Review": (_review, _review_html),
    "Demand": (_demand, _demand_html),
    "StockPlan": (_plan, _plan_html),
    "StockAnswer": (_stock, _stock_html),
    "Budget": (_budget, _budget_html),
    "SparesStudy": (_study, _study_html),
    "Backtest": (_past, _past_html),
    **OTHERS,
}
