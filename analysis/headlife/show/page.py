"""The sections of the review below its first screen: figures with their tables.

From a `Review` and the records it was made from; each function gives one piece of `Html` for a
cell of the notebook. Draws with `headlife.show.figures`; computes no answer.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from headlife.life import curves, nonparametric
from headlife.show import sentences
from headlife.show.figures import demand, probability, style, survival, timeline
from headlife.show.markup import Html, badge, panels, table

if TYPE_CHECKING:
    from headlife.decisions.review import Review, StockAnswer, Stratum
    from headlife.records.record_set import Records
    from headlife.shop import Shop

_ROW_HEIGHT: Final = 0.235  # [in] of one printer position on the timeline
_NEAR_LEVEL: Final = 3  # stock levels shown below and above the planned one


def shop_in_force(path: str, *, seed: int | None = None, set_aside: str | None = None) -> Shop:
    """Read the shop's settings, with the choices made for this run in place of its own.

    Parameters
    ----------
    path : str
        The settings file.
    seed : int, optional
        Seed of the random numbers.
    set_aside : {"stop", "continue"}, optional
        What to do when rows cannot be used.
    """
    from headlife.shop import read_shop

    shop = read_shop(path)
    chosen = {"seed": seed, "set_aside": set_aside}
    asked = {name: value for name, value in chosen.items() if value is not None}
    return shop.with_(review=asked)


def rating_table(review: Review) -> Html:
    """Tabulate what the records say about each rating."""
    headings = [
        "Head type, role",
        "Verdict",
        "Chance the claim is true",
        "Rated [h]",
        "Reach the rating [%]",
        "Hours the claimed share reaches [h]",
        "Heads",
        "Print hours [h]",
        "Failures",
        "Weibull shape [-]",
        "Weibull scale [h]",
    ]
    return table(
        headings,
        [_rating_row(stratum) for stratum in review.strata],
        caption="Rating by head type and role",
        numbers=(2, 3, 4, 5, 6, 7, 9, 10),
    )


def _rating_row(stratum: Stratum) -> list[object]:
    failed = ", ".join(f"{count} {mode}" for mode, count in stratum.failures.items())
    record = [stratum.heads, f"{sentences.hours_run(stratum.lives):,.0f}", failed or "none"]
    rated = f"{stratum.rated_hours:,.0f}"
    verdict, life = stratum.verdict, stratum.life
    if verdict is None or life is None:
        unknown = ["unknown", "unknown"]
        return [stratum.name, "no hours yet", "unknown", rated, *unknown, *record, "–", "–"]
    learned = life.has_ml and life.shape_learned
    return [
        stratum.name,
        Html(badge(verdict.verdict)),
        sentences.chance(verdict.probability),
        rated,
        f"{sentences.percent(verdict.share_reaching)} ({sentences.span(*verdict.bounds)})",
        sentences.hours_at_share(verdict),
        *record,
        f"{life.shape:.2f}" if learned else "assumed",
        f"{life.scale:,.0f}" if learned else "–",
    ]


def survival_figures(review: Review) -> Html:
    """Draw heads still running against print hours, one panel per head type and role."""
    return panels([_survival(stratum) for stratum in review.strata if stratum.life is not None])


def _survival(stratum: Stratum) -> str:
    lives, life, verdict = stratum.lives, stratum.life, stratum.verdict
    last = _last_hours(stratum)
    steps = nonparametric.kaplan_meier(lives, _failed(stratum))
    fitted = curves.fitted_survival(life, last)
    shown = None if verdict is None else (verdict.share_reaching, *verdict.bounds)
    picture = style.as_svg(
        lambda ax: survival.draw_survival(
            ax,
            steps,
            fitted,
            lives,
            stratum.rated_hours,
            claim_share=verdict.share if verdict else None,
            share_bounds=shown,
            title=stratum.name,
        )
    )
    said = sentences.rating_sentence(verdict)
    return style.figure_html(
        picture,
        f"Share of {stratum.name} heads still running against print hours, observed and fitted, "
        f"rated {sentences.hours(stratum.rated_hours)}. {said}",
        sentences.evidence_sentence(stratum),
    )


def probability_figures(review: Review) -> Html:
    """Draw the failures on Weibull paper, one panel per head type and role."""
    return panels([_probability(stratum) for stratum in review.strata if stratum.life is not None])


def _probability(stratum: Stratum) -> str:
    points = nonparametric.plotting_positions(stratum.lives, _failed(stratum))
    last = _last_hours(stratum)
    first = min([last / 12, *(0.7 * points["hours"]).tolist()])
    line = curves.fitted_line(stratum.life, max(first, last / 1000), last * 1.3)
    picture = style.as_svg(
        lambda ax: probability.draw_probability(
            ax, points, line, stratum.rated_hours, title=stratum.name
        )
    )
    late = int((stratum.lives["entry_hours"] > 0).sum())
    how = (
        f"Points at the middle of each Kaplan–Meier step, because "
        f"{sentences.counted(late, 'head', 'heads')} came with hours already on the counter."
        if late
        else "Points at median ranks, adjusted for heads taken out before they failed."
    )
    return style.figure_html(
        picture,
        f"Failures of {stratum.name} heads on Weibull paper with the fitted line and its band, "
        f"rated {sentences.hours(stratum.rated_hours)}.",
        how,
    )


def demand_figures(review: Review) -> Html:
    """Draw the demand of each head type against its stock level."""
    return panels([_demand(answer) for answer in review.stock])


def _demand(answer: StockAnswer) -> str:
    plan = answer.plan
    bars = demand.demand_bars(answer.demand.pmf, plan.stock_level)
    picture = style.as_svg(
        lambda ax: demand.draw_demand(
            ax,
            bars,
            plan.stock_level,
            plan.service_level,
            horizon_weeks=answer.horizon_weeks,
            title=sentences.stock_name(answer),
        )
    )
    said = sentences.stock_sentence(answer)
    return style.figure_html(
        picture,
        f"Probability of each number of {sentences.stock_name(answer)} heads needed. {said}",
        f"{said} {answer.note}".strip(),
    )


def stock_table(review: Review) -> Html:
    """Tabulate stock level against risk, a few levels around the planned one."""
    rows = []
    for answer in review.stock:
        level = answer.plan.stock_level
        near = answer.plan.table[
            answer.plan.table["stock_level"].between(level - _NEAR_LEVEL, level + _NEAR_LEVEL)
        ]
        for line in sentences.lines(near):
            planned = " ← planned" if line.stock_level == level else ""
            rows.append(
                [
                    sentences.stock_name(answer),
                    f"{line.stock_level}{planned}",
                    sentences.percent(line.service),
                    sentences.percent(line.fill_rate),
                    f"{line.expected_shortfall:.2f}",
                ]
            )
    return table(
        [
            "Head type",
            "Stock level [heads]",
            "Nobody waits (cycle service) [%]",
            "Requests filled from stock (fill rate) [%]",
            "Heads short on average [heads]",
        ],
        rows,
        caption="Stock level against risk, over lead time and review period",
        numbers=(1, 2, 3, 4),
    )


def watch_table(review: Review) -> Html:
    """List every head in service, the least likely to finish the next long build first."""
    build = f"{review.build_hours:g} h"
    rows = [
        [
            line.head,
            f"{sentences.chance(line.probability)} ({sentences.span(line.low, line.high)})",
            f"{line.printer} {line.position}",
            f"{line.age_hours:,.0f}",
            f"{100 * line.age_hours / line.rated_hours:.0f} %",
            f"{line.head_type}, {line.role}",
        ]
        for line in sentences.lines(review.watch)
    ]
    return table(
        [
            "Head",
            f"Chance to finish a build of {build}",
            "Place",
            "Hours now [h]",
            "Of its rating [%]",
            "Head type, role",
        ],
        rows,
        caption="Heads in service, the least likely to finish first",
        numbers=(1, 3, 4),
    )


def timeline_figure(records: Records, review: Review) -> Html:
    """Draw the fleet over the calendar: positions, removals by reason, heads in service."""
    bars = timeline.installations(records.accepted, review.as_of)
    counts = timeline.heads_in_service(bars)
    rows = int(bars["line"].max()) + 1 if len(bars) else 1
    height = 1.2 + _ROW_HEIGHT * rows

    def drawn(width: float, columns: int) -> bytes:
        return style.as_svg(
            lambda ax: timeline.draw_timeline(ax, bars, legend_columns=columns),
            lambda ax: timeline.draw_in_service(ax, counts),
            size=(width, height + 1.6),
            heights=(height, 1.4),
        )

    picture = style.figure_html(
        drawn(10.8, 8),
        f"Installations of heads in {rows} printer positions over the calendar, with a mark at "
        "each removal by its reason, and the number of heads in service below.",
        "One line per printer position. A mark ends an installation: solid for a failure, hollow "
        "for a head taken out while it still worked.",
        narrow=drawn(5.2, 3),
        css="whole",
    )
    return Html(picture, "figure: the fleet over the calendar")


def set_aside_table(review: Review) -> Html:
    """List every row that was not used and why."""
    rows = review.set_aside[["row", "column", "value", "problem"]].to_numpy(object).tolist()
    return table(
        ["Row", "Column", "Value", "What is wrong"],
        rows,
        caption="Rows set aside",
        numbers=(0,),
    )


def _failed(stratum: Stratum) -> Any:
    """Mark the lives that ended in the mode the rating is about."""
    primary = sentences.primary_mode(stratum)
    return (stratum.lives["mode"] == primary).fillna(False).to_numpy(bool)


def _last_hours(stratum: Stratum) -> float:
    """End of the hours axis: past the oldest head and past the rating [h]."""
    oldest = float(stratum.lives["exit_hours"].max()) if len(stratum.lives) else 0.0
    return 1.12 * max(oldest, stratum.rated_hours)
