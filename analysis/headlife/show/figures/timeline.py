"""Which head sat where, when did it come out, and why?

From accepted records: one row per printer position over the calendar, a bar per installation,
a mark at each removal by its reason, and below it the heads in service week by week. Computes in
one function, draws in another; never corrects a record.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np
import pandas as pd
from matplotlib import dates
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection
from matplotlib.ticker import MaxNLocator

from headlife.show.figures import style
from headlife.show.figures.names import as_label

IN_SERVICE: Final = "in service"
# Head types by lightness as well as by hue: told apart in grey, and without red or green.
_TYPE_COLOURS: Final = ("#F3D58C", "#62ADDC", "#A9708F", "#4F5B6B")
# One shape for each reason, the same in every shop: failures solid, heads that still worked hollow.
_FAILED: Final = {"wear": "v", "damage": "X"}
_WORKED: Final = {"planned swap": "o", "material change": "s"}
_LETTERS: Final = 11.0  # letters of a legend an inch
_MARK: Final = 5  # letters that a mark and its margins take
_OTHERS: Final = ("P", "D", "^", "<", ">", "p", "h", "*")


def _shapes_of(endings: Iterable[str], failed: bool) -> dict[str, str]:
    """Give each reason its shape; a reason nobody foresaw has the same one wherever it is used."""
    known = _FAILED if failed else _WORKED
    found: dict[str, str] = {}
    for ending in sorted(set(endings)):
        place = zlib.crc32(ending.encode()) % len(_OTHERS)
        others = _OTHERS[place:] + _OTHERS[:place]
        free = [shape for shape in others if shape not in found.values()]
        found[ending] = known.get(ending) or (free or others)[0]
    return found


def installations(
    accepted: pd.DataFrame,
    as_of: pd.Timestamp | None = None,
    head_types: Sequence[str] = (),
) -> pd.DataFrame:
    """One bar per installation, placed on the row of its printer position.

    Parameters
    ----------
    accepted : DataFrame
        Accepted records (`printer`, `position`, `head`, `head_type`, `date_in`, `date_out`,
        `mode`, `suspension`, optional `site`).
    as_of : Timestamp, optional
        Nothing after this date is shown; what was in service then is shown as such.
    head_types : sequence of str
        Their order in the legend and the stack; any others follow by name.

    Returns
    -------
    DataFrame
        `place` (printer and position), `line` (row of the chart, 0 at the top), `start`, `end`
        (dates), `head_type`, `rank` (of the head type), `ending` (why it came out, or
        `IN_SERVICE`) and `failed` (bool).
    """
    shown = accepted
    if as_of is not None:
        shown = accepted[accepted["date_in"] <= as_of]
    site = shown["site"].fillna("").astype(str) if "site" in shown else pd.Series("", shown.index)
    place = shown["printer"].astype(str) + " " + shown["position"].astype(str)
    order = sorted(set(zip(site, place, strict=True)), key=lambda pair: [_natural(p) for p in pair])
    line = {pair: number for number, pair in enumerate(order)}
    ending = shown["mode"].astype(object).where(shown["mode"].notna(), shown["suspension"])
    ending = ending.where(ending.notna(), IN_SERVICE)
    end = shown["date_out"]
    if as_of is not None:
        ending = ending.where(end <= as_of, IN_SERVICE)
        end = end.where((end <= as_of) & (ending != IN_SERVICE), as_of)
    order_of = {name: at for at, name in enumerate(_in_order(shown["head_type"], head_types))}
    return pd.DataFrame(
        {
            "place": place,
            "line": [line[pair] for pair in zip(site, place, strict=True)],
            "site": site,
            "start": shown["date_in"],
            "end": end,
            "head_type": shown["head_type"].astype(str),
            "rank": [order_of[str(name)] for name in shown["head_type"]],
            "ending": ending.astype(str),
            "failed": shown["mode"].notna() & (ending != IN_SERVICE),
        }
    ).reset_index(drop=True)


def busiest(bars: pd.DataFrame, most: int) -> pd.DataFrame:
    """Keep the positions with most failures, and of those alike with most removals.

    Parameters
    ----------
    bars : DataFrame
        From `installations`.
    most : int
        How many positions at most.

    Returns
    -------
    DataFrame
        Their bars, in the order of positions as before, the lines counted anew.
    """
    by = bars.assign(out=bars["ending"] != IN_SERVICE).groupby("line")[["failed", "out"]].sum()
    kept = by.sort_values(["failed", "out"], ascending=False, kind="stable").index[:most]
    line = {old: new for new, old in enumerate(sorted(kept))}
    own = bars[bars["line"].isin(kept)]
    return own.assign(line=own["line"].map(line)).reset_index(drop=True)


def _in_order(found: pd.Series, first: Sequence[str]) -> list[str]:
    names = sorted({str(name) for name in found})
    return [*(name for name in first if name in names), *(n for n in names if n not in first)]


def heads_in_service(bars: pd.DataFrame) -> pd.DataFrame:
    """Count the heads in service by week and head type.

    Parameters
    ----------
    bars : DataFrame
        From `timeline`.

    Returns
    -------
    DataFrame
        Index: Mondays; one column per head type [heads].
    """
    if len(bars) == 0:
        return pd.DataFrame()
    weeks = pd.date_range(bars["start"].min(), bars["end"].max(), freq="W-MON")
    if len(weeks) == 0:
        weeks = pd.DatetimeIndex([bars["start"].min()])
    counts = {}
    for (_, head_type), part in bars.groupby(["rank", "head_type"], sort=True):
        start = np.sort(part["start"].to_numpy())
        # A head taken out on a day is no longer counted that day; one still in service is.
        out = np.sort(part.loc[part["ending"] != IN_SERVICE, "end"].to_numpy())
        counts[head_type] = np.searchsorted(start, weeks, "right") - np.searchsorted(
            out, weeks, "right"
        )
    return pd.DataFrame(counts, index=weeks)


def draw_timeline(
    ax: Axes, bars: pd.DataFrame, *, legend_columns: int = 8, title: str = ""
) -> Axes:
    """Draw positions over the calendar and the removals by reason.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    bars : DataFrame
        From `installations`.
    legend_columns : int
        Columns of the legend above; few for a narrow figure.
    title : str
        Shown above the legend.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    places = bars.drop_duplicates("line").sort_values("line")
    rows = len(places)
    _draw_bars(ax, bars)
    _draw_endings(ax, bars)
    ax.set_yticks(places["line"], [as_label(place) for place in places["place"]])
    ax.tick_params(axis="y", length=0, labelsize=style.NOTE)
    ax.set_ylim(rows - 0.4, -0.6)
    _separate_sites(ax, places)
    ax.grid(axis="x")
    ax.spines["left"].set_visible(False)
    _date_axis(ax)
    ax.set_title(title, pad=8)
    longest = max(map(len, ax.get_legend_handles_labels()[1]), default=1)
    beside = int(_LETTERS * ax.figure.bbox.width / ax.figure.dpi / (longest + _MARK))
    ax.legend(
        loc="lower left",
        bbox_to_anchor=(0.0, 1.0),
        ncols=max(1, min(legend_columns, beside)),
        columnspacing=1.1,
        handletextpad=0.4,
        handlelength=1.2,
        borderaxespad=0.4,
    )
    return ax


def draw_in_service(ax: Axes, counts: pd.DataFrame) -> Axes:
    """Draw the heads in service, stacked by head type in the colours of the timeline.

    Parameters
    ----------
    ax : Axes
        Drawn on and returned.
    counts : DataFrame
        From `heads_in_service`.

    Returns
    -------
    Axes
        `ax`, drawn on.
    """
    if len(counts):
        ax.stackplot(
            counts.index,
            counts.to_numpy().T,
            colors=_TYPE_COLOURS[: counts.shape[1]],
            step="post",
        )
    ax.set_ylabel("In service\n[heads]")
    ax.set_ylim(0, None)
    ax.yaxis.set_major_locator(MaxNLocator(nbins=4, integer=True, min_n_ticks=1))
    ax.grid(axis="y")
    _date_axis(ax)
    ax.set_xlabel("Date")
    return ax


def _draw_bars(ax: Axes, bars: pd.DataFrame) -> None:
    for number, ((_, head_type), part) in enumerate(bars.groupby(["rank", "head_type"], sort=True)):
        start, end = _day_numbers(part["start"]), _day_numbers(part["end"])
        line = part["line"].to_numpy(float)
        segments = np.stack([np.column_stack([start, line]), np.column_stack([end, line])], axis=1)
        ax.add_collection(
            LineCollection(
                list(segments),
                colors=_TYPE_COLOURS[number % len(_TYPE_COLOURS)],
                linewidths=5.5,
                capstyle="butt",
                label=as_label(head_type),
                zorder=1.5,
            )
        )
    if len(bars):
        # One white hair at each start keeps two heads of the same type apart.
        ax.vlines(
            _day_numbers(bars["start"]),
            bars["line"] - 0.42,
            bars["line"] + 0.42,
            color="white",
            linewidth=1.6,
            zorder=1.7,
        )
        ax.autoscale_view()


def _draw_endings(ax: Axes, bars: pd.DataFrame) -> None:
    for failed, face in ((True, style.VERMILLION), (False, "white")):
        part = bars[(bars["failed"] == failed) & (bars["ending"] != IN_SERVICE)]
        shapes = _shapes_of(part["ending"], failed)
        for ending, some in part.groupby("ending", sort=True):
            ax.plot(
                _day_numbers(some["end"]),
                some["line"],
                linestyle="none",
                marker=shapes[str(ending)],
                markersize=7.5 if failed else 4.5,
                markerfacecolor=face,
                markeredgecolor=style.INK,
                markeredgewidth=0.8 if failed else 1.0,
                label=str(ending),
                zorder=3 if failed else 2.5,
            )


def _separate_sites(ax: Axes, places: pd.DataFrame) -> None:
    """Draw a thin line between sites and write each site's name at the right edge."""
    sites = places["site"].to_numpy()
    if len(set(sites)) < 2:
        return
    for site in pd.unique(sites):
        lines = places["line"][places["site"] == site]
        if lines.min() > 0:
            ax.axhline(lines.min() - 0.5, color=style.GREY, linewidth=0.8)
        at, looks = (1.0, float(lines.mean())), {"va": "center", "color": style.GREY}
        style.note(ax, str(site), at, style.ACROSS, (5, 0), rotation=270, **looks)


def _day_numbers(days: pd.Series) -> np.ndarray:
    return np.asarray(dates.date2num(days), float)  # type: ignore[no-untyped-call]


def _date_axis(ax: Axes) -> None:
    locator = dates.AutoDateLocator(minticks=3, maxticks=9)  # type: ignore[no-untyped-call]
    ax.xaxis.set_major_locator(locator)
    written = dates.ConciseDateFormatter(locator, show_offset=False)  # type: ignore[no-untyped-call]
    ax.xaxis.set_major_formatter(written)


def _natural(text: str) -> list[tuple[int, str]]:
    """Order P2 before P10."""
    digits, words = "", []
    for letter in text + " ":
        if letter.isdigit():
            digits += letter
            continue
        if digits:
            words.append((int(digits), ""))
            digits = ""
        words.append((-1, letter))
    return words
