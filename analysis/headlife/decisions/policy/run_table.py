"""What share of heads reaches each of many ages, and how many hours has a head run by then?

From a life as weighted scenarios (`survival`): ``R(t)`` and ``integral of R from 0 to t`` at every
age of a row in one pass over the scenarios. These two carry every long-run rate of a replacement
policy. Never prices.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from headlife.decisions.policy.survival import as_survival
from headlife.errors import DecisionError
from headlife.numbers import Floats

_PLACES, _WEIGHTS = np.polynomial.legendre.leggauss(4)
_PANELS: Final = 200  # pieces of the age axis, so that few ages asked for lose no accuracy


@dataclass(frozen=True)
class RunTable:
    """Scenarios of one life at a row of ages."""

    ages: Floats
    """Ages [h], ascending, shape (m,)."""
    reliability: Floats
    """Share of heads that reach each age [-], scenarios x ages."""
    hours: Floats
    """Mean hours run by each age [h], scenarios x ages."""
    mean_life: Floats
    """Mean life of a head run to failure [h], one per scenario."""
    weights: Floats
    """Weight of each scenario [-], summing to 1."""


def run_table(life: Any, ages: npt.ArrayLike, seed: int = 1) -> RunTable:
    """Tabulate the share of heads reaching each age, and the mean hours run by then.

    Parameters
    ----------
    life : Life or KnownSurvival
        See `as_survival`.
    ages : array of float
        Ascending ages above zero [h].
    seed : int
        See `as_survival`.

    Returns
    -------
    RunTable
        The table.

    Raises
    ------
    DecisionError
        Ages are not ascending numbers above zero.
    """
    wanted = checked_ages(ages)
    survival = as_survival(life, seed)
    if wanted.size == 0:
        empty = np.empty((survival.weights.size, 0))
        return RunTable(wanted, empty, empty, survival.mean_life, survival.weights)
    edges, last_piece = _pieces(wanted)
    half = 0.5 * np.diff(edges)
    inside = (edges[:-1] + half)[:, None] + half[:, None] * _PLACES[None, :]
    # One call for the inner points and the ages themselves: one pass over the scenarios.
    share = survival.reliability(np.concatenate([inside.ravel(), wanted]))
    inner = share[:, : inside.size].reshape(-1, *inside.shape)
    grown = np.cumsum((inner @ _WEIGHTS) * half, axis=1)
    first = survival.hours_run(wanted[:1])
    hours = np.concatenate([first, first + grown[:, last_piece[1:] - 1]], axis=1)
    return RunTable(wanted, share[:, inside.size :], hours, survival.mean_life, survival.weights)


def checked_ages(ages: npt.ArrayLike) -> Floats:
    """Return replacement ages as an array, or say which one makes no sense.

    Parameters
    ----------
    ages : float or array of float
        Replacement ages [h], ascending.

    Returns
    -------
    array of float
        The ages [h], (n,).

    Raises
    ------
    DecisionError
        An age is zero, negative, missing or infinite, or they do not ascend.
    """
    try:
        wanted = np.atleast_1d(np.asarray(ages, float))
    except (TypeError, ValueError) as fault:
        raise DecisionError(f"Swap ages must be numbers [h]; got {ages!r}.") from fault
    bad = ~(np.isfinite(wanted) & (wanted > 0))
    if bad.any():
        raise DecisionError(
            f"A swap age must be above zero [h]; got {wanted[bad][0]:g}. A head swapped "
            "at age 0 never prints; to run heads to failure leave the age out."
        )
    if wanted.ndim != 1 or (np.diff(wanted) <= 0).any():
        raise DecisionError("Swap ages must be one row of ascending numbers [h].")
    return wanted


def _pieces(ages: Floats) -> tuple[Floats, npt.NDArray[np.intp]]:
    """Split the gaps between ages so that no piece is coarse: edges, and pieces up to each age."""
    gaps = np.diff(ages)
    count = np.maximum(1, np.ceil(gaps * _PANELS / ages[-1] - 1e-9)).astype(np.intp)
    steps = [
        np.linspace(start, end, n, endpoint=False)
        for start, end, n in zip(ages[:-1], ages[1:], count, strict=True)
    ]
    edges = np.concatenate([*steps, ages[-1:]])
    return edges, np.concatenate([[0], np.cumsum(count)])
