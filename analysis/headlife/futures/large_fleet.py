"""What will a fleet need that is too large to follow printer by printer? Positions for themselves.

From the same fleet, lives and policies as `forecast_fleet`, and with the same answer as far as it
goes: positions are simulated one by one at their usual print hours, thousands at once. That leaves
out joint visits, changes of material, late swaps, part-used heads on the shelf, planned changes of
printing, printers that will come, and print hours that vary. Never stocks, never prices.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from headlife.fleet.on_hand import NO_SITE
from headlife.fleet.state import Fleet
from headlife.futures.demand import swaps_of_many
from headlife.futures.draws import DrawnLife, ModeDraws
from headlife.futures.forecast import FleetForecast
from headlife.futures.position import Place
from headlife.futures.visits import CHANGED, FAILED, JOINED, PLANNED, Stratum, Tally
from headlife.life.groups import Group, by_type_and_role
from headlife.numbers import not_negative
from headlife.seeds import generator
from headlife.shop.policy_book import PolicyBook, policies_after

if TYPE_CHECKING:
    from concurrent.futures import Executor

    import pandas as pd

    from headlife.shop import Shop


def forecast_large_fleet(
    fleet: Fleet,
    lives: Mapping[Group, Sequence[DrawnLife]],
    shop: Shop,
    weeks: float,
    start: Any,
    draws: int,
    executor: Executor | None = None,
) -> FleetForecast:
    """Simulate every position of a large fleet for itself.

    Parameters
    ----------
    fleet, lives, shop, weeks, start, executor : Fleet, mapping, Shop, float, date, Executor
        As for `forecast_fleet`.
    draws : int
        Futures to simulate [-].

    Returns
    -------
    FleetForecast
        Of failed and planned swaps only.

    Raises
    ------
    HeadlifeError
        The horizon is negative, or a policy cannot be used.
    """
    import pandas as pd

    weeks = not_negative("The horizon", weeks, "[weeks]")
    day, seed = pd.Timestamp(start), shop.review.seed
    policies = policies_after(shop, day)
    here = fleet.positions
    known = {key: modes for key, modes in by_type_and_role(lives).items() if len(modes)}
    drawn = {
        stratum: [
            ModeDraws.of_life(life, draws, generator(seed, "life", *stratum, str(i)))
            for i, life in enumerate(modes)
        ]
        for stratum, modes in known.items()
    }
    swaps: dict[Place, dict[str, Tally]] = {}
    positions: dict[Place, int] = {}
    left_out: dict[str, int] = {}
    hours: dict[Stratum, float] = {}
    for stratum, own in _by(here, [here["head_type"], here["role"]]):
        if stratum not in drawn:
            left_out[stratum[0]] = left_out.get(stratum[0], 0) + len(own)
            continue
        hours[stratum] = float(own["weekly_hours"].mean())
        due = _due(own, stratum, policies)
        for (site, age), alike in _by(own, [own["site"].fillna(NO_SITE), due]):
            group = (*stratum, site)
            rng = generator(seed, "many", *group, age)
            found = swaps_of_many(
                drawn[stratum],
                alike["age_hours"].to_numpy(),
                alike["weekly_hours"].to_numpy(),
                weeks,
                policies.of(*stratum, str(alike["printer"].iloc[0])),
                rng,
                executor,
            )
            positions[group] = positions.get(group, 0) + len(alike)
            none = np.zeros_like(found[0])
            kinds = {FAILED: found[0], PLANNED: found[1], JOINED: none, CHANGED: none}
            before = swaps.get(group)
            swaps[group] = (
                kinds if before is None else {name: before[name] + kinds[name] for name in kinds}
            )
    return FleetForecast(
        start=day,
        weeks=weeks,
        draws=draws,
        seed=seed,
        policies=policies,
        swaps=swaps,
        positions=positions,
        left_out=left_out,
        drawn=drawn,
        hours_per_week=hours,
    )


def _by(table: pd.DataFrame, keys: list[Any]) -> list[tuple[tuple[str, str], pd.DataFrame]]:
    groups = table.groupby(keys, sort=True, observed=True)
    return [((str(key[0]), str(key[1])), own) for key, own in groups]


def _due(own: pd.DataFrame, stratum: Stratum, policies: PolicyBook) -> list[float]:
    """Age at which the head of every position comes out [h]."""
    by_printer = {
        name: policies.of(*stratum, str(name)).comes_out_at for name in own["printer"].unique()
    }
    return [by_printer[name] for name in own["printer"]]
