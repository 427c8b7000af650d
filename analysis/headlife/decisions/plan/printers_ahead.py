"""What does each printer's planning problem look like: heads, builds, spares, costs, limits?

From a case, builds with their printer and time, and the new heads there are. Puts together what
the course of swaps is worked out from; decides nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.decisions.plan.end_value import EndHead, EndValue, end_value
from headlife.decisions.plan.lives_ahead import LivesAhead
from headlife.decisions.plan.one_printer import EVEN, Place, PrinterBuilds, UsedHead
from headlife.decisions.plan.stocks import Stocks
from headlife.decisions.policy.costs import SwapCosts, shop_costs
from headlife.life.groups import Group
from headlife.numbers import Floats
from headlife.shop.policy_book import policies_after
from headlife.units import HOURS_PER_DAY

if TYPE_CHECKING:
    import pandas as pd

    from headlife.case import Case
    from headlife.shop import Shop
    from headlife.shop.policy import Policy

_OLDEST: Final = 2.2  # ages that shares are tabled for, in ratings
# Share of its rating up to which a part-used head goes in where no head may pass its rating; own
# choice, no source.
_YOUNG: Final = 0.5


@dataclass(frozen=True)
class RatedKind:
    """A type of head in a place of a printer."""

    head_type: str
    """Its name."""
    rated_hours: float
    """Its rating [h]."""
    policy: Policy
    """The policy in force for it there."""
    critical: bool
    """Whether it must not pass its rating in any build."""


@dataclass(frozen=True)
class PrinterAhead:
    """One printer with its builds, ready to be planned."""

    name: str
    """Its name."""
    site: Any
    """Where it stands; nothing where the records name no site."""
    heads: tuple[Any, ...]
    """Its heads in service, rows of the fleet's positions."""
    kinds: tuple[RatedKind, ...]
    """What each is."""
    goes_in: tuple[RatedKind, ...]
    """What goes in for each."""
    builds: pd.DataFrame
    """Its builds in their order, as `schedule` gives them."""
    problem: PrinterBuilds
    """What the course of swaps is worked out from."""
    late: Floats
    """What lateness costs when a head fails in a build [currency], one per build."""
    late_anyway: float
    """What lateness costs if none fails [currency]."""
    critical: bool
    """Whether one of its heads must not pass its rating in any build."""


def printers_ahead(case: Case, planned: pd.DataFrame, stocks: Stocks) -> list[PrinterAhead]:
    """Put together the planning problem of every printer that has a build.

    Parameters
    ----------
    case : Case
        Records, settings and day.
    planned : pandas.DataFrame
        Builds with printer and time, as `schedule` gives them.
    stocks : Stocks
        The new heads.

    Returns
    -------
    list of PrinterAhead
        By name.

    Raises
    ------
    SettingsError
        Costs that are needed are not stated.
    """
    positions = case.fleet.positions.sort_values(["printer", "position"], kind="stable")
    ahead = float(planned.groupby("printer")["build_hours"].sum().max()) if len(planned) else 0.0
    build_hours = float(planned["build_hours"].median()) if len(planned) else 0.0
    maker = _Maker(case, stocks, ahead, build_hours)
    positions["kind"] = maker.lives.kinds(positions)
    found = []
    for printer, own in planned.groupby("printer", sort=True):
        heads = tuple(positions[positions["printer"] == printer].itertuples(index=False))
        found.append(maker.printer(str(printer), heads, own.reset_index(drop=True)))
    return found


def late_costs(
    start: Floats, end: Floats, due: Floats, standing: float, per_hour: float
) -> tuple[Floats, float]:
    """Price lateness: what a head that fails in each build adds, and what is late anyway.

    A head fails on average half way through; the build is printed again from its start, and what
    the printer has to do afterwards moves on by what the free time in between does not take up.

    Parameters
    ----------
    start, end : array of float
        When each build of a printer starts and ends [h].
    due : array of float
        When it is due; infinite where never [h].
    standing : float
        Standstill after a failure [h].
    per_hour : float
        What an hour late costs [currency/h].

    Returns
    -------
    array of float
        Added by a failure in each build [currency].
    float
        What the schedule itself costs in lateness [currency].
    """
    already = np.maximum(end - due, 0.0)
    added = np.zeros(start.size)
    for build in range(start.size):
        delay = 0.5 * (end[build] - start[build]) + standing
        for later in range(build, start.size):
            if later > build:
                delay -= max(start[later] - end[later - 1], 0.0)
            if delay <= 0:
                break
            moved = max(end[later] + delay - due[later], 0.0)
            added[build] += per_hour * (moved - already[later])
    return added, per_hour * float(already.sum())


def waits(policy: Policy) -> bool:
    """Say whether a due head waits for the end of a build.

    Parameters
    ----------
    policy : Policy
        The policy in force.

    Returns
    -------
    bool
        Whether it may pass its swap age in a build.
    """
    return policy.build_hours > 0 and not policy.never_past


def _used_up_at(kind: RatedKind) -> float:
    """Age that counts as the end of a head: its swap age, or its rating where there is none."""
    due = kind.policy.due_at
    return due if np.isfinite(due) else kind.rated_hours


class _Maker:
    """What the problems of all printers share."""

    def __init__(self, case: Case, stocks: Stocks, ahead: float, build_hours: float) -> None:
        self._shop: Shop = case.shop
        self._stocks, self._build_hours = stocks, build_hours
        self.lives = LivesAhead(case.modes, ahead, case.seed)
        self._shelf = case.fleet.shelf.copy()
        self._shelf["kind"] = self.lives.kinds(self._shelf)
        self._ahead = ahead
        self._costs: dict[str, SwapCosts] = {}
        self._book = policies_after(case.shop, case.day)
        self._ends: dict[Any, EndValue] = {}

    def printer(self, name: str, heads: tuple[Any, ...], builds: pd.DataFrame) -> PrinterAhead:
        """Put together one printer's problem."""
        shop = self._shop
        kinds = tuple(
            self._kind(head.head_type, head.role, name, float(head.rated_hours)) for head in heads
        )
        goes_in = tuple(
            self._kind(self._stocks.goes_in(head.head_type, head.role, head.site), head.role, name)
            for head in heads
        )
        costs = [self._cost(one.head_type) for one in goes_in]
        asked = builds["quality_critical"].to_numpy(dtype=bool)
        start, end, due = (builds[c].to_numpy(dtype=float) for c in ("start", "end", "due_hours"))
        places = tuple(
            self._place(head, kind, new, asked, start)
            for head, kind, new in zip(heads, kinds, goes_in, strict=True)
        )
        rate = shop.costs.late_day_cost
        per_hour = (shop.costs.machine_hour_rate or 0.0) if rate is None else rate / HOURS_PER_DAY
        standing = max(one.swap_hours + one.visit_hours + one.waiting_hours for one in costs)
        late, anyway = late_costs(start, end, due, standing, per_hour)
        scrapped, visit = costs[0].scrapped, costs[0].visit
        ends = self._end(heads, places, goes_in, visit, scrapped)
        problem = PrinterBuilds(
            self._with_used(places, heads, goes_in, ends),
            builds["build_hours"].to_numpy(dtype=float),
            visit,
            scrapped + late,
            ends,
        )
        return PrinterAhead(
            name,
            heads[0].site,
            heads,
            kinds,
            goes_in,
            builds,
            problem,
            late,
            anyway,
            any(one.critical for one in (*kinds, *goes_in)),
        )

    def _cost(self, head_type: str) -> SwapCosts:
        if head_type not in self._costs:
            self._costs[head_type] = shop_costs(self._shop, head_type)
        return self._costs[head_type]

    def _kind(
        self, head_type: str, role: str, printer: str, rated_hours: float | None = None
    ) -> RatedKind:
        """Say what a head is, with the rating it was bought with or today's of its type."""
        kind = self._shop.head_types[head_type]
        return RatedKind(
            head_type,
            kind.rated_hours if rated_hours is None else rated_hours,
            self._book.of(head_type, role, printer, rated_hours),
            kind.quality_critical or printer in self._shop.critical_printers,
        )

    def _place(
        self, head: Any, kind: RatedKind, new: RatedKind, asked: Any, start: Floats
    ) -> Place:
        """Lay out a place; `asked` says in which builds no head may pass its rating."""
        group = Group(new.head_type, head.role)
        costs = self._cost(new.head_type)
        place = Place(
            age=float(head.age_hours),
            reaches=self.lives.aged(head.kind, float(head.age_hours)),
            new_reaches=self.lives.new(group, max(_OLDEST * new.rated_hours, self._ahead)),
            limits=np.where(asked | new.critical, new.rated_hours, np.inf),
            new_head=costs.head,
            swap_at=new.policy.due_at,
            waits=waits(new.policy),
            waiting=costs.waiting,
            stock=tuple(self._stocks.number(new.head_type, head.site, t) for t in start),
        )
        if new == kind:
            return place
        return replace(
            place,
            limits_now=np.where(asked | kind.critical, kind.rated_hours, np.inf),
            swap_at_now=kind.policy.due_at,
            later=_used_up_at(new) - _used_up_at(kind),
        )

    def _with_used(
        self,
        places: tuple[Place, ...],
        heads: tuple[Any, ...],
        goes_in: tuple[RatedKind, ...],
        end: EndValue,
    ) -> tuple[Place, ...]:
        """Add the part-used heads that could go in.

        One that goes in now saves a new head no other time: it is charged with what it would save
        then, less a year of keeping it on the shelf.
        """
        found = []
        for number, (place, head, new) in enumerate(zip(places, heads, goes_in, strict=True)):
            price = self._shop.head_types[new.head_type].price or 0.0
            used = []
            limited = bool(np.isfinite(place.limits).all())
            for name, kind, age in self._shelf_for(head, new, limited):
                ages = [np.array([age if i == number else 0.0]) for i in range(len(places))]
                saves = price - float(end(ages).item())
                worth = max(saves - self._cost(new.head_type).holding_per_year, 0.0)
                reaches = self.lives.aged(kind, age)
                used.append(UsedHead(name, age, reaches, place.new_head - price + worth))
            found.append(replace(place, used=tuple(used)))
        return tuple(found)

    def _shelf_for(
        self, head: Any, new: RatedKind, limited: bool
    ) -> list[tuple[str, Group, float]]:
        """List part-used heads that fit, none that is due or would pass its rating in a build.

        Where no head may pass its rating only young ones, while a new one is on the shelf: an old
        one would spoil more of these builds than swapping at the rating does.
        """
        if not self._shop.spares.use_shelf:
            return []
        rows = self._shelf[Group(new.head_type, head.role).rows(self._shelf)]
        site = self._stocks.site_of(head.site)
        young = limited and self._shop.head_types[new.head_type].heads_on_hand > 0
        oldest = _YOUNG * new.rated_hours if young else new.rated_hours - self._build_hours
        oldest = min(oldest, new.policy.due_at - EVEN)
        shelf: Any = rows.sort_values(["age_hours", "head"]).itertuples()
        return [
            (str(one.head), one.kind, float(one.age_hours))
            for one in shelf
            if site in (None, self._stocks.site_of(one.site)) and one.age_hours <= oldest
        ]

    def _end(
        self,
        heads: tuple[Any, ...],
        places: tuple[Place, ...],
        goes_in: tuple[RatedKind, ...],
        visit: float,
        scrapped: float,
    ) -> EndValue:
        """Work out what heads are worth at the end, once for printers alike."""
        key = tuple(
            (new.head_type, head.role, new.critical, new.policy.due_at, waits(new.policy))
            for head, new in zip(heads, goes_in, strict=True)
        )
        if key not in self._ends:
            ends = [
                EndHead(
                    place.new_reaches,
                    new.rated_hours if new.critical else np.inf,
                    new.rated_hours,
                    place.new_head,
                    new.policy.due_at,
                    place.waits,
                    place.waiting,
                )
                for place, new in zip(places, goes_in, strict=True)
            ]
            self._ends[key] = end_value(ends, self._build_hours, visit, scrapped)
        return self._ends[key]
