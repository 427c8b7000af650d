"""At which age are heads best swapped, what does each age cost, and what does it break?

Two drawings from the answers to one proposal: cost per print hour against replacement age, and
heads used and builds failed per quarter against the age. An age no head has reached is drawn as
what it is, an extrapolation. Draws only.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from headlife.show.figures import style

if TYPE_CHECKING:
    from headlife.decisions.policy.past_rating_answer import PastRating

_BAND: Final = 0.18
TITLE_PAD: Final = 20  # [points], above the name of the rating
_ROOM: Final = 1.4  # of the highest value that matters, top of an axis
_STEPS: Final = (1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)  # ends of an axis
_LINES: Final = (
    ("planned", style.GREEN, (0, (5, 2)), "of this: planned swaps"),
    ("unplanned", style.VERMILLION, (0, (1.5, 1.5)), "of this: failures"),
)
_EVENTS: Final = (
    ("heads", style.BLUE, "heads used"),
    ("failed_builds", style.VERMILLION, "builds failed"),
)


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

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    curve = answer.curve
    ages, expected = curve["age"].to_numpy(float), curve["expected"].to_numpy(float)
    _age_axis(ax, answer, title)
    ax.set_ylim(0, _cost_top(answer, rated_hours))
    ax.set_ylabel(f"Cost per print hour [{answer.costs.currency}/h]")
    style.mark_rating(ax, rated_hours)
    handles = [
        Line2D([], [], color=style.BLUE, linewidth=2.2, label="expected"),
        Patch(facecolor=style.BLUE, alpha=_BAND, label="its 90 % range"),
        *(
            Line2D([], [], color=colour, linestyle=dashes, linewidth=1.5, label=words)
            for _, colour, dashes, words in _LINES
        ),
        *_unseen(answer),
    ]
    style.legend_below(ax, handles=handles)
    style.band(ax, ages, curve["low"], curve["high"], color=style.BLUE, alpha=_BAND)
    _seen_and_beyond(ax, answer, ages, expected, style.BLUE)
    for name, colour, dashes, _ in _LINES:
        ax.plot(ages, curve[name], color=colour, linestyle=dashes, linewidth=1.5)
    _mark_proposed(ax, answer, ages, expected, "o")
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

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    events = answer.events
    ages = events["age"].to_numpy(float)
    _age_axis(ax, answer, title)
    handles = []
    for name, colour, words in _EVENTS:
        ends = events[f"{name}_low"], events[f"{name}_high"]
        style.band(ax, ages, *ends, color=colour, alpha=_BAND)
        _seen_and_beyond(ax, answer, ages, events[name].to_numpy(float), colour)
        handles.append(Line2D([], [], color=colour, linewidth=2.2, label=words))
    ax.set_ylim(0, _ROOM * float(np.interp(rated_hours, ages, events["heads_high"])))
    ax.set_ylabel("Heads per quarter [heads/quarter]")
    style.mark_rating(ax, rated_hours)
    style.legend_below(ax, handles=[*handles, *_unseen(answer)])
    _mark_proposed(ax, answer, ages, events["failed_builds"].to_numpy(float), "s")
    return ax


def _seen_and_beyond(
    ax: Axes, answer: PastRating, ages: np.ndarray, values: np.ndarray, colour: str
) -> None:
    """Draw a line solid where heads have been seen and dotted beyond."""
    last = int((ages <= answer.advice.oldest_seen).sum())
    beyond = max(last - 1, 0)
    ax.plot(ages[:last], values[:last], color=colour, linewidth=2.2)
    ax.plot(ages[beyond:], values[beyond:], color=colour, linewidth=2.0, linestyle=(0, (1, 1.2)))


def _age_axis(ax: Axes, answer: PastRating, title: str) -> None:
    """Set the axis of ages and shade what lies beyond the oldest head seen."""
    seen, end = answer.advice.oldest_seen, float(answer.curve["age"].iloc[-1])
    ax.set_title(title, pad=TITLE_PAD)
    ax.set_xlim(0, end)
    ax.set_xlabel("Age at which working heads are swapped [h]")
    style.hours_axis(ax.xaxis)
    if seen < end:
        ax.axvspan(seen, end, zorder=0, **style.UNSEEN)


def _unseen(answer: PastRating) -> list[Patch]:
    """Explain the shading in the legend, where there is any."""
    seen, end = answer.advice.oldest_seen, float(answer.curve["age"].iloc[-1])
    words = f"past {seen:,.0f} h: no head seen"
    return [Patch(label=words, **style.UNSEEN)] if seen < end else []


def _mark_proposed(
    ax: Axes, answer: PastRating, ages: np.ndarray, values: np.ndarray, marker: str
) -> None:
    age = answer.choices.age_hours
    if age > ages[-1]:
        return
    at = float(np.interp(age, ages, values))
    ax.plot([age], [at], marker, color=style.INK, markersize=7, zorder=5)
    # Near the right end the words stand to the left of their mark.
    left = age > 0.8 * ages[-1]
    side, away = ("right", -7) if left else ("left", 7)
    bold = {"fontweight": "bold", "annotation_clip": True}
    style.note(ax, f"{age:,.0f} h", (age, at), "data", (away, 7), ha=side, **bold)


def _cost_top(answer: PastRating, rated_hours: float) -> float:
    curve = answer.curve
    at_rating = float(np.interp(rated_hours, curve["age"], curve["high"]))
    return rounded_up(max(_ROOM * at_rating, 1.1 * float(curve["expected"].min())))


def rounded_up(value: float) -> float:
    """Round up to an end that looks well on an axis, the same for answers close to each other.

    Parameters
    ----------
    value : float
        Largest value on the axis.

    Returns
    -------
    float
        The end.
    """
    decade = 10.0 ** math.floor(math.log10(value))
    return next(step * decade for step in _STEPS if step * decade >= value * (1 - 1e-12))
