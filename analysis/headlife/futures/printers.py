"""How does every printer stand at the start of a forecast, and how will its heads be swapped?

From the positions in service and to come, their print hours in the weeks ahead and the shop's
policy: printers as `visits` simulates them. Positions of a stratum without a life are counted
apart. Never simulates.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from headlife.fleet.coming import weeks_ahead
from headlife.fleet.on_hand import NO_SITE
from headlife.fleet.state import Fleet
from headlife.futures.visits import HeadKind, Place, Printer, Slot, Stratum
from headlife.numbers import Floats
from headlife.shop.policy_book import PolicyBook

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Placed:
    """A printer of the forecast."""

    printer: Printer
    """As it is simulated."""
    coming: bool
    """Whether it is not in service yet."""
    weeks: float
    """Weeks of the horizon from its first day on [weeks]."""


def place_printers(
    positions: pd.DataFrame,
    hours: Floats,
    weeks: float,
    start: pd.Timestamp,
    fleet: Fleet,
    known: Sequence[Stratum],
    policies: PolicyBook,
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
    known : sequence of (head type, role)
        Every stratum with a life.
    policies : PolicyBook
        When heads are swapped.

    Returns
    -------
    list of Placed
        Printers with at least one position that can be forecast.
    dict of str to int
        Positions whose stratum has no life, by head type [heads].
    """
    placed = []
    left_out: dict[str, int] = {}
    for name, mine in positions.groupby("printer", sort=True):
        slots = []
        # Both heads of a printer run its hours.
        ahead, begins = hours[mine.index[0]], mine["begins"].iloc[0]
        for row in mine.itertuples():
            if (row.head_type, row.role) not in known:
                left_out[str(row.head_type)] = left_out.get(str(row.head_type), 0) + 1
                continue
            slots.append(_slot(row, fleet, known, policies))
        if slots:
            slots.sort(key=lambda slot: (slot.group(0), slot.age_hours))
            coming = bool(mine["begins"].notna().any())
            there = weeks_ahead(begins.date(), start, weeks) if coming else weeks
            sd = fleet.usage_sd(str(name), there)
            placed.append(Placed(Printer(tuple(slots), ahead, sd), coming, there))
    return placed, left_out


def positions_by_group(placed: Sequence[Placed], head_types: Iterable[str]) -> dict[Place, int]:
    """Count positions by head type, role and site, head types in the settings' order [heads]."""
    counts: dict[Place, int] = {}
    for one in placed:
        for slot in one.printer.slots:
            counts[slot.group(0)] = counts.get(slot.group(0), 0) + 1
    order = {name: place for place, name in enumerate(head_types)}
    return dict(sorted(counts.items(), key=lambda item: (order[item[0][0]], item[0])))


def mean_hours(placed: Sequence[Placed], weeks: float) -> dict[Stratum, float]:
    """Average the print hours of positions a week, by stratum [h].

    A printer that will come counts with its hours from its first day on; one that comes after the
    horizon does not count.
    """
    sums: dict[Stratum, list[float]] = {}
    for one in placed:
        total = float(one.printer.weekly_hours.sum())
        for slot in one.printer.slots:
            values = sums.setdefault((slot.kinds[0].head_type, slot.role), [])
            if not one.coming:
                values.append(total)
            elif one.weeks > 0:
                values.append(total * weeks / one.weeks)
    return {
        stratum: float(np.mean(values)) / max(weeks, 1e-9) if values else 0.0
        for stratum, values in sums.items()
    }


def _slot(row: Any, fleet: Fleet, known: Sequence[Stratum], policies: PolicyBook) -> Slot:
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
        kinds=tuple(_kind(name, role, row.printer, fleet, policies) for name in names),
        # Changes go with printing: none while a printer stands still.
        changes_per_hour=rate / row.weekly_hours if row.weekly_hours > 0 else 0.0,
        change_to=tuple(
            _shares(fleet.changes.following.get((role, n), {}), names, n) for n in names
        ),  # fmt: skip
    )


def _kind(head_type: str, role: str, printer: str, fleet: Fleet, policies: PolicyBook) -> HeadKind:
    """Say when a head in a place is due, and what a change of material may put in."""
    policy = policies.of(head_type, role, printer)
    swap_age = policy.comes_out_at
    ages = fleet.in_circulation(head_type, role)
    # A head past its swap age is not put in again.
    return HeadKind(
        head_type=head_type,
        swap_age=swap_age,
        swap_lag=fleet.swap_lag.get(head_type, 0.0),
        join_age=policy.join_from,
        in_circulation=tuple(age for age in ages if age < swap_age) or (0.0,),
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
    """
    kinds: dict[tuple[str, ...], list[Printer]] = {}
    for printer in printers:
        kind = tuple(part for slot in printer.slots for part in slot.group(0))
        kinds.setdefault(kind, []).append(printer)
    for same in kinds.values():
        same.sort(
            key=lambda p: (
                [slot.age_hours for slot in p.slots],
                p.weekly_hours.tolist(),
                p.usage_sd,
            )
        )
    return kinds
