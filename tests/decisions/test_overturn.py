"""What would overturn a verdict: tipping points, other kinds of life, other readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from headlife.decisions.other_readings import OtherReading
from headlife.decisions.overturn import (
    FEW,
    opinion_of_kinds,
    pulled_before_time,
    pulled_tipping_point,
    what_would_overturn,
)
from headlife.decisions.rating import HOLDS, NOT_SETTLED, judge_rating
from headlife.life.evidence import Evidence
from headlife.life.kinds import KindsOfLife, LifeKind
from headlife.life.posterior import fit_life

RATED = 1000.0


def record(failures=2, at_rating=150, pulled=40, pulled_age=600.0):
    exits = np.r_[np.linspace(700.0, 900.0, failures), np.full(at_rating, RATED)]
    exits = np.r_[exits, np.linspace(0.5, 1.0, pulled) * pulled_age]
    failed = np.arange(exits.size) < failures
    taken = np.arange(exits.size) >= failures + at_rating
    return exits, failed, taken


def test_the_count_is_where_holds_ends():
    """Brute force: heads pulled at one age are turned into failures one by one, and judged."""
    exits, failed, taken = record()
    exits[taken] = 600.0
    found = what_would_overturn(0.0, exits, failed, taken, RATED)
    assert (found.verdict, found.pulled.pulled) == (HOLDS, taken.sum())

    def holds(turned):
        more = failed | (taken & (np.cumsum(taken) <= turned))
        evidence = Evidence.from_lives(0.0, exits, more, reference_hours=RATED)
        return judge_rating(fit_life(evidence), RATED).verdict == HOLDS

    assert found.pulled.to_overturn == next(m for m in range(40) if not holds(m))


def test_old_heads_are_likelier_to_have_been_about_to_fail():
    """Where wear counts, pulled heads that had hardly run change nothing in the count."""
    exits, failed, taken = record(pulled_age=900.0)
    few_hours = np.full(20, 5.0)
    alone = what_would_overturn(0.0, exits, failed, taken, RATED)
    more = what_would_overturn(
        0.0,
        np.r_[exits, few_hours],
        np.r_[failed, np.zeros(20, bool)],
        np.r_[taken, np.ones(20, bool)],
        RATED,
    )
    assert more.pulled.to_overturn == alone.pulled.to_overturn
    assert more.pulled.pulled == alone.pulled.pulled + 20


def test_few_is_said_and_the_verdict_does_not_stand():
    exits, failed, taken = record(failures=8, at_rating=140)
    found = what_would_overturn(0.0, exits, failed, taken, RATED)
    assert found.verdict == HOLDS
    assert 1 <= found.pulled.to_overturn <= FEW * taken.sum()
    assert found.pulled.few
    assert not found.stands


def test_many_needed_and_the_verdict_stands():
    exits, failed, taken = record(failures=1, at_rating=250)
    found = what_would_overturn(0.0, exits, failed, taken, RATED)
    assert found.verdict == HOLDS
    assert found.pulled.to_overturn > FEW * taken.sum()
    assert found.stands


def test_no_pulled_head_or_no_holds_has_no_tipping_point():
    exits, failed, taken = record(pulled=0)
    assert what_would_overturn(0.0, exits, failed, taken, RATED).pulled.to_overturn is None
    exits, failed, taken = record(failures=20)
    found = what_would_overturn(0.0, exits, failed, taken, RATED)
    assert found.verdict != HOLDS
    assert found.pulled.to_overturn is None
    assert not found.pulled.few


def test_where_no_number_of_pulled_heads_would_overturn():
    exits, failed, _ = record(failures=0, at_rating=2000, pulled=0)
    life = fit_life(Evidence.from_lives(0.0, exits, failed, reference_hours=RATED))
    found = pulled_tipping_point(life, np.full(5, 600.0), RATED, 0.9, 0.95)
    assert (found.pulled, found.to_overturn, found.few) == (5, None, False)


def test_heads_pulled_before_their_time_are_those_that_worked_and_were_not_due():
    ages, suspended = [100.0, 950.0, 400.0], [True, True, False]
    assert pulled_before_time(ages, suspended, 900.0).tolist() == [True, False, False]


def test_readings_that_disagree_overturn():
    exits, failed, taken = record(failures=1, at_rating=250, pulled=0)
    more = np.r_[np.full(40, RATED), np.zeros(exits.size - 40)] > 0
    other = Evidence.from_lives(0.0, exits, failed | more, reference_hours=RATED)
    same = Evidence.from_lives(0.0, exits, failed, reference_hours=RATED)
    others = [
        OtherReading("removals in doubt", "as suspensions", 40, same),
        OtherReading("removals in doubt", "as failures", 40, other),
    ]
    found = what_would_overturn(0.0, exits, failed, taken, RATED, readings=others)
    assert not found.readings_agree
    assert not found.stands
    assert [each.verdict for each in found.readings] == [HOLDS, "falls short"]
    assert set(found.table["question"]) == {"kind of life", "removals in doubt"}


def test_the_average_takes_the_grids_error_out():
    exits, failed, taken = record()
    found = what_would_overturn(0.0, exits, failed, taken, RATED)
    exact = judge_rating(
        fit_life(Evidence.from_lives(0.0, exits, failed, reference_hours=RATED)), RATED
    )
    assert found.probability == exact.probability
    assert found.averaged == pytest.approx(found.kinds.probability, abs=0.005)
    nothing = replace(found, verdict=NOT_SETTLED)
    assert nothing.stands


def test_heads_that_look_worn_are_pulled_and_the_verdict_says_so():
    """The fault: life and pull correlated, truth at the edge, "holds" in about one of five."""
    from studies.changing_shops.overturn import pulled_shops

    found = pulled_shops(correlation=0.3, share=0.9, shops=120, seed=3)
    band = 3.0 * np.sqrt(0.1 * 0.9 / 120)
    assert found.holds > 0.10
    assert found.stands < 0.10 + band


def test_short_does_not_stand_where_a_likely_kind_of_life_says_otherwise():
    """The fault: log-logistic lives, truth at the edge; the average alone let 7.6 % stand.

    One kind worth a word that is undecided is enough; "holds" is left to the average.
    """
    from studies.changing_shops.overturn import KINDS, kind_shops

    exits, failed, taken = record(failures=60, at_rating=40, pulled=0)
    found = what_would_overturn(0.0, exits, failed, taken, RATED)
    assert found.verdict == "falls short" and found.average_agrees
    doubted = replace(
        found,
        kinds=KindsOfLife((LifeKind("Weibull", 0.8, 0.01), LifeKind("log-logistic", 0.2, 0.2))),
        averaged=0.048,
    )
    assert opinion_of_kinds(0.01, doubted.kinds) == 0.2
    assert doubted.average_agrees and not doubted.other_kinds_agree and not doubted.stands
    rare = replace(
        doubted,
        kinds=KindsOfLife((LifeKind("Weibull", 0.95, 0.01), LifeKind("log-logistic", 0.05, 0.2))),
    )
    assert rare.stands and opinion_of_kinds(0.01, rare.kinds) < 0.05
    said = kind_shops(KINDS[2], shops=60, seed=4)
    assert said.falls_short > 0.25
    assert said.short_stands < 0.06 + 3.0 * np.sqrt(0.06 * 0.94 / 60)
