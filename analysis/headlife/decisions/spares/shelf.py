"""Which part-used heads on the shelf save new ones, and how many new heads are then needed?

A part-used head has been loaded with material and serves only its own role. Where a role's
material is never changed, it goes back in before a new head if it does not come due again within
the horizon. Where material is changed, the shelf is in circulation: each part-used head waits for
its material, and how often a new one is taken hangs on how many wait, as the records show. Where
heads come back refurbished, as many go in as the records show. From the fleet's futures and the
shelf; never decides what to order.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from headlife.fleet.on_hand import NO_SITE
from headlife.fleet.state import Fleet
from headlife.futures.draws import DrawnLives, ModeDraws
from headlife.futures.forecast import FleetForecast
from headlife.futures.visits import CHANGED, FAILED, Counts
from headlife.seeds import generator

if TYPE_CHECKING:
    import pandas as pd

    from headlife.numbers import Floats
    from headlife.shop import Shop


@dataclass(frozen=True)
class NewHeads:
    """New heads of one type that the futures ask for, after the shelf was used."""

    total: Counts
    """New heads needed, draws x weeks [heads]."""
    failures: Counts
    """Those needed after a failure, draws x weeks [heads]."""
    shelf: int
    """Part-used heads that are worth putting back in [heads]."""
    after_use: dict[str, float] = field(default_factory=dict)
    """By role, the share of heads used up that a new one replaces, where part-used heads
    circulate; empty where they do not [-]."""


def usable_shelf(
    fleet: Fleet,
    forecast: FleetForecast,
    shop: Shop,
    head_type: str,
    site: str | None = None,
    weeks: float | None = None,
) -> pd.DataFrame:
    """Part-used heads that are worth putting back in, the least used first.

    Parameters
    ----------
    fleet : Fleet
        Its shelf.
    forecast : FleetForecast
        Its policies and print hours.
    shop : Shop
        The policy's swap age, or the rating where that is lower, must not be reached within the
        horizon.
    head_type : str
        Head type.
    site : str, optional
        Only the shelf of this site.
    weeks : float, optional
        The horizon; default that of the forecast [weeks].

    Returns
    -------
    pandas.DataFrame
        Rows of the shelf: `head, head_type, role, site, age_hours`.
    """
    shelf = fleet.shelf[fleet.shelf["head_type"] == head_type]
    if site is not None:
        shelf = shelf[shelf["site"].fillna(NO_SITE) == site]
    rated = shop.head_types[head_type].rated_hours
    limits = [
        min(forecast.policies.of(head_type, role).comes_out_at, rated) for role in shelf["role"]
    ]
    ahead = [
        forecast.hours_per_week.get((head_type, role), np.inf)
        * (forecast.weeks if weeks is None else weeks)
        for role in shelf["role"]
    ]
    sensible = shelf["age_hours"].to_numpy(dtype=np.float64) + np.array(ahead) <= np.array(limits)
    found: pd.DataFrame = shelf[sensible].sort_values(["age_hours", "head"], kind="stable")
    return found


def new_heads(
    fleet: Fleet,
    forecast: FleetForecast,
    shop: Shop,
    head_type: str,
    site: str | None = None,
    weeks: float | None = None,
) -> NewHeads:
    """Take what the shelf can serve off the heads that the futures ask for.

    Parameters
    ----------
    fleet, forecast, shop : Fleet, FleetForecast, Shop
        As for `usable_shelf`.
    head_type : str
        Head type.
    site : str, optional
        Only this site's demand and shelf.
    weeks : float, optional
        As for `usable_shelf`.

    Returns
    -------
    NewHeads
        Where material is never changed, slightly too many rather than too few: a part-used head
        may fail again within the horizon, and so may the new head that it stands for; both are
        counted.
    """
    failures = forecast.swaps_of(head_type, kinds=[])
    total = failures.copy()
    usable = usable_shelf(fleet, forecast, shop, head_type, site, weeks)
    used, after_use = 0, {}
    for role in sorted({group[1] for group in forecast.swaps if group[0] == head_type}):
        needed, failed = _wanted(forecast, head_type, role, site)
        rng = generator(forecast.seed, "shelf", head_type, role, str(site))
        ages = usable.loc[usable["role"] == role, "age_hours"].to_numpy(dtype=np.float64)
        if shop.spares.use_shelf and role in fleet.changes.per_week:
            taken = _in_circulation(fleet, forecast, (head_type, role), site, rng)
            if needed.any():
                after_use[role] = float((taken.failed + taken.planned).sum() / needed.sum())
            needed, failed = taken.failed + taken.planned + taken.changed, taken.failed
        elif shop.spares.use_shelf and ages.size:
            used += ages.size
            needed, failed = _after_shelf(needed, failed, ages, forecast, (head_type, role), rng)
        for own in fleet.refurbished if shop.spares.use_shelf else ():
            if (own.head_type, own.role) == (head_type, role):
                rng = generator(forecast.seed, "refurbished", head_type, role, str(site))
                share = own.shares_new(len(needed), rng)[:, None]
                still, others = (_thinned(one, share, rng) for one in (failed, needed - failed))
                needed, failed = still + others, still
        total += needed
        failures += failed
    return NewHeads(total, failures, used, after_use)


def _wanted(
    forecast: FleetForecast, head_type: str, role: str, site: str | None
) -> tuple[Counts, Counts]:
    """Heads that the futures and empty positions ask for, and those of them after a failure."""
    needed = forecast.swaps_of(head_type, role, site)
    needed[:, :1] += forecast.taken_at_once(head_type, role, site)
    return needed, forecast.swaps_of(head_type, role, site, [FAILED])


class _Taken(NamedTuple):
    """Heads that go in where part-used ones circulate, or the new ones of them, draws x weeks."""

    failed: Counts
    """After failures."""
    planned: Counts
    """After swaps of working heads."""
    changed: Counts
    """At changes of material."""


def _in_circulation(
    fleet: Fleet,
    forecast: FleetForecast,
    stratum: tuple[str, str],
    site: str | None,
    rng: np.random.Generator,
) -> _Taken:
    """Take new heads of a head type and role, every site (or one) from a shelf of its own."""
    role = stratum[1]
    at = {group[2] for group in forecast.swaps if group[:2] == stratum}
    habits = fleet.changes.new_at_change[role], fleet.changes.new_after_use[role]
    at_change, after_use = (habit.draw(forecast.draws, rng) for habit in habits)
    parts = []
    for own in sorted(at) if site is None else [site]:
        needed, failed = _wanted(forecast, *stratum, own)
        wanted = _Taken(failed, needed - failed, forecast.swaps_of(*stratum, own, [CHANGED]))
        waiting = fleet.changes.waiting.get((*stratum, own), 0)
        shelf = _Shelf(waiting, fleet.changes.lost_per_week, at_change, after_use)
        parts.append(_week_by_week(wanted, shelf, rng))
    return _Taken(*(sum(of_sites[1:], of_sites[0]) for of_sites in zip(*parts, strict=True)))


class _Shelf(NamedTuple):
    """A shelf on the first day, and how heads leave it."""

    waiting: int
    """Part-used heads [heads]."""
    lost_per_week: float
    """Chance that one is gone a week later, other than into a printer [-]."""
    at_change: Floats
    """By future, the rate at which its heads save new ones at changes of material [-]."""
    after_use: Floats
    """The same where a head is used up [-]."""


def _week_by_week(wanted: _Taken, shelf: _Shelf, rng: np.random.Generator) -> _Taken:
    """Take new heads from week to week, the shelf as full as the weeks before have left it."""
    draws, weeks = wanted.failed.shape
    waiting = np.full(draws, shelf.waiting)
    # Week by week: a week of all futures lies together then.
    by_week = _Taken(*(np.ascontiguousarray(heads.T) for heads in wanted))
    taken = _Taken(*(np.zeros((weeks, draws), dtype=np.int32) for _ in wanted))
    for week in range(weeks):
        some = by_week.changed[week].nonzero()[0]
        chance = np.exp(-shelf.at_change[some] * waiting[some])
        taken.changed[week, some] = new = rng.binomial(by_week.changed[week, some], chance)
        # Every head that comes out for a change waits from then on.
        waiting[some] += new
        for heads, own in zip(by_week[:2], taken[:2], strict=True):
            some = heads[week].nonzero()[0]
            used_up = heads[week, some]
            new = rng.binomial(used_up, np.exp(-shelf.after_use[some] * waiting[some]))
            own[week, some] = new = np.maximum(new, used_up - waiting[some])
            waiting[some] -= used_up - new
        if shelf.lost_per_week:
            # In whole heads and right on average, which is quicker than one chance for each head.
            lost = waiting * shelf.lost_per_week + rng.random(draws)
            waiting -= lost.astype(waiting.dtype)
    return _Taken(*(heads.T for heads in taken))


def _thinned(counts: Counts, share: Floats, rng: np.random.Generator) -> Counts:
    """Keep each of so many heads with a chance; most weeks have none, which need no luck."""
    kept = np.zeros(counts.shape, dtype=np.int32)
    some = counts.nonzero()
    kept[some] = rng.binomial(counts[some], np.broadcast_to(share, counts.shape)[some])
    return kept


def _after_shelf(
    needed: Counts,
    failed: Counts,
    ages: Floats,
    forecast: FleetForecast,
    stratum: tuple[str, str],
    rng: np.random.Generator,
) -> tuple[Counts, Counts]:
    """Serve the first requests of a stratum from its shelf, and add heads that fail again."""
    so_far = np.cumsum(needed, axis=1)
    served = np.diff(np.minimum(so_far, ages.size), axis=1, prepend=0)
    again = np.zeros_like(needed)
    for place, age in enumerate(ages):
        put_in = so_far > place
        who = np.flatnonzero(put_in[:, -1])
        start = put_in[who].argmax(axis=1)
        left = _weeks_left(forecast.drawn[stratum], float(age), forecast, stratum, rng)[who]
        week = start + left
        inside = week < needed.shape[1]
        again[who[inside], week[inside].astype(np.intp)] += 1
    # Which of the requests were failures is not known by number: taken in proportion.
    share = np.divide(needed - served, needed, out=np.zeros(needed.shape), where=needed > 0)
    still_failed = np.rint(failed * share).astype(np.int32)
    return needed - served + again, still_failed + again


def _weeks_left(
    modes: list[ModeDraws],
    age: float,
    forecast: FleetForecast,
    stratum: tuple[str, str],
    rng: np.random.Generator,
) -> Floats:
    ages = np.full(modes[0].shape.size, age, dtype=np.float32)
    # A life beyond single precision is an endless one.
    with np.errstate(over="ignore", divide="ignore"):
        hours = DrawnLives(modes).remaining(ages, ..., rng).astype(np.float64)
    return np.asarray(hours / max(forecast.hours_per_week[stratum], 1e-9))
