"""Which heads in service are likely not to finish the next long build?

From the present age of every head and the posteriors of all failure modes of its head type and
role, those of its lot where lots are told apart: the probability `R(age + build) / R(age)`, all
modes together, with bounds. Never says when to swap.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.futures.draws import Index, ModeDraws, hazard_ahead
from headlife.futures.in_turn import DrawnLots
from headlife.life.asked import tails
from headlife.numbers import Floats, not_negative_array, positive
from headlife.seeds import generator

if TYPE_CHECKING:
    import pandas as pd

    from headlife.futures.draws import DrawnLife
    from headlife.life.groups import Group

# A head that is less likely to finish the next build is one to watch, and calls for another first.
LEAST_CHANCE: Final = 0.90
WATCH_DRAWS: Final = 20_000
# Chances worked out at most, heads times draws, since time is what runs out.
MOST_CHANCES: Final = 20_000_000
FEWEST_DRAWS: Final = 500
_TOGETHER: Final = 100_000  # chances worked out at once


def watch_list(
    in_service: pd.DataFrame,
    lives: Mapping[Group, Sequence[DrawnLife]],
    build_hours: float,
    draws: int = WATCH_DRAWS,
    seed: int = 1,
) -> pd.DataFrame:
    """List the heads in service by their chance of finishing a build, worst first.

    Parameters
    ----------
    in_service : pandas.DataFrame
        One row per occupied position with `head_type`, `role` and `age_hours` [h].
    lives : mapping of Group to a sequence of Life
        The competing modes of each head type and role, as `Case.modes`; where the first is a
        `LifeByLot`, a head lives as its own lot does. Heads of a group without lives get no
        number.
    build_hours : float
        Print hours of the build [h].
    draws : int
        Draws from each posterior [-]; fewer where there are more heads than time allows.
    seed : int
        Same seed, same answer.

    Returns
    -------
    pandas.DataFrame
        The rows of `in_service` with `build_hours` [h], `probability` (posterior mean), `low`
        and `high` [-] (two one-sided 95 % bounds), and `lives_as`, such as "lot B", where its
        lot's own life was taken.

    Raises
    ------
    DecisionError
        The build is not a positive number of hours.
    """
    build = positive("The length of the build", build_hours, "[h]")
    result = in_service.reset_index(drop=True).copy()
    answers = np.full((len(result), 3), np.nan)
    draws = max(min(draws, MOST_CHANCES // max(len(result), 1)), FEWEST_DRAWS)
    lives_as = np.full(len(result), "", dtype=object)
    for rows, drawn, lot in _alike(result, lives, draws, seed):
        lives_as[rows] = lot
        ages = not_negative_array("Ages of heads", result["age_hours"].iloc[rows], "[h]")
        block = max(_TOGETHER // draws, 1)
        for start in range(0, rows.size, block):
            some = slice(start, start + block)
            answers[rows[some]] = _finish(ages[some], build, drawn)
    result["build_hours"] = build
    result[["probability", "low", "high"]] = answers
    result["lives_as"] = lives_as
    order = ["probability", "head"] if "head" in result else ["probability"]
    return result.sort_values(order, kind="stable", ignore_index=True)


def _alike(
    heads: pd.DataFrame, lives: Mapping[Group, Sequence[DrawnLife]], draws: int, seed: int
) -> Iterator[tuple[Index, Sequence[ModeDraws], str]]:
    """Give the rows of heads that share a life, with the drawn modes of it and their lot's name."""
    for group, modes in lives.items():
        rows = np.flatnonzero(group.rows(heads))
        if not rows.size or not modes:
            continue
        drawn = [
            ModeDraws.from_parameters(
                *life.draw(draws, generator(seed, "watch", group.head_type, group.role, str(n))),
                np.float64,
            )
            for n, life in enumerate(modes)
        ]
        stratum = (group.head_type, group.role)
        lots = DrawnLots.of_lives({stratum: modes}, {stratum: drawn}, seed)
        own = lots.of_heads(heads.iloc[rows])
        for lot in dict.fromkeys(own):
            here = np.array([one == lot for one in own])
            if lot is None:
                yield rows[here], drawn, ""
            else:
                yield rows[here], lots.modes[lot], lot.part


def _finish(ages: Floats, build: float, modes: Sequence[ModeDraws]) -> Floats:
    """Mean and 90 % bounds of the chance that heads of these ages run `build` hours more, n x 3."""
    chance = np.exp(-hazard_ahead(modes, ages[:, None], build))
    low, high = np.quantile(chance, tails(0.90), axis=1)
    return np.column_stack([chance.mean(axis=1), low, high])
