"""What share of the heads is still running after so many print hours?

From lives (with delayed entry) and a fitted life: the Kaplan-Meier steps, the fitted curve with
its band, the heads at risk under the axis, the rating and the claim about it. Draws what
`life.nonparametric` and `life.curves` compute; never fits and never judges.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd
from matplotlib.axes import Axes
from matplotlib.ticker import MaxNLocator

from headlife.life.nonparametric import heads_at_risk
from headlife.show.figures import style

FEWEST_AT_RISK: Final = 5  # a step curve over fewer heads is noise that looks like knowledge


def draw_survival(
    ax: Axes,
    steps: pd.DataFrame,
    fitted: pd.DataFrame,
    lives: pd.DataFrame,
    rated_hours: float,
    *,
    claim_share: float | None = None,
    share_bounds: tuple[float, float, float] | None = None,
    title: str = "",
) -> Axes:
    """Draw steps, fitted curve with band, heads at risk, rating and claim.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    steps, fitted : DataFrame
        From `life.nonparametric.kaplan_meier` and `life.curves.fitted_survival`.
    lives : DataFrame
        For the heads at risk under the axis and the oldest head seen.
    rated_hours : float
        The rating, marked [h].
    claim_share : float, optional
        Share of heads that the rating promises to reach it [-], marked.
    share_bounds : tuple, optional
        Share reaching the rating and its lower and upper bound [-], drawn at the rating.
    title : str
        Head type and role.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    last = float(fitted["hours"].iloc[-1])
    oldest = float(lives["exit_hours"].max()) if len(lives) else 0.0
    _draw_fit(ax, fitted, oldest)
    _draw_steps(ax, steps)
    if oldest < last:
        ax.axvspan(oldest, last, zorder=0, label="past the oldest head", **style.UNSEEN)
    style.mark_rating(ax, rated_hours)
    if share_bounds is not None:
        share, low, high = share_bounds
        ax.errorbar(
            [rated_hours],
            [share],
            yerr=[[max(share - low, 0.0)], [max(high - share, 0.0)]],
            fmt="o",
            color=style.INK,
            markersize=5,
            capsize=4,
            linewidth=2.0,
            label="share at the rating",
            zorder=4,
        )
    if claim_share is not None:
        ax.plot(
            [0, rated_hours],
            [claim_share, claim_share],
            color=style.VERMILLION,
            linewidth=1.2,
            linestyle=(0, (1, 2)),
            label=f"claim: {100 * claim_share:.0f} % reach it",
            zorder=1.6,
        )
    ax.set(xlim=(0, last), ylim=(0, 1.02), title=title)
    ax.set_ylabel("Heads still running [%]")
    ax.grid(axis="y")
    style.percent_axis(ax.yaxis)
    style.hours_axis(ax.xaxis)
    ax.xaxis.set_major_locator(MaxNLocator(nbins=5))
    _write_at_risk(ax, lives)
    style.legend_below(ax, gap=60.0)
    return ax


def _draw_fit(ax: Axes, fitted: pd.DataFrame, oldest: float) -> None:
    hours = fitted["hours"].to_numpy()
    ends = fitted["low"].to_numpy(), fitted["high"].to_numpy()
    style.band(ax, hours, *ends, "90 % range of the fit", zorder=1)
    seen = hours <= oldest
    (line,) = ax.plot(hours[seen], fitted["survival"][seen], color=style.BLUE, label="fitted life")
    line.set_zorder(3)
    if not seen.all():
        past = hours >= (hours[seen][-1] if seen.any() else 0.0)
        ax.plot(hours[past], fitted["survival"][past], color=style.BLUE, linestyle=(0, (3, 2)))


def _draw_steps(ax: Axes, steps: pd.DataFrame) -> None:
    """Draw the steps, blank wherever fewer than `FEWEST_AT_RISK` heads are at risk."""
    if len(steps) == 0:
        return
    remain = (steps["at_risk"] - steps["failures"] - steps["censored"]).to_numpy()
    # The level after a change rests on the heads at risk there; blank it where they are few.
    known = (steps["at_risk"].to_numpy() >= FEWEST_AT_RISK) & (remain >= 0)
    known &= steps["survival"].notna().to_numpy()
    if not known.any():
        return
    level = np.where(known, steps["survival"].to_numpy(), np.nan)
    ax.step(
        steps["hours"],
        level,
        where="post",
        color=style.INK,
        linewidth=1.3,
        label="observed",
        zorder=2.5,
    )
    marked = steps[(steps["censored"] > 0) & known]
    ax.plot(
        marked["hours"],
        marked["survival"],
        linestyle="none",
        marker="|",
        markersize=6,
        color=style.INK,
        label="taken out, or running",
        zorder=2.6,
    )


def _write_at_risk(ax: Axes, lives: pd.DataFrame) -> None:
    """Write the heads at risk below each tick, in place of a separate table."""
    left, right = ax.get_xlim()
    ticks = np.asarray([tick for tick in ax.get_xticks() if left <= tick <= right])
    ax.set_xticks(ticks)
    looks = {"va": "top", "color": style.GREY}
    for tick, heads in zip(ticks, heads_at_risk(lives, ticks), strict=True):
        style.note(ax, f"{heads}", (tick, 0), style.UPRIGHT, (0, -24), ha="center", **looks)
    style.note(ax, "at risk", (0, 0), "axes fraction", (-12, -24), ha="right", **looks)
    ax.set_xlabel("Print hours on the head [h]", labelpad=18)
