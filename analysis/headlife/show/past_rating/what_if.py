"""The sliders of the what-if notebook: from a moved slider to a new picture and sentence.

Holds widgets only; every number comes from `decisions.past_rating`, every picture from
`figures.replacement`. Newer notebook servers run callbacks on a thread of their own, also while
a cell runs, so nothing here touches pyplot or any other shared state: each picture is a figure of
its own on the Agg canvas, one at a time under a lock, sent as PNG bytes into one image widget.
"""

from __future__ import annotations

import html
import io
import threading
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from headlife.decisions.policy.proposal import PAST
from headlife.decisions.spares.tried import lead_times_to_try
from headlife.errors import HeadlifeError
from headlife.show.figures import policies, replacement, style
from headlife.show.markup import scripts
from headlife.show.words.cautions import CAUTIONS
from headlife.show.words.policy import advice_sentence, proposal_sentence

if TYPE_CHECKING:
    from headlife.decisions.policy.past_rating import Kind
    from headlife.decisions.policy.past_rating_answer import Choices, PastRating

_SIZE: Final = (14.4, 4.9)  # [in]
_DPI: Final = 80
_PLACES: Final = ((0.045, 0.28), (0.38, 0.215), (0.72, 0.265))  # left, width, of the whole [-]
_AGE_STEP: Final = 10  # [h]
_LOWEST_AGE: Final = 0.5  # of the rating, least age on the slider [-]
_HIGHEST_AGE: Final = 2.5  # of the rating [-]
_MOST_CHECKS: Final = 5
_WIDE: Final[dict[str, Any]] = {"description_width": "175px"}


class WhatIf:
    """One set of sliders over all kinds of heads."""

    def __init__(self, kinds: Sequence[Kind]) -> None:
        import ipywidgets as widgets

        self._kinds = {kind.name: kind for kind in kinds}
        self._lock = threading.Lock()
        self._drawing = Picture()
        first = kinds[0]
        usual = first.choices()
        # Beside an open list of files 1280 pixels leave room for two of these with their values.
        layout = widgets.Layout(width="405px", min_width="0")

        def slider(make: Any, words: str, **options: Any) -> Any:
            return make(description=words, tooltip=words, style=_WIDE, layout=layout, **options)

        self.kind = widgets.Dropdown(
            options=list(self._kinds), description="Kind of head", style=_WIDE, layout=layout
        )
        self.age = slider(widgets.IntSlider, "Swap age [h]", step=_AGE_STEP, **_age_range(first))
        self.scrapped = slider(
            widgets.FloatSlider,
            f"Spoiled build [{first.costs(usual).currency}]",
            value=usual.scrapped_build_cost,
            min=0.0,
            max=max(5.0 * usual.scrapped_build_cost, 1000.0),
            step=10.0,
            readout_format=",.0f",
        )
        self.checks = slider(
            widgets.IntSlider, "Manual calibration runs", value=usual.manual_checks, min=0,
            max=max(_MOST_CHECKS, usual.manual_checks),
        )  # fmt: skip
        self.build = slider(
            widgets.IntSlider, "Build length [h]", value=round(usual.build_hours), min=4,
            max=max(240, round(usual.build_hours)), step=4,
        )  # fmt: skip
        self.service = slider(
            widgets.FloatSlider, "Service level of spares", value=usual.service_level, min=0.5,
            max=0.995, step=0.005, readout_format=".1%",
        )  # fmt: skip
        leads = lead_times_to_try(usual.lead_time_weeks)
        self.lead = slider(
            widgets.FloatSlider, "Lead time [weeks]", value=usual.lead_time_weeks, min=leads[0],
            max=leads[-1], step=leads[1] - leads[0] if len(leads) > 1 else 1.0,
            readout_format=".1f",
        )  # fmt: skip
        self.sentence = widgets.HTML()
        self.advice = widgets.HTML()
        self.picture = widgets.Image(format="png", layout=widgets.Layout(max_width="100%"))
        self.kind.observe(self._other_kind, names="value")
        for one in self._sliders:
            one.observe(self._moved, names="value")
        self._moved()
        cautions = "".join(f"<li>{html.escape(caution)}</li>" for caution in CAUTIONS)
        self.panel = widgets.VBox(
            [
                widgets.HBox(
                    [
                        widgets.VBox([self.kind, self.age, self.build]),
                        widgets.VBox([self.scrapped, self.checks, self.service, self.lead]),
                    ],
                    layout=widgets.Layout(flex_flow="row wrap"),
                ),
                self.sentence,
                self.picture,
                self.advice,
                widgets.HTML(f"<ul>{cautions}</ul>"),
            ]
        )

    @property
    def _sliders(self) -> tuple[Any, ...]:
        return self.age, self.scrapped, self.checks, self.build, self.service, self.lead

    def _other_kind(self, _change: Any) -> None:
        kind = self._kinds[self.kind.value]
        with self.age.hold_trait_notifications():
            wanted = _age_range(kind)
            # The wider range first: the slider refuses a minimum above its maximum.
            self.age.min, self.age.max = 0, max(self.age.max, wanted["max"])
            self.age.value = wanted["value"]
            self.age.min, self.age.max = wanted["min"], wanted["max"]
        self._moved()

    def _moved(self, _change: Any = None) -> None:
        """Answer for the sliders as they stand; a mistake becomes its sentence."""
        with self._lock:
            kind = self._kinds[self.kind.value]
            try:
                answer = kind.answer(self._choices(kind))
            except HeadlifeError as mistake:
                self.sentence.value = _paragraph(str(mistake))
                return
            picture = self._drawing.png(kind, answer)
            self.sentence.value = _paragraph(proposal_sentence(kind, answer))
            self.advice.value = _paragraph(advice_sentence(kind, answer))
            self.picture.value = picture

    def _choices(self, kind: Kind) -> Choices:
        return kind.choices(
            age_hours=float(self.age.value),
            scrapped_build_cost=float(self.scrapped.value),
            manual_checks=int(self.checks.value),
            build_hours=float(self.build.value),
            service_level=float(self.service.value),
            lead_time_weeks=float(self.lead.value),
        )


def what_if(kinds: Sequence[Kind]) -> Any:
    """Show the sliders; the last expression of the notebook's cell.

    Parameters
    ----------
    kinds : sequence of Kind
        The kinds of heads.

    Returns
    -------
    ipywidgets.VBox
        Sliders, sentence and pictures.
    """
    from IPython.display import Javascript, display

    # Names the sliders for screen readers.
    display(Javascript(scripts("notebook")))  # type: ignore[no-untyped-call]
    return WhatIf(kinds).panel


class Picture:
    """The three figures side by side as PNG; what stays while a slider moves is drawn once."""

    def __init__(self) -> None:
        self._drawn_for: tuple[Any, ...] = ()
        self._canvas: Any = None
        self._axes: tuple[Any, ...] = ()
        self._frame: Any = None

    def png(self, kind: Kind, answer: PastRating) -> bytes:
        """Draw one answer.

        Parameters
        ----------
        kind : Kind
            A head type and role.
        answer : PastRating
            What is drawn.

        Returns
        -------
        bytes
            The picture.
        """
        ends = replacement.limits(answer, kind.rated_hours)
        needed = (kind.name, *ends, *policies.limits(answer))
        with style.headlife_style():
            if needed != self._drawn_for:
                self._draw_frame(kind, answer)
                self._drawn_for = needed
            self._canvas.restore_region(self._frame)
            first, second, third = self._axes
            for ax, content in (
                (first, replacement.cost_content),
                (second, policies.policies_content),
                (third, replacement.events_content),
            ):
                for artist in content(ax, answer):
                    ax.draw_artist(artist)
                    artist.remove()
        written = io.BytesIO()
        pixels = np.asarray(self._canvas.buffer_rgba())[..., :3]  # nothing is see-through
        # Quick rather than small: the bytes only go to the browser next door.
        Image.fromarray(pixels).save(written, "PNG", compress_level=1)
        return written.getvalue()

    def _draw_frame(self, kind: Kind, answer: PastRating) -> None:
        figure = Figure(figsize=_SIZE, dpi=_DPI)
        self._canvas = FigureCanvasAgg(figure)
        self._axes = tuple(figure.add_axes((left, 0.28, width, 0.58)) for left, width in _PLACES)
        first, second, third = self._axes
        replacement.cost_frame(first, answer, kind.rated_hours, title=kind.name)
        policies.policies_frame(second, answer, title="Policies side by side")
        replacement.events_frame(
            third, answer, kind.rated_hours, title="Heads used and builds failed"
        )
        # Content must not move the frame it is drawn in.
        for ax in self._axes:
            ax.set_autoscale_on(False)
        self._canvas.draw()
        self._frame = self._canvas.copy_from_bbox(figure.bbox)


def _age_range(kind: Kind) -> dict[str, int]:
    def stepped(share: float) -> int:
        return int(round(share * kind.rated_hours / _AGE_STEP)) * _AGE_STEP

    return {
        "value": stepped(1.0 if kind.quality_critical else PAST),
        "min": stepped(_LOWEST_AGE),
        "max": stepped(_HIGHEST_AGE),
    }


def _paragraph(text: str) -> str:
    return f'<p style="font-size:15px;line-height:1.45;max-width:70em">{html.escape(text)}</p>'
