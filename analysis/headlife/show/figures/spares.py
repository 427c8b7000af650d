"""What does each stock level risk and cost, what is needed when, and what will the year cost?

From the tables of a spares study and of a back-test; draws only. What lies beyond the data is
hatched and named.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import FuncFormatter, MaxNLocator

from headlife.show.figures import style

_SHOWN_RISK: Final = 0.9995  # stock levels beyond this service are not drawn
_HOPELESS: Final = 0.02  # nor those below
_HEADROOM: Final = 1.5


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


def draw_risk(
    ax: Axes,
    bars: pd.DataFrame,
    stock_level: int,
    balanced_level: int | None,
    *,
    currency: str,
    title: str = "",
) -> Axes:
    """Draw stock level against money (bars) and the chance that someone waits (line).

    Parameters
    ----------
    ax : Axes
        Drawn on and returned; the risk is on its twin.
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
    priced = "carrying_cost" in bars
    if priced:
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
        ax.set_ylabel(f"Cost until the next delivery [{currency}]")
    else:
        ax.bar(levels, bars["idle_hours"], 0.8, color=style.ORANGE, label="printers waiting")
        highest = float(bars["idle_hours"].max())
        ax.set_ylabel("Printers wait on average [h]")
    ax.set_ylim(0, max(highest, 1e-6) * _HEADROOM)
    ax.set(title=title, xlabel="Stock level [heads]")
    ax.xaxis.set_major_locator(MaxNLocator(nbins=10, integer=True, min_n_ticks=1))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.0f}"))
    twin = ax.twinx()
    twin.plot(
        levels, bars["risk"], color=style.INK, marker="o", markersize=4,
        label="someone waits (right axis)",
    )  # fmt: skip
    twin.spines["right"].set_visible(True)
    twin.set_ylim(0, _HEADROOM)
    twin.set_yticks([0, 0.25, 0.5, 0.75, 1.0])
    twin.set_ylabel("Chance that someone waits [%]")
    style.percent_axis(twin.yaxis)
    ax.axvline(stock_level, ymax=1 / _HEADROOM, color=style.BLUE, linewidth=1.6, label="planned")
    if balanced_level is not None:
        ax.axvline(
            balanced_level + 0.06,
            ymax=1 / _HEADROOM,
            color=style.VERMILLION,
            linewidth=1.6,
            linestyle=(0, (4, 3)),
            label="least cost",
        )
    handles, labels = ax.get_legend_handles_labels()
    more, names = twin.get_legend_handles_labels()
    twin.legend(handles + more, labels + names, loc="upper left", ncols=2, fontsize=8.5)
    return ax


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
    ax.fill_between(
        weeks, weekly["low"], weekly["high"], step="post", color=style.SKY, alpha=0.45,
        linewidth=0, label="80 % band",
    )  # fmt: skip
    ax.step(weeks, weekly["median"], where="post", color=style.BLUE, label="median")
    planned = weekly["planned"].cumsum()
    ax.plot(weeks, planned, color=style.GREEN, linestyle=(0, (4, 3)), label="planned, mean")
    ax.plot(
        weeks, weekly["failures"].cumsum(), color=style.VERMILLION, linestyle=(0, (1, 1.5)),
        label="failures, mean",
    )  # fmt: skip
    if extrapolated_from is not None:
        ax.axvspan(
            extrapolated_from, weeks[-1], facecolor="none", edgecolor=style.GREY, hatch="..",
            linewidth=0, alpha=0.6, label="beyond the data",
        )  # fmt: skip
    ax.set(title=title, xlabel="Weeks from now", ylabel="Heads used up [heads]")
    ax.set_xlim(0, weeks[-1])
    ax.set_xticks(range(0, int(weeks[-1]) + 1, 13))
    ax.set_ylim(0, max(float(weekly["high"].max()), 1.0) * 1.35)
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    ax.legend(loc="upper left", ncols=2)
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
        edgecolor="white", linewidth=0, label="unplanned, mean",
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
        label="median and 80 % band",
    )
    ax.set_xticks(place, bars["period"].tolist())
    ax.set(title=title, xlabel="Quarter from now", ylabel=f"In the quarter [{unit}]")
    ax.set_ylim(0, max(float(bars["high"].max()), 1e-6) * 1.4)
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.0f}"))
    ax.legend(loc="upper left", ncols=2)
    return ax


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
    ax.set(title=title, ylabel="Heads used up in the quarter [heads]")
    top = max(float(quarters["high_95"].max()), float(happened.max())) if len(quarters) else 1.0
    ax.set_ylim(-0.6, top * 1.4 + 1.0)
    ax.yaxis.set_major_locator(MaxNLocator(integer=True))
    ax.legend(loc="upper left", ncols=2)
    return ax


def draw_coverage(ax: Axes, coverage: pd.DataFrame, *, title: str = "") -> Axes:
    """Draw the running share of forecasts that came true, with the band chance allows.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    coverage : DataFrame
        `Backtest.coverage`.
    title : str
        What is drawn.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    looks = ((0.80, style.BLUE, "o"), (0.95, style.VERMILLION, "s"))
    for level, colour, mark in looks:
        part = coverage[coverage["interval"] == level]
        place = np.arange(len(part))
        name = f"{100 * level:.0f} % interval"
        ax.fill_between(place, part["low"], part["high"], color=colour, alpha=0.12, linewidth=0)
        ax.plot(place, part["said"], color=colour, linestyle=(0, (4, 3)), linewidth=1.2)
        ax.plot(place, part["share"], color=colour, marker=mark, markersize=5, label=name)
        ax.set_xticks(place, part["quarter"].tolist(), rotation=45, ha="right")
    ax.set(title=title, ylabel="Forecasts that came true so far [%]")
    ax.set_ylim(0, 1.3)
    ax.set_yticks(np.linspace(0, 1, 6))
    style.percent_axis(ax.yaxis)
    ax.legend(loc="upper left", ncols=2)
    return ax
