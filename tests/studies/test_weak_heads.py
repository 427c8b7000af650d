"""Heads that are weak from new: their lives and their hazard are two views of one truth."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.futures.convolution import exact_demand
from headlife.futures.demand import KnownLife
from studies.weak_heads import PartlyWeak


def test_lives_die_by_the_hazard():
    truth = PartlyWeak(2.2, 1800.0, 0.10, 450.0)
    lives = truth.lives(200_000, np.random.default_rng(1))
    for age in (100.0, 450.0, 1500.0, 2500.0):
        alive = float(np.exp(-truth(np.array(age))))
        assert (lives > age).mean() == pytest.approx(alive, abs=4.5 * np.sqrt(0.25 / 200_000))


def test_without_weak_heads_it_is_the_weibull_life():
    ages = np.array([0.0, 300.0, 1500.0])
    ours = exact_demand(PartlyWeak(2.2, 1800.0, 0.0, 450.0), ages, 45.0, 13.0)
    known = exact_demand(KnownLife(2.2, 1800.0), ages, 45.0, 13.0)
    assert ours.pmf == pytest.approx(known.pmf, abs=1e-12)


def test_exact_demand_of_a_partly_weak_fleet_is_what_happens():
    truth = PartlyWeak(2.2, 1800.0, 0.3, 200.0)
    exact = exact_demand(truth, np.zeros(1), 45.0, 13.0)
    rng = np.random.default_rng(2)
    count, clock = np.zeros(50_000, int), np.zeros(50_000)
    while (clock < 585.0).any():
        clock += truth.lives(50_000, rng)
        count += clock < 585.0
    for heads in range(4):
        error = 4.5 * np.sqrt(0.25 / 50_000)
        assert (count == heads).mean() == pytest.approx(exact.pmf[heads], abs=error)
