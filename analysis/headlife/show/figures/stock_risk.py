"""What does each stock level risk and cost? Draws the table of a stock plan only."""

from __future__ import annotations

from typing import Final

import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator

from headlife.show.figures import style

_SHOWN_RISK: Final = 0.9995  # stock levels beyond this service are not drawn
_HOPELESS: Final = 0.02  # nor those below


def risk_bars(table: pd.DataFrame, stock_level: int, balanced_level: int | None) -> pd.DataFrame:
    """Stock levels worth drawing, with the chance that someone waits and, if known, the money.

    Parameters
    ----------
    table : DataFrame
        Table of a stock plan.
    stock_level : int
        Planned level [heads].
    balanced_level : int or None
        Level of least cost [heads].

    Returns
    -------
    DataFrame
        `stock_level` [heads], `risk` [-], `idle_hours` [h] and, where costs are stated,
        `carrying_cost` and `waiting_cost` [currency].
    """
    needed = table.loc[table["service"] < _SHOWN_RISK, "stock_level"]
    last = max(stock_level, balanced_level or 0, int(needed.max()) if len(needed) else 0) + 1
    hopeless = table.loc[table["service"] < _HOPELESS, "stock_level"]
    first = int(hopeless.max()) if len(hopeless) else 0
    shown = table[table["stock_level"].between(first, last)].reset_index(drop=True)
    kept = [c for c in ("carrying_cost", "waiting_cost") if c in shown]
    return shown.assign(risk=1.0 - shown["service"])[["stock_level", "risk", "idle_hours", *kept]]


def draw_risk(ax: Axes, bars: pd.DataFrame, stock_level: int, *, title: str = "") -> Axes:
    """Draw the chance that someone waits at each stock level, over what the levels cost.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    bars : DataFrame
        From `risk_bars`.
    stock_level : int
        Planned level, marked [heads].
    title : str
        Head type.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    ax.plot(bars["stock_level"], bars["risk"], color=style.INK, marker="o", markersize=4)
    ax.axvline(stock_level, color=style.BLUE, linewidth=1.6)
    ax.set(title=title, ylabel="Someone waits [%]")
    ax.set_ylim(0, 1.05)
    ax.set_yticks([0, 0.5, 1.0])
    ax.grid(axis="y")
    style.percent_axis(ax.yaxis)
    return ax


def draw_cost(
    ax: Axes,
    bars: pd.DataFrame,
    stock_level: int,
    balanced_level: int | None,
    *,
    currency: str,
    title: str = "",
) -> Axes:
    """Draw what each stock level costs until the next delivery, or how long printers wait.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    bars : DataFrame
        From `risk_bars`.
    stock_level : int
        Planned level [heads].
    balanced_level : int or None
        Level of least cost [heads].
    currency : str
        Label of amounts.
    title : str
        Head type.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    levels = bars["stock_level"].to_numpy()
    if "carrying_cost" in bars:
        low = bars["carrying_cost"].to_numpy()
        ax.bar(levels, low, 0.8, color=style.SKY, label="carrying")
        ax.bar(
            levels,
            bars["waiting_cost"],
            0.8,
            bottom=low,
            color=style.ORANGE,
            hatch="//",
            edgecolor="white",
            linewidth=0,
            label="printers waiting",
        )
        highest = float((bars["carrying_cost"] + bars["waiting_cost"]).max())
        ax.set_ylabel(f"Cost [{currency}]")
    else:
        ax.bar(levels, bars["idle_hours"], 0.8, color=style.ORANGE, label="printers waiting")
        highest = float(bars["idle_hours"].max())
        ax.set_ylabel("Printers wait [h]")
    ax.set_ylim(0, max(highest, 1e-6) * 1.05)
    ax.set(title=title, xlabel="Stock level [heads]")
    ax.xaxis.set_major_locator(MaxNLocator(nbins=10, integer=True, min_n_ticks=1))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.0f}"))
    ax.axvline(stock_level, color=style.BLUE, linewidth=1.6, label="planned level")
    if balanced_level is not None:
        ax.axvline(
            # Beside the planned level where both are the same.
            balanced_level + (0.06 if balanced_level == stock_level else 0.0),
            color=style.VERMILLION,
            linewidth=1.6,
            linestyle=(0, (4, 3)),
            label="least cost",
        )
    style.legend_below(ax)
    return ax
