"""What share of new heads, or of heads of an age, reaches a later age?

From the posterior of the life, all failure modes together, averaged over what the life may be;
where lots are told apart a head lives as its own lot does, and a new one as the lot bought now.
What a head has survived already says which lives are likely for it. Tabled once and read off in
between, since a plan asks many thousand times.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.decisions.plan.one_printer import Reaches
from headlife.decisions.policy.survival import (
    Survival,
    WeibullScenarios,
    as_survival,
    equally_likely,
)
from headlife.life.by_lot import LifeByLot, lots_of
from headlife.life.groups import Group
from headlife.numbers import Floats
from headlife.seeds import generator

if TYPE_CHECKING:
    import pandas as pd

_SCENARIOS: Final = 768
_NEW_POINTS: Final = 400
_POINTS: Final = 60
_LEAST: Final = 1e-250


class LivesAhead:
    """Shares of heads that reach an age, by group and present age; worked out once each.

    Parameters
    ----------
    modes : mapping of Group to a sequence of Life
        Posteriors of the failure modes of each head type and role, as `Case.modes`.
    ahead : float
        Print hours that are asked about at most [h].
    seed : int
        Pairs the scenarios of competing modes; same seed, same answer.
    """

    def __init__(self, modes: Mapping[Group, Sequence[Any]], ahead: float, seed: int) -> None:
        self._modes, self._ahead, self._seed = dict(modes), ahead, seed
        self._bought_now: dict[Group, Mapping[Group, float]] = {}
        for group, (first, *others) in modes.items():
            if isinstance(first, LifeByLot):
                self._modes |= {lot: [life, *others] for lot, life in first.lots.items()}
                self._bought_now[group] = first.bought_now
        self._known: dict[Group, Survival] = {}
        self._tables: dict[tuple[frozenset[Group], float, float], Reaches] = {}

    def kinds(self, heads: pd.DataFrame) -> pd.Series:
        """Give the group of every head whose life it has.

        Parameters
        ----------
        heads : pandas.DataFrame
            With `head_type`, `role` and the columns that lots are told apart by.

        Returns
        -------
        pandas.Series
            Its lot, or its head type and role where no lots are told apart, by the heads' index.
        """
        import pandas as pd

        lots = [group for group in self._modes if group.further]
        found = zip(lots_of(heads, lots), heads["head_type"], heads["role"], strict=True)
        kinds = [lot or Group(str(head_type), str(role)) for lot, head_type, role in found]
        return pd.Series(kinds, index=heads.index, dtype=object)

    def new(self, group: Group, upto: float) -> Reaches:
        """Share of new heads that reach an age.

        Parameters
        ----------
        group : Group
            Head type and role.
        upto : float
            Oldest age that is asked about [h].

        Returns
        -------
        callable
            Takes ages [h], gives shares [-].
        """
        return self._table(self._bought_now.get(group, {group: 1.0}), 0.0, upto, _NEW_POINTS)

    def aged(self, group: Group, age: float) -> Reaches:
        """Share of heads of an age that reach a later one.

        Parameters
        ----------
        group : Group
            One of `kinds`.
        age : float
            Present age [h].

        Returns
        -------
        callable
            Takes ages [h], gives shares [-].
        """
        return self._table({group: 1.0}, age, age + self._ahead, _POINTS)

    def _table(
        self, shares: Mapping[Group, float], age: float, upto: float, points: int
    ) -> Reaches:
        """Tabulate the shares of heads that are each of one of some groups."""
        key = (frozenset(shares), age, upto)
        if key not in self._tables:
            # Closer together at first, where shapes below 1 fall steeply.
            ages = age + (upto - age) * np.linspace(0.0, 1.0, points) ** 2
            reached = sum(part * self._share(one, age, ages) for one, part in shares.items())
            share = np.log(np.maximum(reached, _LEAST))
            self._tables[key] = lambda asked: np.exp(np.interp(asked, ages, share))
        return self._tables[key]

    def _share(self, group: Group, age: float, ages: Floats) -> Floats:
        """Average over the scenarios, those counted out in which no head reaches its age."""
        if group not in self._known:
            self._known[group] = self._survival(group)
        known = self._known[group]
        reached = known.reliability(ages)
        there = reached[:, 0] > 0
        share = reached[there] / reached[there, :1]
        weights = known.weights[there]
        return np.asarray(weights @ share / weights.sum(), float)

    def _survival(self, group: Group) -> Survival:
        found = as_survival(self._modes[group], self._seed)
        if isinstance(found, WeibullScenarios) and found.weights.size > _SCENARIOS:
            lot = [group.part] if group.further else []
            rng = generator(self._seed, "plan", group.head_type, group.role, *lot)
            found = equally_likely(found, _SCENARIOS, rng)
        return found
