"""What the survival figure draws, against what was computed for it."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from tests.show.conftest import line_named

from headlife.life.curves import fitted_survival
from headlife.life.evidence import Evidence
from headlife.life.nonparametric import heads_at_risk, kaplan_meier
from headlife.life.posterior import fit_life
from headlife.show.figures import survival


def lives_of(entry, leave):
    return pd.DataFrame({"entry_hours": np.asarray(entry, float), "exit_hours": leave})


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
    fitted = fitted_survival(life, 1200.0)
    survival.draw_survival(
        axes,
        kaplan_meier(lives, failed),
        fitted,
        lives,
        800.0,
        claim_share=0.9,
        share_bounds=(0.45, 0.3, 0.6),
        title="A, model",
    )
    curve = line_named(axes, "fitted life")
    hours, share = curve.get_xdata()[1:], curve.get_ydata()[1:]
    median = np.exp(-life.mixture.cumulative_hazard(hours, 0.5))
    assert share == pytest.approx(median, abs=2e-3), "the posterior's median, to the eye"
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
    steps = kaplan_meier(lives, failed)
    survival.draw_survival(axes, steps, fitted_survival(life, 1200.0), lives, 800.0, title="A")
    drawn = np.asarray(line_named(axes, "observed").get_ydata(), float)
    few = steps["at_risk"].to_numpy() < survival.FEWEST_AT_RISK
    assert np.isnan(drawn[few]).all() and not np.isnan(drawn[~few]).any()


def test_numbers_at_risk_stand_under_their_ticks(axes, record):
    lives, failed, life = record
    survival.draw_survival(
        axes,
        kaplan_meier(lives, failed),
        fitted_survival(life, 1200.0),
        lives,
        800.0,
    )
    under = {text.xy[0]: text.get_text() for text in axes.texts if text.get_text().isdigit()}
    for tick in axes.get_xticks():
        assert under[tick] == str(heads_at_risk(lives, [tick])[0])
