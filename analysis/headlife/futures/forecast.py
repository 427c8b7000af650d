"""What will the fleet need, week by week, by head type, role and site?

From the fleet as it is on a day, the posteriors of every stratum, the shop's policy and plans:
seeded paths of all printers, the heads of one printer together, each stratum's unknown life
shared by all its positions. Sums and distributions are read from the paths. Never stocks, never
prices.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from headlife.fleet.coming import ComingHead, coming_heads, with_coming
from headlife.fleet.empty import EmptyPosition, waiting_positions
from headlife.fleet.on_hand import NO_SITE
from headlife.fleet.order_book import booked_hours
from headlife.fleet.state import Fleet
from headlife.fleet.succession import counted_as, successors
from headlife.fleet.usage import planned_hours
from headlife.futures.calendar import week_lengths
from headlife.futures.distribution import Demand, demand_of
from headlife.futures.draws import DrawnLife, DrawnLives, ModeDraws
from headlife.futures.in_turn import DrawnLots
from headlife.futures.life_uncertainty import Heads
from headlife.futures.position import Place
from headlife.futures.printers import (
    alike,
    mean_hours,
    place_printers,
    positions_by_place,
)
from headlife.futures.visits import (
    FAILED,
    JOINED,
    KINDS,
    PLANNED,
    Counts,
    Printer,
    Stratum,
    Swaps,
    Tally,
    count_swaps,
    stacked,
)
from headlife.life.groups import Group
from headlife.numbers import not_negative
from headlife.seeds import generator
from headlife.shop.policy_book import PolicyBook, policies_after

if TYPE_CHECKING:
    from concurrent.futures import Executor

    import pandas as pd

    from headlife.shop import Shop

# Printers, or printers times futures where there are many, simulated as one piece of work; pieces
# have streams of random numbers of their own, so the answer does not depend on who works on them.
PRINTERS_TOGETHER: Final = 64
PATHS_TOGETHER: Final = 32_768
# Futures that are enough for the processor to go through one printer at a time.
FUTURES_ALONE: Final = 4_000


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
    policies: PolicyBook
    """The swap policies in force."""
    swaps: dict[Place, dict[str, Tally]]
    """By head type, role and site, then by kind (failed, planned, joined): heads swapped, draws
    x weeks."""
    positions: dict[Place, int]
    """Positions the swaps come from, by group [heads]."""
    left_out: dict[str, int] = field(default_factory=dict)
    """Positions whose stratum has no life to forecast with, by head type [heads]."""
    drawn: dict[Stratum, list[ModeDraws]] = field(default_factory=dict)
    """Drawn parameters of every stratum, one per future."""
    lots: DrawnLots = field(default_factory=DrawnLots)
    """The same of lots that differ in life, with the one that is bought now."""
    hours_per_week: dict[Stratum, float] = field(default_factory=dict)
    """Mean print hours of a position a week over the horizon, by stratum; of printers that will
    come, from their first day on [h]."""
    coming: tuple[ComingHead, ...] = ()
    """Heads of printers that will come; their positions and swaps are among the others."""
    empty: dict[Place, list[EmptyPosition]] = field(default_factory=dict)
    """Positions that stand empty and take a new head at once, by group. They are simulated with
    that head in; that it goes in is no swap."""

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
        """Distribution of the heads swapped over the whole horizon.

        Parameters
        ----------
        head_type : str, optional
            Head type, or all.
        role : str, optional
            model or support, or both.
        site : str, optional
            Site, or all.

        Returns
        -------
        Demand
            The demand, as probabilities.
        """
        failures = self.swaps_of(head_type, role, site, [FAILED])
        planned = self.swaps_of(head_type, role, site, [PLANNED, JOINED])
        return demand_of(failures, planned, self.weeks)

    def taken_at_once(
        self, head_type: str, role: str | None = None, site: str | None = None
    ) -> int:
        """Heads that go into empty positions on the first day, of one type, role or site.

        Parameters
        ----------
        head_type : str
            Head type.
        role, site : str, optional
            Left out: all.

        Returns
        -------
        int
            Heads [heads].
        """
        return sum(
            len(positions)
            for (own, of_role, at), positions in self.empty.items()
            if own == head_type and role in (None, of_role) and site in (None, at)
        )

    @property
    def policy_changes(self) -> tuple[datetime.date, ...]:
        """Days within the horizon from which the settings have another policy."""
        return tuple(day for day in self.policies.later if day <= self._end)

    @property
    def policy_changes_beyond(self) -> tuple[datetime.date, ...]:
        """Days after the horizon from which the settings have another policy."""
        return tuple(day for day in self.policies.later if day > self._end)

    @property
    def _end(self) -> datetime.date:
        return (self.start + datetime.timedelta(weeks=self.weeks)).date()

    @property
    def head_types(self) -> list[str]:
        """Head types with a position."""
        return list(dict.fromkeys(group[0] for group in self.positions))

    def sites_of(self, head_type: str) -> list[str]:
        """Sites with a position of a head type, by name.

        Parameters
        ----------
        head_type : str
            Head type.

        Returns
        -------
        list of str
            The sites, by name.
        """
        return sorted({group[2] for group in self.positions if group[0] == head_type})

    @property
    def sites(self) -> list[str]:
        """Sites with a position."""
        return sorted({group[2] for group in self.positions})


def heads_in_place(
    fleet: Fleet,
    forecast: FleetForecast,
    head_type: str,
    site: str | None = None,
    weeks: float | None = None,
) -> list[Heads]:
    """Give the heads now in place, by stratum, with the lives drawn for the futures.

    Parameters
    ----------
    fleet : Fleet
        The positions that were forecast.
    forecast : FleetForecast
        The futures.
    head_type : str
        Head type.
    site : str, optional
        Only this site's.
    weeks : float, optional
        Stretch ahead [weeks]; default the horizon of the forecast.

    Returns
    -------
    list of Heads
        The heads, by head type and role.
    """
    here = fleet.positions
    follows = successors(fleet.giving_way, forecast.drawn)
    here = here[(counted_as(here, follows) == head_type).to_numpy(dtype=bool)]
    if site is not None:
        here = here[here["site"].fillna(NO_SITE) == site]
    due = [
        forecast.policies.of(own, role, printer).comes_out_at
        for own, role, printer in zip(here["head_type"], here["role"], here["printer"], strict=True)
    ]
    lots = forecast.lots.of_heads(here)
    names = ["" if lot is None else lot.name for lot in lots]
    own_modes = {
        name: forecast.lots.modes[lot] for name, lot in zip(names, lots, strict=True) if lot
    }
    found = []
    for key, own in here.groupby([here["role"], due, names, here["head_type"]], sort=True):
        stratum, swap_age = (head_type, str(key[0])), float(str(key[1]))
        modes = own_modes.get(str(key[2]), forecast.drawn.get((str(key[3]), stratum[1])))
        if modes:
            ages = own["age_hours"].to_numpy(dtype=np.float64)
            weekly = own["weekly_hours"].to_numpy(dtype=np.float64)
            ahead = forecast.weeks if weeks is None else weeks
            new_heads = forecast.lots.new_heads(stratum)
            if key[3] != head_type and not new_heads:
                new_heads = [(1.0, forecast.drawn[stratum])]
            found.append(Heads(modes, ages, weekly * ahead, swap_age, new_heads))
    return found


def forecast_fleet(
    fleet: Fleet,
    lives: Mapping[Group, Sequence[DrawnLife]],
    shop: Shop,
    weeks: float,
    start: Any,
    draws: int | None = None,
    seed: int | None = None,
    policies: PolicyBook | None = None,
    executor: Executor | None = None,
) -> FleetForecast:
    """Simulate the fleet over a horizon, with the printers that will come.

    Parameters
    ----------
    fleet : Fleet
        Positions with present ages, print hours and their spread.
    lives : mapping of Group to a sequence of Life
        The competing modes of each head type and role; positions without any are left out.
    shop : Shop
        Its plans, draws and seed, and its policy on the first day.
    weeks : float
        Horizon [weeks].
    start : date
        First day of the horizon.
    draws, seed : int, optional
        Instead of the settings'.
    policies : PolicyBook, optional
        Instead of what the fleet follows.
    executor : concurrent.futures.Executor, optional
        Works on groups of printers; the answer is the same with any, or without.

    Returns
    -------
    FleetForecast
        The same whatever printers are called and in whatever order they stand; a further head
        type, or a printer that will come, leaves the others' futures as they were.

    Raises
    ------
    HeadlifeError
        The horizon is negative, or a plan, a policy or a new printer cannot be used.
    """
    import pandas as pd

    weeks = not_negative("The horizon", weeks, "[weeks]")
    draws = shop.review.draws if draws is None else draws
    seed = shop.review.seed if seed is None else seed
    day = pd.Timestamp(start)
    lengths = week_lengths(weeks)
    known = {(own.head_type, own.role): modes for own, modes in lives.items() if len(modes)}
    drawn: dict[Stratum, list[ModeDraws]] = {
        stratum: [
            ModeDraws.of_life(life, draws, generator(seed, "life", *stratum, str(i)))
            for i, life in enumerate(modes)
        ]
        for stratum, modes in known.items()
    }
    lots = DrawnLots.of_lives(known, drawn, seed)
    if fleet.empty is not None:
        counted = counted_as(fleet.empty, successors(fleet.giving_way, drawn))
        fleet = replace(fleet, empty=fleet.empty.assign(head_type=counted))
    places = with_coming(fleet, shop, day)
    booked = booked_hours(places, shop.order_book, day, lengths.size)
    hours = planned_hours(places, shop.plans, day, lengths.size, booked) * lengths
    policies = policies or fleet.follows or policies_after(shop, day)
    lives_of = {stratum: DrawnLives(modes) for stratum, modes in drawn.items()}
    workload = None
    if fleet.workload is not None and weeks > 0:
        workload = fleet.workload.ahead(weeks, draws, generator(seed, "workload"))
    placed, left_out = place_printers(
        places, hours, weeks, day, fleet, lives_of, policies, workload, booked.hours * lengths, lots
    )
    pieces = _pieces([one.printer for one in placed if not one.coming], draws, seed, "visits")
    # Printers that will come have random numbers of their own, so that they only add.
    pieces += _pieces([one.printer for one in placed if one.coming], draws, seed, "coming")
    done = (map if executor is None else executor.map)(_Piece.simulate, pieces)
    return FleetForecast(
        start=day,
        weeks=weeks,
        draws=draws,
        seed=seed,
        policies=policies,
        swaps=_added(pieces, done, draws),
        positions=positions_by_place(placed, shop.head_types),
        left_out=left_out,
        drawn=drawn,
        lots=lots,
        hours_per_week=mean_hours(placed, weeks),
        coming=coming_heads(shop, known, day, weeks),
        empty=waiting_positions(fleet, hours, drawn),
    )


@dataclass(frozen=True)
class _Piece:
    """Printers with the same kinds of head in some futures, ready to be simulated anywhere."""

    printers: Sequence[Printer]
    futures: slice
    rng: np.random.Generator

    def simulate(self) -> Swaps:
        futures = self.futures.stop - self.futures.start
        if self.printers[0].hours is None:
            return count_swaps(self.printers, futures, self.rng)
        own = [printer.in_futures(self.futures) for printer in self.printers]
        return count_swaps(own, futures, self.rng)


def _pieces(printers: Sequence[Printer], draws: int, seed: int, stream: str) -> list[_Piece]:
    """Divide the work: printer by printer in many futures, or many printers in a few futures each.

    Every piece has random numbers of its own.
    """
    pieces = []
    for kind, same in sorted(alike(printers).items()):
        if draws >= FUTURES_ALONE:
            starts = range(0, len(same), PRINTERS_TOGETHER)
            cuts = [(same[start : start + PRINTERS_TOGETHER], slice(0, draws)) for start in starts]
        else:
            together = stacked(same)
            size = max(PATHS_TOGETHER // len(same), 1)
            starts = range(0, draws, size)
            cuts = [(together, slice(start, min(start + size, draws))) for start in starts]
        rng = generator(seed, stream, *kind)
        streams = [rng, *rng.spawn(len(cuts) - 1)]
        pieces += [_Piece(*cut, own) for cut, own in zip(cuts, streams, strict=True)]
    return pieces


def _added(pieces: Iterable[_Piece], done: Iterable[Swaps], draws: int) -> Swaps:
    """Add the swaps of all pieces; every count is whole, so the order does not matter."""
    swaps: Swaps = {}
    for piece, part in zip(pieces, done, strict=True):
        for place, tallies in part.items():
            if place not in swaps and piece.futures == slice(0, draws):
                swaps[place] = tallies
                continue
            if place not in swaps:
                swaps[place] = {
                    name: np.zeros((draws, tally.shape[1]), dtype=tally.dtype)
                    for name, tally in tallies.items()
                }
            for name, tally in tallies.items():
                swaps[place][name][piece.futures] += tally
    return swaps
