"""What will be used up and what will it cost? Week by week and by quarter.

Draws the tables of a spares study; what lies beyond the data is marked.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator

from headlife.show.figures import style


def draw_weekly(
    ax: Axes, weekly: pd.DataFrame, extrapolated_from: int | None, *, title: str = ""
) -> Axes:
    """Draw heads needed since the start, week by week: median and 80 % band.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    weekly : DataFrame
        One head type of `SparesStudy.weekly`.
    extrapolated_from : int or None
        First week beyond the data; hatched from there.
    title : str
        Head type.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    weeks = weekly["week"].to_numpy()
    style.band(ax, weeks, weekly["low"], weekly["high"], "80 % range", step="post", alpha=0.45)
    ax.step(weeks, weekly["median"], where="post", color=style.BLUE, label="median")
    planned = weekly["planned"].cumsum()
    ax.plot(weeks, planned, color=style.GREEN, linestyle=(0, (4, 3)), label="planned, mean")
    ax.plot(
        weeks, weekly["failures"].cumsum(), color=style.VERMILLION, linestyle=(0, (1, 1.5)),
        label="failures, mean",
    )  # fmt: skip
    if extrapolated_from is not None:
        ax.axvspan(extrapolated_from, weeks[-1], label="beyond the data", **style.UNSEEN)
    ax.set(title=title, xlabel="Time from now [weeks]", ylabel="Heads used up [heads]")
    ax.set_xlim(0, weeks[-1])
    ax.set_xticks(range(0, int(weeks[-1]) + 1, 13))
    ax.set_ylim(0, max(float(weekly["high"].max()), 1.0) * 1.08)
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    style.legend_below(ax)
    return ax


def budget_bars(lines: pd.DataFrame, item: str) -> pd.DataFrame:
    """One item of a budget by quarter: planned and unplanned means, median and band of the sum.

    Parameters
    ----------
    lines : DataFrame
        `Budget.lines`.
    item : str
        For example "total" or "heads".

    Returns
    -------
    DataFrame
        `period`, `planned`, `unplanned`, `median`, `low`, `high`, in the item's unit.
    """
    whole = lines[
        (lines["item"] == item)
        & (lines["head_type"] == "all")
        & (lines["site"] == "all")
        & (lines["period"] != "year")
    ].set_index(["kind", "period"])
    total = whole.loc["all"]
    return pd.DataFrame(
        {
            "period": total.index,
            "planned": whole.loc["planned"]["mean"].to_numpy(),
            "unplanned": whole.loc["unplanned"]["mean"].to_numpy(),
            "median": total["median"].to_numpy(),
            "low": total["low"].to_numpy(),
            "high": total["high"].to_numpy(),
        }
    )


def draw_budget(ax: Axes, bars: pd.DataFrame, *, unit: str, title: str = "") -> Axes:
    """Draw four quarters: planned and unplanned means as bars, the 80 % band of the sum.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    bars : DataFrame
        From `budget_bars`.
    unit : str
        Unit of the item.
    title : str
        What is drawn.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    place = np.arange(len(bars))
    ax.bar(place, bars["planned"], 0.6, color=style.SKY, label="planned, mean")
    ax.bar(
        place, bars["unplanned"], 0.6, bottom=bars["planned"], color=style.VERMILLION, hatch="//",
        edgecolor="white", linewidth=0, label="failures, mean",
    )  # fmt: skip
    middle = bars["median"].to_numpy()
    ax.errorbar(
        place,
        middle,
        yerr=[middle - bars["low"].to_numpy(), bars["high"].to_numpy() - middle],
        fmt="o",
        color=style.INK,
        capsize=5,
        linewidth=1.4,
        label="median and 80 % range",
    )
    ax.set_xticks(place, bars["period"].tolist())
    ax.set(title=title, xlabel="Calendar quarter", ylabel=f"In the quarter [{unit}]")
    ax.set_ylim(0, max(float(bars["high"].max()), 1e-6) * 1.08)
    ax.yaxis.set_major_locator(MaxNLocator(nbins=6, integer=True, steps=[1, 2, 5, 10]))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.0f}"))
    style.legend_below(ax)
    return ax
