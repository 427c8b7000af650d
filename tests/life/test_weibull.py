"""The pure formulas: inverse of each other, and equal to numerical integrals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from headlife.life import weibull

shapes = st.floats(0.3, 12.0)
scales = st.floats(1e-2, 1e6)


@settings(max_examples=60, deadline=None)
@given(st.floats(1e-6, 1 - 1e-6), shapes, scales)
def test_life_and_reliability_are_inverse(fraction, shape, scale):
    age = weibull.life(fraction, shape, scale)
    assert 1.0 - weibull.reliability(age, shape, scale) == pytest.approx(fraction, rel=1e-8)


@settings(max_examples=60, deadline=None)
@given(shapes, scales)
def test_reliability_falls_from_one_to_nothing(shape, scale):
    curve = weibull.reliability(scale * np.linspace(0.0, 50.0, 200), shape, scale)
    assert curve[0] == 1.0 and (np.diff(curve) <= 0).all() and (curve >= 0).all()
    # whatever the shape, 63.2 % have failed by the scale
    assert weibull.reliability(scale, shape, scale) == pytest.approx(np.exp(-1.0))


@pytest.mark.parametrize("shape", [0.5, 1.0, 2.0, 5.0])
def test_mean_life_is_the_area_under_the_curve(shape):
    area, _ = quad(lambda t: float(weibull.reliability(t, shape, 1.0)), 0, np.inf)
    assert weibull.mean_life(shape, 1.0) == pytest.approx(area, rel=1e-6)


@pytest.mark.parametrize("shape", [0.5, 1.0, 2.0, 5.0])
@pytest.mark.parametrize("age", [0.0, 0.3, 1.0, 1.9])
def test_residual_life_is_the_area_that_is_left(shape, age):
    area, _ = quad(
        lambda more: float(weibull.conditional_reliability(age, more, shape, 1.0)), 0, np.inf
    )
    assert weibull.residual_life(age, shape, 1.0) == pytest.approx(area, rel=1e-6)


def test_residual_life_is_smooth_where_its_series_takes_over():
    # cumulative hazard 30 is at age sqrt(30)
    ages = np.sqrt(30.0) * np.array([1 - 1e-9, 1 + 1e-9])
    before, after = weibull.residual_life(ages, 2.0, 1.0)
    assert after == pytest.approx(before, rel=1e-5)


def test_a_head_without_memory_does_not_age():
    assert weibull.residual_life([0.0, 10.0, 1e4], 1.0, 700.0) == pytest.approx([700.0] * 3)
    assert weibull.conditional_reliability(1e5, 70.0, 1.0, 700.0) == pytest.approx(np.exp(-0.1))
