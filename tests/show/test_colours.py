"""What a figure tells apart stays apart for readers without green cones, and on grey paper.

Colours are seen through a published simulation of deuteranopia; what looks alike then must differ
in its mark: a dash, a hatch, a shape.
"""

from __future__ import annotations

from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from matplotlib.collections import Collection, LineCollection, PathCollection
from matplotlib.colors import to_rgb, to_rgba
from matplotlib.lines import Line2D

import headlife as hl
from headlife.show.figures import style
from headlife.show.figures.timeline import _TYPE_COLOURS

ROOT = Path(__file__).parents[2]
# Deuteranopia (severity 1.0), on linear RGB: G. M. Machado, M. M. Oliveira and L. A. F. Fernandes,
# "A physiologically-based model for simulation of color vision deficiency", IEEE Transactions on
# Visualization and Computer Graphics 15 (2009) 1291-1298, table of matrices. From memory; that
# white stays white, as it must, is checked below.
DEUTERANOPIA = np.array(
    [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ]
)
# Linear sRGB to CIE XYZ, and the white of D65: IEC 61966-2-1.
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
# Differences of CIE 1976 L*a*b* (ISO/CIE 11664-4). One that is just noticed is about 2.3 (Mahy, Van
# Eycken and Oosterlinck, 1994); marks apart on a page are to differ by several times as much: own
# choice, no source.
APART = 15.0


def linear(colour) -> np.ndarray:
    """Undo the curve of sRGB (IEC 61966-2-1)."""
    value = np.array(to_rgb(colour))
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def lab(light: np.ndarray) -> np.ndarray:
    """L*, a* and b* of linear RGB (ISO/CIE 11664-4)."""
    x, y, z = (TO_XYZ @ light) / TO_XYZ.sum(axis=1)
    f = [np.cbrt(v) if v > (6 / 29) ** 3 else v / (3 * (6 / 29) ** 2) + 4 / 29 for v in (x, y, z)]
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def as_seen(colour) -> np.ndarray:
    return lab(np.clip(DEUTERANOPIA @ linear(colour), 0.0, 1.0))


def in_deuteranopia(one, other) -> float:
    return float(np.linalg.norm(as_seen(one) - as_seen(other)))


def in_grey(one, other) -> float:
    return float(abs(lab(linear(one))[0] - lab(linear(other))[0]))


def test_white_stays_white_and_known_colours_have_their_known_place():
    assert DEUTERANOPIA.sum(axis=1) == pytest.approx([1.0, 1.0, 1.0], abs=2e-6)
    assert lab(linear("white")) == pytest.approx([100.0, 0.0, 0.0], abs=0.02)
    # sRGB red has L* 53.2, a* 80.1, b* 67.2 under D65: common knowledge, no source.
    assert lab(linear("#ff0000")) == pytest.approx([53.2, 80.1, 67.2], abs=0.1)
    # Red and green of one lightness are what these readers take for each other.
    assert in_deuteranopia("#c85000", "#8a7800") < 0.4 * np.linalg.norm(
        lab(linear("#c85000")) - lab(linear("#8a7800"))
    )


def test_colours_of_marks_differ_in_deuteranopia():
    names = ("BLUE", "SKY", "GREEN", "ORANGE", "VERMILLION", "INK", "GREY", "PALE")
    for one, other in combinations(names, 2):
        apart = in_deuteranopia(getattr(style, one), getattr(style, other))
        assert apart >= APART, (one, other, apart)


def test_head_types_of_the_fleet_differ_in_grey_and_in_deuteranopia():
    for one, other in combinations(_TYPE_COLOURS, 2):
        assert in_deuteranopia(one, other) >= APART, (one, other, in_deuteranopia(one, other))
        assert in_grey(one, other) >= 8.0, (one, other, in_grey(one, other))


def mark_of(handle):
    """What a mark looks like without its colour, and its colour on white."""
    if isinstance(handle, Line2D):
        line = handle.get_linestyle() if handle.get_marker() in (None, "None", "") else ""
        dashes = tuple(handle._dash_pattern[1] or ())
        marker = str(handle.get_marker())
        face = to_rgba(handle.get_markerfacecolor())
        hollow = face[3] == 0 or face[:3] == (1.0, 1.0, 1.0)
        kind = ("line", line, dashes, marker, hollow, round(handle.get_linewidth(), 1) > 2.5)
        colour = handle.get_color() if not (marker.strip() and not line) else None
        return kind, to_rgba(face if colour is None else colour)
    if isinstance(handle, LineCollection):
        return ("bar",), to_rgba(handle.get_color()[0])
    if isinstance(handle, PathCollection):
        return ("dots", str(handle.get_paths()[0].vertices.shape)), to_rgba(
            handle.get_facecolor()[0] if len(handle.get_facecolor()) else handle.get_edgecolor()[0]
        )
    if isinstance(handle, Collection):
        return ("area", handle.get_hatch()), to_rgba(handle.get_facecolor()[0])
    first = handle[0] if isinstance(handle, tuple) and len(handle) else handle
    if hasattr(first, "get_facecolor"):
        return ("bar", first.get_hatch()), to_rgba(first.get_facecolor())
    return (type(handle).__name__,), to_rgba("black")


def on_white(rgba) -> tuple[float, ...]:
    *rgb, alpha = rgba
    return tuple(alpha * part + (1.0 - alpha) for part in rgb)


@pytest.fixture(scope="module")
def figures():
    """Every figure of the demo's pages, drawn again as it is on the page."""
    from headlife.decisions.backtest import backtest
    from headlife.decisions.policy.proposal import proposal_study
    from headlife.decisions.two_ways import read_both_ways
    from headlife.show.past_rating.page import curves
    from headlife.show.review.page import review_page
    from headlife.show.spares.page import spares_page

    case = hl.read_case(ROOT / "data_demo/removals.csv", shop=ROOT / "data_demo/shop.toml")
    review = hl.quarterly_review(case)
    with style.kept_drawings() as kept:
        review_page(case, review, read_both_ways(review, case)).html()
        spares_page(hl.spares_study(case), backtest(case)).html()
        str(curves(proposal_study(review, case.shop)))
    drawn = []
    with style.headlife_style():
        for one in kept:
            drawn.append(style.laid_out(one, one.size))
    return drawn


def test_what_one_legend_names_is_told_apart_by_mark_or_by_shade(figures):
    compared, alike = 0, []
    for figure in figures:
        title = figure.axes[0].get_title(loc="left")
        for ax in figure.axes:
            legend = ax.get_legend()
            if legend is None:
                continue
            named = [
                (text.get_text(), *mark_of(handle))
                for handle, text in zip(legend.legend_handles, legend.get_texts(), strict=True)
            ]
            for (one, kind, colour), (other, its_kind, its) in combinations(named, 2):
                compared += 1
                if kind != its_kind:
                    continue
                seen = on_white(colour), on_white(its)
                if in_deuteranopia(*seen) < APART or in_grey(*seen) < 8.0:
                    alike.append((title, one, other, in_deuteranopia(*seen), in_grey(*seen)))
    assert compared > 80 and len(figures) > 20
    assert not alike, "\n".join(map(str, alike))
