"""Swapping by fixed ages through the same year: at the rating, and by many other policies."""

from __future__ import annotations

from typing import Final

import numpy as np

from headlife.numbers import Floats
from studies.planning.year import (
    PRINTERS,
    RATED_HOURS,
    WEEKS,
    Course,
    Decide,
    Flags,
    ShopTruth,
    true_worth,
    worth_of,
)

_SHARES: Final = (0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 1.0, 1.15, 1.3, 1.6, np.inf)
_JOINS: Final = (0.5, 0.7, 0.85, np.inf)


def fixed_policies() -> tuple[Floats, Floats]:
    """List fixed policies: ages of each role from which heads are swapped, and are joined [h]."""
    rows = [(model, support, join) for model in _SHARES for support in _SHARES for join in _JOINS]
    table = RATED_HOURS * np.array([(1.0, 1.0, np.inf), *rows])
    join = np.where(np.isinf(table[:, 2]), np.inf, table[:, 2] / RATED_HOURS)
    due = table[:, :2]
    along = np.where(np.isfinite(due), due, 2.0 * RATED_HOURS) * np.minimum(join, 10.0)[:, None]
    return due, np.where(np.isinf(join)[:, None], np.inf, along)


def run_fixed(shop: ShopTruth) -> tuple[Floats, Floats]:
    """Run all fixed policies, at the rating first: cost, failed quality-critical builds."""
    due, along = fixed_policies()
    total, critical = np.zeros(len(due)), np.zeros(len(due))
    worth = {one: true_worth(shop, one) for one in (False, True)}
    for printer in range(PRINTERS):
        course = Course(shop, printer, worth[shop.critical(printer)], len(due))
        limit = RATED_HOURS if shop.critical(printer) else np.inf
        for hours in (one for week in shop.builds[printer][:WEEKS] for one in week):
            course.run(0, hours, _by_age(due, along, limit - hours))
        total += course.costs + worth_of(course.worth, *course.ages.T)
        critical += course.failed * shop.critical(printer)
    return total, critical


def _by_age(due: Floats, along: Floats, last: float) -> Decide:
    """Swap from the policies' ages on, and before an age from which a limit would be passed."""

    def decide(_: int, ages: Floats, visited: Flags) -> Flags:
        asked = (ages >= due) | (ages > last)
        anyone = asked.any(axis=1) | visited
        return np.asarray(asked | (anyone[:, None] & (ages >= along)))

    return decide
