from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.figure import Figure

from headlife.life.diagnostics.adequacy import check_weibull
from headlife.life.diagnostics.drift import drift_by_purchase
from headlife.life.diagnostics.effects import compare_levels
from headlife.life.diagnostics.rivals import compare_lives
from headlife.life.diagnostics.trend import head_eaters, position_trend
from headlife.show.figures import adequacy, positions
from headlife.show.figures.probability import weibull_scale


@pytest.fixture
def ax():
    return Figure().subplots()


@pytest.fixture(scope="module")
def lives():
    rng = np.random.default_rng(1)
    material = np.where(rng.random(60) < 0.4, "fibre", "plain")
    age = 1000 * rng.weibull(2.5, 60) * np.where(material == "plain", 1.0, 0.5)
    dates = np.datetime64("2023-01-01") + rng.integers(0, 900, 60)
    return (0.0, np.minimum(age, 1200.0), age <= 1200.0), material, dates


def texts(ax):
    return [text.get_text() for text in ax.texts]


def test_failures_lie_where_the_check_put_them(ax, lives):
    check = check_weibull(*lives[0], records=80)
    assert adequacy.draw_check(ax, check, 1200.0) is ax
    (points,) = [line for line in ax.lines if line.get_label().startswith("failures")]
    assert points.get_xdata() == pytest.approx(check.points["hours"].to_numpy())
    assert points.get_ydata() == pytest.approx(weibull_scale(check.points["share_failed"]))
    (fitted,) = [line for line in ax.lines if line.get_label() == "fitted Weibull life"]
    assert fitted.get_xdata() == pytest.approx(check.band["hours"].to_numpy())
    # a Weibull life is a straight line on this paper, of slope equal to its shape
    slope = np.diff(fitted.get_ydata()) / np.diff(np.log(fitted.get_xdata()))
    assert slope == pytest.approx(np.full(slope.size, check.shape), rel=1e-6)
    assert "rated 1,200 h" in texts(ax)
    assert "[h]" in ax.get_xlabel()


def test_without_a_fit_the_points_stand_alone(ax):
    check = check_weibull(0.0, [100.0, 200.0, 300.0], [True, True, False])
    adequacy.draw_check(ax, check, 1200.0)
    assert not any(line.get_label() == "fitted Weibull life" for line in ax.lines)


def test_rivals_are_drawn_best_first(ax, lives):
    rivals = compare_lives(*lives[0], rated_hours=1200.0)
    adequacy.draw_rivals(ax, rivals)
    drawn = np.asarray(ax.collections[0].get_offsets())
    assert drawn[:, 0] == pytest.approx(rivals.table["share_reaching"].to_numpy())
    named = [label.get_text() for label in ax.get_yticklabels()]
    assert [name.lower() for name in named] == rivals.table["life"].tolist()
    assert "Weibull" in named  # named after a person
    assert ax.yaxis_inverted()
    assert texts(ax)[0] == "fits best"


def test_every_level_of_every_factor_has_a_row(ax, lives):
    ages, material, _ = lives
    effects = compare_levels(*ages, {"material": material}, records=80)
    adequacy.draw_effects(ax, effects, 1200.0)
    table = effects[0].table
    assert [label.get_text() for label in ax.get_yticklabels()] == [
        f"material: {row['level']} ({row['failures']})" for _, row in table.iterrows()
    ]
    drawn = [box.lines[0].get_xdata()[0] for box in ax.containers]
    assert drawn == pytest.approx(table["hours"].tolist())
    assert ax.get_xlim()[1] > 1200


def test_of_many_levels_those_farthest_from_the_middle_stay_legible(ax):
    rng = np.random.default_rng(3)
    hours = rng.weibull(2.0, 1200) * 1000.0
    printers = np.repeat([f"P{number:02d}" for number in range(40)], 30)
    effects = compare_levels(0.0, hours, True, {"printer": printers}, records=20)
    adequacy.draw_effects(ax, effects, 1200.0)
    named = [label.get_text() for label in ax.get_yticklabels()]
    table = effects[0].table
    assert len(named) == 15 and named[-1] == f"{len(table) - 14} more between"
    for extreme in (table["hours"].idxmin(), table["hours"].idxmax()):
        assert any(table["level"][extreme] in name for name in named)


def test_cohorts_stand_in_order_of_purchase(ax, lives):
    ages, _, dates = lives
    drift = drift_by_purchase(*ages, dates, records=80)
    adequacy.draw_drift(ax, drift, 1200.0)
    assert ax.containers[0].lines[0].get_ydata() == pytest.approx(drift.cohorts["hours"])
    assert len(ax.get_xticklabels()) == len(drift.cohorts)


def test_a_single_cohort_with_enough_failures_is_drawn_too(ax, lives):
    drift = drift_by_purchase(*lives[0], lives[2], records=80)
    cohorts = drift.cohorts.copy()
    cohorts.loc[cohorts.index[1:], ["hours", "low", "high"]] = np.nan
    adequacy.draw_drift(ax, replace(drift, cohorts=cohorts), 1200.0)
    assert len(ax.containers[0].lines[0].get_ydata()) == 1


def test_the_mean_number_of_failures_is_drawn_from_zero(ax, lives):
    (_, exit_, failed), *_ = lives
    place = np.repeat([f"P{k}" for k in range(10)], 6)
    trend = position_trend(place, np.zeros(60), exit_, failed)
    positions.draw_trend(ax, trend)
    (mean,) = [line for line in ax.lines if line.get_label() == "mean of the positions"]
    assert mean.get_xdata()[0] == mean.get_ydata()[0] == 0
    # Of ten positions together: whole heads stand on the axis.
    assert mean.get_ydata()[1:] == pytest.approx(10 * trend.curve["failures"])
    assert all(tick == round(tick) for tick in ax.get_yticks())


def test_positions_show_what_was_seen_and_expected(ax, lives):
    (_, exit_, failed), *_ = lives
    place = np.repeat([f"P{k}" for k in range(10)], 6)
    found = head_eaters(place, place, np.zeros(60), exit_, failed)
    positions.draw_positions(ax, found)
    bars = [patch.get_width() for patch in ax.patches]
    assert sorted(bars) == sorted(found.table["failures"].tolist())
    (expected,) = [line for line in ax.lines if line.get_marker() == "D"]
    assert expected.get_xdata() == pytest.approx(found.table["expected"])


def test_panels_without_data_say_why():
    none = [], [], [], []
    for draw, found in (
        (adequacy.draw_check, check_weibull(0.0, [100.0], [False])),
        (adequacy.draw_rivals, compare_lives(0.0, [100.0], [False], rated_hours=500.0)),
        (adequacy.draw_effects, ()),
        (adequacy.draw_drift, drift_by_purchase(0.0, [100.0], [False], ["2024-01-01"])),
        (positions.draw_trend, position_trend(*none)),
        (positions.draw_positions, head_eaters([], *none)),
    ):
        ax = Figure().subplots()
        draw(*((ax, found, 500.0) if draw is adequacy.draw_check else (ax, found)))
        assert len(texts(ax)) == 1
