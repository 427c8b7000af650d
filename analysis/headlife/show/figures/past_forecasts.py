"""Past forecasts beside what happened, and how often they came true. Draws a back-test only."""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from headlife.show.figures import style

_LEVELS: Final[dict[float, tuple[str, str]]] = {
    0.80: (style.BLUE, "o"),
    0.95: (style.VERMILLION, "s"),
}

_QUARTER: Final = "Calendar quarter"
_BELOW: Final = 78.0  # from the axis to the legend, over slanting quarters and the label [points]


def draw_backtest(ax: Axes, quarters: pd.DataFrame, *, title: str = "") -> Axes:
    """Draw what was said of each past quarter and what happened.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    quarters : DataFrame
        One head type of `Backtest.quarters`.
    title : str
        Head type.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    place = np.arange(len(quarters))
    # An interval of whole heads holds both its ends, so the bar reaches half a head past them.
    for name, width, colour, label in (
        ("95", 0.3, style.PALE, "said, 95 %"),
        ("80", 0.62, style.SKY, "said, 80 %"),
    ):
        low, high = quarters[f"low_{name}"].to_numpy(), quarters[f"high_{name}"].to_numpy()
        ax.bar(place, high - low + 1.0, width, bottom=low - 0.5, color=colour, label=label)
    inside = quarters["inside_80"].to_numpy(dtype=bool)
    happened = quarters["happened"].to_numpy()
    ax.plot(place[inside], happened[inside], "o", color=style.INK, label="happened, inside 80 %")
    ax.plot(
        place[~inside], happened[~inside], "X", color=style.VERMILLION, markersize=8,
        label="happened, outside 80 %",
    )  # fmt: skip
    ax.set_xticks(place, quarters["quarter"].tolist(), rotation=45, ha="right")
    ax.set(title=title, xlabel=_QUARTER, ylabel="Heads used up in the quarter [heads]")
    top = max(float(quarters["high_95"].max()), float(happened.max())) if len(quarters) else 1.0
    ax.set_ylim(-0.6, top + 1.0)
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    style.legend_below(ax, gap=_BELOW)
    return ax


def draw_coverage(ax: Axes, coverage: pd.DataFrame, level: float, *, title: str = "") -> Axes:
    """Draw the running share of forecasts that came true, with the band chance allows.

    One level a panel: the bands of two would lie over each other.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    coverage : DataFrame
        `Backtest.coverage`.
    level : float
        Of the intervals judged, such as 0.80 [-].
    title : str
        What is drawn.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    colour, mark = _LEVELS.get(level, (style.BLUE, "o"))
    part = coverage[coverage["interval"] == level]
    place = np.arange(len(part))
    allowed = "what chance allows"
    style.band(ax, place, part["low"], part["high"], allowed, color=colour, alpha=0.15)
    ax.plot(
        place, part["said"], color=colour, linestyle=(0, (4, 3)), linewidth=1.2, label="expected"
    )
    name = f"{100 * level:.0f} % range"
    ax.plot(place, part["share"], color=colour, marker=mark, markersize=5, label=name)
    ax.set_xticks(place, part["quarter"].tolist(), rotation=45, ha="right")
    ax.set(title=title, xlabel=_QUARTER, ylabel="Came true [%]")
    ax.set_ylim(0, 1.04)
    ax.set_yticks(np.linspace(0, 1, 5))
    ax.grid(axis="y")
    style.percent_axis(ax.yaxis)
    style.legend_below(ax, columns=3, gap=_BELOW)
    return ax
