"""At which age are heads best swapped, and what does each policy cost and break?

Three drawings from the answers to one proposal: cost per print hour against replacement age, the
policies side by side, and heads used and builds failed per quarter against the age. An age no head
has reached is drawn as what it is, an extrapolation. Draws only.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.axes import Axes

from headlife.show.figures import style

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.past_rating import PastRating

_BAND: Final = 0.18
_ROOM: Final = 1.45  # of the highest value that matters, top of the cost axis


def draw_cost_curve(ax: Axes, answer: PastRating, rated_hours: float, *, title: str = "") -> Axes:
    """Draw cost per print hour against replacement age, planned and unplanned apart.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    answer : PastRating
        Its curve, proposal and advice.
    rated_hours : float
        Marked [h].
    title : str
        Kind of head.
    """
    curve, seen = answer.curve, answer.advice.oldest_seen
    ages = curve["age"].to_numpy(float)
    inside = ages <= seen
    ax.fill_between(
        ages, curve["low"], curve["high"], color=style.BLUE, alpha=_BAND, linewidth=0,
        label="nine chances in ten",
    )  # fmt: skip
    _seen_and_beyond(ax, ages, curve["expected"].to_numpy(float), inside, style.BLUE, "expected")
    for name, colour, dashes, words in (
        ("planned", style.GREEN, (0, (5, 2)), "of this: planned swaps"),
        ("unplanned", style.VERMILLION, (0, (1.5, 1.5)), "of this: failures"),
    ):
        ax.plot(ages, curve[name], color=colour, linestyle=dashes, linewidth=1.5, label=words)
    _frame(ax, answer, ages, title)
    top = _ROOM * float(np.interp(rated_hours, ages, curve["high"]))
    ax.set_ylim(0, max(top, 1.1 * float(curve["expected"].min())))
    _mark_proposed(ax, answer, ages, curve["expected"].to_numpy(float), "o")
    ax.set_ylabel(f"Cost per print hour [{answer.costs.currency}/h]")
    style.mark_rating(ax, rated_hours)
    ax.legend(loc="upper right", fontsize=8.5, borderaxespad=0.2)
    return ax


def draw_events(ax: Axes, answer: PastRating, rated_hours: float, *, title: str = "") -> Axes:
    """Draw heads used and builds failed per quarter against replacement age.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    answer : PastRating
        Its events, proposal and advice.
    rated_hours : float
        Marked [h].
    title : str
        What the picture is called.
    """
    events, seen = answer.events, answer.advice.oldest_seen
    ages = events["age"].to_numpy(float)
    inside = ages <= seen
    for name, colour, words in (
        ("heads", style.BLUE, "heads used"),
        ("failed_builds", style.VERMILLION, "builds failed"),
    ):
        ax.fill_between(
            ages, events[f"{name}_low"], events[f"{name}_high"],
            color=colour, alpha=_BAND, linewidth=0,
        )  # fmt: skip
        _seen_and_beyond(ax, ages, events[name].to_numpy(float), inside, colour, words)
    _frame(ax, answer, ages, title)
    ax.set_ylim(0, _ROOM * float(np.interp(rated_hours, ages, events["heads_high"])))
    _mark_proposed(ax, answer, ages, events["failed_builds"].to_numpy(float), "s")
    ax.set_ylabel("Per quarter [heads], [builds]")
    style.mark_rating(ax, rated_hours)
    ax.legend(loc="upper right", fontsize=8.5, borderaxespad=0.2)
    return ax


def draw_policies(ax: Axes, answer: PastRating, *, title: str = "") -> Axes:
    """Draw the policies side by side: expected cost with its range, odds against the rating.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned; one line per policy, the first at the top.
    answer : PastRating
        Its table of policies.
    title : str
        What the picture is called.
    """
    table: pd.DataFrame = answer.table
    lines = np.arange(len(table))
    cost = table["cost_per_hour"].to_numpy(float)
    low, high = table["cost_low"].to_numpy(float), table["cost_high"].to_numpy(float)
    ax.hlines(lines, low, high, color=style.BLUE, alpha=0.45, linewidth=6)
    ax.plot(cost, lines, "o", color=style.INK, markersize=5.5)
    ax.axvline(answer.at_rating.cost_per_hour.expected, color=style.INK, linewidth=1.1,
               linestyle=(0, (4, 3)), zorder=1.5)  # fmt: skip
    for line, (name, odds) in enumerate(
        zip(table["policy"], table["probability_cheaper"], strict=True)
    ):
        words = "the yardstick" if name == "at the rating" else f"cheaper: {_odds(float(odds))}"
        ax.annotate(
            words, (1.0, line), xycoords=("axes fraction", "data"), xytext=(6, 0),
            textcoords="offset points", va="center", ha="left", fontsize=8.5,
        )  # fmt: skip
    ax.set_yticks(lines, table["policy"], fontsize=9)
    ax.set_ylim(len(table) - 0.5, -0.5)
    ax.set_xlim(0, 1.08 * float(high.max()))
    ax.set_title(title)
    ax.set_xlabel(f"Cost per print hour, spares included [{answer.costs.currency}/h]")
    return ax


def _seen_and_beyond(
    ax: Axes, ages: np.ndarray, values: np.ndarray, inside: np.ndarray, colour: str, words: str
) -> None:
    """Draw a line solid where heads have been seen and dotted beyond."""
    last = int(inside.sum())
    ax.plot(ages[:last], values[:last], color=colour, linewidth=2.2, label=words)
    ax.plot(ages[max(last - 1, 0) :], values[max(last - 1, 0) :], color=colour, linewidth=2.0,
            linestyle=(0, (1, 1.2)))  # fmt: skip


def _frame(ax: Axes, answer: PastRating, ages: np.ndarray, title: str) -> None:
    """Set the axis of ages and hatch what lies beyond the oldest head seen."""
    seen = answer.advice.oldest_seen
    ax.set_title(title, pad=20)
    ax.set_xlim(0, float(ages[-1]))
    ax.set_xlabel("Age at which working heads are swapped [h]")
    style.hours_axis(ax.xaxis)
    if seen < ages[-1]:
        ax.axvspan(seen, float(ages[-1]), facecolor=style.PALE, alpha=0.45, linewidth=0, zorder=0)
        ax.annotate(
            f"no head seen past {seen:,.0f} h:\nextrapolation",
            (seen, 0.0), xycoords=("data", "axes fraction"), xytext=(5, 6),
            textcoords="offset points", fontsize=8.5, color=style.GREY, va="bottom",
        )  # fmt: skip


def _mark_proposed(
    ax: Axes, answer: PastRating, ages: np.ndarray, values: np.ndarray, marker: str
) -> None:
    age = answer.choices.age_hours
    if age is None or age > ages[-1]:
        return
    at = float(np.interp(age, ages, values))
    ax.plot([age], [at], marker, color=style.INK, markersize=7, zorder=5)
    ax.annotate(
        f"{age:,.0f} h", (age, at), xytext=(7, 7), textcoords="offset points", fontsize=9,
        fontweight="bold",
    )  # fmt: skip


def _odds(probability: float) -> str:
    if probability < 0.01:
        return "under 1 %"
    return "over 99 %" if probability > 0.99 else f"{100 * probability:.0f} %"
