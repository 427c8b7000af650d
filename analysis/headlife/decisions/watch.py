"""Which heads in service are likely not to finish the next long build?

From the present age of every head and the posteriors of all failure modes of its stratum: the
probability `R(age + build) / R(age)`, all modes together, with bounds. Never says when to swap.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.numbers import Floats, fraction, not_negative_array, positive
from headlife.seeds import generator

if TYPE_CHECKING:
    import pandas as pd

    from headlife.futures.draws import DrawnLife

WATCH_DRAWS: Final = 20_000


def watch_list(
    in_service: pd.DataFrame,
    lives_by_stratum: Mapping[tuple[str, str], Sequence[DrawnLife]],
    build_hours: float,
    confidence: float = 0.90,
    draws: int = WATCH_DRAWS,
    seed: int = 1,
) -> pd.DataFrame:
    """List the heads in service by their chance of finishing a build, worst first.

    Parameters
    ----------
    in_service : pandas.DataFrame
        One row per occupied position with `head_type`, `role` and `age_hours` [h].
    lives_by_stratum : mapping of (head type, role) to a sequence of Life
        The competing modes of each stratum. Heads of a stratum without lives get no number.
    build_hours : float
        Print hours of the build [h].
    confidence : float
        Two-sided, of the bounds [-].
    draws : int
        Draws from each posterior [-].
    seed : int
        Same seed, same answer.

    Returns
    -------
    pandas.DataFrame
        The rows of `in_service` with `build_hours` [h], `probability` (posterior mean), `low`
        and `high` [-].

    Raises
    ------
    DecisionError
        The build is not a positive number of hours, or the confidence not a fraction.
    """
    build = positive("The length of the build", build_hours, "[h]")
    tail = (1.0 - fraction("The confidence of the bounds", confidence)) / 2.0
    result = in_service.reset_index(drop=True).copy()
    answers = np.full((len(result), 3), np.nan)
    strata = list(zip(result["head_type"], result["role"], strict=True))
    for stratum, lives in lives_by_stratum.items():
        rows = [row for row, own in enumerate(strata) if own == stratum]
        if not rows or not lives:
            continue
        ages = not_negative_array("Ages of heads", result["age_hours"].iloc[rows], "[h]")
        drawn = [
            life.draw(draws, generator(seed, "watch", *stratum, str(number)))
            for number, life in enumerate(lives)
        ]
        answers[rows] = [_finish(age, build, drawn, tail) for age in ages]
    result["build_hours"] = build
    result[["probability", "low", "high"]] = answers
    order = ["probability", "head"] if "head" in result else ["probability"]
    return result.sort_values(order, kind="stable", ignore_index=True)


def _finish(
    age: float, build: float, drawn: Sequence[tuple[Floats, Floats]], tail: float
) -> tuple[float, float, float]:
    """Mean and bounds of the chance that a head of this age runs `build` hours more."""
    hazard = np.zeros_like(drawn[0][0])
    # A draw may put this head so far past its life that the hazard overflows: it cannot finish.
    with np.errstate(over="ignore"):
        for shape, scale in drawn:
            if age > 0:
                # H(age + build) - H(age) as H(age) times the growth, so that nothing cancels.
                growth = np.expm1(shape * np.log1p(build / age))
                hazard += np.exp(shape * np.log(age / scale)) * growth
            else:
                hazard += np.exp(shape * np.log(build / scale))
    chance = np.exp(-hazard)
    low, high = np.quantile(chance, [tail, 1.0 - tail])
    return float(chance.mean()), float(low), float(high)
