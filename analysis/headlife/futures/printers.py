"""How does every printer stand at the start of a forecast, and how will its heads be swapped?

From the positions in service and to come, their print hours in the weeks ahead and the shop's
policy: printers as `visits` simulates them. Positions of a stratum without a life are counted
apart. Never simulates.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.fleet.coming import weeks_ahead
from headlife.fleet.on_hand import NO_SITE
from headlife.fleet.state import Fleet
from headlife.fleet.succession import successors
from headlife.fleet.workload import WorkloadAhead
from headlife.futures.draws import DrawnLives, Hours
from headlife.futures.in_turn import CountedFrom, DrawnLots, LivesInTurn
from headlife.futures.position import HeadKind, Place, Position
from headlife.futures.visits import Printer, Stratum
from headlife.life.groups import Group
from headlife.numbers import Floats
from headlife.shop.policy import Policy
from headlife.shop.policy_book import PolicyBook

if TYPE_CHECKING:
    import pandas as pd


_NEVER_DUE: Final = 1e6  # hours that no head runs [h]


@dataclass(frozen=True)
class Placed:
    """A printer of the forecast."""

    printer: Printer
    """As it is simulated."""
    coming: bool
    """Whether it is not in service yet."""
    weeks: float
    """Weeks of the horizon from its first day on [weeks]."""
    shares: tuple[float, ...]
    """Share of its print hours that the head in each of its positions runs [-]."""


def place_printers(
    positions: pd.DataFrame,
    hours: Floats,
    weeks: float,
    start: pd.Timestamp,
    fleet: Fleet,
    lives: Mapping[Stratum, DrawnLives],
    policies: PolicyBook,
    workload: WorkloadAhead | None = None,
    booked: Floats | float = 0.0,
    lots: DrawnLots | None = None,
) -> tuple[list[Placed], dict[str, int]]:
    """Give the printers as the simulation wants them, and the positions left out.

    Parameters
    ----------
    positions : pandas.DataFrame
        From `coming.with_coming`.
    hours : array of float
        Print hours of every position in every week ahead [h], positions x weeks.
    weeks : float
        Horizon [weeks].
    start : pandas.Timestamp
        First day of the horizon.
    fleet : Fleet
        How print hours spread and how material is changed.
    lives : mapping of (head type, role) to DrawnLives
        Lives drawn for every stratum that has one.
    policies : PolicyBook
        When heads are swapped.
    workload : WorkloadAhead, optional
        What printers share of their print hours, and what each one's really are.
    booked : array of float
        Of the hours, those that the order book states, which stay as they are [h].
    lots : DrawnLots, optional
        Lots that differ in life.

    Returns
    -------
    list of Placed
        Printers with at least one position that can be forecast.
    dict of str to int
        Positions whose stratum has no life, by head type [heads].
    """
    there = _Placing(fleet, lives, policies, lots or DrawnLots())
    placed = []
    left_out: dict[str, int] = {}
    known = [key in lives for key in zip(positions["head_type"], positions["role"], strict=True)]
    for name in positions["head_type"][~np.array(known, dtype=bool)]:
        left_out[str(name)] = left_out.get(str(name), 0) + 1
    stated = np.broadcast_to(booked, hours.shape)
    by_printer: dict[str, list[Any]] = {}
    for row, has_life in zip(positions.itertuples(), known, strict=True):
        if has_life:
            by_printer.setdefault(str(row.printer), []).append(row)
    for name, rows in sorted(by_printer.items()):
        both = sorted(
            ((there.position(row), float(row.share_of_hours)) for row in rows),
            key=lambda one: (one[0].places[0], one[0].ages[0, 0]),
        )
        held, shares = zip(*both, strict=True)
        begins = rows[0].begins
        coming = begins == begins  # no day: it is in service
        ahead = weeks_ahead(begins.date(), start, weeks) if coming else weeks
        first = rows[0]
        usual = float(first.weekly_hours) / first.share_of_hours
        factor, sd, shared = _usage(name, usual, ahead, fleet, workload)
        # All runs on the printer's hours: each head is put in with what its share makes of them.
        ordered = stated[first.Index] / first.share_of_hours
        weekly = factor * (hours[first.Index] / first.share_of_hours - ordered) + ordered
        printer = Printer(held, weekly, sd, shared)
        placed.append(Placed(printer, coming, ahead, shares))
    return placed, left_out


def _usage(
    name: str, weekly_hours: float, weeks: float, fleet: Fleet, workload: WorkloadAhead | None
) -> tuple[float, float, Hours | None]:
    """Factor on a printer's hours [-], the spread of its own [-], and the factor all share.

    Hours that the settings state, and those of a printer to come, stay as they are.
    """
    if workload is None:
        return 1.0, fleet.usage_sd(name, weeks), None
    shared = workload.shared.astype(np.float32)
    if name not in workload.printers or name not in fleet.weeks_learned or weekly_hours <= 0:
        return 1.0, fleet.usage_sd(name, weeks), shared
    at = workload.printers.index(name)
    factor = float(workload.hours_per_week[at]) / weekly_hours
    return factor, float(workload.spread[at]), shared


def positions_by_place(placed: Sequence[Placed], head_types: Iterable[str]) -> dict[Place, int]:
    """Count positions by head type, role and site, head types in the settings' order [heads].

    Parameters
    ----------
    placed : sequence of Placed
        Positions with what is in them.
    head_types : iterable of str
        Head types in the order of the settings.

    Returns
    -------
    dict of Place to int
        Positions by head type, role and site [heads].
    """
    counts: dict[Place, int] = {}
    for one in placed:
        for place in one.printer.places:
            counts[place] = counts.get(place, 0) + 1
    order = {name: number for number, name in enumerate(head_types)}
    return dict(sorted(counts.items(), key=lambda item: (order[item[0][0]], item[0])))


def mean_hours(placed: Sequence[Placed], weeks: float) -> dict[Stratum, float]:
    """Average the print hours of positions a week, by stratum [h].

    A printer that will come counts with its hours from its first day on; one that comes after the
    horizon does not count.

    Parameters
    ----------
    placed : sequence of Placed
        Positions with what is in them.
    weeks : float
        The horizon [weeks].

    Returns
    -------
    dict of Stratum to float
        Print hours a week [h], by head type and role.
    """
    sums: dict[Stratum, list[float]] = {}
    for one in placed:
        whole = float(one.printer.weekly_hours.sum())
        for place, share in zip(one.printer.places, one.shares, strict=True):
            values, total = sums.setdefault(place[:2], []), whole * share
            if not one.coming:
                values.append(total)
            elif one.weeks > 0:
                values.append(total * weeks / one.weeks)
    return {
        stratum: float(np.mean(values)) / max(weeks, 1e-9) if values else 0.0
        for stratum, values in sums.items()
    }


class _Placing:
    """Puts heads in their places; what heads of one kind share is worked out once."""

    def __init__(
        self,
        fleet: Fleet,
        lives: Mapping[Stratum, DrawnLives],
        policies: PolicyBook,
        lots: DrawnLots,
    ) -> None:
        self._fleet, self._lives, self._policies, self._lots = fleet, lives, policies, lots
        self._in_place = lots.of_heads(fleet.positions)
        # A fleet made by hand may not say it: then its heads have the ratings of today.
        self._rated = fleet.positions.get("rated_hours", ())
        self._follows = successors(fleet.giving_way, lives)
        self._shared: dict[Any, tuple[list[HeadKind], list[tuple[float, ...]], list[Place]]] = {}

    def position(self, row: Any) -> Position:
        """One position, with what a change of material may put in."""
        site = row.site if isinstance(row.site, str) else NO_SITE
        alone = row.printer if self._policies.has_own(row.printer) else ""
        own = self._earlier_rating(row)
        key = row.head_type, row.role, site, alone, row.share_of_hours, self._lot(row), own
        if key not in self._shared:
            self._shared[key] = self._kinds(*key)
        kinds, change_to, places = self._shared[key]
        later = self._later(row.head_type, row.role, alone, own)
        rate = self._fleet.changes.per_week.get(row.role, 0.0)
        weekly = row.weekly_hours / row.share_of_hours
        return Position(
            ages=np.full((1, 1), (row.age_hours + later) / row.share_of_hours, dtype=np.float32),
            kinds=kinds,
            # Changes go with printing: none while a printer stands still.
            changes_per_hour=rate / weekly if weekly > 0 else 0.0,
            change_to=change_to,
            places=places,
        )

    def _earlier_rating(self, row: Any) -> float | None:
        """Rating that the head in place was bought with, where it is not today's [h]."""
        if row.Index >= len(self._rated):
            return None
        own = float(self._rated[int(row.Index)])
        return None if own == self._policies.head_types[row.head_type].rated_hours else own

    def _lot(self, row: Any) -> Group | None:
        """Lot of the head in place; that of most new heads where the printer is still to come."""
        if row.Index < len(self._in_place):
            return self._in_place[int(row.Index)]
        shares = self._lots.bought_now.get((row.head_type, row.role), {})
        return max(shares, key=lambda lot: shares[lot], default=None)

    def _kinds(
        self,
        head_type: str,
        role: str,
        site: str,
        printer: str,
        share: float,
        lot: Group | None,
        rated: float | None,
    ) -> tuple[list[HeadKind], list[tuple[float, ...]], list[Place]]:
        """Kinds of head that a position may hold, what follows each, and where they are counted.

        Where another type takes the place of its head, that is the first kind.
        """
        before = None
        if (head_type, role) in self._follows or rated is not None:
            before = head_type, self._later(head_type, role, printer, rated)
            head_type = self._follows.get((head_type, role), head_type)
        changes, names = self._fleet.changes, [head_type]
        if changes.per_week.get(role, 0.0):
            others = {to for (of, _), shares in changes.following.items() if of == role
                      for to in shares}  # fmt: skip
            names += [n for n in sorted(others) if n != head_type and (n, role) in self._lives]
        return (
            [
                self._kind(
                    (name, role),
                    self._policies.of(name, role, printer),
                    share,
                    lot if name == head_type else None,
                    before if name == head_type else None,
                )
                for name in names
            ],
            [_shares(changes.following.get((role, name), {}), names, name) for name in names],
            [(name, role, site) for name in names],
        )

    def _later(self, head_type: str, role: str, printer: str, rated: float | None) -> float:
        """How much later heads are due that take the place of this one [h]; 0 for its like."""
        follows = self._follows.get((head_type, role), head_type)
        to = self._policies.of(follows, role, printer).due_at
        own = self._policies.of(head_type, role, printer, rated).due_at
        if math.isinf(to):
            return 0.0
        return to - own if math.isfinite(own) else -_NEVER_DUE

    def _kind(
        self,
        stratum: Stratum,
        policy: Policy,
        share: float,
        lot: Group | None,
        before: tuple[str, float] | None,
    ) -> HeadKind:
        """Say when a head is due, how late it is swapped, and which ones are in circulation.

        In hours of the printer, of which the head runs a share. A head in place of another type, or
        with another rating, counts from such an age that it is due when that is.
        """
        ages = self._fleet.in_circulation(Group(*stratum))
        # A head past its swap age is not put in again.
        young = tuple(age for age in ages if age < policy.comes_out_at)
        lag = self._fleet.swap_lag.get(stratum[0], 0.0)
        lives = self._lots.lives(stratum, lot, self._lives[stratum])
        if before is not None:
            head_type, later = before
            old = self._lots.lives((head_type, stratum[1]), lot, self._lives[head_type, stratum[1]])
            lives = LivesInTurn(
                CountedFrom(old.in_place if isinstance(old, LivesInTurn) else old, later),
                lives.new_heads if isinstance(lives, LivesInTurn) else lives,
            )
        circulating = young or (0.0,)
        if share == 1.0:
            return HeadKind(lives, policy, lag, circulating)
        swap_at, join_from = policy.swap_at / share, policy.join_from / share
        return HeadKind(
            lives.stretched(1.0 / share),
            replace(policy, swap_at=swap_at, join_from=join_from),
            lag / share,
            tuple(age / share for age in circulating),
        )


def _shares(shares: Mapping[str, float], names: Sequence[str], own: str) -> tuple[float, ...]:
    """Probabilities over the names, of the types that can be forecast; its own if none."""
    kept = np.array([shares.get(name, 0.0) for name in names])
    if not kept.sum():
        kept = np.array([float(name == own) for name in names])
    return tuple(kept / kept.sum())


def alike(printers: Sequence[Printer]) -> dict[tuple[str, ...], list[Printer]]:
    """Sort printers by what kinds of head are in them, each kind in an order of its own.

    Every kind has its own random numbers, so that another kind does not disturb them, and the
    order does not depend on names.

    Parameters
    ----------
    printers : sequence of Printer
        The printers.

    Returns
    -------
    dict of tuple of str to list of Printer
        Printers by the kinds of head in them.
    """
    kinds: dict[tuple[str, ...], list[Printer]] = {}
    for printer in printers:
        kind = tuple(part for place in printer.places for part in place)
        kinds.setdefault(kind, []).append(printer)
    for same in kinds.values():
        same.sort(
            key=lambda p: (
                [float(position.ages[0, 0]) for position in p.positions],
                p.weekly_hours.tolist(),
                p.usage_sd,
            )
        )
    return kinds
