"""On which printer and when does each of the builds ahead run?

From builds and the printers in service. A rule, not the best there is: the build with the earliest
due day first, on the printer that fits and would end it first (of several the one with the fewest
hours so far), in the first stretch of time that is free; between two builds there is always time
for a visit. A build that no printer can do, or none by its day, is left out and named. Knows no
age of a head.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.units import HOURS_PER_DAY

NO_PRINTER: Final = "no printer"
TOO_LONG: Final = "too long"
TOO_SOON: Final = "too soon"
_HOUR: Final = np.timedelta64(1, "h")


@dataclass(frozen=True)
class PrinterThere:
    """A printer in service, as far as a schedule asks."""

    name: str
    """Its name."""
    site: str | None
    """Where it stands."""
    head_types: frozenset[str]
    """Types of its heads."""
    rated_hours: float
    """Lowest rating of its heads [h]: no build is longer."""
    pause: float
    """Time kept for a visit between two builds [h]."""


@dataclass
class _Free:
    """The time of one printer that is taken."""

    taken: list[tuple[float, float]] = field(default_factory=list)

    def start(self, earliest: float, hours: float, pause: float) -> float:
        """First start from which a build fits, with a pause to both sides [h]."""
        start = earliest
        for begins, ends in self.taken:
            if start + hours + pause <= begins:
                return start
            start = max(start, ends + pause)
        return start

    @property
    def hours(self) -> float:
        return sum(ends - begins for begins, ends in self.taken)


def schedule(
    builds: pd.DataFrame, printers: Sequence[PrinterThere], day: pd.Timestamp
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Give every build a printer and a time, or a reason why not.

    Parameters
    ----------
    builds : pandas.DataFrame
        As in `Builds.builds`.
    printers : sequence of PrinterThere
        Printers in service.
    day : pandas.Timestamp
        Today; no build starts before.

    Returns
    -------
    planned : pandas.DataFrame
        The rows with their `printer`, `start` and `end` (hours from the day) and `due_hours`, the
        end of the due day (infinite: none) [h], by printer and start.
    left_out : pandas.DataFrame
        The others: `row, build, printer, head_type, site, build_hours, due`, `why` (`NO_PRINTER`,
        `TOO_LONG`, `TOO_SOON`), `limit` (the highest rating there is) [h] and `possible` (the
        first day on which it could be done).
    """
    wait = _hours(builds["earliest"], day).clip(lower=0.0).fillna(0.0)
    until = (_hours(builds["due"], day) + HOURS_PER_DAY).fillna(np.inf)
    asked = builds.assign(_wait=wait, due_hours=until)
    free = {one.name: _Free() for one in printers}
    planned, left_out = [], []
    order = ["due_hours", "_wait", "build_hours", "row"]
    for build in asked.sort_values(order, kind="stable").to_dict("records"):
        fitting = [one for one in printers if _fits(build, one)]
        why, more = _cannot(build, fitting, day)
        if why:
            left_out.append(build | more | {"why": why})
        else:
            long_enough = [one for one in fitting if build["build_hours"] <= one.rated_hours]
            planned.append(build | _place(build, long_enough, free))
    columns = [*builds.columns, "start", "end", "due_hours"]
    found = pd.DataFrame(planned, columns=columns).sort_values(["printer", "start"])
    names = ["row", "build", "printer", "head_type", "site", "build_hours", "due", "why"]
    out = pd.DataFrame(left_out, columns=[*names, "limit", "possible"]).sort_values("row")
    return found.reset_index(drop=True), out.reset_index(drop=True)


def usual_builds(
    positions: pd.DataFrame, weekly: np.ndarray, build_hours: float, day: pd.Timestamp
) -> pd.DataFrame:
    """List builds of the usual length for every printer, as often as it prints.

    Parameters
    ----------
    positions : pandas.DataFrame
        Heads in service with their `printer` and `site`.
    weekly : array of float
        Print hours in each week ahead, positions x weeks [h].
    build_hours : float
        Length of a build [h].
    day : pandas.Timestamp
        Today.

    Returns
    -------
    pandas.DataFrame
        As in `Builds.builds`; a build is there when as many hours would have been printed.
    """
    rows: list[Mapping[str, Any]] = []
    for printer, own in positions.groupby("printer", sort=True).indices.items():
        passed = np.concatenate([[0.0], np.cumsum(weekly[own].max(axis=0))])
        count = int(np.ceil(passed[-1] / build_hours - 1e-9))
        weeks = np.interp(np.arange(count) * build_hours, passed, np.arange(passed.size))
        days = pd.to_timedelta(np.floor(7.0 * weeks), unit="D")
        rows += [
            {
                "row": len(rows) + number + 1,
                "build": f"{printer} {number + 1}",
                "printer": printer,
                "head_type": None,
                "site": None,
                "build_hours": build_hours,
                "earliest": day + wait,
                "due": pd.NaT,
                "quality_critical": False,
            }
            for number, wait in enumerate(days)
        ]
    names = ["row", "build", "printer", "head_type", "site", "build_hours", "earliest", "due"]
    found = pd.DataFrame(rows, columns=[*names, "quality_critical"])
    return found.astype({"earliest": "datetime64[ns]", "due": "datetime64[ns]"})


def _hours(days: pd.Series, day: pd.Timestamp) -> pd.Series:
    """Hours from today to days."""
    return (days - day) / _HOUR


def _fits(build: Mapping[Any, Any], printer: PrinterThere) -> bool:
    """Whether a build may go to a printer."""
    return (
        _asked(build["printer"], {printer.name})
        and _asked(build["head_type"], printer.head_types)
        and _asked(build["site"], {printer.site})
    )


def _asked(name: Any, there: Set[Any]) -> bool:
    """Whether what is asked for is there; a blank asks for nothing."""
    return not isinstance(name, str) or name in there


def _cannot(
    build: Mapping[Any, Any], fitting: Sequence[PrinterThere], day: pd.Timestamp
) -> tuple[str, dict[str, Any]]:
    """Say why a build cannot be done at all, and what that hangs on; nothing where it can."""
    if not fitting:
        return NO_PRINTER, {}
    limit = max(one.rated_hours for one in fitting)
    if build["build_hours"] > limit:
        return TOO_LONG, {"limit": limit}
    ends = build["_wait"] + build["build_hours"]
    if ends > build["due_hours"]:
        last = np.ceil(ends / HOURS_PER_DAY) - 1
        return TOO_SOON, {"possible": day + pd.Timedelta(days=last)}
    return "", {}


def _place(
    build: Mapping[Any, Any], printers: Sequence[PrinterThere], free: Mapping[str, _Free]
) -> dict[str, Any]:
    """Take the printer that ends a build first, and the time there."""
    hours = build["build_hours"]

    def start(one: PrinterThere) -> float:
        return free[one.name].start(build["_wait"], hours, one.pause)

    best = min(printers, key=lambda one: (start(one), free[one.name].hours, one.name))
    begins = start(best)
    free[best.name].taken = sorted([*free[best.name].taken, (begins, begins + hours)])
    return {"printer": best.name, "site": best.site, "start": begins, "end": begins + hours}
