"""Figures of this part: what is drawn, read from the axes."""

from __future__ import annotations

import pandas as pd
import pytest
from matplotlib.figure import Figure

from headlife.show.figures.sites import draw_sites
from studies.scale import draw_benchmark


@pytest.fixture
def ax():
    return Figure().subplots()


def test_every_site_has_its_share_and_bounds_and_all_sites_stand_last(ax):
    shares = pd.DataFrame(
        [
            ("North", 0.97, 0.93, 0.99, "holds", 0.9),
            ("South", 0.70, 0.55, 0.82, "falls short", 0.9),
            ("all sites", 0.88, 0.81, 0.93, "not settled", 0.9),
        ],
        columns=["site", "share", "low", "high", "verdict", "claimed"],
    )
    draw_sites(shares, ax, "A, model")
    bounds, points = ax.lines[0:6:2], ax.lines[1:6:2]
    assert [list(line.get_xdata()) for line in bounds] == shares[
        ["low", "high"]
    ].to_numpy().tolist()
    assert [line.get_xdata()[0] for line in points] == shares["share"].tolist()
    assert [line.get_ydata()[0] for line in points] == [2, 1, 0]
    assert len({line.get_marker() for line in points}) == 3
    assert ax.lines[6].get_xdata()[0] == 0.9
    assert [text.get_text() for text in ax.get_yticklabels()] == shares["site"].tolist()


def test_the_benchmark_draws_one_line_for_each_contender(ax):
    table = pd.DataFrame(
        {"what": ["a", "a", "b"], "rows": [10, 100, 10], "peak_gb": [1.0, 2.0, 3.0]}
    )
    draw_benchmark(table, ax, "peak_gb")
    assert [list(line.get_ydata()) for line in ax.lines] == [[1.0, 2.0], [3.0]]
    assert "memory" in ax.get_ylabel()
    assert (ax.get_xscale(), ax.get_yscale()) == ("log", "linear")
