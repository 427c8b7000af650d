"""Is 95 % 95 %? A small version of the coverage study, within the binomial band."""

from __future__ import annotations

import numpy as np
import pytest

from headlife.life.posterior import fit_life
from studies import coverage

RECORDS = 400


@pytest.fixture(scope="module")
def table():
    return coverage.study(records=RECORDS, seed=20)


def band(share, records=RECORDS, deviations=4.0):
    return deviations * np.sqrt(share * (1 - share) / records)


def test_every_bound_covers_in_every_design(table):
    covered = table[list(coverage.COVERAGE_COLUMNS)].to_numpy()
    assert (covered > 0.925 - band(0.925)).all()


def test_coverage_is_on_average_near_nominal(table):
    covered = table[list(coverage.COVERAGE_COLUMNS)].to_numpy()
    # 40 coverages, each with a binomial error of its own that adds to the departure:
    # mean absolute departure of pure noise is 0.8 of its deviation
    noise = 0.8 * band(0.95, deviations=1.0)
    assert np.abs(covered - 0.95).mean() < 0.010 + noise


def test_verdicts_at_the_edge_of_the_claim_are_seldom_wrong(table):
    wrong = table[["holds wrong", "falls short wrong"]].to_numpy()
    assert (wrong < 0.06 + band(0.06)).all()


def test_records_without_failures_count(table):
    assert table["none"].max() > 0.1


def test_the_probability_decides_as_the_bound_does():
    design = coverage.DESIGNS[4]
    lives = coverage.simulate(design, 20, np.random.default_rng(3))
    truth = 1 - design.share
    for record in range(20):
        life = fit_life(lives.evidence(record, design.rating_hours))
        chance = life.probability_reliability_above(truth, design.rating_hours)
        low, high = life.reliability_bounds(design.rating_hours, 0.90)
        assert (low <= truth) == (chance <= 0.95) and (truth <= high) == (chance >= 0.05)


def test_heads_watched_only_when_worn_are_not_called_worse_than_they_are():
    """Upper bounds held 86 to 91 % in the first three, with a flat prior of the shape."""
    table = coverage.study(coverage.WORN, RECORDS, seed=21)
    assert (table[["R upper", "B10 upper"]].to_numpy() > 0.93 - band(0.93)).all()
    assert (table[["R lower", "B10 lower"]].to_numpy() > 0.93 - band(0.93)).all()


@pytest.mark.parametrize(
    "design",
    coverage.DESIGNS + coverage.HELD_OUT + coverage.WORN + coverage.WORN_HELD_OUT,
    ids=str,
)
def test_designs_draw_what_they_say(design):
    lives = coverage.simulate(design, 300, np.random.default_rng(4))
    there = lives.weights > 0
    assert (lives.entry_hours < lives.exit_hours).all()
    assert (lives.exit_hours[there] <= design.rating_hours * (1 + 1e-12)).all()
    # failures over expected failures (cumulative hazard lived through) is 1 in any watching
    lived = (lives.exit_hours / 1000.0) ** design.shape - (
        lives.entry_hours / 1000.0
    ) ** design.shape
    failures, expected = lives.failed.sum(), (lives.weights * lived).sum()
    assert failures == pytest.approx(expected, abs=5 * np.sqrt(expected))


def test_the_command_prints_the_table(capsys):
    coverage.main(["--records", "5"])
    printed = capsys.readouterr().out
    assert "12 heads, shape 2.5, 15% fail, fleet" in printed and "verdict at the edge" in printed
