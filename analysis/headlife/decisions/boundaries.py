"""How strong must the evidence be at each of many looks, so that all of them together err seldom?

Group-sequential boundaries by error spending. From the information at each look and the error that
may have been spent by then to the normal score that the evidence must reach at that look, so that
a truth exactly at the edge of the claim is called wrongly, at any look, no more often than stated.
Never looks at records or lives.

References
----------
[1] K. K. G. Lan and D. L. DeMets, "Discrete sequential boundaries for clinical trials", Biometrika
    70 (1983) 659-663: error spending, and two spending functions.
[2] K. K. G. Lan and D. L. DeMets, "Group sequential procedures: calendar versus information time",
    Statistics in Medicine 8 (1989) 1191-1198: error may be spent over the calendar, the scores
    being correlated by information.
[3] P. Armitage, C. K. McPherson and B. C. Rowe, "Repeated significance tests on accumulating data",
    J. Royal Statistical Society A 132 (1969) 235-244: the recursion over looks.
[4] K. Kim and D. L. DeMets, "Design and analysis of group sequential tests based on the type I
    error spending rate function", Biometrika 74 (1987) 149-154: error spent by a power.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import ArrayLike
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from headlife.errors import DecisionError
from headlife.numbers import Floats, fraction

LEAST_STEP: Final = 0.01  # growth of information below which a look adds nothing to the last one
_FURTHEST: Final = 8.0  # normal score that nothing is asked to reach (6e-16)
_LOWEST: Final = -5.5  # normal score below which a path does not come back to a boundary (2e-8)
_POINTS: Final = 161  # of Simpson's rule over the scores that have not crossed yet


def spent_late(share: ArrayLike, error: float) -> Floats:
    """Error spent [-] by a share [-] of the plan, little of it early: O'Brien-Fleming type, [1].

    Parameters
    ----------
    share : float or array of float
        Share of the plan [-], from 0 to 1.
    error : float
        Whole error to be spent [-].

    Returns
    -------
    array of float
        Error spent [-], as many as shares.
    """
    part = np.clip(np.asarray(share, float), 1e-12, 1.0)
    # [1], first example: 2 - 2 Phi(z / sqrt(t)), z the normal score left out by error / 2
    return np.asarray(2.0 * ndtr(ndtri(0.5 * error) / np.sqrt(part)), float)


def spent_evenly(share: ArrayLike, error: float) -> Floats:
    """Error spent [-] by a share [-] of the plan, with much of it early: Pocock type, [1].

    Parameters
    ----------
    share : float or array of float
        Share of the plan [-], from 0 to 1.
    error : float
        Whole error to be spent [-].

    Returns
    -------
    array of float
        Error spent [-], as many as shares.
    """
    part = np.clip(np.asarray(share, float), 0.0, 1.0)
    return np.asarray(error * np.log1p((np.e - 1.0) * part), float)


def spent_by_power(power: float) -> Callable[[ArrayLike, float], Floats]:
    """Give the spending function ``error * share ** power``.

    The power family of [4].

    Parameters
    ----------
    power : float
        Above 0; the larger, the less is spent early [-].

    Returns
    -------
    callable
        From share and error to the error spent [-].
    """

    def spent(share: ArrayLike, error: float) -> Floats:
        part = np.clip(np.asarray(share, float), 0.0, 1.0)
        return np.asarray(error * part**power, float)

    return spent


def boundaries(information: ArrayLike, spent: ArrayLike) -> Floats:
    """Give the normal score that the evidence must reach at each look, one side.

    Parameters
    ----------
    information : array of float
        Information at each look [any unit], growing, (looks,).
    spent : array of float
        Error [-] that may have been spent up to each look, growing, (looks,).

    Returns
    -------
    array of float
        Normal scores [-], (looks,); infinite where a look has next to no error to spend, or adds
        less than `LEAST_STEP` to the information of the last look counted.

    Raises
    ------
    DecisionError
        Information or error falls from one look to the next, or is out of range.
    """
    amounts, allowed = _checked(information, spent)
    found = np.full(amounts.shape, np.inf)
    walk = _Walk()
    for look, (amount, total) in enumerate(zip(amounts, allowed, strict=True)):
        if walk.adds_something(amount):
            found[look] = walk.boundary(amount, total - walk.spent)
            walk.step(amount, found[look])
    return found


def crossing(information: ArrayLike, scores: ArrayLike) -> Floats:
    """Give the chance [-] that a boundary was reached by each look, the truth at the edge.

    Parameters
    ----------
    information : array of float
        Information at each look [any unit], growing by more than `LEAST_STEP`, (looks,).
    scores : array of float
        Boundary at each look, as normal scores [-], (looks,).

    Returns
    -------
    array of float
        (looks,).

    Raises
    ------
    DecisionError
        Information is out of range, or falls.
    """
    limits = np.atleast_1d(np.asarray(scores, float))
    amounts, _ = _checked(information, np.zeros(limits.shape))
    walk = _Walk()
    reached = []
    for amount, limit in zip(amounts, limits, strict=True):
        walk.step(amount, float(limit))
        reached.append(walk.spent)
    return np.asarray(reached, float)


class _Walk:
    """Where the evidence may be that has not crossed so far: a density on a grid of scores.

    The evidence is ``sqrt(information)`` times its normal score; from look to look it adds
    independent normal steps whose variance is the information gained [3].
    """

    def __init__(self) -> None:
        self.spent = 0.0
        self._information = 0.0
        self._places: Floats = np.zeros(1)
        self._weights: Floats = np.ones(1)

    def adds_something(self, information: float) -> bool:
        """Whether a look knows enough more than the last one to count."""
        return information > self._information * (1.0 + LEAST_STEP)

    def boundary(self, information: float, error: float) -> float:
        """Score that spends just ``error`` [-] more at a look with so much information."""
        if error <= self._chance_above(information, _FURTHEST):
            return np.inf

        def too_much(score: float) -> float:
            return self._chance_above(information, score) - error

        return float(brentq(too_much, _LOWEST, _FURTHEST, xtol=1e-9))

    def step(self, information: float, score: float) -> None:
        """Go on to a look and keep what lies below its boundary."""
        score = min(score, _FURTHEST)
        self.spent += self._chance_above(information, score)
        deviation = float(np.sqrt(information))
        places = np.linspace(_LOWEST * deviation, score * deviation, _POINTS)
        step = float(np.sqrt(information - self._information))
        away = (places[:, None] - self._places) / step
        density = np.exp(-0.5 * away * away) @ self._weights / (step * np.sqrt(2.0 * np.pi))
        self._weights = density * _simpson(places)
        self._places, self._information = places, information

    def _chance_above(self, information: float, score: float) -> float:
        step = np.sqrt(information - self._information)
        return float(self._weights @ ndtr((self._places - score * np.sqrt(information)) / step))


def _simpson(places: Floats) -> Floats:
    weights = np.full(places.size, 2.0)
    weights[1::2] = 4.0
    weights[[0, -1]] = 1.0
    return np.asarray(weights * (places[1] - places[0]) / 3.0, float)


def _checked(information: ArrayLike, spent: ArrayLike) -> tuple[Floats, Floats]:
    amounts = np.atleast_1d(np.asarray(information, float))
    allowed = np.atleast_1d(np.asarray(spent, float))
    if amounts.shape != allowed.shape or amounts.ndim != 1:
        raise DecisionError(
            f"Every look needs its information and its error; there are {amounts.size} and "
            f"{allowed.size}."
        )
    for name, values in (("information", amounts), ("error spent", allowed)):
        if not np.isfinite(values).all() or (values < 0).any() or (np.diff(values) < 0).any():
            raise DecisionError(f"The {name} of looks starts at zero or more and never falls.")
    if (allowed >= 1.0).any():
        fraction("The error spent on all looks", allowed[-1])
    return amounts, allowed
