"""One look for every figure: colours, type, units, and how a figure becomes part of a page.

Colours are the eight of Okabe and Ito (Color Universal Design, 2008), told apart by readers with
any of the common colour deficiencies; marks differ in shape as well, so that a black-and-white
print reads the same. Nothing here knows a head, a rating or a decision.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, Final

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter
from matplotlib.transforms import ScaledTranslation

from headlife.show.figures.names import shortened, width
from headlife.show.figures.svg import svg_of, without_boxes

BLUE: Final = "#0072B2"
SKY: Final = "#56B4E9"
GREEN: Final = "#009E73"
ORANGE: Final = "#E69F00"
VERMILLION: Final = "#D55E00"
TEAL: Final = "#00694C"  # green, dark enough for letters
INK: Final = "#1B2430"
GREY: Final = "#6B7480"
PALE: Final = "#D9DEE4"

# What lies beyond the data: dotted, so that no grey print takes it for a range.
UNSEEN: Final[Any] = {
    "facecolor": (PALE, 0.5),
    "edgecolor": "#A9B3BE",
    "hatch": "..",
    "linewidth": 0,
}
PANEL: Final = (4.9, 4.1)  # [in] one panel: half a page on a desk, the whole width of a phone
# What a note is counted in: at an edge beside a height, or above a place.
ACROSS: Final = ("axes fraction", "data")
UPRIGHT: Final = ("data", "axes fraction")
NOTE: Final = 11.0  # [points] of notes in a figure: no letter is smaller, see `font.size`

_TITLE: Final = 9.5  # characters of a title an inch
_MARGIN: Final = 0.01  # left of a title that begins at the edge of the figure, as a share of it


_RC: Final[Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": 11,  # 11 pixels on a phone, where a panel is as wide as the screen
    "axes.titlesize": 11.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlepad": 20,  # above the name of the rated hours
    "axes.labelsize": 11,
    "axes.labelcolor": INK,
    "axes.edgecolor": GREY,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": False,
    "axes.axisbelow": True,
    "grid.color": PALE,
    "grid.linewidth": 0.7,
    "text.color": INK,
    "xtick.color": GREY,
    "ytick.color": GREY,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "legend.frameon": False,
    "legend.fontsize": 11,
    "lines.linewidth": 1.8,
    "text.parse_math": False,  # a dollar sign in a serial number is a dollar sign
    "svg.hashsalt": "headlife",  # same figure, same bytes
    "svg.fonttype": "none",  # letters as letters: a tenth of the bytes of their outlines
    "figure.facecolor": "white",
}

_DEFAULTS: Final[Any] = {
    name: value for name, value in mpl.rcParamsDefault.items() if not name.startswith("backend")
}


@dataclass(frozen=True)
class Drawn:
    """What one figure of a page is drawn by."""

    draw: tuple[Callable[[Axes], Any], ...]
    """Each takes an `Axes` and draws on it; several are stacked."""
    heights: tuple[float, ...] | None
    """Shares of the height, one per drawing."""
    size: tuple[float, float]
    """Width and height on the page [in]."""


_KEPT: ContextVar[list[Drawn] | None] = ContextVar("headlife drawings", default=None)


@contextmanager
def headlife_style() -> Iterator[None]:
    """Draw in the house style inside this block; everything else keeps its own settings."""
    # Matplotlib's own defaults first: nothing of anybody's matplotlibrc is left in a figure.
    with mpl.rc_context(_DEFAULTS | _RC):
        yield


def as_svg(
    *draw: Callable[[Axes], Any],
    size: tuple[float, float] = PANEL,
    heights: tuple[float, ...] | None = None,
    again: bool = False,
) -> bytes:
    """Draw on fresh axes and return the picture as SVG, without pyplot and its shared state.

    Parameters
    ----------
    *draw : callable
        Each takes an `Axes` and draws on it; several are stacked and share the horizontal axis.
    size : tuple of float
        Width and height [in].
    heights : tuple of float, optional
        Shares of the height, one per drawing.
    again : bool
        Whether the page shows the same figure at another size too.

    Returns
    -------
    bytes
        The SVG file; the same drawing gives the same bytes.
    """
    drawn = Drawn(draw, heights, size)
    kept = _KEPT.get()
    if kept is not None and not again:
        kept.append(drawn)
    with headlife_style():
        return svg_of(laid_out(drawn, size))


def laid_out(drawn: Drawn, size: tuple[float, float]) -> Figure:
    """Draw a figure of a size and find the place of everything, inside `headlife_style`.

    Parameters
    ----------
    drawn : Drawn
        What to draw.
    size : tuple of float
        Width and height [in].

    Returns
    -------
    Figure
        Ready to be written.
    """
    figure = Figure(figsize=size, layout="constrained")
    FigureCanvasSVG(figure)
    panels = figure.subplots(
        len(drawn.draw), 1, sharex=True, squeeze=False, height_ratios=drawn.heights
    ).ravel()
    for one, ax in zip(drawn.draw, panels, strict=True):
        one(ax)
    titles = [ax.get_title(loc="left") for ax in panels]
    for ax, title in zip(panels, titles, strict=True):
        # A title makes room for itself, at the cost of what is drawn.
        ax.set_title(shortened(title, int(0.5 * _TITLE * size[0])))
    with warnings.catch_warnings():
        without_boxes()
        _lay_out(figure)
    for ax, title in zip(panels, titles, strict=True):
        place = ax.get_position()
        fits = width(title) <= _TITLE * size[0] * (1.0 - place.x0)
        begins = 0.0 if fits else (_MARGIN - place.x0) / place.width
        ax.set_title(shortened(title, int(_TITLE * size[0])), x=begins)
    return figure


@contextmanager
def kept_drawings() -> Iterator[list[Drawn]]:
    """Keep what is drawn inside this block, so that it can be drawn again at another size."""
    found: list[Drawn] = []
    before = _KEPT.set(found)
    try:
        yield found
    finally:
        _KEPT.reset(before)


def _lay_out(figure: Figure) -> None:
    """Find the place of everything once; saving would draw the whole figure twice for it."""
    engine = figure.get_layout_engine()
    if engine is not None:
        engine.execute(figure)
        figure.set_layout_engine("none")


def hours_axis(axis: Any) -> None:
    """Thousands apart on an axis of hours: 1,200.

    Parameters
    ----------
    axis : matplotlib.axis.Axis
        An axis in hours [h].
    """
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.0f}"))


def legend_below(ax: Axes, *, columns: int = 2, gap: float = 42.0, **given: Any) -> Any:
    """Put the legend under the axis, where no data are.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    columns : int
        Columns of the legend.
    gap : float
        From the axis to the legend, over its ticks and its label [points].
    **given : object
        Further arguments of `Axes.legend`, such as the handles.

    Returns
    -------
    Legend
        The legend.
    """
    shift = ScaledTranslation(-36 / 72, -gap / 72, ax.figure.dpi_scale_trans)
    return ax.legend(
        loc="upper left",
        bbox_to_anchor=(0.0, 0.0),
        bbox_transform=ax.transAxes + shift,
        ncols=columns,
        columnspacing=1.2,
        handlelength=1.7,
        handletextpad=0.5,
        borderaxespad=0.0,
        labelspacing=0.25,
        **given,
    )


def percent_axis(axis: Any) -> None:
    """Shares as percent on an axis that runs from 0 to 1.

    Parameters
    ----------
    axis : matplotlib.axis.Axis
        An axis of shares [-].
    """
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{100 * value:.0f} %"))


def mark_rating(ax: Axes, rated_hours: float) -> None:
    """Mark the rated hours: a dashed vertical line with its name at the top.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    rated_hours : float
        The rating [h].
    """
    ax.axvline(rated_hours, color=INK, linewidth=1.1, linestyle=(0, (4, 3)), zorder=1.5)
    looks = {"ha": "center", "va": "bottom", "color": INK}
    note(ax, f"rated {rated_hours:,.0f} h", (rated_hours, 1.0), UPRIGHT, (0, 3), **looks)


def band(ax: Axes, at: Any, low: Any, high: Any, label: str | None = None, **looks: Any) -> None:
    """Shade a range between two curves.

    Parameters
    ----------
    ax : Axes
        Drawn on.
    at, low, high : array_like
        Where, and both ends, in the units of the axes.
    label : str, optional
        Its name in the legend.
    **looks
        Colour, alpha and the like, where they are not the usual ones.
    """
    usual: dict[str, Any] = {"color": SKY, "alpha": 0.30, "linewidth": 0}
    ax.fill_between(at, low, high, label=label, **(usual | looks))


def note(
    ax: Axes,
    words: str,
    at: tuple[float, float],
    counted_in: Any,
    away: tuple[float, float] = (0, 0),
    **looks: Any,
) -> None:
    """Write a few words beside a point.

    Parameters
    ----------
    ax : Axes
        Written on.
    words : str
        The words.
    at : tuple of float
        The point.
    counted_in : str or tuple of str
        What the point is counted in: "data", "axes fraction", `ACROSS` or `UPRIGHT`.
    away : tuple of float
        How far from the point they stand [points].
    **looks
        Alignment, colour and the like.
    """
    ax.annotate(
        words,
        at,
        xycoords=counted_in,
        xytext=away,
        textcoords="offset points",
        fontsize=NOTE,
        **looks,
    )
