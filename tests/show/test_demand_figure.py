"""Demand against a stock level: the bars are the forecast, the level cuts where it says."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import poisson

from headlife.show.figures import demand
from validation import cases


def test_service_of_a_published_base_stock():
    case = cases.load("spares_base_stock")  # a lecture on base stock, Poisson demand of 0.8
    bars = demand.demand_bars(poisson.pmf(np.arange(30), case.data["mean"]), 3).set_index("heads")
    assert case.expected["pmf"].agrees(bars["probability"].loc[0:2])
    assert case.expected["cdf_from_1"].agrees(bars["service"].loc[1:4])


def test_bars_show_all_that_is_likely_and_the_level():
    pmf = poisson.pmf(np.arange(80), 20.0)
    bars = demand.demand_bars(pmf, 27)
    assert bars["probability"].sum() > 1 - 0.01
    assert bars["heads"].min() > 0, "improbable small numbers are left off"
    assert (bars["covered"] == (bars["heads"] <= 27)).all()
    assert demand.demand_bars(np.array([1.0]), 0)["heads"].tolist()[0] == 0


def test_figure_draws_bars_level_and_service(axes):
    bars = demand.demand_bars(poisson.pmf(np.arange(40), 5.0), 9)
    demand.draw_demand(axes, bars, 9, horizon_weeks=19, title="A")
    heights = {round(bar.get_x() + bar.get_width() / 2): bar.get_height() for bar in axes.patches}
    assert heights == pytest.approx(dict(zip(bars["heads"], bars["probability"], strict=True)))
    assert any(set(line.get_xdata()) == {9.5} for line in axes.get_lines()), "level between bars"
    above = demand.draw_service(axes.figure.add_subplot(), bars, 9, 0.95)
    service = above.get_lines()[0]
    assert service.get_ydata() == pytest.approx(poisson.cdf(bars["heads"], 5.0), abs=1e-9)
    assert any(set(line.get_ydata()) == {0.95} for line in above.get_lines()), "what was asked for"
    assert "19 weeks" in axes.get_xlabel() and "[heads]" in axes.get_xlabel()
    assert any("stock level 9: 97 % service" in text.get_text() for text in axes.texts)
