"""How does a page let people try their own numbers? Sliders, the data they need, and the script.

From names, limits and values that somebody else worked out; gives HTML that stays hidden until the
page's own script shows it. Everything that came from a user is text there, never markup.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

import numpy as np

from headlife.numbers import Floats
from headlife.show.markup import Html, escape, scripts

# Nothing in a name can end the element that the data stand in.
_IN_DATA: Final = {"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"}
_STILL: Final = (
    "Here the page lets you move the numbers, by its own script and without any network. This "
    "browser does not run it; the answers on the page stand as they are."
)


@dataclass(frozen=True)
class Slider:
    """One number that can be moved, by a slider or typed."""

    name: str
    """Its name in the link, and for the script."""
    label: str
    """What it is, in words."""
    unit: str
    """Its unit, shown beside the label."""
    value: float
    """Where it starts."""
    least: float
    """Lowest value."""
    most: float
    """Highest value."""
    step: float
    """Values are this far apart."""

    def html(self) -> str:
        """Make the label, the slider and the number field."""
        name, where = f"try-{self.name}", f"try-{self.name}-exact"
        limits = f'min="{self.least:g}" max="{self.most:g}" step="{self.step:g}"'
        given = f'value="{self.value:g}"'
        words = f"{escape(self.label)} [{escape(self.unit)}]"
        return (
            f'<div class="slider"><label for="{name}">{words}</label>'
            f'<input type="range" id="{name}" data-name="{self.name}" '
            f'data-unit="{escape(self.unit)}" {limits} {given}>'
            f'<input type="number" id="{where}" aria-label="{words}, typed" {limits} {given}></div>'
        )


def steps_to(value: float, least: float) -> tuple[float, float]:
    """Give the end and the step of a slider for an amount, round and well past the value.

    Parameters
    ----------
    value : float
        Where it starts.
    least : float
        The end is at least this.

    Returns
    -------
    end, step : float
        The end, a whole number of steps, and the step, of which the value is a multiple.
    """
    end = max(4.0 * value, least)
    coarse = 10.0 ** np.floor(np.log10(end / 20.0))
    step = next(
        (one for one in (coarse, 1.0, 0.1, 0.01) if one <= coarse and _even(value, one)), 0.01
    )
    return float(np.ceil(end / step) * step), float(step)


def _even(value: float, step: float) -> bool:
    return abs(value / step - round(value / step)) < 1e-6


def packed(values: Floats) -> str:
    """Pack numbers for the script: single precision, base 64.

    Parameters
    ----------
    values : array of float
        The numbers, (n,).

    Returns
    -------
    str
        The text.
    """
    return base64.b64encode(np.asarray(values, "<f4").tobytes()).decode("ascii")


def runs(levels: Iterable[int]) -> list[list[int]]:
    """Write whole numbers as pairs of a number and how often it follows itself.

    Parameters
    ----------
    levels : iterable of int
        The numbers.

    Returns
    -------
    list of list of int
        The pairs.
    """
    return [[number, len(list(same))] for number, same in groupby(levels)]


def panel(choices: str, moved: Iterable[Slider], shown: Html, data: Any) -> Html:
    """Make the panel: sliders, what they change, and the data behind it.

    Parameters
    ----------
    choices : str
        HTML of what is chosen and not moved, such as the kind of head.
    moved : iterable of Slider
        The sliders.
    shown : Html
        What the script fills in.
    data : object
        Written as JSON for the script.

    Returns
    -------
    Html
        A piece of the page.
    """
    written = json.dumps(data, allow_nan=False, separators=(",", ":"))
    for sign, instead in _IN_DATA.items():
        written = written.replace(sign, instead)
    rows = "".join(one.html() for one in moved)
    return Html(
        f'<p id="what-if-static">{escape(_STILL)}</p>'
        f'<div id="what-if-panel" class="what-if" hidden><div class="sliders">{choices}{rows}</div>'
        f"{shown.markup}"
        '<p><a id="what-if-link" href="#what_if">Link to these values</a>, to keep or to pass on '
        "with the page</p></div>"
        f'<script type="application/json" id="what-if-data">{written}</script>',
        "sliders to try other numbers",
    )


def script(name: str) -> str:
    """Read the script of a page with sliders: what all of them share, and its own.

    Parameters
    ----------
    name : str
        "replace" or "spares".

    Returns
    -------
    str
        JavaScript.
    """
    return scripts("common", name)
