"""Swaps between builds: equal to trying every course within the spares, and their laws."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from itertools import product

import numpy as np
import pytest

from headlife.decisions.plan.courses import KEEP, MISSING, NEW, USED, courses
from headlife.decisions.plan.end_value import EndHead, end_value
from headlife.decisions.plan.expected import expected, swaps_at
from headlife.decisions.plan.listed_courses import Limit
from headlife.decisions.plan.one_printer import Place, PrinterBuilds, UsedHead
from headlife.decisions.plan.shared_spares import share_spares

END = (0.21, 0.00013)  # of an end value that any function of the ages may be


def weibull(shape, scale):
    return lambda ages: np.exp(-((np.asarray(ages, float) / scale) ** shape))


def reaches(shape, scale, age):
    return lambda ages: weibull(shape, scale)(ages) / weibull(shape, scale)(age)


def end_of(ages):
    total = 0.0
    for axis, own in enumerate(ages):
        values = END[0] * own + END[1] * own**2
        total = total + values.reshape(*(-1 if i == axis else 1 for i in range(len(ages))))
    return total


def any_printer(rng, number, builds, places, used=(), stocks=None):
    """A printer with lives, ages, limits, swap ages and costs drawn at random."""
    hours = rng.uniform(20, 200, builds)
    own = []
    for place in range(places):
        shape, scale = rng.uniform(0.7, 4), rng.uniform(300, 1500)
        age = rng.uniform(0, 700)
        limited = rng.random(builds) < 0.3
        own.append(
            Place(
                age,
                reaches(shape, scale, age),
                weibull(shape, scale),
                np.where(limited, rng.uniform(250, 900), np.inf),
                rng.uniform(50, 400),
                rng.uniform(150, 900) if rng.random() < 0.4 else np.inf,
                rng.random() < 0.5,
                rng.uniform(0, 50),
                tuple(UsedHead(n, a, reaches(shape, scale, a), 20.0 + a / 9) for n, a in used)
                if place == 0
                else (),
                (None,) * builds if stocks is None else tuple(stocks[place]),
            )
        )
    return PrinterBuilds(
        tuple(own), hours, rng.uniform(10, 90), rng.uniform(100, 400, builds), end_of
    )


class Tried:
    """Every course of one printer tried out by plain recursion over ages; no slot, no array."""

    def __init__(self, printer):
        self.printer = printer
        self.places = range(len(printer.places))
        self.best = lru_cache(maxsize=None)(self.best)

    def survives(self, place, origin, age, hours):
        own = self.printer.places[place]
        reach = {"in": own.reaches, "new": own.new_reaches}.get(origin)
        if reach is None:
            reach = own.used[origin - USED].reaches
        return float(reach(age + hours) / reach(age))

    def swapped(self, heads, choice):
        """Heads after a choice and its cost; None where the build cannot be run with them."""
        cost = self.printer.visit if any(choice) else 0.0
        after = list(heads)
        for i, one in enumerate(choice):
            own = self.printer.places[i]
            if one == NEW:
                after[i], cost = ("new", 0.0), cost + own.new_head
            elif one >= USED:
                after[i], cost = (one, own.used[one - USED].age), cost + own.used[one - USED].cost
        return tuple(after), cost

    def is_past(self, place, age, hours):
        """Whether a build is begun, or where heads do not wait for its end would end, too late."""
        ends = age if place.waits or age == 0 else age + hours - 2e-6
        return ends >= place.swap_at - 1e-6

    def run(self, gap, heads, then):
        """Cost of a build with what follows; `then` prices the course without a failure."""
        printer, hours = self.printer, self.printer.hours[gap]
        for i, (_, age) in enumerate(heads):
            if age + hours > printer.places[i].limits[gap] + 1e-6:
                return np.inf
        shares = [self.survives(i, *heads[i], hours) for i in self.places]
        # A build begun past a swap age counts three new heads with their visit.
        total = sum(
            3.0 * (printer.places[i].new_head + printer.visit)
            for i, (_, age) in enumerate(heads)
            if self.is_past(printer.places[i], age, hours)
        )
        for fails in product((False, True), repeat=len(heads)):
            chance = np.prod([1 - s if f else s for s, f in zip(shares, fails, strict=True)])
            after = tuple(
                ("new", 0.0) if f else (origin, age + hours)
                for (origin, age), f in zip(heads, fails, strict=True)
            )
            cost = 0.0
            if any(fails):
                cost = printer.visit + printer.spoiled[gap]
                cost += sum(
                    printer.places[i].new_head + printer.places[i].waiting
                    for i in self.places
                    if fails[i]
                )
            total += chance * (cost + (self.best if any(fails) else then)(gap + 1, after))
        return total

    def best(self, gap, heads):
        """Least cost from a gap on with new heads."""
        if gap == self.printer.hours.size:
            return float(end_of([np.array([age]) for _, age in heads]).item())
        costs = []
        for choice in product((KEEP, NEW), repeat=len(heads)):
            after, cost = self.swapped(heads, choice)
            costs.append(cost + self.run(gap, after, self.best))
        return min(costs)

    def course_cost(self, course):
        def then(gap, heads):
            if gap == len(course):
                return self.best(gap, heads)
            after, cost = self.swapped(heads, course[gap])
            return cost + self.run(gap, after, then)

        return then(0, tuple(("in", place.age) for place in self.printer.places))

    def all_courses(self):
        """Least cost by what it takes: new heads from each stock, names of part-used ones."""
        found = {}
        each = [[KEEP, NEW, *range(USED, USED + len(place.used))] for place in self.printer.places]
        builds = self.printer.hours.size
        for course in product(product(*each), repeat=builds):
            new, used = [], []
            for gap, choice in enumerate(course):
                for place, one in zip(self.printer.places, choice, strict=True):
                    if one == NEW and place.stock[gap] is not None:
                        new.append(place.stock[gap])
                    if one >= USED:
                        used.append(place.used[one - USED].name)
            if len(set(used)) < len(used):
                continue
            takes = (tuple(sorted(new)), tuple(sorted(used)))
            cost = self.course_cost(course)
            if cost < found.get(takes, np.inf):
                found[takes] = cost
        return found


def least_of_all(printers, limits):
    """Least total cost within the limits, over every combination."""
    totals = {((), ()): 0.0}
    for printer in printers:
        after = {}
        for (new, used), cost in totals.items():
            for (more, names), own in Tried(printer).all_courses().items():
                both = tuple(sorted(new + more)), tuple(sorted(used + names))
                fits = all(sum(s in lim.stocks for s in both[0]) <= lim.heads for lim in limits)
                if fits and len(set(both[1])) == len(both[1]):
                    after[both] = min(after.get(both, np.inf), cost + own)
        totals = after
    return min(totals.values(), default=np.inf)


@pytest.mark.parametrize("seed", range(120))
def test_one_printer_is_equal_to_trying_every_course(seed):
    rng = np.random.default_rng(seed)
    builds = int(rng.integers(1, 4))
    used = (("U1", rng.uniform(0, 200)),) if seed % 2 else ()
    printer = any_printer(rng, 0, builds, int(rng.integers(1, 3)), used)
    found = share_spares([printer], [])
    assert found.cost == pytest.approx(least_of_all([printer], []), rel=1e-9)
    assert found.bound <= found.cost + 1e-9


@pytest.mark.parametrize("seed", range(80))
def test_printers_that_share_spares_are_equal_to_trying_every_combination(seed):
    rng = np.random.default_rng(1_000 + seed)
    count, builds = int(rng.integers(2, 4)), 2
    used = (("U1", rng.uniform(0, 150)), ("U2", rng.uniform(100, 300)))[: seed % 3]
    # One head type for both places; the second gap may have a later arrival, or no limit.
    gaps = ([0, 0], [0, 1], [0, None])[seed % 3]
    printers = [
        any_printer(rng, i, builds, 1 + (seed + i) % 2, used, [gaps, gaps]) for i in range(count)
    ]
    limits = [Limit(frozenset({0}), int(rng.integers(0, 3)))]
    if 1 in gaps:
        limits.append(Limit(frozenset({0, 1}), limits[0].heads + int(rng.integers(0, 2))))
    found = share_spares(printers, limits)
    least = least_of_all(printers, limits)
    if np.isinf(least):
        assert found.missing > 0
    else:
        assert not found.missing
        # Options are those of the printers in `found`, which may choose from fewer used heads.
        asked = [
            replace(
                own,
                places=tuple(
                    replace(place, swap_at=whole.swap_at)
                    for place, whole in zip(own.places, printer.places, strict=True)
                ),
            )
            for own, printer in zip(found.printers, printers, strict=True)
        ]
        courses_found = zip(asked, found.courses, strict=True)
        total = sum(Tried(one).course_cost(course) for one, course in courses_found)
        assert total == pytest.approx(least, rel=1e-9)
        assert found.bound <= found.cost + 1e-9


@pytest.mark.parametrize("seed", range(20))
def test_what_is_expected_adds_up_to_the_cost_of_the_course(seed):
    rng = np.random.default_rng(2_000 + seed)
    printer = any_printer(rng, 0, 5, 2, [("U1", 40.0)])
    found = share_spares([printer], [])
    happens = expected(found.printers[0], found.courses[0])
    costs = happens.costs(printer)
    assert sum(costs.values()) == pytest.approx(found.cost, rel=1e-9)
    assert (happens.spoiled >= 0).all() and (happens.spoiled <= 1).all()


def test_no_fixed_ages_cost_less_than_the_plan():
    rng = np.random.default_rng(7)
    for _ in range(20):
        printer = any_printer(rng, 0, 6, 2)
        best = float(courses(printer).costs[0])
        for due in ((300.0, 500.0), (800.0, 800.0), (np.inf, np.inf)):
            for join in (np.inf, 200.0):
                swaps = swaps_at(printer, [(age, age) for age in due], [(join, join)] * 2)
                total = sum(expected(printer, swaps=swaps).costs(printer).values())
                assert total >= best - 1e-9


def test_a_limit_is_never_passed_and_a_head_that_is_not_there_is_named():
    place = Place(
        480.0,
        reaches(2.0, 900.0, 480.0),
        weibull(2.0, 900.0),
        np.full(3, 500.0),
        300.0,
        stock=(0, 0, None),
    )
    printer = PrinterBuilds((place,), np.full(3, 100.0), 60.0, np.full(3, 250.0), end_of)
    there = share_spares([printer], [Limit(frozenset({0}), 1)])
    assert there.courses[0][0] == (NEW,) and not there.missing
    none = share_spares([printer], [Limit(frozenset({0}), 0)])
    assert none.courses[0][0] == (MISSING,) and none.missing == 1


def long_run(shape, scale, build, limit, head, visit, spoiled):
    """Cost per build at the best number of builds, by renewal-reward (Barlow & Proschan 1965,
    section 4.2, in whole builds)."""
    ends = np.arange(1, int(limit / build + 1e-9) + 1)
    share = weibull(shape, scale)(build * np.arange(ends[-1] + 1))
    builds = np.cumsum(share[:-1])
    cost = head + visit + spoiled * (1 - share[1:])
    return float(np.min(cost / builds))


@pytest.mark.parametrize(("shape", "limit"), [(1.0, 900.0), (2.5, 900.0), (3.5, np.inf)])
def test_the_end_value_is_that_of_renewal_reward(shape, limit):
    """In the long run a build costs what the formula says: h = min(T h) - g at every age."""
    scale, build, head, visit, spoiled = 1_100.0, 60.0, 320.0, 60.0, 240.0
    one = EndHead(weibull(shape, scale), limit, 900.0, head)
    found = end_value([one], build, visit, spoiled)
    rate = long_run(shape, scale, build, min(limit, 1_800.0), head, visit, spoiled)
    fresh = float(found([np.array([0.0])])[0])
    assert fresh == 0.0
    for age in (0.0, 300.0, 600.0, 840.0):
        survive = float(weibull(shape, scale)(age + build) / weibull(shape, scale)(age))
        ahead = float(found([np.array([age + build])])[0])
        run = (1 - survive) * (head + visit + spoiled) + survive * ahead
        if age + build > limit:
            run = np.inf
        start = (1 - float(weibull(shape, scale)(build))) * (head + visit + spoiled)
        start += float(weibull(shape, scale)(build)) * float(found([np.array([build])])[0])
        best = min(run, head + visit + start) - rate
        assert float(found([np.array([age])])[0]) == pytest.approx(best, abs=1e-5 * head)


def test_two_heads_that_share_visits_are_worth_more_than_alone():
    one = EndHead(weibull(3.0, 1_100.0), 900.0, 900.0, 320.0)
    ages = np.array([0.0, 400.0, 800.0])
    both = end_value([one, one], 60.0, 60.0, 240.0)([ages, ages])
    np.testing.assert_allclose(both, both.T, rtol=1e-9)
    # Two worn heads share a visit; a worn head beside a new one does not.
    assert both[2, 2] < 2 * both[2, 0]
    assert (np.diff(both, axis=0) > 0).all()


def test_a_head_of_another_type_counts_from_an_age_of_its_own():
    # The same printer, said in two ways: once a head in place of a type that is due, and may run,
    # so many hours earlier than what goes in, and is worth as much as what goes in is then.
    rng = np.random.default_rng(23)
    for number in range(20):
        printer = any_printer(rng, number, 5, 2, [("U1", 40.0)])
        same = []
        for place in printer.places:
            later = rng.uniform(-300.0, place.age)
            same.append(
                replace(
                    place,
                    age=place.age - later,
                    reaches=lambda ages, of=place, by=later: of.reaches(ages + by),
                    limits_now=place.limits - later,
                    swap_at_now=place.swap_at - later,
                    later=later,
                )
            )
        other = replace(printer, places=tuple(same))
        np.testing.assert_allclose(courses(other).costs, courses(printer).costs, rtol=1e-9)
        one, two = (share_spares([shop], []) for shop in (printer, other))
        assert one.courses == two.courses and two.cost == pytest.approx(one.cost, rel=1e-9)
        never = [(np.inf, np.inf)] * 2
        at = [(place.age + 30.0, 500.0) for place in printer.places]
        moved = [
            (now - place.later, new) for (now, new), place in zip(at, other.places, strict=True)
        ]
        totals = [
            sum(expected(shop, swaps=swaps_at(shop, due, never)).costs(shop).values())
            for shop, due in ((printer, at), (other, moved))
        ]
        assert totals[0] == pytest.approx(totals[1], rel=1e-9)


def test_no_more_heads_are_taken_from_a_stock_than_it_holds_whatever_its_number():
    # Heads that have to run on past their swap age were once counted with another type's stock.
    rng = np.random.default_rng(31)
    short = 0
    for number in range(30):
        heads = [9, *rng.integers(0, 3, 2).tolist()]
        limits = [Limit(frozenset({stock}), n) for stock, n in enumerate(heads)]
        printers = []
        for stock in range(3):
            printer = any_printer(rng, number, 4, 2, stocks=[(stock,) * 4] * 2)
            places = tuple(
                replace(place, swap_at=place.age + 30.0, limits=np.full(4, np.inf), new_head=20.0)
                for place in printer.places
            )
            printers.append(replace(printer, places=places))
        found = share_spares(printers, limits)
        for stock, course in enumerate(found.courses):
            taken = sum(option == NEW for choice in course for option in choice)
            assert taken <= limits[stock].heads
        short += found.binding
    assert short > 20
