"""What do the policies cost beside each other, and how surely is each cheaper? One drawing.

Costs per print hour with their ranges, a bar a policy, from the answers to one proposal. Draws
only.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.axes import Axes

from headlife.show.figures import style
from headlife.show.figures.replacement import TITLE_PAD, rounded_up
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
    table = answer.table
    places = np.arange(len(table))
    yardstick = answer.at_rating.cost_per_hour.expected
    ax.set_title(title, pad=TITLE_PAD)
    ax.set_xlim(0, rounded_up(1.02 * float(table["cost_high"].max())))
    ax.set_ylim(len(table) - 0.6, -0.8)
    ax.set_yticks([])
    ax.spines["left"].set_visible(False)
    for place, name in enumerate(_policy_names(answer)):
        _above(ax, place, name)
    _beside(ax, -0.62, "cheaper")
    ax.set_xlabel(f"Cost per print hour with spares [{answer.costs.currency}/h]")
    ax.axvline(yardstick, color=style.INK, linewidth=1.1, linestyle=(0, (4, 3)))
    looks: dict[str, Any] = {"va": "bottom", "ha": "center", "annotation_clip": False}
    style.note(ax, "at the rating", (yardstick, 1.0), style.UPRIGHT, (0, 2), **looks)
    ax.hlines(
        places, table["cost_low"], table["cost_high"], color=style.SKY, linewidth=6, alpha=0.8
    )
    ax.plot(table["cost_per_hour"], places, "o", color=style.INK, markersize=5.5)
    for place, odds in enumerate(table["probability_cheaper"]):
        yard = answer.policies[place] is answer.at_rating
        _beside(ax, place, "–" if yard else chance(float(odds)))
    return ax


def _policy_names(answer: PastRating) -> list[str]:
    """Name the policies without the proposed age, which moves: it is marked on the curve."""
    said = f"{answer.choices.age_hours:,.0f} h" if math.isfinite(answer.choices.age_hours) else ""
    names = [one.policy.name for one in answer.policies]
    return [name.replace(said, "the proposed age") if said else name for name in names]


def _above(ax: Axes, place: int, words: str) -> None:
    """Write above a policy's bar, so that names of any length find room."""
    pale = {"facecolor": "white", "alpha": 0.8, "linewidth": 0, "pad": 0.5}
    looks: dict[str, Any] = {"va": "bottom", "ha": "left", "bbox": pale, "annotation_clip": False}
    style.note(ax, words, (0.0, place), style.ACROSS, (2, 6), **looks)


def _beside(ax: Axes, place: float, words: str) -> None:
    """Write a policy's odds beside its bar, outside the axes, where no bar and no line runs."""
    looks: dict[str, Any] = {"va": "center", "ha": "left", "annotation_clip": False}
    style.note(ax, words, (1.0, place), style.ACROSS, (6, 0), **looks)
