"""Does the shop swap both heads of a printer in one visit, and from which age on?

From installations: the visits at which one head was used up while the printer's other head was
not due by itself, and whether that came out too. Never forecasts.

References
----------
[1] R. E. Kass and A. E. Raftery, "Bayes factors", J. American Statistical Association 90 (1995)
    773-795: marginal likelihoods compared.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.special import betaln

from headlife.fleet.practice import EARLY
from headlife.numbers import Floats

# Joining a visit, beta: nine of ten where the shop does, one in twenty by chance where not.
_JOINS: Final = (9.0, 1.0)
_BY_CHANCE: Final = (1.0, 19.0)


@dataclass(frozen=True)
class JointVisits:
    """From which age the other head of a printer is swapped along in one visit."""

    join_from: float
    """Age from which it is [h]; infinite: it is not."""
    chance: float
    """Posterior probability that heads are swapped along from some age on [-]."""
    visits: int
    """Visits to swap one head of a printer with another one in it [-]."""
    joined: int
    """Visits at which the other, not yet due, was swapped too [-]."""


def joint_visits(
    other_age: npt.ArrayLike, joined: npt.ArrayLike, ages: npt.ArrayLike
) -> JointVisits:
    """Learn from which age heads are swapped along.

    Parameters
    ----------
    other_age : array of float
        At each visit at which a head was swapped, the age of the printer's other head, where that
        was not due by itself [h], (visits,); in the order of their days.
    joined : array of bool
        Whether it was swapped too, (visits,).
    ages : array of float
        Ages from which heads may be swapped along [h]; never is looked at anyway.

    Returns
    -------
    JointVisits
        How often both heads came out together.

    Notes
    -----
    Above the age heads join with one chance, below it with another, each with a beta prior; ages
    are compared by their marginal likelihoods [1].
    """
    age = np.atleast_1d(np.asarray(other_age, float))
    too = np.atleast_1d(np.asarray(joined, bool))
    limits = np.append(np.unique(np.asarray(ages, float)), np.inf)

    def height(yes: int, cases: int, prior: tuple[float, float]) -> float:
        return float(betaln(prior[0] + yes, prior[1] + cases - yes) - betaln(*prior))

    heights = []
    for limit in limits:
        old = age >= limit
        heights.append(
            height(int((too & old).sum()), int(old.sum()), _JOINS)
            + height(int((too & ~old).sum()), int((~old).sum()), _BY_CHANCE)
        )
    # Never, as likely before as all ages together.
    weights = np.exp(np.array(heights) - max(heights))
    weights[:-1] /= max(limits.size - 1, 1)
    weights /= weights.sum()
    chance = float(1.0 - weights[-1])
    best = float(limits[int(np.argmax(weights[:-1]))]) if chance > 0.5 else np.inf
    return JointVisits(best, chance, int(age.size), int(too.sum()))


def visits_with_another(
    printer: npt.ArrayLike,
    position: npt.ArrayLike,
    day_in: npt.ArrayLike,
    day_out: npt.ArrayLike,
    hours_in: npt.ArrayLike,
    hours_out: npt.ArrayLike,
    used_up: npt.ArrayLike,
    due_hours: npt.ArrayLike,
) -> tuple[Floats, npt.NDArray[np.bool_], Floats]:
    """Find visits at which one head was used up and another one of the printer was not due.

    Parameters
    ----------
    printer, position : array of str
        Where each installation was, (n,).
    day_in, day_out, hours_in, hours_out : float or array of float
        As for `practised_policy`, (n,).
    used_up : array of bool
        True where the head was taken out and not kept: failed or swapped, (n,).
    due_hours : array of float
        Age at which each head is due by itself [h], (n,).

    Returns
    -------
    other_age : array of float
        Age of the other head at the visit [h], (visits,), by day.
    joined : array of bool
        Whether it was taken out too, (visits,).
    day : array of float
        Day of the visit, (visits,).
    """
    where, place = np.asarray(printer, str), np.asarray(position, str)
    start, end, into, out, due = (
        np.asarray(each, float) for each in (day_in, day_out, hours_in, hours_out, due_hours)
    )
    taken = np.asarray(used_up, bool)
    found = []
    code = np.unique(where, return_inverse=True)[1]
    order = np.argsort(code, kind="stable")
    of_printer = np.split(order, np.flatnonzero(np.diff(code[order])) + 1)
    for at in np.flatnonzero(taken):
        own = of_printer[code[at]]
        meanwhile = (place[own] != place[at]) & (start[own] < end[at]) & (end[own] >= end[at])
        for other in own[meanwhile]:
            part = (end[at] - start[other]) / max(end[other] - start[other], 1.0)
            age = into[other] + part * (out[other] - into[other])
            with_it = bool(taken[other] and end[other] == end[at])
            # Of two taken out together the older was the reason for the visit.
            if age >= EARLY * due[other] or (with_it and age >= out[at] and out[at] < due[at]):
                continue
            found.append((float(end[at]), float(age), with_it))
    found.sort()
    return (
        np.array([age for _, age, _ in found]),
        np.array([too for _, _, too in found], bool),
        np.array([day for day, _, _ in found]),
    )
