"""What share of new heads, or of heads of an age, reaches a later age?

From the posterior of the life, all failure modes together, averaged over what the life may be.
What a head has survived already says which lives are likely for it. Tabled once and read off in
between, since a plan asks many thousand times.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

import numpy as np

from headlife.decisions.plan.one_printer import Reaches
from headlife.decisions.policy.survival import (
    Survival,
    WeibullScenarios,
    as_survival,
    equally_likely,
)
from headlife.life.groups import Group
from headlife.numbers import Floats
from headlife.seeds import generator

_SCENARIOS: Final = 768
_NEW_POINTS: Final = 400
_POINTS: Final = 60
_LEAST: Final = 1e-250


class LivesAhead:
    """Shares of heads that reach an age, by group and present age; worked out once each.

    Parameters
    ----------
    modes : mapping of Group to a sequence of Life
        Posteriors of the failure modes of each group of heads.
    ahead : float
        Print hours that are asked about at most [h].
    seed : int
        Pairs the scenarios of competing modes; same seed, same answer.
    """

    def __init__(self, modes: Mapping[Group, Sequence[Any]], ahead: float, seed: int) -> None:
        self._modes, self._ahead, self._seed = modes, ahead, seed
        self._known: dict[Group, Survival] = {}
        self._tables: dict[tuple[Group, float, float], Reaches] = {}

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
        return self._table(group, 0.0, upto, _NEW_POINTS)

    def aged(self, group: Group, age: float) -> Reaches:
        """Share of heads of an age that reach a later one.

        Parameters
        ----------
        group : Group
            Head type and role.
        age : float
            Present age [h].

        Returns
        -------
        callable
            Takes ages [h], gives shares [-].
        """
        return self._table(group, age, age + self._ahead, _POINTS)

    def _table(self, group: Group, age: float, upto: float, points: int) -> Reaches:
        key = (group, age, upto)
        if key not in self._tables:
            # Closer together at first, where shapes below 1 fall steeply.
            ages = age + (upto - age) * np.linspace(0.0, 1.0, points) ** 2
            share = np.log(np.maximum(self._share(group, age, ages), _LEAST))
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
            rng = generator(self._seed, "plan", group.head_type, group.role)
            found = equally_likely(found, _SCENARIOS, rng)
        return found
