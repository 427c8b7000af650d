"""Swap both heads of a printer in one visit? Side by side, for the pairs this shop runs.

From kinds of head ready for questions, the positions today and somebody's choices: each head on
its own, both in one visit with the best limit, and the same between builds only, at the ratings
and at the proposed age, all against each head on its own at its rating. Never draws.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from headlife.decisions.policy.costs import SwapCosts
from headlife.decisions.policy.pairs import (
    PairPolicies,
    PairWay,
    alone_rates,
    best_limit,
    pair_scenarios,
)
from headlife.decisions.policy.policies import STOCK_DRAWS
from headlife.decisions.policy.replacement import compare
from headlife.fleet.succession import as_followed
from headlife.futures.draws import DrawnLives, ModeDraws
from headlife.futures.position import HeadKind, Position
from headlife.futures.visits import KINDS, Printer, count_swaps
from headlife.numbers import Floats
from headlife.seeds import generator
from headlife.shop.policy import AT_RATING, Policy
from headlife.units import WEEKS_PER_QUARTER

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.policy.past_rating import Kind
    from headlife.decisions.policy.past_rating_answer import Choices
    from headlife.decisions.review_answers import Review

_TAILS = (0.05, 0.95)  # of the bounds shown: nine in ten


@dataclass(frozen=True)
class BothHeads:
    """Both heads in one visit, for the printers that carry these two kinds of head."""

    names: tuple[str, str]
    """The two kinds of head."""
    printers: tuple[str, ...]
    """Printers that carry them now, or heads that they follow."""
    ways: tuple[tuple[str, PairWay], ...]
    """Name and answer of each way, side by side."""
    spares: tuple[int, ...]
    """Spares to hold or have on order for these printers alone, for each way [heads]."""
    at_rating: Floats
    """Cost with each head on its own at its rating [currency/h], one value per scenario."""
    costs: tuple[SwapCosts, SwapCosts]
    """What swaps and failures of either cost."""
    hours_per_quarter: float
    """Print hours of these printers together [h/quarter]."""

    @property
    def saved(self) -> float:
        """What joining saves at the ratings, beside each on its own [currency/quarter]."""
        alone, joined = self.ways[0][1], self.ways[1][1]
        return float(alone.cost.mean() - joined.cost.mean()) * self.hours_per_quarter

    @property
    def pays(self) -> bool:
        """Whether swapping the other head along saves anything at the ratings."""
        return self.ways[1][1].policies[0].join_from < np.inf and self.saved > 0

    @property
    def table(self) -> pd.DataFrame:
        """One row per way: costs per print hour of a printer, the rest per quarter.

        `policy`, `limit` [h]; `cost_per_hour`, `cost_low`, `cost_high` [currency/h];
        `heads`, `failed_builds`, `visits` [1/quarter] and `downtime` [h/quarter], each with
        `_low` and `_high`; `spares` [heads]; `probability_cheaper` [-]; `saving` and `regret`
        [currency/quarter], all against each on its own at its rating.
        """
        import pandas as pd

        return pd.DataFrame(
            [
                self._row(name, way, spares)
                for (name, way), spares in zip(self.ways, self.spares, strict=True)
            ]
        )

    def _row(self, name: str, way: PairWay, spares: int) -> dict[str, Any]:
        hours, even = self.hours_per_quarter, np.full(way.cost.size, 1.0 / way.cost.size)
        versus = compare(way.cost, self.at_rating, even)
        low, high = np.quantile(way.cost, _TAILS)
        row: dict[str, Any] = {
            "policy": name,
            "limit": way.policies[0].join_from,
            "cost_per_hour": float(way.cost.mean()),
            "cost_low": float(low),
            "cost_high": float(high),
        }
        for column, rate in (
            ("heads", way.rates.heads.sum(axis=0)),
            ("failed_builds", way.rates.failures.sum(axis=0)),
            ("visits", way.rates.visits),
            ("downtime", way.rates.downtime(self.costs)),
        ):
            row[column] = float(rate.mean()) * hours
            row[f"{column}_low"], row[f"{column}_high"] = np.quantile(rate, _TAILS) * hours
        return row | {
            "spares": spares,
            "probability_cheaper": versus.probability_cheaper,
            "saving": versus.expected_saving * hours,
            "regret": versus.regret * hours,
        }


def both_heads(
    review: Review, ready: Sequence[Kind], proposals: Mapping[str, Choices], seed: int = 1
) -> tuple[BothHeads, ...]:
    """Compare both heads in one visit with each on its own, for every pair seen on a printer.

    Parameters
    ----------
    review : Review
        Where the printers and their heads come from.
    ready : sequence of Kind
        From `past_rating.kinds`.
    proposals : mapping of kind name to Choices
        What is tried for each kind; quality-critical heads and printers stay at their rating.
    seed : int
        Same seed, same answer.

    Returns
    -------
    tuple of BothHeads
        One answer per pair.
    """
    by_key = {(kind.head_type, kind.role): kind for kind in ready}
    pairs: dict[tuple[Any, ...], dict[str, pd.DataFrame]] = {}
    # In the long run a printer carries the heads that follow those in it.
    follows = {
        key: kind.goes_in for key, kind in by_key.items() if (kind.goes_in, key[1]) in by_key
    }
    rated = {kind.head_type: kind.rated_hours for kind in ready}
    positions = as_followed(review.fleet.positions, follows, rated)
    for printer, rows in positions.groupby("printer", sort=True):
        keys = sorted(zip(rows["head_type"], rows["role"], strict=True), key=lambda key: key[1])
        if len(keys) == 2 and all(key in by_key for key in keys):
            # A quality-critical printer keeps both its heads within their rating.
            critical = any(str(printer) in by_key[key].never_past for key in keys)
            pairs.setdefault((*keys, critical), {})[str(printer)] = rows
    return tuple(
        _answer((by_key[first], by_key[second]), critical, printers, proposals, seed)
        for (first, second, critical), printers in pairs.items()
    )


def _answer(
    both: tuple[Kind, Kind],
    critical: bool,
    printers: Mapping[str, pd.DataFrame],
    proposals: Mapping[str, Choices],
    seed: int,
) -> BothHeads:
    tried = (proposals[both[0].name], proposals[both[1].name])
    costs = (both[0].costs(tried[0]), both[1].costs(tried[1]))
    lives = (both[0].desk.survival, both[1].desk.survival)
    rated = (both[0].rated_hours, both[1].rated_hours)
    ways: list[tuple[str, PairWay]] = []
    never_past = (both[0].quality_critical or critical, both[1].quality_critical or critical)
    for name, any_time, between in _proposals(rated, never_past, tried):
        both_at_once = best_limit(lives, any_time, costs, seed=seed)
        ways += [
            (f"{name}, each on its own", both_at_once.alone),
            (f"{name}, both in one visit", both_at_once.best),
            (
                f"{name}, both in one visit, between builds",
                best_limit(lives, between, costs, seed=seed).best,
            ),
        ]
    return BothHeads(
        names=(both[0].name, both[1].name),
        printers=tuple(printers),
        ways=tuple(ways),
        spares=tuple(_spares(both, printers, way.policies, tried[0], seed) for _, way in ways),
        at_rating=alone_rates(
            pair_scenarios(lives, seed=seed), (Policy(rated[0]), Policy(rated[1]))
        ).cost(costs),
        costs=costs,
        hours_per_quarter=WEEKS_PER_QUARTER * sum(map(_weekly_hours, printers.values())),
    )


def _spares(
    both: tuple[Kind, Kind],
    printers: Mapping[str, pd.DataFrame],
    policies: PairPolicies,
    choices: Choices,
    seed: int,
) -> int:
    """Spares for these printers from the present ages of their heads [heads].

    Each head type has a stock of its own; the levels of two types are added.
    """
    rng = generator(seed, "spares of pairs")  # the same lives for every way
    drawn = [
        [ModeDraws.of_life(life, STOCK_DRAWS, rng) for life in kind.desk.life] for kind in both
    ]
    heads = [HeadKind(DrawnLives(own), when) for own, when in zip(drawn, policies, strict=True)]
    positions = both[0].positions(choices)
    weeks = math.ceil(positions.cover_weeks)
    at_work = [
        Printer(
            tuple(
                Position(
                    rows.loc[rows["role"] == kind.role, "age_hours"].to_numpy(np.float32)[:1, None],
                    [head],
                    places=[(kind.head_type, kind.role, "")],
                )
                for kind, head in zip(both, heads, strict=True)
            ),
            np.full(weeks, _weekly_hours(rows)),
        )
        for rows in printers.values()
    ]
    needed: dict[str, Any] = {}
    for (head_type, _, _), tallies in count_swaps(at_work, STOCK_DRAWS, rng).items():
        heads = sum(tallies[kind].sum(axis=1) for kind in KINDS)
        needed[head_type] = needed.get(head_type, 0) + heads
    return sum(
        int(np.quantile(heads, choices.service_level, method="inverted_cdf"))
        for heads in needed.values()
    )


def _weekly_hours(rows: pd.DataFrame) -> float:
    return float((rows["weekly_hours"] / rows["share_of_hours"]).mean())


def _proposals(
    rated: tuple[float, float], never_past: tuple[bool, bool], tried: tuple[Choices, Choices]
) -> list[tuple[str, PairPolicies, PairPolicies]]:
    """Policies to look at, at any time and between builds: the ratings, and the proposed ages."""
    one, other = (
        min(choices.age_hours, rating) if critical else choices.age_hours
        for rating, critical, choices in zip(rated, never_past, tried, strict=True)
    )
    listed = [(AT_RATING, rated)]
    if (one, other) != rated:
        listed.append((_named(one, other), (one, other)))
    build = tried[0].build_hours
    return [
        (
            name,
            (Policy(first), Policy(second)),
            (
                Policy(first, build_hours=build, never_past=never_past[0]),
                Policy(second, build_hours=build, never_past=never_past[1]),
            ),
        )
        for name, (first, second) in listed
    ]


def _named(first: float, second: float) -> str:
    said = ["failure" if np.isinf(age) else f"{age:,.0f} h" for age in (first, second)]
    return f"at {said[0]}" if said[0] == said[1] else f"at {said[0]} and {said[1]}"
