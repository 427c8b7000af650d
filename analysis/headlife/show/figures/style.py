"""One look for every figure: colours, type, units, and how a figure becomes part of a page.

Colours are the eight of Okabe and Ito (Color Universal Design, 2008), told apart by readers with
any of the common colour deficiencies; marks differ in shape as well, so that a black-and-white
print reads the same. Nothing here knows a head, a rating or a decision.
"""

from __future__ import annotations

import base64
import html
import io
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, Final

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.ticker import FuncFormatter

BLUE: Final = "#0072B2"
SKY: Final = "#56B4E9"
GREEN: Final = "#009E73"
ORANGE: Final = "#E69F00"
VERMILLION: Final = "#D55E00"
PURPLE: Final = "#CC79A7"
INK: Final = "#1B2430"
GREY: Final = "#6B7480"
PALE: Final = "#D9DEE4"

PANEL: Final = (4.9, 3.8)  # [in] one panel: half a page on a desk, the whole width of a phone

_RC: Final[Any] = {
    "font.family": ["DejaVu Sans"],
    "font.size": 10.5,
    "axes.titlesize": 11.5,
    "axes.titleweight": "bold",
    "axes.titlelocation": "left",
    "axes.titlepad": 20,  # above the name of the rated hours
    "axes.labelsize": 10.5,
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
    "legend.fontsize": 9.5,
    "lines.linewidth": 1.8,
    "text.parse_math": False,  # a dollar sign in a serial number is a dollar sign
    "svg.hashsalt": "headlife",  # same figure, same bytes
    "svg.fonttype": "path",
    "figure.facecolor": "white",
}

_DEFAULTS: Final[Any] = {
    name: value for name, value in mpl.rcParamsDefault.items() if not name.startswith("backend")
}


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

    Returns
    -------
    bytes
        The SVG file; the same drawing gives the same bytes.
    """
    with headlife_style():
        figure = Figure(figsize=size, layout="constrained")
        canvas = FigureCanvasSVG(figure)
        panels = figure.subplots(
            len(draw), 1, sharex=True, squeeze=False, height_ratios=heights
        ).ravel()
        for one, ax in zip(draw, panels, strict=True):
            one(ax)
        _lay_out(figure)
        written = io.BytesIO()
        with warnings.catch_warnings():
            # A name in a script the font lacks shows as boxes here; the tables carry it in full.
            warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
            # Saving the usual way would draw everything twice, once to lay it out.
            canvas.print_svg(written, metadata={"Date": None, "Creator": None})  # type: ignore[no-untyped-call]
    return written.getvalue()


def _lay_out(figure: Figure) -> None:
    """Find the place of everything once; saving would draw the whole figure twice for it."""
    engine = figure.get_layout_engine()
    if engine is not None:
        engine.execute(figure)
        figure.set_layout_engine("none")


def figure_html(
    wide: bytes, alt: str, caption: str, *, narrow: bytes | None = None, css: str = "panel"
) -> str:
    """One figure as HTML that needs nothing from outside the page.

    Parameters
    ----------
    wide : bytes
        The picture as SVG.
    alt : str
        What the picture shows, for a reader who cannot see it.
    caption : str
        The line under it; escaped here.
    narrow : bytes, optional
        The same picture drawn for a phone.
    css : str
        Class of the figure on the page.

    Returns
    -------
    str
        The figure with its alternative text and caption.
    """
    source = ""
    if narrow is not None:
        source = f'<source media="(max-width: 640px)" srcset="{_data_uri(narrow)}">'
    picture = (
        f"<picture>{source}"
        f'<img src="{_data_uri(wide)}" alt="{html.escape(alt, quote=True)}"></picture>'
    )
    return (
        f'<figure class="{css}">{picture}<figcaption>{html.escape(caption)}</figcaption></figure>'
    )


def _data_uri(svg: bytes) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg).decode("ascii")


def hours_axis(axis: Any) -> None:
    """Thousands apart on an axis of hours: 1,200.

    Parameters
    ----------
    axis : matplotlib.axis.Axis
        An axis in hours [h].
    """
    axis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:,.0f}"))


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
    ax.annotate(
        f"rated {rated_hours:,.0f} h",
        (rated_hours, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(0, 3),
        textcoords="offset points",
        ha="center",
        va="bottom",
        fontsize=9,
        color=INK,
    )
