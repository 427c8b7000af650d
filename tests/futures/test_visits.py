from __future__ import annotations

import numpy as np
import pytest
from tests.futures.one_printer import lives_of, position

from headlife.errors import DecisionError
from headlife.futures.convolution import exact_demand
from headlife.futures.demand import KnownLife
from headlife.futures.visits import FAILED, JOINED, PLANNED, Printer, count_swaps
from headlife.shop.policy import Policy

DRAWS = 20_000


def printer(*ages, lives, swap=np.inf, join=np.inf, hours=40.0, weeks=26, sd=0.0):
    held = (
        position(lives, age, Policy(swap, join), role)
        for role, age in zip(("model", "support"), ages, strict=False)
    )
    return Printer(tuple(held), np.full(weeks, hours), sd)


def counts(swaps, kind):
    return sum(tallies[kind].sum(axis=1) for tallies in swaps.values())


def run(printers, draws=DRAWS, seed=1):
    return count_swaps(printers, draws, np.random.default_rng(seed))


@pytest.mark.parametrize("swap", [np.inf, 900.0])
def test_heads_that_do_not_join_are_independent_positions(swap):
    life, ages = KnownLife(2.2, 1200.0), (300.0, 800.0)
    paths = run([printer(*ages, swap=swap, lives=lives_of(life, DRAWS))])
    exact = exact_demand(life, ages, 40.0, 26.0, Policy(swap))
    total = counts(paths, FAILED) + counts(paths, PLANNED)
    assert total.mean() == pytest.approx(exact.mean, abs=3 * exact.sd / np.sqrt(DRAWS))
    assert counts(paths, FAILED).mean() == pytest.approx(
        exact.failure_mean, abs=3 * np.sqrt(exact.failure_mean / DRAWS)
    )
    pmf = np.bincount(total, minlength=exact.pmf.size)[: exact.pmf.size] / DRAWS
    assert np.all(np.abs(pmf - exact.pmf) <= 4 * np.sqrt(exact.pmf / DRAWS) + 1e-4)
    assert counts(paths, JOINED).sum() == 0


def test_immortal_heads_show_the_rule_of_joint_visits():
    # Ages 500 and 450, swapped at 1000 and along from 900: the first comes due after 500 hours,
    # when the other is 950 old and goes along; both then come due together after 1000 more.
    lives = lives_of(KnownLife(2.0, 1e12), 3)
    both = printer(500.0, 450.0, swap=1000.0, join=900.0, hours=100.0, weeks=16, lives=lives)
    paths = run([both], draws=3)
    by_role = {place[1]: tallies for place, tallies in paths.items()}
    assert np.flatnonzero(by_role["model"][PLANNED][0]).tolist() == [5, 15]
    assert np.flatnonzero(by_role["support"][JOINED][0]).tolist() == [5, 15]
    assert counts(paths, FAILED).sum() == 0
    assert by_role["support"][PLANNED].sum() == 0


def test_joining_saves_visits_and_costs_heads():
    lives = lives_of(KnownLife(2.5, 1500.0), DRAWS)
    apart = run([printer(200.0, 700.0, swap=1200.0, weeks=104, lives=lives)])
    along = run([printer(200.0, 700.0, swap=1200.0, join=600.0, weeks=104, lives=lives)])
    visits = [counts(p, FAILED).mean() + counts(p, PLANNED).mean() for p in (apart, along)]
    heads = [v + counts(p, JOINED).mean() for v, p in zip(visits, (apart, along), strict=True)]
    assert visits[1] < visits[0]
    assert heads[1] > heads[0]


def test_joining_at_any_age_is_one_process_of_the_weaker_head():
    # Both heads always go together, so a visit is due when the first of two new heads fails:
    # two Weibull lives of one shape have a minimum of that shape and scale / 2^(1/shape).
    life = KnownLife(2.0, 1000.0)
    paths = run([printer(0.0, 0.0, join=0.0, lives=lives_of(life, DRAWS))])
    exact = exact_demand(KnownLife(2.0, 1000.0 / np.sqrt(2.0)), [0.0], 40.0, 26.0)
    visits = counts(paths, FAILED)
    assert visits.mean() == pytest.approx(exact.mean, abs=3 * exact.sd / np.sqrt(DRAWS))
    assert (counts(paths, JOINED) == visits).all()


def test_heads_of_a_printer_share_its_print_hours():
    # Where only usage is uncertain, both heads of a printer need more or fewer together: the
    # variance of their sum is that of one mixed Poisson count, not of two.
    life = KnownLife(1.0, 400.0)
    paths = run([printer(0.0, 0.0, sd=0.5, lives=lives_of(life, DRAWS))])
    mean = 2 * 40 * 26 / 400
    total = counts(paths, FAILED)
    assert total.mean() == pytest.approx(mean, abs=4 * total.std() / np.sqrt(DRAWS))
    assert total.var() == pytest.approx(mean + (0.5 * mean) ** 2, rel=0.05)


def test_weeks_without_printing_bring_no_swap():
    hours = np.full(20, 50.0)
    hours[5:10] = 0.0
    held = position(lives_of(KnownLife(1.0, 200.0), DRAWS), 100.0)
    by_week = run([Printer((held,), hours)])["A", "model", "here"][FAILED].mean(axis=0)
    assert by_week[5:10].sum() == 0
    running = np.delete(by_week, np.arange(5, 10))
    assert np.all(np.abs(running - 0.25) <= 4 * np.sqrt(0.25 / DRAWS))


def test_a_head_past_its_swap_age_is_swapped_in_the_first_week():
    lives = lives_of(KnownLife(2.0, 1e12), 5)
    paths = run([printer(1300.0, 10.0, swap=1200.0, lives=lives)], draws=5)
    first = sum(t[PLANNED][:, 0] for t in paths.values())
    assert first.tolist() == [1] * 5


def test_a_swap_age_of_minutes_is_refused():
    with pytest.raises(DecisionError, match="give a higher age"):
        run([printer(0.0, 0.0, swap=0.5, lives=lives_of(KnownLife(2.0, 900.0), 5))], draws=5)
