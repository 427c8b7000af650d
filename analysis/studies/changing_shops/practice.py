"""A shop that changes its policy, and one that swaps both heads in a visit: are forecasts right?

Change: heads run to failure, from a day on they are swapped at the rating. The quarter that
follows is forecast some quarters after that day and before it, with what today's settings say
("swap at the rating") and the lateness of the whole record; with the day of the change stated;
and with the policy, day and lag learned from the installations. Visits: heads swapped at the
rating, and the other head along from an age on, which the settings do not say.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from headlife.fleet.joint_visits import joint_visits, visits_with_another
from headlife.fleet.practice import Practice, practised_policy
from headlife.numbers import Floats
from headlife.seeds import generator
from headlife.shop.policy import Policy
from headlife.units import DAYS_PER_WEEK, WEEKS_PER_QUARTER
from studies.changing_shops.ahead import Known, forecast, present_ages
from studies.changing_shops.shops import (
    RATED_HOURS,
    Installations,
    Truth,
    next_quarter,
    record,
)

FUTURES: Final = 40
LAG_HOURS: Final = 45.0  # true mean, about a week of printing
YEARS_BEFORE: Final = 2.0
POLICIES: Final = {
    "at the notice": 0.9 * RATED_HOURS,
    "at the rating": RATED_HOURS,
    "to failure": np.inf,
}
STATED: Final = "at the rating"
QUARTERS_AFTER: Final = (-1.0, 0.0, 1.0, 2.0, 5.0)
JOIN_AGES: Final = (0.5, 0.6, 0.7, 0.8, 0.9)  # in ratings, looked at
JOINED_FROM: Final = (0.6, 0.8)
JOINED_HELD_OUT: Final = (0.5, 0.7)


def practice(rows: Installations, stated: str = STATED) -> Practice:
    """Learn from the installations what the shop does."""
    return practised_policy(
        rows.hours_in,
        rows.hours_out,
        rows.day_in,
        rows.day_out,
        rows.planned,
        POLICIES,
        stated,
        RATED_HOURS,
    )


def _whole_record(rows: Installations) -> tuple[Policy, float]:
    """Give the policy stated, and hours run past its age by all heads over planned swaps."""
    past = np.maximum(rows.hours_out - np.maximum(rows.hours_in, RATED_HOURS), 0.0).sum()
    late = (rows.planned & (rows.hours_out >= RATED_HOURS)).sum()
    return Policy(RATED_HOURS), float(past / max(late, 1))


def _since(rows: Installations, day: float) -> tuple[Policy, float]:
    """Give the policy stated with its day: only what was run since counts."""
    length = np.maximum(rows.day_out - rows.day_in, 1e-9)
    part = np.clip((day - rows.day_in) / length, 0.0, 1.0)
    begun = rows.hours_in + part * (rows.hours_out - rows.hours_in)
    past = np.maximum(rows.hours_out - np.maximum(begun, RATED_HOURS), 0.0)
    late = (rows.planned & (rows.hours_out >= RATED_HOURS) & (rows.day_out >= day)).sum()
    return Policy(RATED_HOURS), float(past[rows.day_out >= day].sum() / max(late, 1))


def _learned(rows: Installations) -> tuple[Policy, float]:
    found = practice(rows)
    return Policy(found.swap_at), found.lag_hours


def changed(quarters: float, shops: int, seed: int, truth: Truth | None = None) -> pd.DataFrame:
    """Forecast the quarter that begins so many quarters after the change of policy.

    Parameters
    ----------
    quarters : float
        Quarters after the change; below 0, before it, when the policy of today is not that of then.
    shops : int
        Shops [-].
    seed : int
        Same seed, same shops.
    truth : Truth, optional
        How they are.

    Returns
    -------
    DataFrame
        By way of forecasting: `inside` the 95 % interval, `served`, mean `stock` [heads], over
        shops and true quarters.
    """
    truth = truth or Truth(swap_at=RATED_HOURS, lag=LAG_HOURS)
    change = 52.0 * YEARS_BEFORE
    weeks = change + WEEKS_PER_QUARTER * quarters
    then = truth
    if quarters < 0:
        then = Truth(lag=truth.lag, shape=truth.shape, printers=truth.printers)
    found: dict[str, list[tuple[float, float, int]]] = {}
    for number in range(shops):
        rng = generator(seed, "changed", str(quarters), str(truth), str(number))
        rows = record(truth, weeks, change, rng)
        used = next_quarter(then, present_ages(rows), FUTURES, rng)
        ways = {
            "today's settings": _whole_record(rows),
            "with the day stated": _since(rows, DAYS_PER_WEEK * change)
            if quarters >= 0
            else (Policy(), 0.0),
            "learned": _learned(rows),
        }
        for name, (policy, lag) in ways.items():
            found.setdefault(name, []).append(_scored(rows, truth, policy, lag, used, rng))
    return pd.DataFrame(
        {name: np.mean(scores, axis=0) for name, scores in found.items()},
        index=["inside", "served", "stock"],
    ).T


def joined(from_age: float, shops: int, seed: int) -> pd.DataFrame:
    """Forecast shops that swap the other head along from an age on, in ratings.

    Returns
    -------
    DataFrame
        As `changed`, for what the settings say and for what is learned.
    """
    truth = Truth(
        swap_at=RATED_HOURS,
        swap_before=RATED_HOURS,
        lag=LAG_HOURS,
        join_from=from_age * RATED_HOURS,
    )
    ages = [age * RATED_HOURS for age in JOIN_AGES]
    found: dict[str, list[tuple[float, float, int]]] = {}
    for number in range(shops):
        rng = generator(seed, "joined", str(from_age), str(number))
        rows = record(truth, 104.0, np.inf, rng)
        used = next_quarter(truth, present_ages(rows), FUTURES, rng)
        due = np.full(rows.day_in.size, RATED_HOURS)
        other, too, _ = visits_with_another(
            rows.printer, rows.position, rows.day_in, rows.day_out,
            rows.hours_in, rows.hours_out, rows.used_up, due,
        )  # fmt: skip
        visits = joint_visits(other, too, ages)
        _, lag = _whole_record(rows)
        ways = {
            "as stated": Policy(RATED_HOURS),
            "learned": Policy(RATED_HOURS, join_from=visits.join_from),
        }
        for name, policy in ways.items():
            found.setdefault(name, []).append(_scored(rows, truth, policy, lag, used, rng))
    return pd.DataFrame(
        {name: np.mean(scores, axis=0) for name, scores in found.items()},
        index=["inside", "served", "stock"],
    ).T


def _scored(
    rows: Installations,
    truth: Truth,
    policy: Policy,
    lag: float,
    used: np.ndarray,
    rng: np.random.Generator,
) -> tuple[float, float, int]:
    hours: Floats = np.full(truth.printers, truth.weekly_hours)
    known = Known(hours, np.zeros(truth.printers), policy=policy, lag=lag)
    ahead = forecast(rows, known, rng)
    low, high = ahead.interval
    inside = float(((used >= low) & (used <= high)).mean())
    return inside, float((used <= ahead.level).mean()), ahead.level


def report(shops: int, seed: int, held_out: bool) -> str:
    """Write the rows of the table."""
    truth = None
    if held_out:
        truth = Truth(printers=10, shape=3.0, swap_at=RATED_HOURS, lag=150.0)
    lines = [f"{shops} shops, {FUTURES} true quarters each"]
    for quarters in QUARTERS_AFTER:
        when = "before" if quarters < 0 else "after"
        lines.append(f"forecast made {abs(quarters):g} quarters {when} the change of policy")
        lines += [changed(quarters, shops, seed, truth).round(3).to_string(), ""]
    for age in JOINED_HELD_OUT if held_out else JOINED_FROM:
        lines.append(f"both heads in one visit from {age:g} ratings on")
        lines += [joined(age, shops, seed).round(3).to_string(), ""]
    return "\n".join(lines)
