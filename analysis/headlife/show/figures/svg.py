"""How does a drawing become a piece of a page? As a small SVG inside the page's own text.

From a figure that is laid out; gives the bytes of a file, or HTML that needs nothing from outside.
"""

from __future__ import annotations

import html
import io
import re
import warnings
from collections.abc import Mapping
from typing import Final

from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from headlife.show.markup import Html

# Longest fractions of an SVG: a hundredth of a point is finer than any screen or printer.
_FRACTION: Final = re.compile(rb"(?<=[0-9]\.)([0-9]{2})[0-9]+")


_DRAWING: Final = re.compile(rb'(?: (?:d|points|x|y)="[^"]*"|translate\([^)]*\))')


# What no reader of a picture needs: comments, the licence block, names of groups, empty groups.
_UNSEEN: Final = re.compile(
    rb'<!DOCTYPE[^>]*>|<metadata>.*?</metadata>|<!--.*?-->|<g id="[^"]*"/>|(?<=<g) id="[^"]*"'
    rb'| transform="rotate\(-0 [^"]*"',
    re.S,
)


_FAMILY: Final = (b"'DejaVu Sans'", b"DejaVu Sans, Verdana, sans-serif")  # as wide as each other


# A picture inside an attribute: what would end the attribute or the address.
_IN_A_URI: Final = {"%": "%25", "#": "%23", '"': "%22", "&": "%26", "\n": " "}


_IN_A_SET: Final = {" ": "%20", ",": "%2C"}  # and what would end an address in a `srcset`


_SPACE: Final = re.compile(rb"\s*\n\s*")


def svg_of(figure: Figure) -> bytes:
    """Write a figure that is laid out, inside `headlife_style`.

    Parameters
    ----------
    figure : Figure
        From `laid_out`.

    Returns
    -------
    bytes
        The SVG file.
    """
    written = io.BytesIO()
    with warnings.catch_warnings():
        without_boxes()
        # Saving the usual way would draw everything twice, once to lay it out.
        FigureCanvasSVG(figure).print_svg(written, metadata={"Date": None, "Creator": None})  # type: ignore[no-untyped-call]
    return _slim(written.getvalue())


def without_boxes() -> None:
    """Warn of no letter that the font lacks: its box is measured, a browser has other fonts."""
    warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)


def _slim(svg: bytes) -> bytes:
    """Write a drawing with no finer numbers than anybody can see, and without a line's indent."""
    short = _DRAWING.sub(lambda found: _FRACTION.sub(rb"\1", found.group()), svg)
    return _SPACE.sub(b"\n", _UNSEEN.sub(b"", short)).replace(*_FAMILY)


def figure_html(
    wide: bytes, alt: str, caption: str, *, narrow: bytes | None = None, css: str = "panel"
) -> Html:
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
    Html
        The figure with its alternative text and caption.
    """
    source = ""
    if narrow is not None:
        source = f'<source media="(max-width: 640px)" srcset="{_data_uri(narrow, _IN_A_SET)}">'
    picture = (
        f"<picture>{source}"
        f'<img src="{_data_uri(wide)}" alt="{html.escape(alt, quote=True)}"></picture>'
    )
    return Html(
        f'<figure class="{css}">{picture}<figcaption>{html.escape(caption)}</figcaption></figure>'
    )


def _data_uri(svg: bytes, further: Mapping[str, str] | None = None) -> str:
    """Name a picture by its content, with as few signs as an attribute of HTML can take."""
    text = svg.decode("utf-8")
    for sign, instead in (_IN_A_URI | dict(further or {})).items():
        text = text.replace(sign, instead)
    return f"data:image/svg+xml,{text}"
