"""At which age are heads best swapped, what does each age cost, and what does it break?

Two drawings from the answers to one proposal: cost per print hour against replacement age, and
heads used and builds failed per quarter against the age. An age no head has reached is drawn as
what it is, an extrapolation. Each drawing is a frame, which stays while a slider moves, and its
content, which does not. Draws only.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from headlife.show.figures import style

if TYPE_CHECKING:
    from headlife.decisions.policy.past_rating_answer import PastRating

Artists = list[Artist]

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
    cost_frame(ax, answer, rated_hours, title=title)
    cost_content(ax, answer)
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
    events_frame(ax, answer, rated_hours, title=title)
    events_content(ax, answer)
    return ax


def limits(answer: PastRating, rated_hours: float) -> tuple[Any, ...]:
    """Give what a frame depends on: while this stays, only the content changes.

    Parameters
    ----------
    answer : PastRating
        What is drawn.
    rated_hours : float
        The rating [h].

    Returns
    -------
    tuple
        Values to compare with those of the frame in place.
    """
    return (
        _cost_top(answer, rated_hours),
        answer.costs.currency,
    )


def cost_frame(ax: Axes, answer: PastRating, rated_hours: float, *, title: str) -> None:
    """Draw what stays of the cost curve: axes, rating, what no head has reached, legend.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    answer : PastRating
        Its curve and advice.
    rated_hours : float
        Marked [h].
    title : str
        Kind of head.
    """
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


def cost_content(ax: Axes, answer: PastRating) -> Artists:
    """Draw what changes of the cost curve; gives its artists.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    answer : PastRating
        Its curve, proposal and advice.

    Returns
    -------
    list of Artist
        What was drawn, to be removed before the next.
    """
    curve = answer.curve
    ages, expected = curve["age"].to_numpy(float), curve["expected"].to_numpy(float)
    drawn: Artists = [
        ax.fill_between(
            ages, curve["low"], curve["high"], color=style.BLUE, alpha=_BAND, linewidth=0
        )
    ]
    drawn += _seen_and_beyond(ax, answer, ages, expected, style.BLUE)
    for name, colour, dashes, _ in _LINES:
        drawn += ax.plot(ages, curve[name], color=colour, linestyle=dashes, linewidth=1.5)
    return drawn + _mark_proposed(ax, answer, ages, expected, "o")


def events_frame(ax: Axes, answer: PastRating, rated_hours: float, *, title: str) -> None:
    """Draw what stays of the events: curves and all, for they do not depend on costs.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    answer : PastRating
        Its events.
    rated_hours : float
        Marked [h].
    title : str
        What the picture is called.
    """
    events = answer.events
    ages = events["age"].to_numpy(float)
    _age_axis(ax, answer, title)
    handles = []
    for name, colour, words in _EVENTS:
        ax.fill_between(
            ages,
            events[f"{name}_low"],
            events[f"{name}_high"],
            color=colour,
            alpha=_BAND,
            linewidth=0,
        )
        _seen_and_beyond(ax, answer, ages, events[name].to_numpy(float), colour)
        handles.append(Line2D([], [], color=colour, linewidth=2.2, label=words))
    ax.set_ylim(0, _ROOM * float(np.interp(rated_hours, ages, events["heads_high"])))
    ax.set_ylabel("Heads per quarter [heads/quarter]")
    style.mark_rating(ax, rated_hours)
    style.legend_below(ax, handles=[*handles, *_unseen(answer)])


def events_content(ax: Axes, answer: PastRating) -> Artists:
    """Draw what changes of the events: the mark of the proposed age; gives its artists.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    answer : PastRating
        Its proposal.

    Returns
    -------
    list of Artist
        What was drawn, to be removed before the next.
    """
    events = answer.events
    ages = events["age"].to_numpy(float)
    return _mark_proposed(ax, answer, ages, events["failed_builds"].to_numpy(float), "s")


def _seen_and_beyond(
    ax: Axes, answer: PastRating, ages: np.ndarray, values: np.ndarray, colour: str
) -> Artists:
    """Draw a line solid where heads have been seen and dotted beyond."""
    last = int((ages <= answer.advice.oldest_seen).sum())
    beyond = max(last - 1, 0)
    return [
        *ax.plot(ages[:last], values[:last], color=colour, linewidth=2.2),
        *ax.plot(
            ages[beyond:], values[beyond:], color=colour, linewidth=2.0, linestyle=(0, (1, 1.2))
        ),
    ]


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
) -> Artists:
    age = answer.choices.age_hours
    if age > ages[-1]:
        return []
    at = float(np.interp(age, ages, values))
    drawn: Artists = list(ax.plot([age], [at], marker, color=style.INK, markersize=7, zorder=5))
    # Near the right end the words stand to the left of their mark.
    left = age > 0.8 * ages[-1]
    words = ax.annotate(
        f"{age:,.0f} h",
        (age, at),
        xytext=(-7 if left else 7, 7),
        textcoords="offset points",
        ha="right" if left else "left",
        fontsize=style.NOTE,
        fontweight="bold",
        annotation_clip=True,
    )
    return [*drawn, words]


def _cost_top(answer: PastRating, rated_hours: float) -> float:
    curve = answer.curve
    at_rating = float(np.interp(rated_hours, curve["age"], curve["high"]))
    return rounded_up(max(_ROOM * at_rating, 1.1 * float(curve["expected"].min())))


def rounded_up(value: float) -> float:
    """Round up to an end that an axis can keep while a slider moves a little.

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
