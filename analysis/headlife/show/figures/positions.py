"""Do positions need heads ever more often, and does one of them eat heads? Two figures.

From the findings of `headlife.life.diagnostics.trend`: the mean number of failures of positions by
hours run, and the failures of every position beside those that its heads' ages explain. Never
computes and never judges.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from headlife.show.figures import style
from headlife.show.figures.adequacy import nothing_to_draw
from headlife.show.figures.names import as_label

_MOST_POSITIONS: Final = 14  # rows that stay legible; the rest would be usual ones
_POSITIONS: Final = 10  # a mean number of heads is told for so many, which gives whole heads


def draw_trend(ax: Axes, trend: Any, *, title: str = "") -> Axes:
    """Draw the mean number of failures per position against the hours it ran.

    A straight line is a constant rate; a curve that bends up is a fleet that fails heads ever
    more often.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    trend : Trend
        From `position_trend`.
    title : str
        Head type and role.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    curve = trend.curve
    ax.set(title=title, xlabel="Print hours of the position [h]")
    ax.set_ylabel(f"Failures per {_POSITIONS} positions [heads]")
    if len(curve) == 0:
        return nothing_to_draw(ax, "no failure yet: nothing to plot")
    hours = np.append(0.0, curve["hours"].to_numpy())

    def from_zero(name: str) -> np.ndarray:
        return np.append(0.0, _POSITIONS * curve[name].to_numpy())

    ends = from_zero("low"), from_zero("high")
    style.band(ax, hours, *ends, "90 % range of the mean", step="post")
    ax.step(
        hours, from_zero("failures"), where="post", color=style.INK, label="mean of the positions"
    )
    last = float(hours[-1])
    ax.plot(
        [0.0, last],
        [0.0, float(_POSITIONS * curve["failures"].iloc[-1])],
        color=style.BLUE,
        linestyle=(0, (3, 2)),
        linewidth=1.2,
        label="a constant rate",
    )
    ax.set_xlim(0, 1.02 * last)
    ax.set_ylim(bottom=0)
    ax.yaxis.set_major_locator(MaxNLocator(nbins=6, integer=True, min_n_ticks=1))
    style.hours_axis(ax.xaxis)
    ax.grid(axis="y")
    style.legend_below(ax)
    return ax


def draw_positions(ax: Axes, positions: Any, *, title: str = "") -> Axes:
    """Draw the failures of every position beside those expected, worst first.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    positions : Positions
        From `head_eaters`.
    title : str
        Head type and role.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    table = positions.table.head(_MOST_POSITIONS)
    ax.set(title=title, xlabel="Failures [heads]")
    if len(table) == 0:
        return nothing_to_draw(ax, "no position has run yet")
    rows = np.arange(len(table))
    eats = table["eats_heads"].to_numpy(bool)
    ax.barh(
        rows[~eats], table["failures"][~eats], height=0.55, color=style.SKY, label="failures seen"
    )
    if eats.any():
        ax.barh(
            rows[eats],
            table["failures"][eats],
            height=0.55,
            color=style.VERMILLION,
            hatch="//",
            edgecolor="white",
            label="more than chance",
        )
    ax.plot(
        table["expected"],
        rows,
        linestyle="none",
        marker="D",
        markersize=5,
        color=style.INK,
        label="expected by age",
    )
    names = [as_label(f"{row['printer']} {row['position']}") for _, row in table.iterrows()]
    ax.set_yticks(rows, labels=names)
    ax.set_ylim(len(table) - 0.4, -0.6)
    ax.set_xlim(left=0)
    ax.xaxis.set_major_locator(MaxNLocator(integer=True))
    ax.grid(axis="x")
    style.legend_below(ax)
    return ax
