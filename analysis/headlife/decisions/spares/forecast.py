"""What will the fleet need, week by week, by head type, role and site?

From the fleet as it is on a day, the posteriors of every stratum, the shop's policy and plans:
seeded paths of all printers, the heads of one printer together, each stratum's unknown life
shared by all its positions. Sums and distributions are read from the paths. Never stocks, never
prices.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from headlife.decisions.checks import Floats, not_negative
from headlife.decisions.seeds import generator
from headlife.decisions.spares.demand import Demand, DrawnLife, week_lengths
from headlife.decisions.spares.drawn import ModeDraws
from headlife.decisions.spares.fleet import Fleet, shop_join_age, shop_policy
from headlife.decisions.spares.held import NO_SITE
from headlife.decisions.spares.paths import Counts, Policy
from headlife.decisions.spares.usage import planned_hours
from headlife.decisions.spares.visits import (
    FAILED,
    JOINED,
    KINDS,
    PLANNED,
    Group,
    HeadKind,
    Printer,
    Slot,
    Stratum,
    Tally,
    simulate_visits,
)

if TYPE_CHECKING:
    import pandas as pd

    from headlife.shop import Shop


@dataclass(frozen=True)
class FleetForecast:
    """Simulated futures of a fleet."""

    start: pd.Timestamp
    """First day of the first week."""
    weeks: float
    """Horizon; the last week may be a part of one [weeks]."""
    draws: int
    """Futures simulated [-]."""
    seed: int
    """Seed of the random numbers."""
    swaps: dict[Group, dict[str, Tally]]
    """By head type, role and site, then by kind (failed, planned, joined): heads swapped, draws
    x weeks."""
    positions: dict[Group, int]
    """Positions the swaps come from, by group [heads]."""
    left_out: dict[str, int] = field(default_factory=dict)
    """Positions whose stratum has no life to forecast with, by head type [heads]."""
    drawn: dict[Stratum, list[ModeDraws]] = field(default_factory=dict)
    """Drawn parameters of every stratum, one per future."""
    hours_per_week: dict[Stratum, float] = field(default_factory=dict)
    """Mean print hours of a position a week over the horizon, by stratum [h]."""

    def swaps_of(
        self,
        head_type: str | None = None,
        role: str | None = None,
        site: str | None = None,
        kinds: Sequence[str] = KINDS,
    ) -> Counts:
        """Heads swapped in every draw and week, of one type, role or site or of all.

        Parameters
        ----------
        head_type, role, site : str, optional
            Left out: all.
        kinds : sequence of {"failed", "planned", "joined", "changed"}
            Kinds of swap; without "changed" these are heads that are used up.

        Returns
        -------
        array of int
            Draws x weeks [heads].
        """
        total: Counts = np.zeros((self.draws, len(week_lengths(self.weeks))), dtype=np.int32)
        wanted = (head_type, role, site)
        for group, tallies in self.swaps.items():
            if all(want is None or want == own for want, own in zip(wanted, group, strict=True)):
                for kind in kinds:
                    total += tallies[kind]
        return total

    def demand(
        self, head_type: str | None = None, role: str | None = None, site: str | None = None
    ) -> Demand:
        """Distribution of the heads swapped over the whole horizon."""
        failures = self.swaps_of(head_type, role, site, [FAILED])
        planned = self.swaps_of(head_type, role, site, [PLANNED, JOINED])
        return demand_of(failures, planned, self.weeks)

    @property
    def head_types(self) -> list[str]:
        """Head types with a position."""
        return list(dict.fromkeys(group[0] for group in self.positions))

    @property
    def sites(self) -> list[str]:
        """Sites with a position."""
        return sorted({group[2] for group in self.positions})


def demand_of(failures: Counts, planned: Counts, weeks: float) -> Demand:
    """Count paths of failures and of other swaps, draws x weeks [heads]."""
    totals = (failures + planned).sum(axis=1)
    by_week = failures.mean(axis=0), planned.mean(axis=0)
    return Demand(
        pmf=np.bincount(totals).astype(np.float64) / max(totals.size, 1),
        weeks=weeks,
        failure_mean=float(by_week[0].sum()),
        planned_mean=float(by_week[1].sum()),
        failures_by_week=by_week[0],
        planned_by_week=by_week[1],
    )


def forecast_fleet(
    fleet: Fleet,
    lives: Mapping[Stratum, Sequence[DrawnLife]],
    shop: Shop,
    weeks: float,
    start: Any,
    draws: int | None = None,
    seed: int | None = None,
    policies: Mapping[str, Policy] | None = None,
) -> FleetForecast:
    """Simulate the fleet over a horizon.

    Parameters
    ----------
    fleet : Fleet
        Positions with present ages, print hours and their spread.
    lives : mapping of (head type, role) to a sequence of Life
        The competing modes of each stratum; positions of a stratum without any are left out.
    shop : Shop
        Its policy, plans, draws and seed.
    weeks : float
        Horizon [weeks].
    start : date
        First day of the horizon.
    draws, seed : int, optional
        Instead of the settings'.
    policies : mapping of head type to Policy, optional
        Instead of the settings'.

    Returns
    -------
    FleetForecast
        The same whatever printers are called and in whatever order they stand; a further head
        type leaves the others' futures as they were.

    Raises
    ------
    DecisionError
        The horizon is negative, or a plan or a policy cannot be used.
    """
    import pandas as pd

    weeks = not_negative("The horizon", weeks, "[weeks]")
    draws = shop.review.draws if draws is None else draws
    seed = shop.review.seed if seed is None else seed
    day = pd.Timestamp(start)
    hours = planned_hours(fleet.positions, shop, day, len(week_lengths(weeks))) * week_lengths(
        weeks
    )
    known = {stratum: modes for stratum, modes in lives.items() if len(modes)}
    drawn = {
        stratum: [
            ModeDraws.from_parameters(*life.draw(draws, generator(seed, "life", *stratum, str(i))))
            for i, life in enumerate(modes)
        ]
        for stratum, modes in known.items()
    }
    printers, left_out = _printers(fleet, shop, weeks, hours, set(known), policies or {})
    swaps: dict[Group, dict[str, Tally]] = {}
    for kind, alike in sorted(_alike(printers).items()):
        rng = generator(seed, "visits", *kind)
        found = simulate_visits(alike, drawn, rng)
        for group, tallies in found.swaps.items():
            kept = swaps.setdefault(group, tallies)
            if kept is not tallies:
                for name in kept:
                    kept[name] += tallies[name]
    positions: dict[Group, int] = {}
    for printer in printers:
        for slot in printer.slots:
            positions[slot.group(0)] = positions.get(slot.group(0), 0) + 1
    return FleetForecast(
        start=day,
        weeks=weeks,
        draws=draws,
        seed=seed,
        swaps=swaps,
        positions=dict(sorted(positions.items())),
        left_out=left_out,
        drawn=drawn,
        hours_per_week=_mean_hours(printers, weeks),
    )


def _printers(
    fleet: Fleet,
    shop: Shop,
    weeks: float,
    hours: Floats,
    known: set[Stratum],
    policies: Mapping[str, Policy],
) -> tuple[list[Printer], dict[str, int]]:
    """Printers as the simulation wants them; positions without a life are counted apart."""
    printers = []
    left_out: dict[str, int] = {}
    positions = fleet.positions.reset_index(drop=True)
    kinds = {(name, role): _kind(name, role, fleet, shop, policies) for name, role in sorted(known)}
    for name, mine in positions.groupby("printer", sort=True):
        slots = []
        # Both heads of a printer run its hours.
        ahead = hours[mine.index[0]]
        for row in mine.itertuples():
            if (row.head_type, row.role) not in known:
                left_out[str(row.head_type)] = left_out.get(str(row.head_type), 0) + 1
                continue
            slots.append(_slot(row, fleet, kinds))
        if slots:
            slots.sort(key=lambda slot: (slot.group(0), slot.age_hours))
            printers.append(Printer(tuple(slots), ahead, fleet.usage_sd(str(name), weeks)))
    return printers, left_out


def _slot(row: Any, fleet: Fleet, known: Mapping[Stratum, HeadKind]) -> Slot:
    """One position, with what a change of material may put in."""
    role, rate = row.role, fleet.changes.per_week.get(row.role, 0.0)
    names = [row.head_type]
    if rate:
        others = {to for (of, _), shares in fleet.changes.following.items() if of == role
                  for to in shares}  # fmt: skip
        names += [n for n in sorted(others) if n != row.head_type and (n, role) in known]
    return Slot(
        role=role,
        site=row.site if isinstance(row.site, str) else NO_SITE,
        age_hours=float(row.age_hours),
        kinds=tuple(known[name, role] for name in names),
        # Changes go with printing: none while a printer stands still.
        changes_per_hour=rate / row.weekly_hours if row.weekly_hours > 0 else 0.0,
        change_to=tuple(
            _shares(fleet.changes.following.get((role, n), {}), names, n) for n in names
        ),  # fmt: skip
    )


def _kind(
    head_type: str, role: str, fleet: Fleet, shop: Shop, policies: Mapping[str, Policy]
) -> HeadKind:
    policy = policies.get(head_type) or shop_policy(shop, head_type)
    swap_age = np.inf if policy.swap_at_hours is None else policy.swap_at_hours
    ages = fleet.in_circulation(head_type, role)
    # A head past its swap age is not put in again.
    return HeadKind(
        head_type=head_type,
        swap_age=swap_age,
        swap_lag=fleet.swap_lag.get(head_type, 0.0),
        join_age=shop_join_age(shop, head_type),
        in_circulation=tuple(age for age in ages if age < swap_age) or (0.0,),
    )


def _shares(shares: Mapping[str, float], names: Sequence[str], own: str) -> tuple[float, ...]:
    """Probabilities over the names, of the types that can be forecast; its own if none."""
    kept = np.array([shares.get(name, 0.0) for name in names])
    if not kept.sum():
        kept = np.array([float(name == own) for name in names])
    return tuple(kept / kept.sum())


def _alike(printers: Sequence[Printer]) -> dict[tuple[str, ...], list[Printer]]:
    """Printers by what kinds of head are in them, each kind in an order of its own.

    Every kind has its own random numbers, so that another kind does not disturb them, and the
    order does not depend on names.
    """
    kinds: dict[tuple[str, ...], list[Printer]] = {}
    for printer in printers:
        kind = tuple(part for slot in printer.slots for part in slot.group(0))
        kinds.setdefault(kind, []).append(printer)
    for alike in kinds.values():
        alike.sort(
            key=lambda p: (
                [slot.age_hours for slot in p.slots],
                p.weekly_hours.tolist(),
                p.usage_sd,
            )
        )
    return kinds


def _mean_hours(printers: Sequence[Printer], weeks: float) -> dict[Stratum, float]:
    sums: dict[Stratum, list[float]] = {}
    for printer in printers:
        for slot in printer.slots:
            stratum = slot.kinds[0].head_type, slot.role
            sums.setdefault(stratum, []).append(float(printer.weekly_hours.sum()))
    return {stratum: float(np.mean(values)) / max(weeks, 1e-9) for stratum, values in sums.items()}
