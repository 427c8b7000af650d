"""Which heads are due, on which day, and what is to be done about each of them?

From a case: present ages, each printer's own use and its spread, the policies in force, the
posteriors of the failure modes, the new and part-used heads on the shelf and on order. One row
per head in service, what is past due first, with one word of what to do. Plans no build.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.case import Case, Provenance
from headlife.decisions.spare_for import SpareHeads
from headlife.decisions.watch import LEAST_CHANCE, watch_list
from headlife.display import shows_itself
from headlife.fleet.empty import EmptyPosition, empty_of
from headlife.fleet.order_book import booked_hours
from headlife.fleet.usage import planned_hours
from headlife.numbers import Floats, not_negative_array, positive
from headlife.shop.policy_book import policies_after
from headlife.units import DAYS_PER_WEEK, WEEKS_PER_YEAR

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.state import Fleet
    from headlife.shop import Shop

SWAP_NOW: Final = "swap now"
BEFORE_BUILD: Final = "before the next long build"
PLAN: Final = "plan"
LEAVE: Final = "leave"
ACTIONS: Final = (SWAP_NOW, BEFORE_BUILD, PLAN, LEAVE)

RANGE: Final = 0.80  # of the days, two-sided
WEEKS_AHEAD: Final = int(2 * WEEKS_PER_YEAR)
_MARKS: Final = ("notice", "rating", "swap")


@shows_itself
@dataclass(frozen=True)
class DueList(Provenance):
    """Every head in service with what is to be done about it."""

    build_hours: float
    """Length of the next long build [h]."""
    heads: pd.DataFrame
    """One row per head in service, the most urgent first: `head, head_type, role, site, printer,
    position`; `age_hours`, `rated_hours`, `notice_hours`, `swap_at` (by the policy in force,
    infinite: at failure) and `practice_at` (with the hours that heads run on after it, as on
    record) [h]; for each of `notice`, `rating` and `swap`: hours `to_` it [h], below zero when
    past, its expected day `day_` and the range `earliest_`, `latest_` (80 %), empty when past or
    beyond two years; `probability, low, high` to finish the build [-]; `quality_critical`;
    `spare` with its `spare_type`, `spare_heads`, `spare_ages` [h], `spare_day` and `spare_site`
    (as in `spare_for.Spare`); `action`, one of `ACTIONS`."""
    empty: tuple[EmptyPosition, ...] = ()
    """Positions that wait for a head."""

    def of_action(self, action: str) -> pd.DataFrame:
        """Rows with one word of what to do.

        Parameters
        ----------
        action : str
            One of `ACTIONS`.

        Returns
        -------
        pandas.DataFrame
            As in `heads`.
        """
        return self.heads[self.heads["action"] == action]


def due_list(case: Case, build_hours: float | None = None) -> DueList:
    """List the heads in service by what is to be done about them.

    Parameters
    ----------
    case : Case
        What `read_case` returned.
    build_hours : float, optional
        Length of the next long build [h]; default the settings'.

    Returns
    -------
    DueList
        Past due first. Same case, same list.

    Raises
    ------
    HeadlifeError
        The build is no positive number of hours, or the settings contradict each other.

    Examples
    --------
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> len(hl.due_list(case).of_action("swap now"))
    2
    """
    build = positive(
        "The length of the next build",
        case.shop.review.build_hours if build_hours is None else build_hours,
        "[h]",
    )
    watched = watch_list(case.fleet.positions, case.modes, build, seed=case.seed)
    heads = heads_due(watched, case.fleet, case.shop, case.day)
    return DueList(
        **vars(case.provenance), build_hours=build, heads=heads, empty=empty_of(case.fleet)
    )


def heads_due(watched: pd.DataFrame, fleet: Fleet, shop: Shop, day: pd.Timestamp) -> pd.DataFrame:
    """Say of every head that is watched what is to be done about it, and when.

    Parameters
    ----------
    watched : pandas.DataFrame
        From `watch_list`, with the `build_hours` that it was made for.
    fleet : Fleet
        How the shop prints, and its part-used heads.
    shop : Shop
        Its policies, stock and plans.
    day : pandas.Timestamp
        The day.

    Returns
    -------
    pandas.DataFrame
        As `DueList.heads`.
    """
    listed = _with_marks(watched.copy(), fleet, shop, day)
    listed = _with_days(listed, fleet, shop, day)
    build = float(listed["build_hours"].iloc[0]) if len(listed) else shop.review.build_hours
    listed["action"] = _actions(listed, build, shop.spares.lead_time_weeks)
    listed = _urgent_first(listed)
    spares = SpareHeads(shop, fleet, day)
    found = [spares.take(row, build) for row in listed.itertuples(index=False)]
    listed["spare"] = [one.kind for one in found]
    listed["spare_type"] = [one.head_type for one in found]
    listed["spare_heads"] = [one.heads for one in found]
    listed["spare_ages"] = [one.ages for one in found]
    listed["spare_site"] = [one.site for one in found]
    listed["spare_day"] = np.array([one.day for one in found], dtype="datetime64[ns]")
    return listed


def reaching_days(
    needed: Floats,
    since_reading: Floats,
    passed: Floats,
    spread: Floats,
    factor: Floats | float = 1.0,
) -> tuple[Floats, Floats, Floats]:
    """Days from now until heads have run so many hours more, expected and with a range.

    A printer's hours since the last reading are its usual ones times a factor that is not known,
    log-normal about its mean: it is the same before now and after it.

    Parameters
    ----------
    needed : array of float
        Hours to go by the usual use, one per head [h]; zero or more.
    since_reading : array of float
        Hours counted since the last reading, part of the present age, one per head [h].
    passed : array of float
        Usual print hours passed by the end of each week ahead, heads x weeks [h].
    spread : array of float
        Standard deviation of the factor as a share of its mean, one per head [-].
    factor : array of float, optional
        Its mean, one per head [-].

    Returns
    -------
    day, earliest, latest : array of float
        [days]; infinite beyond the weeks given. The range holds `RANGE`.
    """
    from scipy.special import ndtri

    not_negative_array("Hours to go", needed, "[h]")
    tail = 0.5 * (1.0 - RANGE)
    log_spread = np.sqrt(np.log1p(np.square(spread)))
    away = float(ndtri(1.0 - tail)) * log_spread
    factors = [np.ones_like(needed), *(np.exp(x - 0.5 * log_spread**2) for x in (away, -away))]
    whole = needed + since_reading
    usual = [np.maximum(whole / (factor * one) - since_reading, 0.0) for one in factors]
    weeks = [np.array([_week(p, h) for p, h in zip(passed, hours, strict=True)]) for hours in usual]
    day, earliest, latest = (week * DAYS_PER_WEEK for week in weeks)
    return day, earliest, latest


def _whole(day: Floats, earliest: Floats, latest: Floats) -> tuple[Floats, Floats, Floats]:
    """Take whole days: what is reached during a day is that day.

    The range keeps its chance as nearly as whole days can: before its first day lies all up to the
    end of the day before.
    """
    on = np.ceil(day)
    first, last = np.floor(earliest + 0.5) + 1.0, np.floor(latest + 0.5)
    return on, np.minimum(first, on), np.maximum(last, on)


def _week(passed: Floats, hours: float) -> float:
    """Weeks until the usual hours have passed, within a week in proportion."""
    if hours > passed[-1]:
        return np.inf
    edges = np.concatenate([[0.0], passed])
    at = int(np.searchsorted(edges, hours, side="left"))
    if at == 0:
        return 0.0
    return float(at - 1 + (hours - edges[at - 1]) / (edges[at] - edges[at - 1]))


def _with_marks(listed: pd.DataFrame, fleet: Fleet, shop: Shop, day: pd.Timestamp) -> pd.DataFrame:
    """Add the ages at which something is called for, and how far each head is from them."""
    book = policies_after(shop, day)
    types = [shop.head_types[name] for name in listed["head_type"]]
    # A head has the rating that it was bought with, where its type had several.
    rated = listed["rated_hours"].tolist()
    places = zip(listed["head_type"], listed["role"], listed["printer"], rated, strict=True)
    policies = [book.of(str(name), str(role), str(at), own) for name, role, at, own in places]
    listed["notice_hours"] = [
        own * one.notice_fraction for own, one in zip(rated, types, strict=True)
    ]
    listed["swap_at"] = [policy.comes_out_at for policy in policies]
    lags = listed["head_type"].map(fleet.swap_lag).fillna(0.0)
    listed["practice_at"] = listed["swap_at"] + lags
    critical = shop.critical_printers
    listed["quality_critical"] = [
        one.quality_critical or printer in critical
        for one, printer in zip(types, listed["printer"], strict=True)
    ]
    for mark, column in zip(_MARKS, ("notice_hours", "rated_hours", "swap_at"), strict=True):
        listed[f"to_{mark}"] = listed[column] - listed["age_hours"]
    return listed


def _with_days(listed: pd.DataFrame, fleet: Fleet, shop: Shop, day: pd.Timestamp) -> pd.DataFrame:
    """Add the days on which heads reach these ages."""
    import pandas as pd

    booked = booked_hours(listed, shop.order_book, day, WEEKS_AHEAD)
    passed = np.cumsum(planned_hours(listed, shop.plans, day, WEEKS_AHEAD, booked), axis=1)
    since = (listed["age_hours"] - listed["reading_hours"]).to_numpy(dtype=np.float64)
    gap = (day - listed["reading_date"]).dt.days.to_numpy(dtype=np.float64) / DAYS_PER_WEEK
    weekly = listed["weekly_hours"].to_numpy(dtype=np.float64)
    for mark in _MARKS:
        ahead = listed[f"to_{mark}"].to_numpy(dtype=np.float64)
        needed = np.where(np.isfinite(ahead), np.maximum(ahead, 0.0), 1e12)
        weeks = gap + needed / np.maximum(weekly, 1e-9)
        factor, spread = fleet.usage_ahead(listed, np.minimum(weeks, WEEKS_AHEAD))
        exact = reaching_days(needed, np.maximum(since, 0.0), passed, spread, factor)
        for name, values in zip(("day", "earliest", "latest"), _whole(*exact), strict=True):
            shown = np.where((ahead > 0) & np.isfinite(values), values, np.nan)
            listed[f"{name}_{mark}"] = day + pd.to_timedelta(shown, unit="D")
    return listed


def _actions(listed: pd.DataFrame, build: float, lead_time_weeks: float) -> list[str]:
    """One word for each head; the first that applies.

    Where a head is quality-critical its rating is a limit as well as the policy's age.
    """
    limit = np.where(
        listed["quality_critical"],
        np.minimum(listed["swap_at"], listed["rated_hours"]),
        listed["swap_at"],
    )
    left = limit - listed["age_hours"].to_numpy(dtype=np.float64)
    unlikely = listed["probability"].to_numpy(dtype=np.float64) < LEAST_CHANCE
    weekly = listed["weekly_hours"].to_numpy(dtype=np.float64)
    soon = left <= weekly * lead_time_weeks
    noticed = np.isfinite(left) & (listed["to_notice"].to_numpy(dtype=np.float64) <= 0)
    words = np.select(
        [left <= 0, unlikely | (left < build), soon | noticed], ACTIONS[:-1], default=LEAVE
    )
    return [str(word) for word in words]


def _urgent_first(listed: pd.DataFrame) -> pd.DataFrame:
    """Order by what is to be done, then by how far past or near its swap a head is."""
    rank = listed["action"].map({word: place for place, word in enumerate(ACTIONS)})
    nearest = np.minimum(listed["to_swap"], listed["to_rating"])
    order = listed.assign(_rank=rank, _near=nearest).sort_values(
        ["_rank", "_near", "head"], kind="stable", ignore_index=True
    )
    return order.drop(columns=["_rank", "_near", "build_hours"])
