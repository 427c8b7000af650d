"""The fleet over the calendar: what ran where, and what took it out.

From the accepted records; draws with `headlife.show.figures.timeline`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from headlife.show.figures import style, svg, timeline
from headlife.show.markup import Html

if TYPE_CHECKING:
    import pandas as pd

_ROW_HEIGHT: Final = 0.25  # [in] of one printer position on the timeline

_MOST_POSITIONS: Final = 60  # with more nobody finds a line, and the page grows too large

_WIDE: Final = 8  # columns of the legend of the wide picture


def timeline_figure(
    accepted: pd.DataFrame, as_of: pd.Timestamp, head_types: Sequence[str] = ()
) -> Html:
    """Draw the fleet over the calendar: positions, removals by reason, heads in service.

    Parameters
    ----------
    accepted : DataFrame
        Accepted rows of the records.
    as_of : Timestamp
        Last day drawn.
    head_types : sequence of str
        Their order, as elsewhere on the page.

    Returns
    -------
    Html
        A piece of the page.
    """
    bars = timeline.installations(accepted, as_of, head_types)
    counts = timeline.heads_in_service(bars)
    everything = int(bars["line"].max()) + 1 if len(bars) else 1
    rows = min(everything, _MOST_POSITIONS)
    bars = timeline.busiest(bars, rows)
    some = f" The {rows} positions with most failures of {everything}." if rows < everything else ""
    height = 1.2 + _ROW_HEIGHT * rows

    def drawn(width: float, columns: int) -> bytes:
        return style.as_svg(
            lambda ax: timeline.draw_timeline(ax, bars, legend_columns=columns),
            lambda ax: timeline.draw_in_service(ax, counts),
            size=(width, height + 1.6),
            heights=(height, 1.4),
            again=columns < _WIDE,
        )

    picture = svg.figure_html(
        drawn(10.8, _WIDE),
        f"Installations of heads in {rows} printer positions over the calendar, with a mark at "
        "each removal by its reason, and the number of heads in service below.",
        "One line per printer position. A mark ends an installation: solid for a failure, hollow "
        f"for a head taken out while it still worked.{some}",
        narrow=drawn(4.9, 2),
        css="whole",
    )
    return Html(picture.markup, "figure: the fleet over the calendar")
