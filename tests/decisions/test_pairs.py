from __future__ import annotations

import numpy as np
import pytest
from tests.futures.one_printer import lives_of, position

from headlife.decisions.policy.best_age import best_age
from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.pairs import best_limit, visit_rates
from headlife.decisions.policy.replacement import rates_at
from headlife.errors import DecisionError
from headlife.futures.demand import KnownLife
from headlife.futures.visits import FAILED, JOINED, PLANNED, Printer, count_swaps
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


def test_long_run_agrees_with_the_calendar_engine():
    ages, limit, draws, weeks = (1000.0, 1500.0), 600.0, 400, 400
    policies = [pair(*ages, limit)]
    found = visit_rates((MODEL, SUPPORT), policies, scenarios=400, counted=400, seed=7)[0]
    heads = tuple(
        position(lives_of(life, draws), start, policy, role)
        for role, life, start, policy in zip(
            ("model", "support"), (MODEL, SUPPORT), (300.0, 700.0), policies[0], strict=True
        )
    )
    printer = Printer(heads, np.full(weeks, 250.0))
    swaps = count_swaps([printer], draws, np.random.default_rng(8))
    settled = slice(40, None)  # the first 10,000 hours depend on the ages at the start
    hours = (weeks - 40) * 250.0
    for place, head in enumerate(heads):
        tally = {kind: swaps[head.places[0]][kind][:, settled].sum(axis=1) / hours
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
    assert answer.best.cost.mean() < answer.alone.cost.mean()
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
