from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from tests.written_case import case_of

import headlife as hl
from headlife.show.figures.style import headlife_style

DEMO = Path(__file__).parents[2] / "data_demo"

SETTINGS = """
name = "Small shop"
[reasons.failures]
"worn" = "wear"
[reasons.suspensions]
"swap" = "planned swap"
[head_types."A"]
rated_hours = 500
on_hand = 1
[spares]
lead_time_weeks = 4
[review]
draws = 500
"""


@pytest.fixture
def axes() -> Any:
    with headlife_style():
        yield Figure(layout="constrained").add_subplot()


@pytest.fixture
def small(tmp_path: Path) -> Callable[[list[str], str], tuple[Any, Any]]:
    """Review a few rows written by hand."""

    def make(rows: list[str], settings: str = SETTINGS) -> tuple[Any, Any]:
        case = case_of(tmp_path, settings, rows)
        return case.records, hl.quarterly_review(case.records, case.shop)

    return make


def line_named(ax: Axes, label: str) -> Any:
    """The one drawn line whose label begins so."""
    (line,) = [one for one in ax.get_lines() if str(one.get_label()).startswith(label)]
    return line
