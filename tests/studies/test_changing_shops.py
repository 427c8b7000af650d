"""The study of changing shops: its simulations are what they say, its command prints every row."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import poisson

import headlife as hl
from headlife.life.exposure_curve import curve_at
from studies.changing_shops import (
    ahead,
    circulating,
    counters,
    deliveries,
    due_days,
    labels,
    looks,
    lot_stock,
    lots,
    overturn,
    practice,
    purchases,
    shops,
    workload,
)
from studies.changing_shops.__main__ import ROWS, main


@pytest.mark.parametrize("row", list(ROWS))
def test_the_command_prints_every_row(row, capsys, monkeypatch):
    monkeypatch.setattr(workload, "CHANGES", dict(list(workload.CHANGES.items())[:1]))
    monkeypatch.setattr(practice, "QUARTERS_AFTER", (1.0,))
    monkeypatch.setattr(lots, "DESIGNS", lots.DESIGNS[:1])
    monkeypatch.setattr(looks, "DESIGNS", looks.DESIGNS[:1])
    monkeypatch.setattr(lot_stock, "DESIGNS", lot_stock.DESIGNS[:1])
    monkeypatch.setattr(labels, "DESIGNS", labels.DESIGNS[:1])
    monkeypatch.setattr(purchases, "DESIGNS", purchases.DESIGNS[:1])
    monkeypatch.setattr(counters, "CHANGES", dict(list(counters.CHANGES.items())[:1]))
    monkeypatch.setattr(due_days, "CHANGES", dict(list(due_days.CHANGES.items())[:1]))
    monkeypatch.setattr(circulating, "DESIGNS", dict(list(circulating.DESIGNS.items())[:1]))
    main(["--rows", row, "--shops", "2"])
    printed = capsys.readouterr().out
    assert f"({row}: " in printed
    assert "2" in printed


def test_shops_at_the_edge_are_at_the_edge():
    """Failures over those expected is 1 where just the claimed share reach the rating."""
    rng = np.random.default_rng(1)
    design = looks.DESIGNS[0]
    failed = expected = 0.0
    for _ in range(40):
        last = looks.quarterly_evidence(design, looks.CLAIM, rng)[-1]
        failed += last.failures
        expected += -np.log(looks.CLAIM) * float(
            np.exp(curve_at(last.log_curve, np.log([design.shape]))[0])
        )
    assert failed == pytest.approx(expected, abs=5.0 * np.sqrt(expected))


def test_pulls_and_lives_are_as_correlated_as_said():
    exits, failed, pulled = overturn._pulled_lives(
        overturn.PulledDesign(200_000, 1.0), 0.0, 0.9, np.random.default_rng(2)
    )
    # half are pulled by one rating, but for some of those that failed before
    assert 0.5 - failed.mean() < pulled.mean() < 0.5
    assert exits.max() <= overturn.RATED_HOURS
    assert not (failed & pulled).any()


def test_what_any_rule_could_find_is_at_least_its_error_and_at_least_what_failures_alone_tell():
    """Counts of failures are Poisson where few of many heads fail; ages add little to them."""
    design = lots.DESIGNS[0]
    bad, good = (
        poisson.pmf(np.arange(75)[:, None], design.older * hazards[0])
        * poisson.pmf(np.arange(75), design.now * hazards[1])
        for hazards in (
            (0.10536 * 1.3**-2.2, 0.10536),  # -log(.90), the older lot living 30 % longer
            (0.05129, 0.05129),  # -log(.95)
        )
    )
    order = np.argsort(-(good / bad).ravel())
    alone = np.interp(0.10, np.cumsum(bad.ravel()[order]), np.cumsum(good.ravel()[order]))
    few, many = (lots.most_found(design, wrong, np.random.default_rng(1)) for wrong in (0.05, 0.10))
    assert 0.05 < few < many
    assert many == pytest.approx(alone, abs=0.02)


def test_futures_to_failure_are_those_of_the_calendar():
    truth = shops.Truth(printers=6, weekly_hours=45.0, common=0.25, single=0.1, growth=0.2)
    ages = np.random.default_rng(1).uniform(0.0, 1800.0, (6, 2))
    slow = shops.next_quarter(truth, ages, 400, np.random.default_rng(2))
    fast = shops.next_quarter_at_once(truth, ages, 20_000, np.random.default_rng(3))
    assert fast.mean() == pytest.approx(slow.mean(), abs=4.0 * slow.std() / 20.0)
    assert fast.std() == pytest.approx(slow.std(), rel=4.0 / np.sqrt(800.0))
    swapped = shops.Truth(printers=6, swap_at=1500.0, swap_before=1500.0)
    slow = shops.next_quarter(swapped, ages, 400, np.random.default_rng(4))
    fast = shops.next_quarter_at_once(swapped, ages, 20_000, np.random.default_rng(5))
    assert fast.mean() == pytest.approx(slow.mean(), abs=4.0 * slow.std() / 20.0)


def test_lots_live_as_said():
    """Failures over cumulative hazard lived through is 1 in each lot; a quarter by both lives."""
    truth = shops.Truth(printers=60, lot_from=60.0, lot_lives=0.7)
    rows = shops.record(truth, 120.0, np.inf, np.random.default_rng(6))
    newer = rows.day_in >= 7.0 * truth.lot_from
    for mine, scale in ((~newer, truth.scale), (newer, 0.7 * truth.scale)):
        lived = (rows.hours_out[mine] / scale) ** truth.shape
        assert rows.failed[mine].sum() == pytest.approx(lived.sum(), abs=4.0 * lived.sum() ** 0.5)
    ages = np.zeros((60, 2))
    fresh = shops.next_quarter_at_once(truth, ages, 4_000, np.random.default_rng(7))
    worn = shops.next_quarter_at_once(
        truth, ages, 4_000, np.random.default_rng(7), np.full(ages.shape, 0.7 * truth.scale)
    )
    hazard = (45.0 * 13.0 / truth.scale) ** truth.shape
    assert fresh.mean() == pytest.approx(120 * -np.expm1(-hazard), rel=0.05)
    assert worn.mean() == pytest.approx(120 * -np.expm1(-hazard * 0.7**-truth.shape), rel=0.05)


@pytest.mark.parametrize("leads", list(deliveries.LEADS))
def test_lead_times_come_about_as_a_shop_that_knows_them_states(leads):
    draw, mean, spread = deliveries.LEADS[leads]
    drawn = draw(np.random.default_rng(5), 40_000)
    assert drawn.mean() == pytest.approx(mean, abs=4.0 * max(spread, 1e-9) / 200.0)
    assert drawn.std() == pytest.approx(spread, rel=0.05, abs=1e-9)


def test_a_printer_that_wears_heads_is_found_and_shops_differ_in_it_alone():
    alike, worse = labels.DESIGNS[0], labels.DESIGNS[-1]
    found = labels.alarms(worse, 4, seed=2)
    assert found["told"].all() and found["alarm"].all()
    failures = labels.alarms(alike, 12, seed=2)["failures"]
    expected = alike.share * alike.heads
    assert failures.mean() == pytest.approx(expected, abs=4.0 * np.sqrt(expected / 12.0))


def test_a_simulated_shop_prints_what_it_says():
    truth = shops.Truth(printers=40, weekly_hours=45.0)
    rows = shops.record(truth, 104.0, np.inf, np.random.default_rng(3))
    assert (rows.hours_out - rows.hours_in).sum() == pytest.approx(40 * 2 * 45.0 * 104.0, rel=1e-6)
    assert rows.in_service.sum() == 80
    # failures over cumulative hazard lived through is 1
    lived = (rows.hours_out / truth.scale) ** truth.shape
    assert rows.failed.sum() == pytest.approx(lived.sum(), abs=4.0 * np.sqrt(lived.sum()))


def test_growth_and_swings_have_the_mean_and_spread_said():
    truth = shops.Truth(printers=300, common=0.25, single=0.1)
    factors = shops.quarterly_factors(truth, 400, np.random.default_rng(4))
    assert factors.mean() == pytest.approx(1.0, abs=0.03)
    assert factors.mean(axis=0).std() == pytest.approx(0.25, abs=0.03)
    grown = shops.Truth(printers=2, growth=0.2)
    rows = shops.record(grown, 104.0, np.inf, np.random.default_rng(5))
    run = (rows.hours_out - rows.hours_in).sum()
    # 45 h a week at the end; the mean of 1.2 ** t over the two years before is .8380
    assert run == pytest.approx(4 * 45.0 * 104.0 * 0.8380, rel=1e-3)


def test_the_policy_changes_on_its_day_and_joined_heads_are_joined():
    truth = shops.Truth(swap_at=shops.RATED_HOURS, lag=20.0, join_from=900.0)
    rows = shops.record(truth, 130.0, 104.0, np.random.default_rng(6))
    assert (rows.day_out[rows.planned] >= 104 * 7 - 1).all()
    assert rows.planned.sum() > 5
    assert (rows.hours_out[rows.joined] >= 900.0).all()


def test_forecasts_of_a_steady_shop_serve():
    truth = shops.Truth()
    rng = np.random.default_rng(7)
    rows = shops.record(truth, 104.0, np.inf, rng)
    known = ahead.Known(np.full(14, 45.0), np.zeros(14))
    found = ahead.forecast(rows, known, rng)
    used = shops.next_quarter(truth, ahead.present_ages(rows), 100, rng)
    assert (used <= found.level).mean() > 0.8
    assert found.interval[0] <= used.mean() <= found.interval[1]


@pytest.mark.parametrize("change", ["growing 20 % a year", "each for itself"])
def test_days_that_heads_are_due_hold_where_print_hours_change(change):
    """80 % ranges; of what was learned from one figure of print hours 64 % were inside."""
    found = due_days.held(change, shops=15, seed=5)
    inside = found.groupby("shop")["inside"].mean()
    assert inside.mean() == pytest.approx(0.80, abs=0.04 + 2 * inside.sem())
    assert (found[["before", "inside", "after"]].sum(axis=1) == 1).all()


def test_the_log_of_a_simulated_shop_is_read_whole(tmp_path):
    truth = shops.Truth(swap_before=1500.0, swap_at=1500.0, single=0.1)
    known = shops.record(truth, 78.0, np.inf, np.random.default_rng(1))
    (tmp_path / "log.csv").write_text(due_days.log_of(known))
    case = hl.read_case(tmp_path / "log.csv", settings_of(tmp_path))
    assert len(case.lives) == known.printer.size


def settings_of(folder):
    (folder / "shop.toml").write_text(due_days.SETTINGS)
    return folder / "shop.toml"
