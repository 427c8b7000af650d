"""Is a Weibull life a fair description of these heads?

From lives and a fitted life: the failures on Weibull paper (a straight line is a Weibull life),
the fitted line with its band and the rating. Draws what `life.nonparametric` and `life.curves`
compute; never fits and never judges.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import FixedLocator, FuncFormatter, MaxNLocator, NullLocator

from headlife.show.figures import style

SHARES: Final = (0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 0.8, 0.95, 0.99)


def weibull_scale(share_failed: Any) -> np.ndarray:
    """Height on Weibull paper: ln(-ln(1 - F)), straight in ln(hours) for a Weibull life.

    Parameters
    ----------
    share_failed : float or array of float
        Share failed F [-], strictly between 0 and 1.

    Returns
    -------
    array of float
        Heights [-].
    """
    return np.asarray(np.log(-np.log1p(-np.asarray(share_failed, float))))


def mark_failures(ax: Axes, points: pd.DataFrame, failures: int | str) -> None:
    """Mark failures on Weibull paper, and name how many they are.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    points : DataFrame
        From `life.nonparametric.plotting_positions`.
    failures : int or str
        How many heads failed; where some have no place, such as "2 of 3".
    """
    ax.plot(
        points["hours"],
        weibull_scale(points["share_failed"]),
        linestyle="none",
        marker="o",
        markersize=5,
        markerfacecolor="white",
        markeredgecolor=style.INK,
        markeredgewidth=1.3,
        label=f"failures ({failures})",
    )


def share_ticks(ax: Axes, bottom: float, top: float) -> None:
    """Name round shares between two on the upright axis of Weibull paper.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    bottom, top : float
        Lowest and highest share [-] on the paper.
    """
    shares = [share for share in SHARES if bottom <= share <= top]
    ax.yaxis.set_major_locator(FixedLocator([float(height) for height in weibull_scale(shares)]))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda _, at: f"{100 * shares[at]:g} %"))


def draw_probability(
    ax: Axes,
    points: pd.DataFrame,
    line: pd.DataFrame,
    rated_hours: float,
    *,
    learned: bool = True,
    title: str = "",
) -> Axes:
    """Draw failures, fitted line with band and the rating on Weibull paper.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned; x is ln(hours), y is `weibull_scale`.
    points, line : DataFrame
        From `life.nonparametric.plotting_positions` and `life.curves.fitted_line`.
    rated_hours : float
        The rating, marked [h].
    learned : bool
        Whether the shape is learned; where not, the line is an average over many shapes, which
        bends, and is named so.
    title : str
        Head type and role.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    placed = points[points["share_failed"].notna()]
    bottom, top = _limits(placed, line, rated_hours)
    floor, ceiling = 1e-9, 1 - 1e-9
    hours = line["hours"].to_numpy()
    heights = {
        name: weibull_scale(np.clip(line[name].to_numpy(), floor, ceiling))
        for name in ("share_failed", "low", "high")
    }
    fitted = "fitted life" if learned else "fitted life, mean of many shapes"
    ax.set_xscale("log")
    low = np.clip(heights["low"], weibull_scale(bottom) - 1, None)
    style.band(ax, hours, low, heights["high"], "90 % range of the fit")
    ax.plot(hours, heights["share_failed"], color=style.BLUE, label=fitted)
    all_placed = len(placed) == len(points)
    mark_failures(ax, placed, len(points) if all_placed else f"{len(placed)} of {len(points)}")
    if len(placed) == 0:
        ax.text(
            0.5,
            0.5,
            "no failure yet: nothing to plot"
            if all_placed
            else "no share can be told: heads failed\nwhen no other was at risk at their age",
            ha="center",
            transform=ax.transAxes,
            bbox={"facecolor": "white", "edgecolor": style.GREY, "boxstyle": "round,pad=0.5"},
        )
    style.mark_rating(ax, rated_hours)
    share_ticks(ax, bottom, top)
    ax.set(
        xlim=(hours[0], hours[-1]),
        ylim=(float(weibull_scale(bottom)), float(weibull_scale(top))),
        title=title,
        xlabel="Print hours on the head [h], log scale",
        ylabel="Heads failed [%], Weibull scale",
    )
    ax.xaxis.set_major_locator(FixedLocator(log_ticks(hours[0], hours[-1])))
    ax.xaxis.set_minor_locator(NullLocator())
    style.hours_axis(ax.xaxis)
    ax.grid(True)
    style.legend_below(ax)
    return ax


def _limits(points: pd.DataFrame, line: pd.DataFrame, rated_hours: float) -> tuple[float, float]:
    """Lowest and highest share on the paper: room for every failure and the fit at the rating."""
    at_rating = float(np.interp(rated_hours, line["hours"], line["share_failed"]))
    shares = np.append(points["share_failed"].to_numpy(float), at_rating)
    bottom = np.clip(shares.min() / 2.5, SHARES[0], 0.2)
    top = np.clip(max(shares.max() * 1.5, 0.6), 0.0, 0.995)
    return float(bottom), float(top)


def log_ticks(first: float, last: float) -> list[float]:
    """Round hours to label on a logarithmic axis between two hours.

    Parameters
    ----------
    first, last : float
        Ends of the axis [h].

    Returns
    -------
    list of float
        Hours [h] to label, ascending.
    """
    decades = np.arange(np.floor(np.log10(first)), np.ceil(np.log10(last)) + 1)
    ticks = (np.array([1, 2, 5])[None, :] * 10.0 ** decades[:, None]).ravel()
    inside = [float(tick) for tick in ticks if first <= tick <= last]
    if len(inside) < 3:
        inside = [t for t in MaxNLocator(4).tick_values(first, last) if first <= t <= last]
    return inside
