"""Weibull paper: plotting positions against the rule they follow, and a straight fitted line."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from tests.show.conftest import line_named

from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life
from headlife.show.figures import probability
from validation import cases


def lives_of(entry, leave):
    return pd.DataFrame({"entry_hours": np.asarray(entry, float), "exit_hours": leave})


def test_complete_sample_is_plotted_at_median_ranks():
    # Benard's approximation of the median rank, (i - 0.3) / (n + 0.4): NIST e-Handbook 8.2.2.1.
    hours = np.array([310.0, 90.0, 150.0, 700.0, 420.0])
    points = probability.plotting_positions(lives_of(np.zeros(5), hours), np.ones(5, bool))
    assert points["hours"].tolist() == sorted(hours)
    assert points["share_failed"].to_numpy() == pytest.approx((np.arange(1, 6) - 0.3) / 5.4)


def test_points_of_the_nist_example_give_its_printed_line():
    # NIST fits a straight line through the points on Weibull paper; 10 of 20 failed by 500 h.
    case = cases.load("nist_weibull")
    points = probability.plotting_positions(
        lives_of(np.zeros(20), case.array("exit").astype(float)), case.array("failed")
    )
    slope, intercept = np.polyfit(
        np.log10(points["hours"]), probability.weibull_scale(points["share_failed"]) / np.log(10), 1
    )
    assert case.expected["rank_regression_slope"].agrees(slope)
    assert case.expected["rank_regression_intercept"].agrees(intercept)


def test_head_taken_out_at_the_hour_of_a_failure_ranks_after_it():
    hours = np.full(40, 100.0)
    failed = np.arange(40) < 20
    points = probability.plotting_positions(lives_of(np.zeros(40), hours), failed)
    assert points["share_failed"].to_numpy() == pytest.approx((np.arange(1, 21) - 0.3) / 40.4)


def test_late_entries_are_plotted_at_the_middle_of_each_step():
    case = cases.load("late_entries")
    lives = lives_of(case.array("entry"), case.array("exit"))
    points = probability.plotting_positions(lives, case.array("failed"))
    surv = np.array([1.0, *case.expected["surv_exact"].value])
    middles = 1 - (surv[:-1] + surv[1:]) / 2
    assert points["share_failed"].to_numpy() == pytest.approx(middles, abs=1e-9)


@pytest.mark.parametrize("failures", [0, 1, 2, 12])
def test_any_number_of_failures_draws(axes, failures):
    leave = np.linspace(200.0, 900.0, 12)
    lives, failed = lives_of(np.zeros(12), leave), np.arange(12) < failures
    life = fit_life(Evidence.from_lives(0.0, leave, failed, reference_hours=600))
    points = probability.plotting_positions(lives, failed)
    line = probability.fitted_line(life, 80.0, 1200.0)
    probability.draw_probability(axes, points, line, 600.0, title="A, model")
    drawn = line_named(axes, "failures")
    assert len(drawn.get_xdata()) == failures
    low, high = axes.get_ylim()
    assert ((drawn.get_ydata() > low) & (drawn.get_ydata() < high)).all(), "every failure is seen"
    assert (failures == 0) == any("no failure yet" in text.get_text() for text in axes.texts)


def test_fitted_line_is_straight_with_the_shape_as_its_slope(axes):
    rng = np.random.default_rng(1)
    leave = 700 * rng.weibull(2.5, 25)
    lives = lives_of(np.zeros(25), leave)
    life = fit_life(Evidence.from_lives(0.0, leave, np.ones(25, bool), reference_hours=600))
    points = probability.plotting_positions(lives, np.ones(25, bool))
    probability.draw_probability(
        axes, points, probability.fitted_line(life, 100.0, 1000.0), 600.0, title="A"
    )
    drawn = line_named(axes, "fitted life")
    slopes = np.diff(drawn.get_ydata()) / np.diff(np.log(drawn.get_xdata()))
    assert slopes == pytest.approx(life.shape, rel=1e-6)
    assert axes.get_xscale() == "log" and "[h]" in axes.get_xlabel()
