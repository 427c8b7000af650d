"""Kaplan-Meier against published curves, and what the survival figure draws."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from tests.show.conftest import line_named

from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life
from headlife.show.figures import survival
from headlife.show.figures.band import reliability_band
from validation import cases


def lives_of(entry, leave):
    return pd.DataFrame({"entry_hours": np.asarray(entry, float), "exit_hours": leave})


def test_steps_agree_with_the_printed_leukaemia_curve():
    case = cases.load("aml_maintenance")  # printed by R survival, read in its repository
    lives = lives_of(np.zeros(11), case.array("maintained_exit"))
    steps = survival.kaplan_meier(lives, case.array("maintained_failed"))
    events = steps[steps["failures"] > 0]
    assert case.expected["m_time"].agrees(events["hours"])
    assert case.expected["m_at_risk"].agrees(events["at_risk"])
    assert case.expected["m_surv"].agrees(events["survival"])


def test_steps_with_late_entry_agree_with_the_published_example():
    case = cases.load("late_entries")  # compared with R by the lifelines developers
    lives = lives_of(case.array("entry"), case.array("exit"))
    steps = survival.kaplan_meier(lives, case.array("failed"))
    events = steps[steps["failures"] > 0]
    assert case.expected["time"].agrees(events["hours"])
    assert case.expected["at_risk"].agrees(events["at_risk"])
    assert case.expected["surv_exact"].agrees(events["survival"])


def test_at_risk_is_open_at_entry_and_closed_at_exit():
    lives = lives_of([0, 100], [100, 300])
    hours = [0, 50, 100, 100.001, 300, 300.001]
    assert survival.heads_at_risk(lives, hours).tolist() == [1, 1, 1, 1, 1, 0]


@pytest.fixture
def record():
    rng = np.random.default_rng(5)
    age = 900 * rng.weibull(2.2, 30)
    lives = lives_of(np.zeros(30), np.minimum(age, 1000.0))
    failed = age <= 1000
    evidence = Evidence.from_lives(0.0, lives["exit_hours"], failed, reference_hours=800)
    return lives, failed, fit_life(evidence)


def test_figure_draws_fit_rating_and_share_where_they_belong(axes, record):
    lives, failed, life = record
    fitted = survival.fitted_survival(life, 1200.0)
    survival.draw_survival(
        axes,
        survival.kaplan_meier(lives, failed),
        fitted,
        lives,
        800.0,
        claim_share=0.9,
        share_bounds=(0.45, 0.3, 0.6),
        title="A, model",
    )
    curve = line_named(axes, "fitted life")
    hours, share = curve.get_xdata()[1:], curve.get_ydata()[1:]
    assert share == pytest.approx(life.reliability(hours), abs=1e-12)
    assert hours.max() <= lives["exit_hours"].max(), "the solid curve ends at the oldest head"
    rating = [one for one in axes.get_lines() if list(one.get_xdata()) == [800.0, 800.0]]
    assert rating, "the rated hours are marked"
    assert "rated 800 h" in [text.get_text() for text in axes.texts]
    (bar,) = axes.containers
    ends = bar.lines[2][0].get_segments()[0]
    assert ends[:, 1] == pytest.approx([0.3, 0.6])
    assert "[h]" in axes.get_xlabel() and "[%]" in axes.get_ylabel()


def test_steps_are_blank_under_five_heads_at_risk(axes, record):
    lives, failed, life = record
    steps = survival.kaplan_meier(lives, failed)
    survival.draw_survival(
        axes, steps, survival.fitted_survival(life, 1200.0), lives, 800.0, title="A"
    )
    drawn = np.asarray(line_named(axes, "observed").get_ydata(), float)
    few = steps["at_risk"].to_numpy() < survival.FEWEST_AT_RISK
    assert np.isnan(drawn[few]).all() and not np.isnan(drawn[~few]).any()


def test_numbers_at_risk_stand_under_their_ticks(axes, record):
    lives, failed, life = record
    survival.draw_survival(
        axes,
        survival.kaplan_meier(lives, failed),
        survival.fitted_survival(life, 1200.0),
        lives,
        800.0,
    )
    under = {text.xy[0]: text.get_text() for text in axes.texts if text.get_text().isdigit()}
    for tick in axes.get_xticks():
        assert under[tick] == str(survival.heads_at_risk(lives, [tick])[0])


def test_no_head_at_all_draws_no_steps():
    assert survival.kaplan_meier(lives_of([], []), []).empty


@pytest.mark.parametrize("failures", [0, 1, 5, 25])
def test_drawn_band_is_the_exact_band_to_the_eye(failures):
    failed = np.arange(30) < failures
    evidence = Evidence.from_lives(0.0, np.linspace(300, 900, 30), failed, reference_hours=800)
    life = fit_life(evidence)
    hours = np.linspace(8.0, 1200.0, 60)
    for drawn, exact in zip(
        reliability_band(life, hours), life.reliability_bounds(hours, confidence=0.90), strict=True
    ):
        assert drawn == pytest.approx(exact, abs=2e-3)
        assert (np.diff(drawn) <= 0).all()
