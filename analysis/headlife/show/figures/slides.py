"""Each figure of a page as files of its own: for a slide, for another drawing program, as numbers.

From what a page draws while it is made; gives SVG and PNG of the size of a slide, and a CSV of the
data that stand in the picture. Computes nothing and draws nothing twice that differs.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from typing import Any, Final

import numpy as np
from matplotlib import dates
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import PathCollection
from matplotlib.figure import Figure

from headlife.show.csv_text import harmless
from headlife.show.figures import style, svg

SIZE: Final = (8.9, 5.0)  # [in]; with the resolution below a slide of 1920 by 1080
DPI: Final = 216
_TALLER: Final = (
    2.5  # [in] a panel of a page is taller than a slide; a picture of many rows stays so
)
_HEADINGS: Final = ("panel", "what", "x", "y", "x unit", "y unit")


def files_of(drawn: style.Drawn, number: int) -> Iterator[tuple[str, bytes]]:
    """Make the files of one figure.

    Parameters
    ----------
    drawn : Drawn
        What a page drew.
    number : int
        Its place on the page, from 1.

    Yields
    ------
    name, content : str, bytes
        SVG, PNG and CSV.
    """
    with style.headlife_style():
        wide, high = drawn.size
        figure = style.laid_out(drawn, (SIZE[0], max(SIZE[1], SIZE[0] * high / wide - _TALLER)))
        name = f"{number:02d}-{_slug(figure)}"
        yield f"{name}.svg", svg.svg_of(figure)
        written = io.BytesIO()
        figure.set_dpi(DPI)
        FigureCanvasAgg(figure).print_png(written)  # type: ignore[no-untyped-call]
        yield f"{name}.png", written.getvalue()
        yield f"{name}.csv", _table(figure)


def _slug(figure: Figure) -> str:
    named = (
        f"{ax.get_title(loc='left')} {ax.get_ylabel() or ax.get_xlabel()}" for ax in figure.axes
    )
    words = next((words for words in named if words.strip()), "")
    return re.sub(r"[^a-z0-9]+", "-", words.lower()).strip("-")[:60] or "figure"


def _table(figure: Figure) -> bytes:
    """Write what stands in a picture: lines, bars, bands and dots, each under its name."""
    text = io.StringIO()
    table = csv.writer(text, lineterminator="\n")
    table.writerow(_HEADINGS)
    for panel, ax in enumerate(figure.axes, 1):
        units = (ax.get_xlabel() or figure.axes[-1].get_xlabel(), ax.get_ylabel())
        for what, x, y in _points(ax):
            told = _written(ax.xaxis, units[0], x), _written(ax.yaxis, units[1], y)
            table.writerow([panel, _plain(what), *told, *units])
    return text.getvalue().encode("utf-8")


def _points(ax: Axes) -> Iterator[tuple[str, float, float]]:
    for line in ax.lines:
        # A line across the whole panel has a place on one axis only.
        upright = line.get_transform() == ax.get_xaxis_transform()
        level = line.get_transform() == ax.get_yaxis_transform()
        for x, y in np.asarray(line.get_xydata(), float)[: 1 if upright or level else None]:
            yield (
                str(line.get_label()),
                np.nan if level else float(x),
                np.nan if upright else float(y),
            )
    for group in ax.containers:
        for bar in getattr(group, "patches", []):
            wide = bar.get_width() > bar.get_height() and bar.get_x() == 0.0
            x = bar.get_x() + (bar.get_width() if wide else 0.5 * bar.get_width())
            y = bar.get_y() + (0.5 * bar.get_height() if wide else bar.get_height())
            yield str(group.get_label()), float(x), float(y)
    for one in ax.collections:
        parts: Any = one.get_offsets() if isinstance(one, PathCollection) else None
        if parts is None:
            parts = np.concatenate(
                [path.vertices for path in one.get_paths()] or [np.empty((0, 2))]
            )
        for x, y in np.asarray(parts, float):
            yield str(one.get_label()), float(x), float(y)


def _written(axis: Any, label: str, value: float) -> str:
    """Write a coordinate in the unit of its axis: days as ISO has them, shares as percent."""
    if np.isnan(value):
        return ""
    if isinstance(axis.get_major_locator(), dates.DateLocator):
        return str(dates.num2date(value).date().isoformat())  # type: ignore[no-untyped-call]
    if "Weibull scale" in label:
        value = -np.expm1(-np.exp(value))  # the paper's own scale undone
    return f"{100.0 * value if '[%]' in label else value:.9g}"


def _plain(label: str) -> str:
    """Name what has no name of its own, and let no program take a name for a formula."""
    return harmless("unnamed" if label.startswith("_") else label)
