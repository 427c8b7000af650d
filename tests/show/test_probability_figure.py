"""Weibull paper: every failure is seen, and the fitted line is straight."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from tests.show.conftest import line_named

from headlife.life.curves import fitted_line
from headlife.life.evidence import Evidence
from headlife.life.nonparametric import plotting_positions
from headlife.life.posterior import fit_life
from headlife.show.figures import probability


def lives_of(entry, leave):
    return pd.DataFrame({"entry_hours": np.asarray(entry, float), "exit_hours": leave})


@pytest.mark.parametrize("failures", [0, 1, 2, 12])
def test_any_number_of_failures_draws(axes, failures):
    leave = np.linspace(200.0, 900.0, 12)
    lives, failed = lives_of(np.zeros(12), leave), np.arange(12) < failures
    life = fit_life(Evidence.from_lives(0.0, leave, failed, reference_hours=600))
    points = plotting_positions(lives, failed)
    line = fitted_line(life, 80.0, 1200.0)
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
    points = plotting_positions(lives, np.ones(25, bool))
    probability.draw_probability(axes, points, fitted_line(life, 100.0, 1000.0), 600.0, title="A")
    drawn = line_named(axes, "fitted life")
    slopes = np.diff(drawn.get_ydata()) / np.diff(np.log(drawn.get_xdata()))
    assert slopes == pytest.approx(life.shape, rel=1e-6)
    assert axes.get_xscale() == "log" and "[h]" in axes.get_xlabel()


def test_failures_that_no_share_can_be_told_of_are_counted_and_said(axes):
    entry, leave = np.array([40.0, 600, 500, 450, 700]), np.array([210.0, 900, 1100, 1300, 1250])
    failed = np.array([True, True, False, True, False])
    life = fit_life(Evidence.from_lives(entry, leave, failed, reference_hours=1200))
    points = plotting_positions(lives_of(entry, leave), failed)
    probability.draw_probability(axes, points, fitted_line(life, 100.0, 1500.0), 1200.0, title="A")
    assert line_named(axes, "failures").get_label() == "failures (0 of 3)"
    assert any("no share can be told" in text.get_text() for text in axes.texts)
