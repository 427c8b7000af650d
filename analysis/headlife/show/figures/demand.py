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

_HEADROOM: Final = 1.55  # of the bars and the service: the legend stands above them
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
    service_level: float,
    *,
    horizon_weeks: float,
    title: str = "",
) -> Axes:
    """Draw the bars against the stock level, with the service on a second axis.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned; the service axis is its twin.
    bars : DataFrame
        From `demand_bars`.
    stock_level : int
        Marked, and named with the service it gives [heads].
    service_level : float
        The service asked for [-].
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
    ax.set(title=title, xlabel=f"Heads needed in {horizon_weeks:g} weeks [heads]")
    ax.set_ylabel("Probability [%]")
    ax.set_ylim(0, max(float(bars["probability"].max()), 1e-6) * _HEADROOM)
    ax.set_xlim(float(bars["heads"].min()) - 0.6, float(bars["heads"].max()) + 0.6)
    ax.xaxis.set_major_locator(MaxNLocator(nbins=9, integer=True, min_n_ticks=1))
    style.percent_axis(ax.yaxis)
    _draw_service(ax, bars, stock_level, service_level)
    return ax


def _draw_service(ax: Axes, bars: pd.DataFrame, stock_level: int, service_level: float) -> None:
    twin = ax.twinx()
    twin.plot(
        bars["heads"],
        bars["service"],
        color=style.INK,
        linewidth=1.2,
        marker="o",
        markersize=3,
        label="chance that so many suffice (right axis)",
    )
    twin.axhline(service_level, color=style.GREEN, linewidth=1.2, linestyle=(0, (4, 3)))
    twin.annotate(
        f"asked for: {100 * service_level:.0f} %",
        (1.0, service_level),
        xycoords=("axes fraction", "data"),
        xytext=(-4, -3),
        textcoords="offset points",
        fontsize=9,
        ha="right",
        va="top",
        color=style.GREEN,
    )
    twin.spines["right"].set_visible(True)
    twin.set_ylim(0, _HEADROOM)
    twin.set_yticks([0, 0.25, 0.5, 0.75, 1.0])
    twin.set_ylabel("Service [%]")
    style.percent_axis(twin.yaxis)
    reached = bars.loc[bars["heads"] == stock_level, "service"]
    served = f": {100 * float(reached.iloc[0]):.0f} % service" if len(reached) else ""
    ax.annotate(
        f"stock level {stock_level}{served}",
        (stock_level + 0.5, 1.0 / _HEADROOM),
        xycoords=("data", "axes fraction"),
        xytext=(0, 4),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=9,
    )
    handles, labels = ax.get_legend_handles_labels()
    more, names = twin.get_legend_handles_labels()
    twin.legend(handles + more, labels + names, loc="upper left", borderaxespad=0.3, fontsize=9)
