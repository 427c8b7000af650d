from __future__ import annotations

import numpy as np
import pytest

from headlife.decisions.policy.best_age import best_age
from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.pairs import best_limit, visit_rates
from headlife.decisions.policy.replacement import rates_at
from headlife.errors import DecisionError
from headlife.futures.demand import KnownLife
from headlife.futures.draws import ModeDraws
from headlife.futures.pair_walk import walk
from headlife.futures.visits import (
    FAILED,
    JOINED,
    PLANNED,
    HeadKind,
    Printer,
    Slot,
    simulate_visits,
)
from headlife.shop.policy import Policy

MODEL, SUPPORT = KnownLife(2.6, 1250.0), KnownLife(2.2, 2600.0)
COSTS = (SwapCosts(head=300.0, visit=200.0, scrapped=800.0),) * 2


def pair(first, second, join=np.inf, build=0.0, never_past=False):
    return Policy(first, join, build, never_past), Policy(second, join, build)


def within(values, wanted, errors=3.0):
    """Whether the mean of independent values is within some standard errors of a number."""
    return abs(values.mean() - wanted) <= errors * values.std() / np.sqrt(values.size)


@pytest.mark.parametrize("ages", [(1000.0, 1500.0), (1200.0, 1200.0), (np.inf, np.inf)])
def test_without_a_limit_the_heads_are_independent(ages):
    found = visit_rates((MODEL, SUPPORT), [pair(*ages)], counted=600, seed=2)[0]
    for place, (life, age) in enumerate(zip((MODEL, SUPPORT), ages, strict=True)):
        alone = rates_at(life, age)
        assert within(found.heads[place], float(alone.heads[0]))
        assert within(found.failures[place], float(alone.failures[0]))
    total = sum(
        float(rates_at(one, age).heads[0]) for one, age in zip((MODEL, SUPPORT), ages, strict=True)
    )
    assert within(found.visits, total)


def test_with_a_limit_of_zero_the_pair_is_one_head_and_its_optimum_is_found():
    # Both come out at every visit: a renewal of the pair, whose hazards add. One visit, two heads.
    joint = SwapCosts(head=600.0, visit=200.0, scrapped=800.0)
    best = best_age([MODEL, SUPPORT], joint)
    ages = best.age * np.array([0.6, 0.8, 0.9, 1.0, 1.1, 1.25, 1.6])
    costs = [
        visit_rates((MODEL, SUPPORT), [pair(age, age, 0.0)], counted=800, seed=3)[0].cost(COSTS)
        for age in ages
    ]
    for age, cost in zip(ages, costs, strict=True):
        assert within(cost, float(rates_at([MODEL, SUPPORT], age).cost(joint)[0]))
    # The same lives for every age, so the best one of the simulation is the analytic one.
    means = [cost.mean() for cost in costs]
    assert abs(int(np.argmin(means)) - 3) <= 1
    top = np.polynomial.polynomial.polyfit(ages[1:6], means[1:6], 2)
    assert -top[1] / (2 * top[2]) == pytest.approx(best.age, rel=0.05)


def one_printer(lives, swap_ages, limit, build, counted):
    """The same printer event by event in plain Python: hours, heads, failures, visits."""
    ages, next_life = [0.0, 0.0], [0, 0]
    hours = heads = failures = visits = 0
    for _ in range(counted):
        left = [lives[next_life[i]][i] - ages[i] for i in (0, 1)]
        due = [max(swap_ages[i] - ages[i], 0.0) for i in (0, 1)]
        if build:
            due = [np.ceil(one / build - 1e-9) * build for one in due]
        step = min(*left, *due)
        ages = [age + step for age in ages]
        hours, visits = hours + step, visits + 1
        for i in (0, 1):
            fails = left[i] <= step
            if fails or ages[i] >= min(swap_ages[i], limit) * (1 - 1e-9):
                heads, failures = heads + 1, failures + fails
                ages[i], next_life[i] = 0.0, next_life[i] + 1
    return hours, heads, failures, visits


@pytest.mark.parametrize("build", [0.0, 96.0])
@pytest.mark.parametrize("limit", [0.0, 500.0, np.inf])
def test_walk_is_what_a_plain_loop_does(limit, build):
    rng = np.random.default_rng(5)
    lives = np.stack([1250.0 * rng.weibull(2.6, 60), 2600.0 * rng.weibull(2.2, 60)], axis=1)
    walked = list(
        walk(np.zeros((2, 1, 1)), lives[:, :, None, None], [pair(1000.0, 1500.0, limit, build)])
    )[:40]
    hours, heads, failures, visits = one_printer(lives, (1000.0, 1500.0), limit, build, 40)
    assert walked[-1].hours[0, 0] == pytest.approx(hours)
    assert sum(int(visit.swapped.sum()) for visit in walked) == heads
    assert sum(int(visit.failed.sum()) for visit in walked) == failures
    assert len(walked) == visits


@pytest.mark.parametrize("limit", [0.0, 400.0, np.inf])
def test_quality_critical_heads_never_pass_their_age_between_builds(limit):
    rng = np.random.default_rng(6)
    lives = np.stack(
        [1250.0 * rng.weibull(2.6, (200, 50)), 2600.0 * rng.weibull(2.2, (200, 50))], 1
    )
    policies = [pair(800.0, 1200.0, limit, 96.0, never_past=True)]
    ages = np.zeros((2, 1, 50))
    last = np.zeros((1, 50))
    for visit in walk(ages.copy(), lives[:, :, None], policies):
        ages += visit.hours - last
        last = visit.hours
        assert (ages[0] <= 800.0 + 1e-6).all()
        # The other head waits for the build to end, and no longer.
        assert (ages[1] <= 1200.0 + 96.0 + 1e-6).all()
        ages[visit.swapped] = 0.0


def test_long_run_agrees_with_the_calendar_engine():
    ages, limit, draws, weeks = (1000.0, 1500.0), 600.0, 400, 400
    policies = [pair(*ages, limit)]
    found = visit_rates((MODEL, SUPPORT), policies, scenarios=400, counted=400, seed=7)[0]
    rng = np.random.default_rng(8)
    heads = tuple(
        Slot(role, "here", start, (HeadKind("Any", swap_age=age, join_age=limit),))
        for role, start, age in (("model", 300.0, ages[0]), ("support", 700.0, ages[1]))
    )
    drawn = {
        ("Any", head.role): [ModeDraws.from_parameters(*life.draw(draws, rng))]
        for head, life in zip(heads, (MODEL, SUPPORT), strict=True)
    }
    paths = simulate_visits([Printer(heads, np.full(weeks, 250.0))], drawn, rng)
    settled = slice(40, None)  # the first 10,000 hours depend on the ages at the start
    hours = (weeks - 40) * 250.0
    for place, head in enumerate(heads):
        tally = {kind: paths.swaps[head.group(0)][kind][:, settled].sum(axis=1) / hours
                 for kind in (FAILED, PLANNED, JOINED)}  # fmt: skip
        used = sum(tally.values())
        for theirs, ours in ((used, found.heads[place]), (tally[FAILED], found.failures[place])):
            error = np.hypot(theirs.std() / draws**0.5, ours.std() / ours.size**0.5)
            assert abs(theirs.mean() - ours.mean()) < 4 * error


def test_the_best_limit_beats_both_extremes_and_pays_for_the_shared_visit():
    answer = best_limit((MODEL, SUPPORT), pair(1000.0, 1500.0), COSTS)
    by_limit = dict(answer.by_limit)
    assert answer.best.cost.mean() <= min(by_limit[0.0], by_limit[np.inf]) + 1e-12
    assert 0.0 < answer.best.policies[0].join_from < np.inf
    assert answer.against_alone.probability_cheaper > 0.5
    # Each on its own is the formula exactly.
    alone = sum(
        rates_at(life, age).cost(cost)[0]
        for life, age, cost in zip((MODEL, SUPPORT), (1000.0, 1500.0), COSTS, strict=True)
    )
    assert answer.alone.cost == pytest.approx(float(alone))
    # Where a visit costs nothing there is nothing to share.
    free = tuple(cost.with_(visit=0.0) for cost in COSTS)
    best = best_limit((MODEL, SUPPORT), pair(1000.0, 1500.0), free).best
    assert best.policies[0].join_from >= 900.0


def test_same_seed_same_answer():
    first, again = (
        visit_rates(
            (MODEL, SUPPORT), [pair(1000.0, 1500.0, 300.0)], scenarios=40, counted=20, seed=4
        )[0]
        for _ in range(2)
    )
    assert np.array_equal(first.visits, again.visits)


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: visit_rates((MODEL, lambda t: 0 * t), [pair(10.0, 10.0)]), "Weibull lives"),
        (
            lambda: best_limit(
                (MODEL, SUPPORT), pair(9.0, 9.0), (COSTS[0], COSTS[0].with_(visit=1.0))
            ),
            "one price",
        ),
    ],
)
def test_bad_input_ends_with_a_sentence(call, says):
    with pytest.raises(DecisionError, match=says):
        call()
