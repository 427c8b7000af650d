"""What stands in the printers and how do they work? From records, whole or in parts that add.

Every part holds all rows of its heads. Each is reduced to a `FleetPart` and, once the last day on
record is known, to `Habits`; parts put together give one `Fleet`, with the same digits however
the records were divided. A table is a record of one part. Never forecasts, and knows nothing of
who runs it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import pandas as pd

from headlife.errors import DecisionError
from headlife.fleet.coming import refuse_printers_on_record
from headlife.fleet.empty import empty_positions, last_used_up
from headlife.fleet.habits import MaterialChanges, handovers, material_changes
from headlife.fleet.lateness import late_rows, late_sums, swap_lags
from headlife.fleet.past_hours import latest, learn_workload
from headlife.fleet.practised import as_practised, installations, practised
from headlife.fleet.refurbished import refurbished
from headlife.fleet.state import Fleet
from headlife.fleet.succession import giving_way
from headlife.fleet.usage import add_variation, usage_variation, variation_sums
from headlife.fleet.workload import Workload
from headlife.records.as_of import day_of, known_on
from headlife.records.frames import OF_THE_HEAD
from headlife.records.lives import carried_forward, open_installations
from headlife.records.places import latest_starts, superseded
from headlife.records.usage import (
    Shares,
    in_usual_days,
    learned_hours,
    role_shares,
    stated_usage,
    stints,
    usage_sums,
)
from headlife.shop.columns import OF_PURCHASES
from headlife.shop.policy_book import policies_after

if TYPE_CHECKING:
    from headlife.fleet.practised import Practised
    from headlife.records.record_set import Records
    from headlife.shop import Shop
    from headlife.shop.work import Plan

_OPEN_COLUMNS: Final = (
    *("head", "head_type", "role", "site", "printer", "position"),
    *("date_in", "date_out", "hours_out", "reason", "material", "date_first", "refurbished"),
    "hours_first",
)
_SHELF_COLUMNS: Final = ("head", "head_type", "role", "site", "exit_hours")


@dataclass(frozen=True)
class FleetPart:
    """What some heads, with all their rows, add to the fleet."""

    open_rows: pd.DataFrame
    """Last installations without a removal."""
    starts: pd.Series
    """Latest start by printer and position."""
    used_up: pd.DataFrame
    """The last head used up in each position, from `empty.last_used_up`."""
    shelf: pd.DataFrame
    """Part-used heads that can go back in: `head, head_type, role, site, exit_hours` [h], and the
    columns that tell their purchases apart, where the records have them."""
    printers: frozenset[str]
    """Printers with a row in the records."""
    sites: frozenset[str]
    """Sites with a row in the records."""
    variation: pd.DataFrame
    """How far print hours vary, from `variation_sums`."""
    followed: pd.DataFrame | None
    """Which head followed which, from `handovers`; None where the record is too large for it."""
    installations: pd.DataFrame | None
    """What tells how heads are swapped, from `practised.installations`; None where the record is
    too large for it."""
    latest: pd.DataFrame | None
    """The latest installations of every printer: `printer, role, site, day_in, day_out` [days],
    `run` [h]; None where the record is too large for it."""


@dataclass(frozen=True)
class Stints:
    """What waits for the last day on record before it can be added up."""

    ran: pd.DataFrame
    """How long and how much each installation ran, from `records.usage.stints`."""
    late: pd.DataFrame
    """Installations that tell how late heads are swapped, from `late_rows`."""

    @property
    def last(self) -> int:
        """Last day among them (days since 1970); 0 where there is none."""
        return int(self.ran["day_out"].max()) if len(self.ran) else 0

    def sums(self, latest: int, day: pd.Timestamp, shop: Shop) -> Habits:
        """Add up print hours, seen from the last reading of all parts, and late swaps by the day.

        Parameters
        ----------
        latest : int
            Last day among all parts (days since 1970).
        day : pandas.Timestamp
            The day asked for, or the last on record: its policy tells what is late.
        shop : Shop
            The shop's settings.

        Returns
        -------
        Habits
            How the shop swaps.
        """
        policies = policies_after(shop, day)
        used = in_usual_days(self.ran, shop.plans, latest)
        return Habits(usage_sums(used, latest), late_sums(self.late, policies))


@dataclass(frozen=True)
class Habits:
    """How the shop works, as sums that add."""

    used: pd.DataFrame
    """Print hours and days by printer and role, from `usage_sums`."""
    late: pd.DataFrame
    """Hours past due and late swaps by head type, from `late_sums`."""


def fleet_part(
    records: Records, as_of: Any, lives: pd.DataFrame, circulation: bool = True
) -> tuple[FleetPart, Stints]:
    """Reduce the records of some heads to what they add to the fleet.

    Parameters
    ----------
    records : Records
        Every row of these heads; at least one was on record on the day.
    as_of : date or None
        Look at the records as they were known on this day.
    lives : pandas.DataFrame
        Their lives as they were known on that day.
    circulation : bool
        Whether to keep which head followed which and how heads are swapped, lines for every row.

    Returns
    -------
    FleetPart
        What they add to the fleet.
    Stints
        How long they stayed in and what came after.
    """
    shop = records.shop
    rows, reusable = records.accepted, shop.reasons.reusable
    known, begun = rows, known_on(records, as_of)
    if as_of is not None:
        # What a printer ran later was not known.
        known = rows[rows["date_out"] <= pd.Timestamp(day_of(as_of))]
    # Heads that nobody wrote down as removed; whether their position went to another head only
    # all parts together can tell.
    in_still = lives.loc[lives["mode"].isna() & lives["suspension"].isna(), "head"]
    theirs = replace(records, accepted=rows[rows["head"].isin(in_still)])
    none = rows.iloc[:0]
    none = none.assign(date_first=none["date_in"], hours_first=none["hours_in"])
    here = open_installations(theirs, as_of)[0] if len(in_still) else none
    columns = [name for name in (*_OPEN_COLUMNS, *OF_THE_HEAD, *shop.own_columns) if name in here]
    # Names as plain texts: categories of other parts are other ones.
    plain = {"head": object, "printer": object}
    ran = stints(records, as_of)
    ran = ran.astype(dict.fromkeys(("printer", "role", "site"), "category"))
    part = FleetPart(
        open_rows=here[columns].astype(plain).reset_index(drop=True),
        starts=latest_starts(begun),
        used_up=last_used_up(begun, shop),
        shelf=_on_shelf(lives),
        printers=frozenset(str(name) for name in rows["printer"].unique()),
        sites=frozenset(str(name) for name in rows["site"].dropna().unique()),
        variation=variation_sums(known),
        followed=handovers(begun, reusable) if circulation else None,
        installations=installations(begun, reusable) if circulation else None,
        latest=_latest(ran) if circulation else None,
    )
    return part, Stints(ran, late_rows(known, reusable, shop))


def _on_shelf(lives: pd.DataFrame) -> pd.DataFrame:
    columns = [*_SHELF_COLUMNS, *(name for name in OF_PURCHASES if name in lives)]
    return lives.loc[lives["on_shelf"].astype(bool), columns].astype({"head": object})


def fleet_of(
    parts: Sequence[FleetPart],
    habits: Sequence[Habits],
    shop: Shop,
    source: str,
    day: pd.Timestamp,
) -> Fleet:
    """Put parts together.

    Parameters
    ----------
    parts : sequence of FleetPart
        At least one.
    habits : sequence of Habits
        Of every part.
    shop : Shop
        The shop's settings.
    source : str
        What to call the record in messages.
    day : pandas.Timestamp
        The day: the one asked for, or the last on record.

    Returns
    -------
    Fleet
        The fleet.

    Raises
    ------
    HeadlifeError
        A printer that the settings call new has rows in the records, or `[usage]` or `[policy]`
        name one that has none.
    """
    printers = sorted(frozenset[str]().union(*(part.printers for part in parts)))
    refuse_printers_on_record(shop, printers, source)
    policies_after(shop, day).refuse_unknown_printers({*printers, *shop.new_printers})
    used = _added([one.used for one in habits])
    shares = role_shares(used)
    weekly = learned_hours(used, shares) | stated_usage(shop, printers, source)
    today = day.to_datetime64().astype("M8[D]")
    starts = pd.concat([part.starts for part in parts]).groupby(level=0, sort=False).max()
    here = carried_forward(_still_in(parts, starts), today, weekly, shares, shop)
    used_up = [part.used_up for part in parts]
    by_place = ["head_type", "role", "printer", "position"]
    shelf = _below(part.shelf for part in parts).rename(columns={"exit_hours": "age_hours"})
    variation = add_variation([part.variation for part in parts])
    week_sd, weeks_learned = usage_variation(variation, shares)
    followed = [part.followed for part in parts if part.followed is not None]
    done = _practised(parts, shop, day)
    follows, late = as_practised(done, shop, day)
    return Fleet(
        positions=here.sort_values(by_place, kind="stable").reset_index(drop=True),
        shelf=shelf.sort_values(["head_type", "role", "head"], kind="stable", ignore_index=True),
        empty=empty_positions(used_up, starts, here, weekly, shares, shop.usage, day),
        week_sd=week_sd,
        weeks_learned={name: w for name, w in weeks_learned.items() if name not in shop.usage},
        changes=material_changes(_below(followed)) if followed else MaterialChanges(),
        sites=frozenset[str]().union(*(part.sites for part in parts)),
        giving_way=giving_way(_below(followed)) if followed and not shop.policy.confirmed else (),
        refurbished=refurbished(_below(followed)) if followed else (),
        swap_lag=swap_lags(_added([one.late for one in habits])) | late,
        follows=follows,
        practised=done,
        # Hours that the shop states are its word: what they share is learned where some are not.
        workload=_workload(parts, shares, shop.plans) if set(printers) - set(shop.usage) else None,
    )


def _latest(ran: pd.DataFrame) -> pd.DataFrame:
    """Keep what tells how print hours vary and grow."""
    kept = latest(
        ran["printer"].to_numpy(dtype=str),
        *(ran[name].to_numpy(dtype=np.float64) for name in ("day_in", "day_out", "run")),
    )
    return ran.iloc[kept].astype(dict.fromkeys(("printer", "role", "site"), object))


def _practised(parts: Sequence[FleetPart], shop: Shop, day: pd.Timestamp) -> tuple[Practised, ...]:
    """Tell what is done beside what is stated; nothing where that was not kept."""
    kept = [part.installations for part in parts if part.installations is not None]
    if not kept:
        return ()
    # In the order of one table, so that sums have the same digits.
    rows = _below(kept).sort_values("row", kind="stable", ignore_index=True)
    return practised(rows, shop, day)


def _workload(
    parts: Sequence[FleetPart], shares: Shares, plans: Mapping[str, Plan]
) -> Workload | None:
    """Learn how print hours vary and grow; None where too little is on record."""
    rows = [part.latest for part in parts if part.latest is not None and len(part.latest)]
    if not rows:
        return None
    table = _below(rows)
    table = in_usual_days(table, plans, int(table["day_out"].max()))
    places = zip(table["printer"], table["role"], strict=True)
    # What the printer ran meanwhile.
    run = table["run"] / np.array([shares.get((str(p), str(r)), 1.0) for p, r in places])
    try:
        return learn_workload(
            table["printer"], table["day_in"], table["day_out"], run, table["role"]
        )
    except DecisionError:
        return None


def last_day(latest: int, as_of: Any) -> pd.Timestamp:
    """Give the day an answer speaks of: the one asked for, or the last (days since 1970).

    Parameters
    ----------
    latest : int
        Last day of the records, in days since 1970.
    as_of : str or date
        Day asked for; None for the last.

    Returns
    -------
    pd.Timestamp
        The day.
    """
    return pd.Timestamp(latest, unit="D") if as_of is None else pd.Timestamp(day_of(as_of))


def _still_in(parts: Sequence[FleetPart], starts: pd.Series) -> pd.DataFrame:
    """Open installations whose position no other head was given later."""
    here = _below(part.open_rows for part in parts)
    still: pd.DataFrame = here[~superseded(here, starts)]
    return still


def _below(tables: Any) -> pd.DataFrame:
    """Put tables below each other; empty ones have no types to agree with."""
    given = list(tables)
    below: pd.DataFrame = pd.concat([t for t in given if len(t)] or given[:1], ignore_index=True)
    return below


def _added(tables: Sequence[pd.DataFrame]) -> pd.DataFrame:
    """Add sums that stand in tables, line by line."""
    given = [table for table in tables if len(table)] or list(tables[:1])
    whole = pd.concat(given)
    added: pd.DataFrame = whole.groupby(level=list(range(whole.index.nlevels))).sum()
    return added
