"""The engine beside a plain loop, printer by printer, and the laws that hold on the way."""

from __future__ import annotations

from itertools import islice

import numpy as np
import pytest

from headlife.futures.draws import GivenLives
from headlife.futures.engine import steps
from headlife.futures.position import HeadKind, Position
from headlife.shop.policy import Policy


def pair(first, second, join=np.inf, build=0.0, never_past=False):
    return Policy(first, join, build, never_past), Policy(second, join, build)


def walk(lives, policies, visits, ages=((0.0,), (0.0,))):
    """Steps of printers whose lives are given, heads x 2 x draws."""
    draws = lives.shape[2]
    held = [
        Position(
            np.broadcast_to(ages[place], (1, draws)).astype(float),
            [HeadKind(GivenLives(lives[:, place], 1), policies[place])],
        )
        for place in (0, 1)
    ]
    every = steps(held, draws, np.inf, np.random.default_rng(0), traced=True)
    return list(islice(every, visits))


def one_printer(lives, swap_ages, limit, build, counted, ages):
    """The same printer event by event in plain Python: hours, heads, failures, visits."""
    ages, next_life = list(ages), [0, 0]
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
@pytest.mark.parametrize("ages", [(0.0, 0.0), (0.0, 900.0)])
def test_the_engine_does_what_a_plain_loop_does(limit, build, ages):
    rng = np.random.default_rng(5)
    lives = np.stack([1250.0 * rng.weibull(2.6, 60), 2600.0 * rng.weibull(2.2, 60)], axis=1)
    lives[0] = np.maximum(lives[0], np.array(ages) + 1.0)
    found = walk(lives[:, :, None], pair(1000.0, 1500.0, limit, build), 40, np.c_[list(ages)])
    hours, heads, failures, visits = one_printer(lives, (1000.0, 1500.0), limit, build, 40, ages)
    out = [each for step in found for each in step.out]
    assert found[-1].hours[0] == pytest.approx(hours)
    assert sum(int((o.failed | o.planned | o.joined).sum()) for o in out) == heads
    assert sum(int(o.failed.sum()) for o in out) == failures
    assert len(found) == visits


@pytest.mark.parametrize("limit", [0.0, 400.0, np.inf])
def test_quality_critical_heads_never_pass_their_age_between_builds(limit):
    rng = np.random.default_rng(6)
    lives = np.stack(
        [1250.0 * rng.weibull(2.6, (200, 50)), 2600.0 * rng.weibull(2.2, (200, 50))], axis=1
    )
    for step in walk(lives, pair(800.0, 1200.0, limit, 96.0, never_past=True), 150):
        critical, other = step.out
        assert (critical.ages <= 800.0 + 1e-6).all()
        # The other head waits for the build to end, and no longer.
        assert (other.ages <= 1200.0 + 96.0 + 1e-6).all()


def test_a_head_that_has_run_since_the_last_visit_ends_its_own_builds():
    # 500 h old and due at 1,000 h, builds of 96 h since it was put in: 1,056 h are eleven of them.
    kind = HeadKind(GivenLives(np.full((9, 1), 1e9), 1), Policy(1000.0, build_hours=96.0))
    held = [Position(np.full((1, 1), 500.0), [kind])]
    found = list(islice(steps(held, 1, np.inf, np.random.default_rng(0), traced=True), 3))
    assert [step.hours[0] for step in found] == pytest.approx([556.0, 556.0 + 1056.0, 556 + 2112])
    assert [step.out[0].ages[0] for step in found] == pytest.approx([1056.0] * 3)


def test_jobs_come_out_after_the_last_of_them():
    policy = Policy(jobs=12, build_hours=80.0)
    held = [Position(np.zeros((1, 1)), [HeadKind(GivenLives(np.full((9, 1), 1e9), 1), policy)])]
    found = list(islice(steps(held, 1, np.inf, np.random.default_rng(0)), 2))
    assert [step.hours[0] for step in found] == pytest.approx([960.0, 1920.0])
