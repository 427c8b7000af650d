from __future__ import annotations

import warnings

import numpy as np
import pytest
from reliability.Repairable_systems import MCF_nonparametric
from scipy import integrate, stats

from headlife.errors import EvidenceError
from headlife.life.diagnostics import trend
from headlife.life.diagnostics.trend import head_eaters, laplace_statistic, position_trend
from headlife.show.words.fit import finding


def fleet(seed, positions=20, hours=2500.0, shape=2.5, swap_at=np.inf, speed_up=0.0, eater=None):
    """Installations of positions that all start with new heads."""
    rng = np.random.default_rng(seed)
    rows = []
    for place in range(positions):
        run = 0.0
        while run < hours:
            scale = 1000.0 * np.exp(-speed_up * run / hours) * (0.4 if place == eater else 1.0)
            life = scale * rng.weibull(shape)
            end = min(life, swap_at, hours - run)
            rows.append((f"P{place:02d}", 0.0, end, life <= end))
            run += end
    name, start, end, failed = (np.array(column) for column in zip(*rows, strict=True))
    return name, start.astype(float), end.astype(float), failed.astype(bool)


def test_laplace_worked_by_hand():
    # NIST e-Handbook 8.2.3.4: sum of (t_i - T/2) over T sqrt(r / 12)
    times = np.array([10.0, 60.0, 200.0, 380.0, 390.0])
    byhand = (times - 200.0).sum() / (400.0 * np.sqrt(5 / 12))
    assert laplace_statistic([times], [400.0]) == pytest.approx(byhand)
    # two systems pool: numerators add, variances add
    both = laplace_statistic([times, times[:2]], [400.0, 100.0])
    top = (times - 200.0).sum() + (times[:2] - 50.0).sum()
    assert both == pytest.approx(top / np.sqrt(5 * 400**2 / 12 + 2 * 100**2 / 12))


def test_laplace_is_standard_normal_for_a_constant_rate():
    rng = np.random.default_rng(1)
    found = [
        laplace_statistic([500 * rng.random(rng.poisson(3)) for _ in range(6)], [500.0] * 6)
        for _ in range(600)
    ]
    assert stats.kstest(found, "norm").pvalue > 0.002


@pytest.mark.parametrize(("hours", "shape"), [(1500.0, 3.0), (2500.0, 2.0), (4000.0, 3.0)])
def test_ageing_of_the_first_heads_is_no_trend(monkeypatch, hours, shape):
    monkeypatch.setattr(trend, "_mean_failures", lambda *_: None)
    found = [position_trend(*fleet(seed, hours=hours, shape=shape)) for seed in range(150)]
    alarms = sum(each.p_value < 0.05 for each in found)
    assert stats.binomtest(alarms, 150, 0.05, alternative="greater").pvalue > 0.002
    if hours == 1500.0:
        # what the plain test would have said
        assert np.mean([abs(each.laplace) > 1.96 for each in found]) > 0.5


def test_the_score_takes_off_what_ages_explain():
    # the integral of the position's hours over the hazard, by quadrature
    name, start, end, failed = fleet(3, positions=3, hours=1800.0)
    ages = trend.ages_of(start, end, failed)
    clock, _ = trend._own_clock(name, end - start)
    shape, scale = trend.batch_fits(start, end[None, :], failed[None, :]).weibull

    def rate(age):
        return shape / scale * (age / scale) ** (shape - 1)

    def total(power, middle):
        return sum(
            integrate.quad(lambda a, o=c - e: (o + a - middle) ** power * rate(a), s, e)[0]
            for s, e, c in zip(start, end, clock, strict=True)
        )

    middle = total(1, 0.0) / total(0, 0.0)
    score = (clock[failed] - middle).sum() - total(1, middle)
    byhand = score / np.sqrt(total(2, middle))
    assert trend._beyond_age(ages, clock) == pytest.approx(byhand, rel=1e-6)


def test_a_true_trend_is_found():
    found = position_trend(*fleet(1, hours=4000.0, speed_up=1.2))
    assert found.p_value < 0.01
    assert "ever faster" in finding(found)
    slower = position_trend(*fleet(1, hours=4000.0, speed_up=-1.2))
    assert "ever slower" in finding(slower)


def test_mean_failures_are_those_of_the_reliability_library():
    name, start, end, failed = fleet(2, positions=5)
    found = position_trend(name, start, end, failed).curve
    histories = []
    for place in np.unique(name):
        mine = name == place
        clock = np.cumsum(end[mine] - start[mine])
        histories.append([*clock[failed[mine]], np.nextafter(clock[-1], np.inf)])
    theirs = MCF_nonparametric(data=histories, CI=0.9, print_results=False, show_plot=False)
    assert found["failures"].to_numpy() == pytest.approx(theirs.MCF)
    # all positions ran equally long: failures per position by then, and nothing else
    assert found["failures"].iloc[-1] == pytest.approx(failed.sum() / 5)


def test_a_position_that_eats_heads_is_named():
    name, start, end, failed = fleet(4, hours=4000.0, eater=7)
    found = head_eaters([p[:2] for p in name], name, start, end, failed)
    assert found.table["eats_heads"].tolist()[:2] == [True, False]
    assert found.table["position"][0] == "P07"
    assert "P07" in finding(found)
    assert "look at the printer" in finding(found)


def test_expected_failures_add_up_to_those_seen():
    name, start, end, failed = fleet(5)
    table = head_eaters(name, name, start, end, failed).table
    assert table["expected"].sum() == pytest.approx(failed.sum(), rel=1e-3)
    assert table["failures"].sum() == failed.sum()
    assert table["hours"].sum() == pytest.approx((end - start).sum())


def test_no_position_is_blamed_for_chance():
    blamed = 0
    for seed in range(150):
        name, start, end, failed = fleet(seed, swap_at=1200.0)
        blamed += head_eaters(name, name, start, end, failed).table["eats_heads"].any()
    assert stats.binomtest(blamed, 150, 0.05, alternative="greater").pvalue > 0.002


@pytest.mark.parametrize("failed", [[False] * 6, [True] + [False] * 5, [True] * 6])
def test_few_failures_neither_crash_nor_warn(failed):
    name = ["a", "a", "b", "b", "c", "c"]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = position_trend(name, [0.0] * 6, [1200.0] * 6, failed)
        eaters = head_eaters(name, name, [0.0] * 6, [1200.0] * 6, failed)
    assert finding(found)
    assert finding(eaters)
    assert found.enough == (sum(failed) >= trend.FEWEST_FAILURES)
    assert not eaters.table["eats_heads"].any()


def test_names_must_fit_the_installations():
    with pytest.raises(EvidenceError, match="2 installations but 1 positions"):
        position_trend(["a"], [0.0, 0.0], [1.0, 2.0], [True, False])
