"""Several modes at once: the published device, and the laws of adding hazards."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.errors import EvidenceError
from headlife.life.competing import CompetingLife
from headlife.life.evidence import Evidence
from headlife.life.posterior import fit_life

# Device-G, 30 units, thousands of cycles: S surge, W wear-out, 0 unfailed (Meeker & Escobar
# 1998, chapter 15).
CYCLES = [275, 13, 147, 23, 181, 30, 65, 10, 300, 173, 106, 300, 300, 212, 300, 300, 300, 2, 261,
          293, 88, 247, 28, 143, 300, 23, 300, 80, 245, 266]  # fmt: skip
MODE = np.array(list("WSWSWSSS0SS00W000SSWSSSS0S0SWW"))


def life_of(mode):
    return fit_life(Evidence.from_lives(0.0, CYCLES, mode == MODE, reference_hours=300.0))


@pytest.fixture(scope="module")
def device():
    return CompetingLife({"surge": life_of("S"), "wear": life_of("W")})


def test_device_g(device):
    surge, wear = device.modes["surge"], device.modes["wear"]
    # estimates: from memory of the book; shares at 300: computed with R survreg and integrate
    assert (surge.shape, surge.scale) == pytest.approx((0.671, 449.5), rel=1e-3)
    assert (wear.shape, wear.scale) == pytest.approx((4.337, 340.4), rel=1e-3)
    assert device.reliability(300.0) == pytest.approx(0.261676, abs=1e-5)
    shares = device.share_by_mode(300.0)
    assert shares["surge"] == pytest.approx(0.507179, abs=1e-5)
    assert shares["wear"] == pytest.approx(0.231145, abs=1e-5)
    # the trap: the wear-out probability with surge absent is another number
    assert 1.0 - wear.reliability(300.0) == pytest.approx(0.439, abs=0.001)


def test_every_head_is_good_or_ended_by_one_mode(device):
    for hours in (10.0, 150.0, 300.0, 600.0):
        whole = sum(device.share_by_mode(hours).values()) + device.reliability(hours)
        assert whole == pytest.approx(1.0, abs=1e-8)


def test_bounds_hold_the_estimate_and_widen(device):
    ages = np.array([[50.0, 150.0], [300.0, 400.0]])
    low, high = device.reliability_bounds(ages)
    point = device.reliability(ages)
    assert low.shape == point.shape == (2, 2)
    assert (low < point).all() and (point < high).all()
    wide = device.reliability_bounds(150.0, 0.99)
    assert wide[0] < low[0, 1] and high[0, 1] < wide[1]
    lower, upper = device.life_bounds(0.1)
    assert lower < device.life(0.1) < upper
    assert device.reliability(device.life(0.1)) == pytest.approx(0.9, abs=1e-8)


def test_bounds_on_a_life_and_on_the_share_there_are_one_statement(device):
    lower, upper = device.life_bounds(0.1)
    assert device.probability_reliability_above(0.9, lower) == pytest.approx(0.95, abs=1e-3)
    assert device.probability_reliability_above(0.9, upper) == pytest.approx(0.05, abs=1e-3)


def test_one_mode_alone_is_its_own_life():
    wear = life_of("W")
    alone = CompetingLife({"wear": wear}, draws=100_000)
    assert alone.reliability(250.0) == wear.reliability(250.0)
    assert alone.life(0.1) == pytest.approx(wear.life(0.1), rel=1e-9)
    # bounds by 100,000 draws against exact ones
    assert alone.reliability_bounds(250.0) == pytest.approx(
        wear.reliability_bounds(250.0), abs=0.005
    )
    assert alone.life_bounds(0.1) == pytest.approx(wear.life_bounds(0.1), rel=0.01)


def test_two_exponential_modes_add_their_rates():
    # With the shape fixed at 1 each rate is Gamma with the same exposure, so the sum is Gamma
    # with the counts added: an exact answer for two modes.
    from scipy.stats import gamma

    lives = [fit_life(e.evidence, shape_prior=1.0) for e in (life_of("S"), life_of("W"))]
    both = CompetingLife({"surge": lives[0], "wear": lives[1]}, draws=200_000)
    count = sum(life.posterior.count for life in lives)
    exposure = np.sum(CYCLES) / 300.0
    low, high = both.reliability_bounds(100.0)
    hazard = gamma(count, scale=1 / exposure).ppf([0.95, 0.05]) / 3.0
    assert (low, high) == pytest.approx(np.exp(-hazard), abs=0.002)


def test_same_seed_same_bounds(device):
    again = CompetingLife(device.modes)
    assert again.reliability_bounds(200.0) == device.reliability_bounds(200.0)


def test_questions_out_of_range_are_named(device):
    with pytest.raises(EvidenceError, match="at least one mode"):
        CompetingLife({})
    with pytest.raises(EvidenceError, match="between 0 and 1"):
        device.life(10.0)
    with pytest.raises(EvidenceError, match="fraction between 0 and 1"):
        device.life_bounds(0.1, confidence=90)
    none = Evidence.from_lives(0.0, CYCLES, False, reference_hours=300.0)
    with pytest.raises(EvidenceError, match='Mode "damage" has too few failures'):
        CompetingLife({"damage": fit_life(none)}).share_by_mode(100.0)
