"""Which positions will there be? Those in service, empty ones, and printers that will come.

A printer that is not in the records yet comes with a new head in each role, which is not taken
from the stock; from its first day on it runs the hours stated and is swapped like the others.
Never forecasts.
"""

from __future__ import annotations

import datetime
from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.errors import SettingsError
from headlife.units import DAYS_PER_WEEK

if TYPE_CHECKING:
    import pandas as pd

    from headlife.fleet.state import Fleet
    from headlife.shop import Shop

ROLES: Final = ("model", "support")
_COLUMNS: Final = (
    "head_type",
    "role",
    "site",
    "printer",
    "age_hours",
    "weekly_hours",
    "share_of_hours",
)


@dataclass(frozen=True)
class ComingHead:
    """A head of a printer that will come."""

    printer: str
    """Name of the printer."""
    role: str
    """model or support."""
    head_type: str
    """Head type."""
    site: str | None
    """Where the printer will stand; None where the settings name no site."""
    begins: datetime.date
    """First day of printing."""
    weekly_hours: float
    """Print hours a week from then on [h]."""
    weeks: float
    """Weeks of the horizon in which it prints; 0 where it comes later [weeks]."""
    known: bool
    """Whether a head of this type has run in this role, so that its life can be forecast."""


def refuse_printers_on_record(shop: Shop, on_record: Collection[str], source: str) -> None:
    """Make sure that no printer is counted twice.

    Parameters
    ----------
    shop : Shop
        The shop's settings.
    on_record : collection of str
        Printers with a row in the records.
    source : str
        Name of the records file.

    Raises
    ------
    SettingsError
        A new printer is on record, capitals and spaces aside.
    """
    there = {_key(name): name for name in on_record}
    for name in shop.new_printers:
        if _key(name) in there:
            raise SettingsError(
                f'[new_printers."{name}"] is on record already: {source} has rows of the printer '
                f"'{there[_key(name)]}', so it would be counted twice. Delete that table; hours "
                'that change go into [plans."NAME"].'
            )


def with_coming(fleet: Fleet, shop: Shop, start: pd.Timestamp) -> pd.DataFrame:
    """Add the positions that wait for a head, and those of printers that will come, to the others.

    Parameters
    ----------
    fleet : Fleet
        What is in service.
    shop : Shop
        Its `new_printers`.
    start : pandas.Timestamp
        First day of the forecast.

    Returns
    -------
    pandas.DataFrame
        `head_type, role, site, printer, age_hours` [h], `weekly_hours` [h] and `share_of_hours`
        [-] of the positions in service, then of those that are empty and get a new head, then of
        those that will come, and the first day `begins` of these, blank for the others.

    Raises
    ------
    SettingsError
        A new printer was to begin before the start, is in service, or lacks the site that
        separate stocks need.
    """
    import pandas as pd

    here = fleet.positions
    refuse_printers_on_record(shop, set(here["printer"].astype(str)), "the fleet in service")
    shares = here.groupby("role")["share_of_hours"].mean().to_dict()
    share = {role: float(shares.get(role, 1.0)) for role in ROLES}
    rows = [
        (
            *(getattr(printer, role), role, printer.site, name, 0.0),
            *(printer.weekly_hours * share[role], share[role]),
        )
        for name, printer in shop.new_printers.items()
        for role in ROLES
    ]
    for name in shop.new_printers:
        _check(name, shop, start)
    days = [printer.begins for printer in shop.new_printers.values() for _ in ROLES]
    empty = here.iloc[:0] if fleet.empty is None else fleet.empty
    table = {
        column: [*here[column], *empty[column], *(row[place] for row in rows)]
        for place, column in enumerate(_COLUMNS)
    }
    begins = pd.Series([pd.NaT] * (len(here) + len(empty)) + [pd.Timestamp(day) for day in days])
    return pd.DataFrame(table).assign(begins=begins.astype("datetime64[ns]"))


def coming_heads(
    shop: Shop, known: Collection[tuple[str, str]], start: pd.Timestamp, weeks: float
) -> tuple[ComingHead, ...]:
    """Give the heads of printers that will come, for notes.

    Parameters
    ----------
    shop : Shop
        Its `new_printers`.
    known : collection of (head type, role)
        Strata with a life to forecast with.
    start : pandas.Timestamp
        First day of the forecast.
    weeks : float
        Horizon [weeks].

    Returns
    -------
    tuple of ComingHead
        The heads, with the day from which they are used.
    """
    return tuple(
        ComingHead(
            printer=name,
            role=role,
            head_type=getattr(printer, role),
            site=printer.site,
            begins=printer.begins,
            weekly_hours=printer.weekly_hours,
            weeks=weeks_ahead(printer.begins, start, weeks),
            known=(getattr(printer, role), role) in known,
        )
        for name, printer in shop.new_printers.items()
        for role in ROLES
    )


def weeks_ahead(begins: datetime.date, start: pd.Timestamp, weeks: float) -> float:
    """Weeks from a printer's first day to the end of the horizon [weeks].

    Parameters
    ----------
    begins : datetime.date
        First day of the printer.
    start : pd.Timestamp
        First day of the horizon.
    weeks : float
        The horizon [weeks].

    Returns
    -------
    float
        Weeks, none below 0 or beyond the horizon [weeks].
    """
    wait = (np.datetime64(begins, "D") - start.to_datetime64()) / np.timedelta64(1, "D")
    return float(np.clip(weeks - wait / DAYS_PER_WEEK, 0.0, weeks))


def _check(name: str, shop: Shop, start: pd.Timestamp) -> None:
    printer = shop.new_printers[name]
    if np.datetime64(printer.begins, "D") < start.to_datetime64().astype("datetime64[D]"):
        raise SettingsError(
            f'[new_printers."{name}"] begins on {printer.begins.isoformat()}, before the day '
            f"looked at ({start.date().isoformat()}), and is not on record: enter its heads in "
            "the records and delete that table, or write the day on which it will really begin."
        )
    if shop.spares.sites == "separate" and printer.site is None:
        raise SettingsError(
            f"[spares] sites is 'separate', so [new_printers.\"{name}\"] must say where it will "
            "stand; add its site."
        )


def _key(name: str) -> str:
    return " ".join(name.split()).casefold()
