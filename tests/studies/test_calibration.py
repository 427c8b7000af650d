from __future__ import annotations

import numpy as np
import pytest

from headlife.futures.demand import KnownLife
from studies.calibration import CASES, WEAK_CASES, calibrate, report, simulate_shop

SHOPS = 40


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_level_called_95_percent_serves_it(case):
    """Serve in a small study what `studies.calibration` serves in 500 shops.

    True service is known exactly for every simulated shop, so the only chance left is in the
    shops drawn: three standard errors of their mean.
    """
    found = calibrate(case, shops=SHOPS, draws=4000)
    assert found.service >= 0.95 - 3 * max(found.service_error, 0.003)
    # At most one shop in ten under .90, with the binomial band of the shops drawn.
    assert found.poor <= 0.10 + 3 * np.sqrt(0.10 * 0.90 / SHOPS)
    # What the forecasts claim for their own intervals comes true within chance: the true
    # coverage of a shop is known, its spread over shops is about .1.
    for claimed, covered, inside in zip(found.claimed, found.covered, found.inside, strict=True):
        assert abs(claimed - covered) <= 0.02 + 3 * 0.12 / np.sqrt(SHOPS)
        assert inside < covered


@pytest.mark.slow
@pytest.mark.parametrize("case", WEAK_CASES, ids=lambda case: case.name)
def test_heads_weak_from_new_leave_few_shops_short(case):
    """With a flat prior of the shape they were served .886 and .947, a quarter of F under .90."""
    found = calibrate(case, shops=3 * SHOPS, draws=2000)
    assert found.service >= 0.93
    assert found.poor <= 0.15 + 3 * np.sqrt(0.15 * 0.85 / (3 * SHOPS))


def test_records_hold_the_failures_that_each_case_is_about():
    expected = {"A": 5, "B": 30, "C": 72, "D": 5, "E": 30, "G": 7.5}
    for case in (*CASES, WEAK_CASES[1]):
        rng = np.random.default_rng(1)
        failures = [simulate_shop(case, rng).failed.sum() for _ in range(300)]
        assert np.mean(failures) == pytest.approx(expected[case.name], rel=0.06)


def test_the_report_names_every_case():
    text = report(calibrate(case, shops=2, draws=200) for case in CASES)
    assert [line[0] for line in text.splitlines()[1:6]] == list("ABCDE")


def test_other_lives_and_sizes_can_be_studied():
    small = calibrate(CASES[0], shops=6, draws=400, positions=5)
    assert small.stock_level < calibrate(CASES[0], shops=6, draws=400).stock_level
    flat = calibrate(CASES[0], shops=6, draws=400, life=KnownLife(1.0, 1800.0))
    # A head of flat hazard fails earlier: 28 x 720 h / 1800 h and its replacements.
    assert flat.failures == pytest.approx(28 * 720 / 1800, abs=4 * np.sqrt(11.2 / 6))
