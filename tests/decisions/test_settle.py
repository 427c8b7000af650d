from __future__ import annotations

import numpy as np
import pytest

from headlife.decisions.settle import (
    what_would_settle,
)
from headlife.errors import DecisionError
from headlife.futures.demand import KnownLife, forecast_demand
from headlife.futures.evidence_ahead import EvidenceAhead
from headlife.life.evidence import Evidence
from headlife.life.exposure_curve import at_nodes, shape_nodes
from headlife.life.posterior import fit_life
from headlife.shop.policy import Policy

RATED = 1000.0
AGES = np.linspace(0.0, 900.0, 8)


def futures(life, ages, hours, policy, draws=1, others=()):
    rng = np.random.default_rng(5)
    modes = [each.draw(draws, rng) for each in (life, *others)]
    return EvidenceAhead(
        modes, np.asarray(ages, float), np.asarray(hours, float), policy, RATED, shape_nodes(), rng
    )


def test_quarters_of_heads_that_never_fail_are_counted_by_hand():
    found = futures(KnownLife(3.0, 1e9), [500.0, 100.0], [520.0, 300.0], Policy(600.0))
    found.run_quarter()
    # first position: 500 to 600, swapped, 0 to 420; second: 100 to 400
    byhand = Evidence.from_lives(
        [500.0, 0.0, 100.0], [600.0, 420.0, 400.0], False, reference_hours=RATED
    )
    assert np.log(found.exposure[0]) == pytest.approx(at_nodes(byhand.log_curve, 32), abs=1e-9)
    assert found.head_hours[0] == pytest.approx(820.0)
    assert found.failures[0] == found.past_rating[0] == 0
    found.run_quarter()  # and on, from where it stopped
    assert found.head_hours[0] == pytest.approx(1640.0)


def test_heads_of_another_lot_teach_nothing_until_they_are_swapped():
    modes = [KnownLife(3.0, 1e9).draw(1, np.random.default_rng(5))]
    options = [Policy(600.0), RATED, shape_nodes(), np.random.default_rng(5)]
    ages, hours = np.array([500.0, 100.0]), np.array([520.0, 300.0])
    found = EvidenceAhead(modes, ages, hours, *options, counted=np.array([False, True]))
    found.run_quarter()
    # first position: 500 to 600 of another lot, then 0 to 420 of this one; second: 100 to 400
    byhand = Evidence.from_lives([0.0, 100.0], [420.0, 400.0], False, reference_hours=RATED)
    assert np.log(found.exposure[0]) == pytest.approx(at_nodes(byhand.log_curve, 32), abs=1e-9)
    assert found.head_hours[0] == pytest.approx(720.0)
    # Where no new head is of it, only those in place count.
    last = EvidenceAhead(modes, ages, hours, *options, new_counted=0.0)
    last.run_quarter()
    assert last.head_hours[0] == pytest.approx(100.0 + 300.0)
    half = EvidenceAhead(
        [KnownLife(3.0, 1e9).draw(4000, np.random.default_rng(5))], ages, hours, *options,
        new_counted=0.5,
    )  # fmt: skip
    half.run_quarter()
    assert half.head_hours.mean() == pytest.approx(400.0 + 0.5 * 420.0, abs=4 * 210 / 4000**0.5)


def test_hours_past_the_rating_are_those_past_the_rating():
    found = futures(KnownLife(3.0, 1e9), [900.0, 1200.0], 300.0, Policy())
    found.run_quarter()
    assert found.past_rating[0] == pytest.approx(200.0 + 300.0)


def test_failures_agree_with_the_demand_simulation():
    life, other, draws = KnownLife(2.0, 900.0), KnownLife(1.0, 4000.0), 20_000
    found = futures(life, AGES, 520.0, Policy(1000.0), draws, [other])
    for _ in range(3):
        found.run_quarter()
    both = forecast_demand([life, other], AGES, 40.0, 39.0, Policy(1000.0), draws=draws, seed=2)
    # the other mode takes its share of the failures: hours over its mean life
    of_other = found.head_hours.mean() / other.scale
    error = 4 * both.sd / np.sqrt(draws)
    assert found.failures.mean() + of_other == pytest.approx(both.failure_mean, abs=2 * error)


def test_the_expected_verdict_is_the_present_probability(record):
    # A posterior probability is a martingale: over its own futures its mean does not move. The
    # law needs a prior that does not change with the failures seen.
    life = fit_life(
        record(40, 2.0, 2600.0, 1000.0, seed=3).evidence.rereference(RATED),
        prior="exact conditional",
    )
    rng = np.random.default_rng(1)
    draws = 1500
    found = EvidenceAhead(
        [life.draw(draws, rng)], AGES, np.full(8, 520.0), Policy(), RATED, shape_nodes(), rng
    )
    found.run_quarter()
    found.run_quarter()
    after = []
    for draw in range(draws):
        more = Evidence(
            RATED,
            found.failures[draw],
            found.log_sum[draw],
            np.log(found.exposure[draw]),
            found.failures[draw] + 8,
        )
        grown = fit_life(life.evidence + more, prior="exact conditional")
        after.append(grown.probability_reliability_above(0.9, RATED))
    now = life.probability_reliability_above(0.9, RATED)
    assert 0.1 < now < 0.9
    assert np.mean(after) == pytest.approx(now, abs=4 * np.std(after) / np.sqrt(draws))


def test_a_table_of_chances(record):
    life = record(40, 2.0, 2600.0, 1000.0, seed=3)
    table = what_would_settle(life, AGES, 40.0, RATED, draws=60, seed=4)
    assert table["quarters"].tolist() == [1, 2, 4] * 3
    assert ((table["settled"] >= 0) & (table["settled"] <= 1)).all()
    assert np.allclose(table["holds"] + table["falls_short"], table["settled"])
    # heads that are swapped at the rating never run past it
    swapped = table[table["policy"] == "at the rating"]
    assert swapped["past_rating"].eq(0).all()
    assert np.allclose(table["head_hours"], 8 * 40 * 13 * table["quarters"])
    again = what_would_settle(life, AGES, 40.0, RATED, draws=60, seed=4)
    assert table.equals(again)


def test_a_claim_far_from_its_edge_stays_settled(record):
    life = record(300, 2.0, 900.0, 1000.0, seed=1)
    table = what_would_settle(life, AGES, 40.0, RATED, draws=40)
    assert (table["falls_short"] == 1).all()


def test_no_failure_yet_is_still_an_answer():
    life = fit_life(Evidence.from_lives(0.0, [100.0, 200.0], False, reference_hours=RATED))
    table = what_would_settle(life, [100.0, 200.0], 40.0, RATED, draws=30)
    assert np.isfinite(table.drop(columns=["policy", "swap_at"]).to_numpy(float)).all()


def test_bad_questions_are_one_sentence(record):
    life = record(30, 2.0, 4000.0, 1000.0, seed=0)
    with pytest.raises(DecisionError, match="No head is in service"):
        what_would_settle(life, [], 40.0, RATED)
    with pytest.raises(DecisionError, match="whole numbers from 1"):
        what_would_settle(life, AGES, 40.0, RATED, quarters=(0,))
    with pytest.raises(DecisionError, match="8 positions but 2 numbers"):
        what_would_settle(life, AGES, [40.0, 30.0], RATED)
    with pytest.raises(DecisionError, match="at least one draw"):
        what_would_settle(life, AGES, 40.0, RATED, draws=0)
