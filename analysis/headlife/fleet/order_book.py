"""How many hours do the builds on order take, printer by printer and week by week?

From the order book in the settings: print hours booked between two days, on one printer, at one
site, where one head type is in service, or for all. As far as it reaches it takes the place of
what the records say of print hours; beyond it they count again. Never forecasts a swap.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from headlife.errors import DecisionError
from headlife.fleet.concerned import concerned
from headlife.numbers import Floats
from headlife.units import DAYS_PER_WEEK, HOURS_PER_DAY

if TYPE_CHECKING:
    import pandas as pd

    from headlife.shop import Booking

_DAY: Final = np.timedelta64(1, "D")


@dataclass(frozen=True, eq=False)
class Booked:
    """What the order book says of every position and week ahead."""

    hours: Floats
    """Print hours of builds booked, positions x weeks [h]."""
    share: Floats
    """Share of each week that the book covers, positions x weeks [-]."""


@dataclass(frozen=True)
class BookEnd:
    """An order book that ends before the answer does, or begins only after it."""

    name: str
    """Its name in the settings."""
    begins: datetime.date
    """Its first day."""
    ends: datetime.date
    """Its last day."""
    over: bool
    """Whether that day has passed, so that it does not count at all."""
    yet: bool = False
    """Whether it begins only after the answer's last day, so that it does not count yet."""


def booked_hours(
    positions: pd.DataFrame, book: Mapping[str, Booking], start: pd.Timestamp, weeks: int
) -> Booked:
    """Give the hours booked of every position in every week ahead.

    Parameters
    ----------
    positions : pandas.DataFrame
        One row per position with `printer, site, head_type`, `weekly_hours` [h]
        and `share_of_hours` [-].
    book : mapping of str to Booking
        Hours booked between two days, by their names.
    start : pandas.Timestamp
        First day of the first week.
    weeks : int
        Number of weeks.

    Returns
    -------
    Booked
        Hours of a booking are spread evenly over its days, and over its printers as they usually
        print.

    Raises
    ------
    DecisionError
        A booking is about a printer, a site or a head type that is not in service, two speak of
        one printer on one day, or its printers have fewer hours in all.
    """
    first = np.arange(weeks, dtype=np.float64) * DAYS_PER_WEEK
    run = positions["share_of_hours"].to_numpy(dtype=np.float64)[:, None]
    hours, share = (np.zeros((len(positions), weeks)) for _ in range(2))
    spoken_for: dict[str, list[tuple[str, Booking]]] = {}
    for name, booking in book.items():
        printers = _printers(positions, name, booking)
        _refuse_too_many_hours(name, booking, len(printers))
        for printer in printers:
            _refuse_two(printer, name, booking, spoken_for.setdefault(printer, []))
        begins = float((np.datetime64(booking.begins, "D") - start.to_datetime64()) / _DAY)
        days = float((booking.ends - booking.begins).days + 1)
        covered = np.minimum(first + DAYS_PER_WEEK, begins + days) - np.maximum(first, begins)
        covered = np.clip(covered, 0.0, DAYS_PER_WEEK)
        for printer, part in printers.items():
            rows = (positions["printer"] == printer).to_numpy(dtype=bool)
            hours[rows] += run[rows] * part * booking.hours * covered / days
            share[rows] += covered / DAYS_PER_WEEK
    return Booked(hours, share)


def book_ends(
    book: Mapping[str, Booking], start: datetime.date, weeks: float
) -> tuple[BookEnd, ...]:
    """Name the bookings that end before a horizon does or begin after it, the first to end first.

    Parameters
    ----------
    book : mapping of str to Booking
        The order book.
    start : date
        First day of the horizon.
    weeks : float
        The horizon [weeks].

    Returns
    -------
    tuple of BookEnd
        Empty where the book reaches all the way, or there is none.
    """
    last = start + datetime.timedelta(days=int(weeks * DAYS_PER_WEEK) - 1)
    every = [
        BookEnd(name, one.begins, one.ends, one.ends < start, one.begins > last)
        for name, one in book.items()
    ]
    told = (one for one in every if one.ends < last or one.yet)
    return tuple(sorted(told, key=lambda one: one.ends))


def _printers(positions: pd.DataFrame, name: str, booking: Booking) -> dict[str, float]:
    """Printers that a booking is about, and the part of it that each prints [-]."""
    mine = concerned(positions, f"The order book '{name}'", booking)
    whole_hours = positions["weekly_hours"] / positions["share_of_hours"]
    usual = whole_hours[mine].groupby(positions["printer"][mine], sort=True).first()
    if not len(usual):
        raise DecisionError(
            f"The order book '{name}' is about no printer in service: none has all that it names. "
            "Leave out its site or its head type."
        )
    whole = float(usual.sum())
    return {
        str(printer): float(one) / whole if whole > 0 else 1.0 / len(usual)
        for printer, one in usual.items()
    }


def _refuse_too_many_hours(name: str, booking: Booking, printers: int) -> None:
    days = (booking.ends - booking.begins).days + 1
    most = printers * days * HOURS_PER_DAY
    if booking.hours > most:
        raise DecisionError(
            f"The order book '{name}' books {booking.hours:,.0f} print hours from {booking.begins} "
            f"to {booking.ends}, but those days have {most:,.0f} h for all of its printers (there: "
            f"{printers}). Correct its hours or its days."
        )


def _refuse_two(
    printer: str, name: str, booking: Booking, earlier: list[tuple[str, Booking]]
) -> None:
    for other, one in earlier:
        if one.begins <= booking.ends and booking.begins <= one.ends:
            raise DecisionError(
                f"The order books '{other}' and '{name}' both say what {printer} prints on "
                f"{max(one.begins, booking.begins)}; state its hours in one of them."
            )
    earlier.append((name, booking))
