"""How many heads will be needed until the next delivery, and does the stock level cover it?

From a forecast of demand (its probabilities) and a stock level: a bar for each number of heads,
the level, and the service it gives. Draws only; the forecast and the plan come from decisions.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from headlife.show.figures import style

_HEADROOM: Final = 1.22  # of the bars: the name of the stock level stands above them
_NEGLIGIBLE: Final = 5e-4  # bars rarer than one in two thousand are not drawn


def demand_bars(pmf: Any, stock_level: int) -> pd.DataFrame:
    """Probability of each number of heads and the share of quarters it would cover.

    Parameters
    ----------
    pmf : array
        Probability of needing 0, 1, 2, ... heads [-].
    stock_level : int
        Heads to hold or have on order [heads].

    Returns
    -------
    DataFrame
        `heads` [heads], `probability` [-], `service` [-] (chance that so many suffice),
        `covered` (bool: within the stock level).
    """
    probability = np.asarray(pmf, float)
    heads = np.arange(len(probability))
    bars = pd.DataFrame(
        {
            "heads": heads,
            "probability": probability,
            "service": np.minimum(np.cumsum(probability), 1.0),
            "covered": heads <= stock_level,
        }
    )
    seen = bars["heads"][bars["probability"] >= _NEGLIGIBLE]
    last = max(int(seen.max()) if len(seen) else 0, stock_level) + 1
    first = min(int(seen.min()) if len(seen) else 0, stock_level)
    return bars[(bars["heads"] >= max(first - 1, 0)) & (bars["heads"] <= last)].reset_index(
        drop=True
    )


def draw_demand(
    ax: Axes,
    bars: pd.DataFrame,
    stock_level: int,
    *,
    horizon_weeks: float,
    title: str = "",
) -> Axes:
    """Draw the probability of each number of heads against the stock level.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    bars : DataFrame
        From `demand_bars`.
    stock_level : int
        Marked, and named with the service it gives [heads].
    horizon_weeks : float
        Lead time plus review period [weeks].
    title : str
        Head type.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    for covered, colour, hatch, label in (
        (True, style.SKY, "", "covered by the stock level"),
        (False, style.VERMILLION, "////", "not covered"),
    ):
        part = bars[bars["covered"] == covered]
        ax.bar(
            part["heads"],
            part["probability"],
            width=0.82,
            color=colour,
            hatch=hatch,
            edgecolor="white",
            linewidth=0,
            label=label,
        )
    ax.axvline(stock_level + 0.5, ymax=1.0 / _HEADROOM, color=style.INK, linewidth=1.6)
    reached = bars.loc[bars["heads"] == stock_level, "service"]
    served = f": {100 * float(reached.iloc[0]):.0f} % service" if len(reached) else ""
    said = f"stock level {stock_level}{served}"
    style.note(ax, said, (1.0, 1.0), "axes fraction", ha="right", va="top")
    ax.set(title=title, xlabel=f"Heads needed in {horizon_weeks:g} weeks [heads]")
    ax.set_ylabel("Chance [%]")
    ax.set_ylim(0, max(float(bars["probability"].max()), 1e-6) * _HEADROOM)
    ax.set_xlim(float(bars["heads"].min()) - 0.6, float(bars["heads"].max()) + 0.6)
    ax.xaxis.set_major_locator(MaxNLocator(nbins=9, integer=True, min_n_ticks=1))
    style.percent_axis(ax.yaxis)
    style.legend_below(ax)
    return ax


def draw_service(
    ax: Axes, bars: pd.DataFrame, stock_level: int, service_level: float, *, title: str = ""
) -> Axes:
    """Draw the chance that so many heads suffice, over the bars of the demand.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    bars : DataFrame
        From `demand_bars`.
    stock_level : int
        Marked [heads].
    service_level : float
        The service asked for, marked [-].
    title : str
        Head type.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    ax.plot(bars["heads"], bars["service"], color=style.INK, linewidth=1.2, marker="o", ms=3.5)
    ax.axhline(service_level, color=style.GREEN, linewidth=1.4, linestyle=(0, (4, 3)))
    said, at = f"asked for: {100 * service_level:g} %", (0.0, service_level)
    style.note(ax, said, at, style.ACROSS, (4, -3), va="top", color=style.TEAL)
    ax.axvline(stock_level + 0.5, color=style.INK, linewidth=1.6)
    ax.set(title=title, ylabel="Enough [%]")
    ax.set_ylim(0, 1.05)
    ax.set_yticks([0, 0.5, 1.0])
    ax.grid(axis="y")
    style.percent_axis(ax.yaxis)
    return ax
