"""Planning anew every Monday with the posterior of the day, and swapping as planned.

No head runs past its swap age: the rating, or once a quarter the step past it that the posterior
of that day advises.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from headlife.decisions.plan.end_value import EndHead, EndValue, end_value
from headlife.decisions.plan.lives_ahead import LivesAhead
from headlife.decisions.plan.one_printer import Place, PrinterBuilds, new_slot
from headlife.decisions.plan.shared_spares import share_spares
from headlife.decisions.policy.best_age import AgeSearch
from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.steps import next_step, seen_age
from headlife.decisions.policy.survival import as_survival
from headlife.life.evidence import Evidence
from headlife.life.groups import Group
from headlife.life.posterior import fit_life
from headlife.numbers import Floats
from headlife.units import WEEKS_PER_QUARTER
from studies.planning.year import (
    AHEAD,
    CRITICAL,
    HEAD,
    PRINTERS,
    RATED_HOURS,
    VISIT,
    WEEKS,
    Course,
    Flags,
    ShopTruth,
    true_worth,
    worth_of,
)

GROUPS: Final = (Group("A", "model"), Group("A", "support"))


def run_planned(shop: ShopTruth, by_steps: bool) -> tuple[float, float]:
    """Cost of planning anew every week, and failed quality-critical builds."""
    worth = {one: true_worth(shop, one) for one in (False, True)}
    courses = [Course(shop, one, worth[shop.critical(one)]) for one in range(PRINTERS)]
    swap_at = (RATED_HOURS, RATED_HOURS)
    for week in range(WEEKS):
        known = _posterior(shop, courses)
        if by_steps and week % WEEKS_PER_QUARTER == 0:
            swap_at = _steps(shop, courses, known)
        lives = LivesAhead(known, 3.0 * RATED_HOURS, seed=1)
        ends: dict[bool, EndValue] = {}
        for course in courses:
            problem = _problem(shop, course, week, lives, ends, swap_at)
            _run_week(shop, course, week, problem)
    total = sum(float((one.costs + worth_of(one.worth, *one.ages.T))[0]) for one in courses)
    return total, sum(float(courses[printer].failed[0]) for printer in range(CRITICAL))


def _posterior(shop: ShopTruth, courses: list[Course]) -> dict[Group, list[Any]]:
    """Fit the record of the day: the years before, lives ended since and those going on."""
    found = {}
    for role, group in enumerate(GROUPS):
        entry, ends, failed = [], [], []
        for printer, course in enumerate(courses):
            born = shop.ages[printer, role]
            own = [(age, gone) for place, age, gone in course.ended if place == role]
            for age, gone in (*own, (float(course.ages[0, role]), False)):
                if age > born:
                    entry.append(born)
                    ends.append(age)
                    failed.append(gone)
                born = 0.0
        evidence = shop.record[role]
        if ends:
            evidence = evidence + Evidence.from_lives(
                np.array(entry), ends, failed, reference_hours=RATED_HOURS
            )
        found[group] = [fit_life(evidence)]
    return found


def _steps(
    shop: ShopTruth, courses: list[Course], known: dict[Group, list[Any]]
) -> tuple[float, float]:
    """Give the swap age of each role until the next quarter [h]."""
    found = []
    costs = SwapCosts(head=HEAD, visit=VISIT, scrapped=shop.spoiled)
    for role, group in enumerate(GROUPS):
        reached = [age for one in courses for place, age, _ in one.ended if place == role]
        reached += [float(one.ages[0, role]) for one in courses]
        life = known[group][0]
        step = next_step(
            as_survival(life),
            costs,
            RATED_HOURS,
            seen_age(np.array([*shop.reached[role], *reached]), RATED_HOURS),
            AgeSearch(life).best(costs).age,
            PRINTERS - CRITICAL,
        )
        found.append(RATED_HOURS if step is None else step.age)
    return found[0], found[1]


def _problem(
    shop: ShopTruth,
    course: Course,
    week: int,
    lives: LivesAhead,
    ends: dict[bool, EndValue],
    swap_at: tuple[float, float],
) -> PrinterBuilds:
    """Put together what the printer knows on Monday."""
    builds = [h for own in shop.builds[course.printer][week : week + AHEAD] for h in own]
    critical = shop.critical(course.printer)
    limit = RATED_HOURS if critical else np.inf
    new = [lives.new(group, 4.0 * RATED_HOURS) for group in GROUPS]
    if critical not in ends:
        heads = [
            EndHead(reaches, limit, RATED_HOURS, HEAD, age, waits=True)
            for reaches, age in zip(new, swap_at, strict=True)
        ]
        ends[critical] = end_value(heads, float(np.mean(builds)), VISIT, shop.spoiled)
    places = tuple(
        Place(
            float(course.ages[0, role]),
            lives.aged(group, float(course.ages[0, role])),
            new[role],
            np.full(len(builds), limit),
            HEAD,
            swap_at[role],
            waits=True,
        )
        for role, group in enumerate(GROUPS)
    )
    hours = np.array(builds)
    return PrinterBuilds(places, hours, VISIT, np.full(hours.size, shop.spoiled), ends[critical])


def _run_week(shop: ShopTruth, course: Course, week: int, problem: PrinterBuilds) -> None:
    """Swap as planned; after a failure as the plan says for that case."""
    planned = share_spares([problem], []).courses[0]
    slots, strayed = [0, 0], False
    limit = RATED_HOURS if shop.critical(course.printer) else np.inf
    for build, hours in enumerate(shop.builds[course.printer][week]):
        before = course.heads.copy()

        def decide(build: int, ages: Floats, visited: Flags, hours: float = hours) -> Flags:
            nonlocal strayed, before
            for role in np.flatnonzero(course.heads[0] > before[0]).tolist():
                slots[role] = new_slot(problem.places[role], build)  # failed: a new one is in
            strayed = strayed or bool(visited[0])
            if strayed:
                bits = int(problem.after_failure.swaps[build][tuple(slots)])
                swap = np.array([bool(bits & 1), bool(bits & 2)])
            else:
                swap = np.array(planned[build]) != 0
            swap = swap | (ages[0] + hours > limit)
            for role in np.flatnonzero(swap).tolist():
                slots[role] = new_slot(problem.places[role], build)
            before = course.heads + swap
            return np.asarray(swap[None])

        course.run(build, hours, decide)
