"""The band of a curve is the exact band to the eye."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.decisions.rating import judge_rating
from headlife.life.curves import fitted_survival, reliability_band
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life


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


@pytest.mark.parametrize("failures", [1, 5, 25])
def test_the_share_said_to_reach_the_rating_lies_on_the_drawn_curve(failures):
    failed = np.arange(30) < failures
    evidence = Evidence.from_lives(0.0, np.linspace(300, 900, 30), failed, reference_hours=800)
    life = fit_life(evidence)
    curve = fitted_survival(life, 1200.0)
    drawn = np.interp(800.0, curve["hours"], curve["survival"])
    assert drawn == pytest.approx(judge_rating(life, 800.0).share_reaching, abs=2e-3)
