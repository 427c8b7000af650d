"""What do the policies cost beside each other, and how surely is each cheaper? One drawing.

Costs per print hour with their ranges, a bar a policy, from the answers to one proposal. A frame,
which stays while a slider moves, and its content, which does not. Draws only.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.artist import Artist
from matplotlib.axes import Axes

from headlife.show.figures import style
from headlife.show.figures.replacement import TITLE_PAD, Artists, rounded_up
from headlife.show.words.numbers import chance

if TYPE_CHECKING:
    from headlife.decisions.policy.past_rating_answer import PastRating


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

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    policies_frame(ax, answer, title=title)
    policies_content(ax, answer)
    return ax


def limits(answer: PastRating) -> tuple[Any, ...]:
    """Give what the frame depends on: while this stays, only the content changes.

    Parameters
    ----------
    answer : PastRating
        What is drawn.

    Returns
    -------
    tuple
        Values to compare with those of the frame in place.
    """
    return _policies_end(answer), tuple(_policy_names(answer))


def policies_frame(ax: Axes, answer: PastRating, *, title: str) -> None:
    """Draw what stays of the policies: the axis of costs.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    answer : PastRating
        Its table of policies.
    title : str
        What the picture is called.
    """
    ax.set_title(title, pad=TITLE_PAD)
    ax.set_xlim(0, _policies_end(answer))
    ax.set_ylim(len(answer.table) - 0.6, -0.8)
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    for place, name in enumerate(_policy_names(answer)):
        _above(ax, place, name)
    _beside(ax, -0.62, "cheaper")
    ax.set_xlabel(f"Cost per print hour with spares [{answer.costs.currency}/h]")


def policies_content(ax: Axes, answer: PastRating) -> Artists:
    """Draw what changes of the policies: names, costs with ranges, odds; gives the artists.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    answer : PastRating
        Its table of policies.

    Returns
    -------
    list of Artist
        What was drawn, to be removed before the next.
    """
    table = answer.table
    places = np.arange(len(table))
    yardstick = answer.at_rating.cost_per_hour.expected
    drawn: Artists = [
        ax.axvline(yardstick, color=style.INK, linewidth=1.1, linestyle=(0, (4, 3))),
        _over(ax, yardstick, "at the rating"),
        ax.hlines(
            places, table["cost_low"], table["cost_high"], color=style.SKY, linewidth=6, alpha=0.8
        ),
    ]
    drawn += ax.plot(table["cost_per_hour"], places, "o", color=style.INK, markersize=5.5)
    for place, odds in enumerate(table["probability_cheaper"]):
        yard = answer.policies[place] is answer.at_rating
        drawn.append(_beside(ax, place, "–" if yard else chance(float(odds))))
    return drawn


def _policy_names(answer: PastRating) -> list[str]:
    """Name the policies without the proposed age, which moves: it is marked on the curve."""
    said = f"{answer.choices.age_hours:,.0f} h" if math.isfinite(answer.choices.age_hours) else ""
    names = [one.policy.name for one in answer.policies]
    return [name.replace(said, "the proposed age") if said else name for name in names]


def _above(ax: Axes, place: int, words: str) -> Artist:
    """Write above a policy's bar, so that names of any length find room."""
    pale = {"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 0.5}
    inside = ("axes fraction", "data")
    return _note(ax, words, (0.0, place), inside, (2, 6), va="bottom", ha="left", bbox=pale)


def _over(ax: Axes, at: float, words: str) -> Artist:
    """Name an upright line above the axes."""
    above = ("data", "axes fraction")
    return _note(ax, words, (at, 1.0), above, (0, 2), va="bottom", ha="center")


def _beside(ax: Axes, place: float, words: str) -> Artist:
    """Write a policy's odds beside its bar, outside the axes, where no bar and no line runs."""
    outside = ("axes fraction", "data")
    return _note(ax, words, (1.0, place), outside, (6, 0), va="center", ha="left")


def _note(
    ax: Axes,
    words: str,
    at: tuple[float, float],
    counted_in: tuple[str, str],
    away: tuple[float, float],
    **looks: Any,
) -> Artist:
    return ax.annotate(
        words,
        at,
        xycoords=counted_in,
        xytext=away,
        textcoords="offset points",
        fontsize=style.NOTE,
        annotation_clip=False,
        **looks,
    )


def _policies_end(answer: PastRating) -> float:
    return rounded_up(1.02 * float(answer.table["cost_high"].max()))
