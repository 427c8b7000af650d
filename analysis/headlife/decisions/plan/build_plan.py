"""In which gap between the builds ahead is which head swapped, and which head goes in?

From a case and a table of builds, or builds of the usual length: builds go to printers, each
printer gets the course of swaps of least expected cost within the policy in force and the spares
there are, beside what swapping at the rating and as on record would cost. No quality-critical head
runs past its rating. Never draws a random number.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from headlife.case import Case, Provenance
from headlife.decisions.plan.courses import MISSING, USED, Choice, gaps_with_swaps
from headlife.decisions.plan.expected import Expected, expected, swaps_at
from headlife.decisions.plan.one_printer import EVEN, is_due
from headlife.decisions.plan.printers_ahead import PrinterAhead, RatedKind, printers_ahead
from headlife.decisions.plan.schedule import PrinterThere, schedule, usual_builds
from headlife.decisions.plan.shared_spares import SharedSpares, share_spares
from headlife.decisions.plan.stocks import MISSING as NOT_THERE
from headlife.decisions.plan.stocks import Stocks
from headlife.display import shows_itself
from headlife.errors import DecisionError
from headlife.fleet.empty import EmptyPosition, empty_of
from headlife.fleet.order_book import booked_hours
from headlife.fleet.usage import planned_hours
from headlife.numbers import positive
from headlife.units import HOURS_PER_DAY

if TYPE_CHECKING:
    from headlife.records.builds import Builds

WEEKS: Final = 4
MOST_WEEKS: Final = 104  # more builds of the usual length tell nothing and fill the memory
PLANNED: Final = "this plan"
AT_RATING: Final = "at the rating"
AS_ON_RECORD: Final = "as on record"
NO_HEAD: Final = "no head"
LIMIT: Final = "limit"
POLICY: Final = "policy"
TOGETHER: Final = "together"
CHEAPER: Final = "cheaper"
PART_USED: Final = "part-used"


@shows_itself
@dataclass(frozen=True)
class BuildPlan(Provenance):
    """Builds on printers, the swaps between them, and what it is expected to cost."""

    builds: pd.DataFrame
    """One row per build that is planned, by printer and start: `row` (in the table), `build,
    printer, site`; `start` and `end` (moments); `build_hours` [h]; `due` (day; empty: none);
    `late_days` [days]; `quality_critical` (no head may pass its rating in it); `spoiled`, the
    chance that a head fails in it [-]."""
    swaps: pd.DataFrame
    """One row per swap, by day: `day, printer, site, position, head_type, role`; `build` (before
    which); `head_out` with `age_out` [h] and `rated_hours` [h]; `head_in` (serial of a part-used
    head; empty: a new one) of `type_in` with `age_in` [h]; `spare`, one of `part-used, on the
    shelf, on order, to order, missing`, with `spare_day` (when it is there, or until when it is to
    be ordered); `together` (both heads in one visit); `why`, one of `limit` (it would pass its
    rating in a quality-critical build), `policy` (it has reached its swap age, or would pass it in
    the build), `together` (the printer is visited anyway) and `cheaper`; `swap_at`, that age
    [h]."""
    left_out: pd.DataFrame
    """One row per build that cannot be done as asked: `row, build, printer, head_type, site,
    build_hours, due`; `why`, one of `no printer, too long, too soon, no head`; `limit` (the
    highest rating there is) [h], `possible` (the first day on which it could be done)."""
    past_rating: pd.DataFrame
    """One row per head that the plan runs past its rating: `head` (empty: one put in by the plan),
    `printer, position, age_hours` (at its end in the plan) and `rated_hours` [h]; `swap_at` by the
    policy in force [h]; `overdue`."""
    overdue: pd.DataFrame
    """One row per head that runs on past its swap age, since no spare is there: columns as
    `past_rating`."""
    left_elsewhere: tuple[tuple[str, str, int], ...]
    """Where sites keep separate stocks, of the types that a site lacks: head type, another site and
    the new heads that the plan leaves on its shelf [heads]."""
    lead_time_weeks: float
    """Weeks until a head ordered today is there [weeks]."""
    costs: pd.DataFrame
    """One row per way to swap (`this plan, at the rating, as on record`): `visits, heads` (less
    what is left in the heads at the end), `failed, late` and their `total` [currency]; `visits_n`,
    `heads_n`, `failed_n` and `critical_n`, quality-critical builds that fail, expected [-]."""
    bound: float
    """Cost that no plan of these builds within these spares is below [currency]."""
    missing: int
    """New heads that are needed and not there [heads]."""
    shared: bool
    """Whether printers had to share spares that do not serve all."""
    set_aside: tuple[str, ...]
    """Sentences about rows of the table that could not be used."""
    unread: tuple[str, ...]
    """Columns of the table that stand for nothing that a plan uses."""
    rows_asked: int
    """Rows of the table of builds; 0 where builds of the usual length are planned [-]."""
    idle: tuple[str, ...]
    """Printers without a build."""
    printers: tuple[str, ...]
    """Every printer in service."""
    first: pd.Timestamp
    """When the first build starts; the day where there is none."""
    until: pd.Timestamp
    """When the last build ends."""
    currency: str
    """Label of amounts."""
    empty: tuple[EmptyPosition, ...] = ()
    """Positions that wait for a head, which the plan does not put in."""

    @property
    def gap(self) -> float:
        """How far the plan's cost may be above the least possible, as a share of it [-]."""
        cost = float(self.costs["total"].iloc[0])
        return max(cost - self.bound, 0.0) / abs(cost) if cost else 0.0


def build_plan(case: Case, builds: Builds | None = None, weeks: float = WEEKS) -> BuildPlan:
    """Plan the swaps of heads in the gaps between the builds ahead.

    Parameters
    ----------
    case : Case
        What `read_case` returned.
    builds : Builds, optional
        What `read_builds` returned; default builds of the settings' usual length, as often as
        each printer prints.
    weeks : float, optional
        How far ahead to plan without a table [weeks].

    Returns
    -------
    BuildPlan
        Same case and builds, same plan.

    Raises
    ------
    HeadlifeError
        The weeks are no positive number, a cost that is needed is not stated, or no build can be
        done on any printer.

    Examples
    --------
    >>> import headlife as hl
    >>> case = hl.read_case("data_demo/removals.csv", shop="data_demo/shop.toml")
    >>> plan = hl.build_plan(case, hl.read_builds("data_demo/builds.csv"))
    >>> len(plan.builds), len(plan.left_out), plan.swaps["printer"].tolist()
    (22, 0, ['Marten', 'Otter', 'Heron', 'Wren', 'Wren', 'Badger'])
    """
    asked = _usual(case, weeks) if builds is None else builds.builds
    stocks = Stocks(case.shop, case.fleet, case.day)
    planned, left_out = schedule(asked, _there(case), case.day)
    printers = printers_ahead(case, planned, stocks)
    shared = share_spares([one.problem for one in printers], stocks.limits)
    printers = [
        replace(one, problem=problem)
        for one, problem in zip(printers, shared.printers, strict=True)
    ]
    happens = [
        expected(one.problem, course) for one, course in zip(printers, shared.courses, strict=True)
    ]
    swaps = _swaps(case.day, printers, shared, stocks)
    costs = _costs(case, printers, happens)
    runs = _runs(printers, shared)
    offset = float(costs["total"].iloc[0]) - shared.cost
    used = set(planned["printer"])
    overdue = runs[runs["overdue"]].reset_index(drop=True)
    left_out = _with_missing(left_out, swaps, planned, case.day, stocks)
    starts = case.day + pd.to_timedelta(planned["start"].astype(float), unit="h")
    ends = case.day + pd.to_timedelta(planned["end"].astype(float), unit="h")
    return BuildPlan(
        **vars(case.provenance),
        builds=_builds(case.day, printers, happens, planned),
        swaps=swaps,
        left_out=left_out,
        past_rating=runs[runs["age_hours"] > runs["rated_hours"] + EVEN].reset_index(drop=True),
        overdue=overdue,
        left_elsewhere=_left_elsewhere(case.fleet.positions, overdue, left_out, stocks),
        lead_time_weeks=case.shop.spares.lead_time_weeks,
        costs=costs,
        bound=shared.bound + offset,
        missing=shared.missing,
        shared=shared.binding,
        set_aside=() if builds is None else tuple(builds.set_aside["sentence"]),
        unread=() if builds is None else builds.unread,
        rows_asked=0 if builds is None else len(builds.builds) + len(builds.set_aside),
        idle=tuple(sorted(set(case.fleet.positions["printer"]) - used)),
        printers=tuple(sorted(set(case.fleet.positions["printer"]))),
        first=starts.min() if len(starts) else case.day,
        until=ends.max() if len(ends) else case.day,
        currency=case.shop.costs.currency,
        empty=empty_of(case.fleet),
    )


def _left_elsewhere(
    positions: pd.DataFrame, overdue: pd.DataFrame, left_out: pd.DataFrame, stocks: Stocks
) -> tuple[tuple[str, str, int], ...]:
    """List the new heads at other sites of the types that a site lacks."""
    sites = dict(zip(positions["printer"], positions["site"], strict=True))
    late = positions.merge(overdue[["printer", "position"]], on=["printer", "position"])
    kinds = zip(late["head_type"], late["role"], late["site"], strict=True)
    lacking = [(stocks.goes_in(*kind), kind[2]) for kind in kinds]
    no_head = left_out[left_out["why"] == NO_HEAD]
    lacking += [
        (name, sites.get(printer))
        for name, printer in zip(no_head["head_type"], no_head["printer"], strict=True)
    ]
    found = {
        (name, other): heads
        for name, site in lacking
        for other, heads in stocks.left_elsewhere(name, site).items()
    }
    return tuple((name, other, heads) for (name, other), heads in sorted(found.items()))


def _usual(case: Case, weeks: float) -> pd.DataFrame:
    """List builds of the usual length, as often as each printer prints."""
    weeks = positive("The weeks to plan for", weeks, "[weeks]")
    if weeks > MOST_WEEKS:
        raise DecisionError(
            f"The weeks to plan for are at most {MOST_WEEKS}; got {weeks:g}. Plan for fewer, and "
            "again when they have passed."
        )
    whole = int(np.ceil(weeks))
    positions = case.fleet.positions
    booked = booked_hours(positions, case.shop.order_book, case.day, whole)
    weekly = planned_hours(positions, case.shop.plans, case.day, whole, booked)
    weekly[:, -1] *= weeks - (whole - 1)
    return usual_builds(positions, weekly, case.shop.review.build_hours, case.day)


def _there(case: Case) -> list[PrinterThere]:
    """Printers in service, as far as the schedule asks."""
    costs, types = case.shop.costs, case.shop.head_types
    visit = costs.calibration_hours + costs.manual_checks * (costs.manual_check_hours or 0.0)
    found = []
    for printer, heads in case.fleet.positions.groupby("printer", sort=True):
        site = heads["site"].iloc[0]
        found.append(
            PrinterThere(
                str(printer),
                site if isinstance(site, str) else None,
                frozenset(heads["head_type"]),
                min(types[name].rated_hours for name in heads["head_type"]),
                visit + len(heads) * (costs.swap_labour_hours or 0.0),
            )
        )
    return found


def _builds(
    day: pd.Timestamp,
    printers: Sequence[PrinterAhead],
    happens: Sequence[Expected],
    planned: pd.DataFrame,
) -> pd.DataFrame:
    """Lay the builds out with their moments and chances."""
    late = np.maximum(planned["end"] - planned["due_hours"], 0.0) / HOURS_PER_DAY
    critical = dict.fromkeys((one.name for one in printers if one.critical), True)
    always = planned["printer"].map(lambda name: critical.get(name, False))
    found = planned.assign(
        start=day + pd.to_timedelta(planned["start"], unit="h"),
        end=day + pd.to_timedelta(planned["end"], unit="h"),
        late_days=np.maximum(np.ceil(late - 1e-9), 0.0),
        quality_critical=planned["quality_critical"] | always.astype(bool),
        spoiled=np.concatenate([np.zeros(0), *(one.spoiled for one in happens)]),
    )
    names = ["row", "build", "printer", "site", "start", "end", "build_hours", "due", "late_days"]
    return found[[*names, "quality_critical", "spoiled"]]


def _swaps(
    day: pd.Timestamp, printers: Sequence[PrinterAhead], shared: SharedSpares, stocks: Stocks
) -> pd.DataFrame:
    """List the swaps by their day, with the spare that each gets."""
    rows = [
        row
        for printer, course in zip(printers, shared.courses, strict=True)
        for row in _swaps_of(printer, course)
    ]
    for row in sorted(rows, key=lambda one: (one["hours"], one["printer"], one["position"])):
        if row["spare"] is None:
            row["spare"], row["there"] = stocks.take(row["type_in"], row["site"], row["hours"])
    names = ["day", "printer", "site", "position", "head_type", "role", "build", "head_out"]
    more = [
        "age_out",
        "rated_hours",
        "head_in",
        "type_in",
        "age_in",
        "spare",
        "spare_day",
        "together",
        "why",
    ]
    more = [*more, "swap_at"]
    found = pd.DataFrame(rows, columns=[*names, *more, "hours", "there"])
    found["day"] = (day + pd.to_timedelta(found["hours"].astype(float), unit="h")).dt.normalize()
    wait = pd.to_timedelta(found["there"].astype(float), unit="h")
    found["spare_day"] = (day + wait).dt.normalize()
    order = found.sort_values(["hours", "printer", "position"], ignore_index=True)
    return order[[*names, *more]]


def _swaps_of(printer: PrinterAhead, course: Sequence[Choice]) -> list[dict[str, Any]]:
    """List one printer's swaps, with the reason for each."""
    problem, rows = printer.problem, []
    passed = np.concatenate([[0.0], np.cumsum(problem.hours)])
    names = [head.head for head in printer.heads]
    zero = [head.age_hours for head in printer.heads]  # age of each had it been there today
    kinds = list(printer.kinds)
    for gap, place, option in gaps_with_swaps(course):
        head, own = printer.heads[place], problem.places[place]
        age = zero[place] + passed[gap]
        used = own.used[option - USED] if option >= USED else None
        both = sum(one != 0 for one in course[gap]) > 1
        kind, new = kinds[place], printer.goes_in[place]
        limits = own.limit_ages[kind is not printer.kinds[place]]
        limit = age + problem.hours[gap] > limits[gap] + EVEN
        due = is_due(age, problem.hours[gap], kind.policy.due_at, own.waits)
        rows.append(
            {
                "hours": float(printer.builds["start"].iloc[gap]),
                "printer": printer.name,
                "site": printer.site,
                "position": head.position,
                "head_type": kind.head_type,
                "role": head.role,
                "build": printer.builds["build"].iloc[gap],
                "head_out": names[place],
                "age_out": age,
                "rated_hours": kind.rated_hours,
                "type_in": new.head_type,
                "head_in": None if used is None else used.name,
                "age_in": 0.0 if used is None else used.age,
                "spare": PART_USED if used else NOT_THERE if option == MISSING else None,
                "there": 0.0 if used else np.nan,
                "together": both,
                "why": LIMIT if limit else POLICY if due else TOGETHER if both else CHEAPER,
                "swap_at": kind.policy.due_at,
            }
        )
        kinds[place] = new
        names[place] = None if used is None else used.name
        zero[place] = (0.0 if used is None else used.age) - passed[gap]
    return rows


def _runs(printers: Sequence[PrinterAhead], shared: SharedSpares) -> pd.DataFrame:
    """List every head that runs in a build of the plan, with its age at its end."""
    names = ["head", "printer", "position", "age_hours", "rated_hours", "swap_at", "overdue"]
    rows: list[tuple[Any, ...]] = []
    for printer, course in zip(printers, shared.courses, strict=True):
        swaps = {(gap, place): option for gap, place, option in gaps_with_swaps(course)}
        for place, head in enumerate(printer.heads):
            own, kind = printer.problem.places[place], printer.kinds[place]
            name, age, overdue = head.head, float(head.age_hours), None  # in no build yet
            due, rated = kind.policy.due_at, kind.rated_hours
            for gap, hours in enumerate(printer.problem.hours):
                option = swaps.get((gap, place))
                if option is not None:
                    rows.append((name, printer.name, head.position, age, rated, due, overdue))
                    used = own.used[option - USED] if option >= USED else None
                    kind = printer.goes_in[place]
                    due, rated = kind.policy.due_at, kind.rated_hours
                    name, age, overdue = (used.name, used.age, None) if used else (None, 0.0, None)
                past = bool(is_due(age, hours, due, own.waits))
                age, overdue = age + hours, past or bool(overdue)
            rows.append((name, printer.name, head.position, age, rated, due, overdue))
    found = pd.DataFrame(rows, columns=names)
    ran = found[found["overdue"].notna()]
    return ran.assign(overdue=ran["overdue"].astype(bool))


def _costs(
    case: Case, printers: Sequence[PrinterAhead], happens: Sequence[Expected]
) -> pd.DataFrame:
    """Price the plan, and swapping by fixed ages beside it."""
    lags = case.fleet.swap_lag
    ways: dict[str, list[Expected]] = {PLANNED: list(happens), AT_RATING: [], AS_ON_RECORD: []}
    for one in printers:
        kinds = list(zip(one.kinds, one.goes_in, strict=True))
        rated = [(now.rated_hours, new.rated_hours) for now, new in kinds]
        never = [(np.inf, np.inf)] * len(kinds)
        practice = [(_practised(now, lags), _practised(new, lags)) for now, new in kinds]
        join = [(now.policy.join_from, new.policy.join_from) for now, new in kinds]
        for name, due, along in (
            (AT_RATING, rated, never),
            (AS_ON_RECORD, practice, join),
        ):
            ways[name].append(expected(one.problem, swaps=swaps_at(one.problem, due, along)))
    return pd.DataFrame([_priced(name, printers, own) for name, own in ways.items()])


def _practised(kind: RatedKind, lags: Mapping[str, float]) -> float:
    """Age at which heads of a kind come out on record [h]."""
    return kind.policy.comes_out_at + lags.get(kind.head_type, 0.0)


def _priced(
    name: str, printers: Sequence[PrinterAhead], happens: Sequence[Expected]
) -> dict[str, Any]:
    """Add up one way over the printers."""
    row: dict[str, Any] = dict.fromkeys(("visits", "heads", "failed", "late"), 0.0)
    row |= dict.fromkeys(("visits_n", "heads_n", "failed_n", "critical_n"), 0.0)
    for printer, own in zip(printers, happens, strict=True):
        costs = own.costs(printer.problem)
        start = printer.problem.worth([np.array([head.age_hours]) for head in printer.heads])
        late = float(printer.late @ own.spoiled)
        critical = np.array([np.isfinite(place.limits) for place in printer.problem.places])
        row["visits"] += costs["visits"]
        row["heads"] += costs["heads"] + costs["end"] - float(start.item())
        row["failed"] += costs["failed"] - late
        row["late"] += late + printer.late_anyway
        row["visits_n"] += own.visits
        row["heads_n"] += float(own.heads.sum())
        row["failed_n"] += float(own.spoiled.sum())
        row["critical_n"] += float(own.spoiled @ critical.any(axis=0))
    total = sum(row[part] for part in ("visits", "heads", "failed", "late"))
    return {"way": name, **row, "total": total}


def _with_missing(
    left_out: pd.DataFrame,
    swaps: pd.DataFrame,
    planned: pd.DataFrame,
    day: pd.Timestamp,
    stocks: Stocks,
) -> pd.DataFrame:
    """Add the builds for which a head is missing, and when one ordered today would be there."""
    lacking = swaps[swaps["spare"] == NOT_THERE]
    if not len(lacking):
        return left_out
    possible = (day + pd.Timedelta(hours=stocks.lead_hours)).normalize()
    found = planned.merge(
        lacking[["printer", "build", "head_type"]], on=["printer", "build"], suffixes=("_asked", "")
    )
    more = found.assign(why=NO_HEAD, possible=possible, limit=np.nan)[list(left_out.columns)]
    rows = [*left_out.to_dict("records"), *more.to_dict("records")]
    named = pd.DataFrame(rows, columns=left_out.columns)
    return named.sort_values("row", ignore_index=True)
