"""How print hours vary together, alone, and grow: simulated shops and laws."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.errors import DecisionError
from headlife.fleet.past_hours import latest, learn_workload


def installations(common=0.0, single=0.0, growth=0.0, weeks=156, printers=12, seed=1):
    """Two heads a printer, put in at any time, its hours varying by quarter."""
    rng = np.random.default_rng(seed)
    quarters = int(np.ceil(weeks / 13))
    together = common * rng.normal(size=quarters)
    alone = single * rng.normal(size=(printers, quarters))
    rows = []
    for printer in range(printers):
        for _ in range(2):
            start = 0.0
            while start < weeks - 3.0:
                end = min(start + rng.uniform(15.0, 45.0), weeks)
                at = np.linspace(start, end, 400)
                quarter = np.minimum((at / 13.0).astype(int), quarters - 1)
                log_rate = together[quarter] + alone[printer, quarter]
                log_rate = log_rate + np.log1p(growth) * (at - weeks) / 52.0
                run = 40.0 * np.exp(log_rate).mean() * (end - start)
                rows.append((f"P{printer}", 7.0 * start, 7.0 * end, run))
                start = end
    return [np.array(column) for column in zip(*rows, strict=True)]


def hours_drawn(work, weeks, draws, rng):
    """Print hours a week of every printer in every draw, (draws, printers)."""
    ahead = work.ahead(weeks, draws, rng)
    own = np.exp(ahead.spread * rng.normal(size=(draws, len(ahead.printers))))
    return ahead.hours_per_week * ahead.shared[:, None] * own


def over_shops(shops=12, **how):
    found = [learn_workload(*installations(seed=seed, **how)) for seed in range(shops)]
    return np.array([(one.common, one.single, one.growth[0]) for one in found])


def test_what_all_printers_share_is_told_from_what_each_does():
    common, single, _ = over_shops(common=0.25, single=0.08).T
    # the spread of 12 quarters is itself known to a fifth
    assert common.mean() == pytest.approx(0.25, abs=0.04)
    assert single.mean() == pytest.approx(0.08, abs=0.03)
    common, single, _ = over_shops(common=0.0, single=0.3).T
    assert common.mean() < 0.08
    assert single.mean() == pytest.approx(0.3, abs=0.04)


def weeks_that_differ(apart, seed, weeks=104, printers=10):
    """Two heads a printer; hours differ from week to week alone, of each head by itself or not."""
    rng = np.random.default_rng(seed)
    rows = []
    for printer in range(printers):
        hours = 40.0 * rng.gamma(4.0, 0.25, (2, weeks))
        for place, role in enumerate(("model", "support")):
            start = 0
            while start < weeks - 3:
                end = min(start + int(rng.integers(8, 40)), weeks)
                run = hours[place if apart else 0, start:end].sum()
                rows.append((f"P{printer}", 7.0 * start, 7.0 * end, run, role))
                start = end
    return [np.array(column) for column in zip(*rows, strict=True)]


@pytest.mark.parametrize("apart", [False, True])
def test_weeks_that_differ_are_not_taken_for_quarters_that_do(apart):
    """A week of half as much or more is how jobs fall; a quarter of such is another shop.

    A mean over 13 weeks that vary by a half varies by 0.14, of each printer by itself.
    """
    found = [learn_workload(*weeks_that_differ(apart, seed)) for seed in range(6)]
    assert np.mean([one.common for one in found]) < 0.05
    assert np.mean([one.single for one in found]) < 0.10
    ahead = [one.ahead(13.0, 4_000, np.random.default_rng(1)) for one in found]
    # what is not known of growth is shared too
    assert np.mean([np.log(one.shared).std() for one in ahead]) < 0.09
    assert np.mean([one.spread.mean() for one in ahead]) == pytest.approx(0.15, abs=0.05)


def test_growth_is_learned_and_its_bounds_hold_it():
    found = [learn_workload(*installations(single=0.1, growth=0.2, seed=s)) for s in range(20)]
    assert np.mean([one.growth[0] for one in found]) == pytest.approx(0.2, abs=0.02)
    inside = [one.growth[1] <= 0.2 <= one.growth[2] for one in found]
    assert np.mean(inside) >= 0.9 - 3.0 * np.sqrt(0.09 / 20)


def test_draws_cover_the_quarter_that_comes():
    """Mean hours of all printers next quarter: 90 % of the draws hold it, in 100 shops."""
    inside = []
    for seed in range(100):
        rng = np.random.default_rng(1000 + seed)
        work = learn_workload(*installations(common=0.25, single=0.1, weeks=104, seed=seed))
        drawn = hours_drawn(work, 13.0, 2000, rng).mean(axis=1)
        truth = 40.0 * np.exp(0.25 * rng.normal()) * np.exp(0.1 * rng.normal(size=12)).mean()
        low, high = np.quantile(drawn, [0.05, 0.95])
        inside.append(low <= truth <= high)
    assert np.mean(inside) == pytest.approx(0.9, abs=3.0 * np.sqrt(0.09 / 100))


def test_draws_are_those_of_the_seed_and_of_every_printer():
    work = learn_workload(*installations(common=0.2))
    one, two = (work.ahead(13.0, 50, np.random.default_rng(7)) for _ in range(2))
    assert one.shared.tobytes() == two.shared.tobytes()
    assert one.shared.shape == (50,)
    assert one.hours_per_week.shape == one.spread.shape == (len(work.printers),)
    assert work.printers == tuple(sorted(f"P{n}" for n in range(12)))


def test_a_steady_shop_has_steady_hours_and_a_long_horizon_varies_less():
    steady = learn_workload(*installations())
    drawn = hours_drawn(steady, 13.0, 4000, np.random.default_rng(1))
    assert drawn.mean() == pytest.approx(40.0, rel=0.02)
    assert np.log(drawn).std() < 0.08
    work = learn_workload(*installations(common=0.3))
    short, long = (
        np.log(hours_drawn(work, w, 4000, np.random.default_rng(1)).mean(axis=1)).std()
        for w in (13.0, 52.0)
    )
    assert long < 0.75 * short


def test_order_and_day_of_counting_do_not_matter():
    printer, start, end, run = installations(common=0.2)
    order = np.random.default_rng(0).permutation(start.size)
    one = learn_workload(printer, start, end, run)
    two = learn_workload(printer[order], start[order] + 999.0, end[order] + 999.0, run[order])
    assert two.growth == pytest.approx(one.growth, abs=1e-9)
    assert two.common == pytest.approx(one.common, abs=1e-9)


def test_a_large_fleet_keeps_the_latest_of_every_printer():
    printer, start, end, run = installations(printers=60, weeks=52)
    work = learn_workload(printer, start, end, run)
    assert work.installations == 240  # four each
    assert len(work.printers) == 60


def test_parts_of_a_record_keep_all_that_the_whole_needs():
    rows = installations(printers=7)
    part = np.random.default_rng(0).integers(0, 4, rows[0].size)
    kept = []
    for number in range(4):
        mine = [column[part == number] for column in rows]
        kept.append([column[latest(*mine)] for column in mine])
    together = [np.concatenate(columns) for columns in zip(*kept, strict=True)]
    whole, parts = learn_workload(*rows), learn_workload(*together)
    assert parts.means.tobytes() == whole.means.tobytes()
    assert parts.weights.tobytes() == whole.weights.tobytes()


def test_nothing_long_enough_is_said():
    with pytest.raises(DecisionError, match="two weeks or more"):
        learn_workload(["A"], [0.0], [5.0], [30.0])


@pytest.mark.parametrize("weeks", [5.0, 26.0, 70.0])
def test_one_printer_by_itself_varies_as_its_draws_do(weeks):
    work = learn_workload(*installations(common=0.2, single=0.15, growth=0.1, weeks=120))
    drawn = np.log(hours_drawn(work, weeks, 200_000, np.random.default_rng(3)))
    count = len(work.printers)
    mean, spread = work.of_printers(np.arange(count), np.full(count, weeks))
    variance = np.log1p(np.square(spread))
    np.testing.assert_allclose(np.log(mean) - 0.5 * variance, drawn.mean(axis=0), atol=0.01)
    np.testing.assert_allclose(np.sqrt(variance), drawn.std(axis=0), rtol=0.03)


def test_what_printers_share_ahead_is_their_mean_covariance():
    """From the variance of their sum, which holds every variance and every covariance twice."""
    work = learn_workload(*installations(common=0.2, single=0.1, growth=0.1, printers=5, seed=3))
    weeks, count = 26.0, len(work.printers)
    ahead = work.ahead(weeks, 4, np.random.default_rng(1))
    grow = 0.5 * weeks / 52.0
    half = np.column_stack([np.eye(count), np.full(count, grow)])
    both, growth = work.with_growth, work.variances[:, -1]
    own = work.variances[:, :-1] + 2.0 * grow * both + (grow**2 * growth)[:, None]
    of_sum = work.together + 2.0 * grow * count * both.sum(axis=1) + (count * grow) ** 2 * growth
    shared = (of_sum - own.sum(axis=1)) / (count * (count - 1))
    shared = np.clip(shared, 0.0, own.min(axis=1))
    squares = 1.0 / 2.0  # of two whole quarters
    alone = np.square(work.nodes)[:, 1:3].sum(axis=1) * squares + work.nodes[:, 3] ** 2 / weeks
    rest = work.weights @ (own - shared[:, None] + alone[:, None])
    assert ahead.spread == pytest.approx(np.sqrt(rest), rel=1e-12)
    assert ahead.hours_per_week == pytest.approx(
        np.exp(work.weights @ (work.means @ half.T)), rel=1e-12
    )
