"""The checks of one stratum as figures: fairness of the fitted life, rivals, effects, drift.

One figure for each finding of `headlife.life.diagnostics.stratum`; its data come ready from there,
its sentence is the finding's own. Positions and their trend are drawn in `figures.positions`. Never
computes and never judges.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.ticker import FixedLocator, NullLocator

from headlife.show.figures import style
from headlife.show.figures.names import as_label
from headlife.show.figures.probability import (
    SHARES,
    log_ticks,
    mark_failures,
    share_ticks,
    weibull_scale,
)
from headlife.show.words.days import month

if TYPE_CHECKING:
    import pandas as pd

_FLOOR: Final = 1e-6
_MOST_LEVELS: Final = 14  # rows of a figure that stay legible
_FEWEST_LEVELS: Final = 4  # of one factor beside others
_WRITTEN: Final = {"weibull": "Weibull"}  # kinds of life named after a person


def draw_check(ax: Axes, check: Any, rated_hours: float, *, title: str = "") -> Axes:
    """Draw failures on Weibull paper with the band that a true Weibull fleet stays inside.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned; x is ln(hours), y is `weibull_scale`.
    check : WeibullCheck
        From `check_weibull`.
    rated_hours : float
        The rating, marked [h].
    title : str
        Head type and role.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    points, band = check.points, check.band
    ax.set_xscale("log")
    ax.set(title=title, xlabel="Print hours on the head [h], log scale")
    ax.set_ylabel("Heads failed [%], Weibull scale")
    if len(points) == 0:
        return nothing_to_draw(ax, "no failure yet: nothing to plot")
    shares = points["share_failed"].to_numpy()
    bottom = float(np.clip(shares.min() / 4, SHARES[0], 0.2))
    top = float(np.clip(2.0 * shares.max(), 0.3, 0.995))
    if check.enough:
        low, fitted, high = (
            weibull_scale(np.clip(band[name].to_numpy(), _FLOOR, 1 - _FLOOR))
            for name in ("low", "share_failed", "high")
        )
        style.band(ax, band["hours"], low, high, "90 % of Weibull fleets")
        ax.plot(band["hours"], fitted, color=style.BLUE, label="fitted Weibull life")
    mark_failures(ax, points, check.failures)
    style.mark_rating(ax, rated_hours)
    ax.set_ylim(float(weibull_scale(bottom)), float(weibull_scale(top)))
    ax.set_xlim(0.6 * float(points["hours"].min()), 1.3 * max(rated_hours, points["hours"].max()))
    share_ticks(ax, bottom, top)
    ax.xaxis.set_major_locator(FixedLocator(log_ticks(*ax.get_xlim())))
    ax.xaxis.set_minor_locator(NullLocator())
    style.hours_axis(ax.xaxis)
    ax.grid(True)
    style.legend_below(ax)
    return ax


def draw_rivals(ax: Axes, rivals: Any, *, title: str = "") -> Axes:
    """Draw the share of heads that would reach the rating under each kind of life, best first.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    rivals : Rivals
        From `compare_lives`.
    title : str
        Head type and role.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    ax.set(title=title, xlabel=f"Heads that reach {rivals.rated_hours:,.0f} h [%]")
    if not rivals.enough:
        return nothing_to_draw(ax, "not enough failures to compare")
    table = rivals.table
    rows = np.arange(len(table))
    colours = [style.BLUE if life == "weibull" else style.GREY for life in table["life"]]
    ax.scatter(table["share_reaching"], rows, s=60, c=colours, zorder=3)
    for row, behind in zip(rows, table["behind"], strict=True):
        said = "fits best" if behind == 0 else f"AIC +{behind:.1f}"
        at = table["share_reaching"][row], int(row)
        style.note(ax, said, at, "data", (0, 9), ha="center", color=style.GREY)
    ax.set_yticks(rows, labels=[_WRITTEN.get(life, life) for life in table["life"]])
    ax.set_ylim(len(table) - 0.5, -0.7)
    spread = table["share_reaching"].max() - table["share_reaching"].min()
    room = max(0.6 * spread, 0.05)
    low, high = table["share_reaching"].min() - room, table["share_reaching"].max() + room
    ax.set_xlim(max(low, -0.02), min(high, 1.02))
    style.percent_axis(ax.xaxis)
    ax.grid(axis="x")
    return ax


def draw_effects(
    ax: Axes, effects: Sequence[Any], rated_hours: float | None = None, *, title: str = ""
) -> Axes:
    """Draw the hours that a share of heads reach, by material, printer, site and role.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    effects : sequence of Effect
        From `compare_levels`.
    rated_hours : float, optional
        The rating, marked [h].
    title : str
        Head type and role.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    told = [effect for effect in effects if effect.enough]
    ax.set(title=title)
    if not told:
        return nothing_to_draw(ax, "not enough failures to compare")
    ax.set_xlabel(f"Hours that {100 * told[0].share:.0f} % of heads reach [h]")
    labels: list[str] = []
    for effect in told:
        colour = style.VERMILLION if effect.matters else style.BLUE
        shown = _farthest(effect.table, max(_MOST_LEVELS // len(told), _FEWEST_LEVELS))
        for _, level in shown.iterrows():
            row = len(labels)
            name = as_label(f"{effect.factor}: {level['level']}")
            labels.append(f"{name} ({level['failures']})")
            if not np.isfinite(level["hours"]):
                ax.text(
                    0.02,
                    row,
                    "too few failures",
                    transform=ax.get_yaxis_transform(),
                    va="center",
                    fontsize=style.NOTE,
                    color=style.GREY,
                )
                continue
            low, high = level["hours"] - level["low"], level["high"] - level["hours"]
            ax.errorbar(
                [level["hours"]],
                [row],
                xerr=[[low], [high]],
                fmt="s" if effect.matters else "o",
                color=colour,
                markersize=5,
                capsize=3,
                linewidth=1.6,
            )
        if len(shown) < len(effect.table):
            labels.append(f"{len(effect.table) - len(shown)} more between")
    ax.set_yticks(range(len(labels)), labels=labels)
    ax.set_ylim(len(labels) - 0.5, -0.5)
    ax.set_xlim(left=0)
    if rated_hours is not None:
        ax.set_xlim(0, max(ax.get_xlim()[1], 1.08 * rated_hours))
        style.mark_rating(ax, rated_hours)
    style.hours_axis(ax.xaxis)
    ax.grid(axis="x")
    return ax


def _farthest(table: pd.DataFrame, most: int) -> pd.DataFrame:
    """Keep the levels whose hours lie farthest from the middle one, in the table's order."""
    if len(table) <= most:
        return table
    away = (table["hours"] - table["hours"].median()).abs().fillna(-1.0)
    return table.loc[away.nlargest(most).index.sort_values()]


def draw_drift(ax: Axes, drift: Any, rated_hours: float | None = None, *, title: str = "") -> Axes:
    """Draw the hours that a share of each purchase cohort reach.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    drift : Drift
        From `drift_by_purchase`.
    rated_hours : float, optional
        The rating, marked by a level line [h].
    title : str
        Head type and role.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    table = drift.cohorts
    known = table[np.isfinite(table["hours"])] if len(table) else table
    ax.set(title=title, xlabel="Bought from, to (failed of heads)")
    ax.set_ylabel(f"Hours that {100 * drift.share:.0f} % of heads reach [h]")
    if len(known) == 0:
        return nothing_to_draw(ax, "not enough failures to compare")
    hours, low, high = (known[name].to_numpy() for name in ("hours", "low", "high"))
    ax.errorbar(
        known.index.to_numpy(),
        hours,
        yerr=[hours - low, high - hours],
        fmt="o",
        color=style.BLUE,
        markersize=6,
        capsize=4,
    )
    names = [
        f"{month(row['first'])}\nto {month(row['last'])}\n({row['failures']} of {row['heads']})"
        for _, row in table.iterrows()
    ]
    ax.set_xticks(range(len(table)), labels=names)
    ax.set_xlim(-0.5, len(table) - 0.5)
    ax.set_ylim(bottom=0)
    if rated_hours is not None:
        ax.set_ylim(0, max(ax.get_ylim()[1], 1.12 * rated_hours))
        ax.axhline(rated_hours, color=style.INK, linewidth=1.1, linestyle=(0, (4, 3)))
        at = (1.0, rated_hours)
        style.note(ax, f"rated {rated_hours:,.0f} h", at, style.ACROSS, (-2, 3), ha="right")
    style.hours_axis(ax.yaxis)
    ax.grid(axis="y")
    return ax


def nothing_to_draw(ax: Axes, said: str) -> Axes:
    """Say in the empty panel why it is empty.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    said : str
        The reason.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    ax.text(0.5, 0.5, said, ha="center", va="center", transform=ax.transAxes, color=style.GREY)
    ax.set_xticks([])
    ax.set_yticks([])
    return ax
