"""Which positions stand empty and want a head? From the last head that each position had.

A head was used up there and none has gone in since, while the printer's other head is in: the next
one that there is goes in, and the printer prints on. A printer without any head, or a position
empty for longer, is taken to be used no more, unless the settings state what the printer prints.
Never forecasts.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple

import numpy as np
import pandas as pd

from headlife.fleet.on_hand import NO_SITE
from headlife.records.places import place_of

if TYPE_CHECKING:
    from headlife.fleet.state import Fleet
    from headlife.numbers import Floats
    from headlife.records.usage import Shares
    from headlife.shop import Shop

# Own choice, no source: lead times and order days of most shops together are shorter, and a printer
# whose second head nobody replaced for so long rather prints with one.
EMPTY_DAYS: Final = 182
_OF_THE_PLACE: Final = ("head_type", "role", "site", "printer", "position")


class EmptyPosition(NamedTuple):
    """A position that waits for a head."""

    printer: str
    """Name of the printer."""
    position: str
    """Position in it."""
    since: datetime.date
    """Day on which its last head came out."""


def last_used_up(rows: pd.DataFrame, shop: Shop) -> pd.DataFrame:
    """Give the last head of each position that was used up there, where it may matter.

    Parameters
    ----------
    rows : pandas.DataFrame
        Accepted rows as they were known on the day.
    shop : Shop
        Its kinds of suspension after which a head can go back in, and the print hours it states.

    Returns
    -------
    pandas.DataFrame
        By printer and position: `head_type, role, site, printer, position`, and the days `put_in`
        and `since` on which it went in and came out; of the half-year before the last day here, or
        of printers whose hours are stated.
    """
    used_up = rows["reason"].notna() & ~rows["suspension"].isin(shop.reasons.reusable)
    oldest = rows["date_out"].max() - pd.Timedelta(days=EMPTY_DAYS)
    kept = (rows["date_out"] >= oldest) | rows["printer"].isin(shop.usage)
    gone = rows[(used_up & kept).to_numpy(dtype=bool)]
    table = gone[list(_OF_THE_PLACE)].astype(object)
    table = table.assign(put_in=gone["date_in"], since=gone["date_out"])
    table.index = pd.Index(place_of(gone), dtype=object)
    return _last(table)


def empty_positions(
    used_up: Sequence[pd.DataFrame],
    starts: pd.Series,
    here: pd.DataFrame,
    weekly: Mapping[str, float],
    shares: Shares,
    stated: Collection[str],
    day: pd.Timestamp,
) -> pd.DataFrame:
    """Find the positions that want a head.

    Parameters
    ----------
    used_up : sequence of DataFrame
        From `last_used_up`, of every part of the records.
    starts : Series of int
        Day on which each position was last given a head (days since 1970).
    here : DataFrame
        Positions with a head in.
    weekly : mapping of str to float
        Print hours a week of each printer [h].
    shares : mapping of (str, str) to float
        Printer and role -> share of its hours that the head there runs [-]; 1 where not named.
    stated : collection of str
        Printers whose print hours the settings state; how long they are empty does not matter.
    day : pandas.Timestamp
        The day.

    Returns
    -------
    DataFrame
        `head_type, role, site, printer, position, since` (day on which the last head came out),
        `age_hours` (0: a new head goes in), `weekly_hours` [h] and `share_of_hours` [-]; by printer
        and position.
    """
    table = _last(pd.concat([part for part in used_up if len(part)] or used_up[:1]))
    since = pd.to_datetime(table["since"])
    put_in = pd.to_datetime(table["put_in"]).to_numpy().astype("datetime64[D]").astype(np.int64)
    left = ~table.index.isin(place_of(here)) & (starts[table.index].to_numpy() <= put_in)
    in_use = table["printer"].isin(here["printer"]) & ((day - since).dt.days <= EMPTY_DAYS)
    table = table[left & (in_use | table["printer"].isin(stated)).to_numpy(dtype=bool)]
    places = zip(table["printer"].astype(str), table["role"].astype(str), strict=True)
    share = np.array([shares.get(place, 1.0) for place in places], dtype=np.float64)
    hours = np.array([weekly.get(str(name), 0.0) for name in table["printer"]]) * share
    found = table.drop(columns="put_in").assign(
        age_hours=0.0, weekly_hours=hours, share_of_hours=share
    )
    found = found[hours > 0.0]
    return found.sort_values(["printer", "position"], kind="stable", ignore_index=True)


def empty_of(fleet: Fleet) -> tuple[EmptyPosition, ...]:
    """List the positions of a fleet that wait for a head.

    Parameters
    ----------
    fleet : Fleet
        With its empty positions.

    Returns
    -------
    tuple of EmptyPosition
        By printer and position.
    """
    if fleet.empty is None:
        return ()
    return tuple(_named(row) for row in fleet.empty.to_dict("records"))


def waiting_positions(
    fleet: Fleet, hours: Floats, strata: Collection[tuple[str, str]]
) -> dict[tuple[str, str, str], list[EmptyPosition]]:
    """List the empty positions that take a head: where anything is printed in the weeks ahead.

    Parameters
    ----------
    fleet : Fleet
        With its empty positions.
    hours : array of float
        Print hours of `coming.with_coming`'s positions in every week ahead [h], positions x weeks.
    strata : collection of (head type, role)
        Those that can be forecast.

    Returns
    -------
    dict
        By head type, role and site, the positions.
    """
    found: dict[tuple[str, str, str], list[EmptyPosition]] = {}
    if fleet.empty is None:
        return found
    first = len(fleet.positions)
    prints = hours[first : first + len(fleet.empty)].sum(axis=1) > 0.0
    rows: list[dict[str, Any]] = fleet.empty[prints].to_dict("records")
    for row in rows:
        if (row["head_type"], row["role"]) in strata:
            site = row["site"] if isinstance(row["site"], str) else NO_SITE
            found.setdefault((row["head_type"], row["role"], site), []).append(_named(row))
    return found


def _named(row: Any) -> EmptyPosition:
    return EmptyPosition(row["printer"], row["position"], row["since"].date())


def _last(table: pd.DataFrame) -> pd.DataFrame:
    """Keep the last row of every position."""
    table = table.sort_values(["since", "put_in"], kind="stable")
    last: pd.DataFrame = table[~table.index.duplicated(keep="last")]
    return last
