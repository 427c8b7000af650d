"""The single checks of the audit: each looks for one kind of disagreement between rows.

Answers from rows that are sound one by one. Checks that yield a `Conflict` set rows aside,
checks that return a `Finding` keep rows and flag them. None of them mends anything.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.records.cells import quoted
from headlife.records.chains import Conflict
from headlife.units import HOURS_PER_DAY

FINDING_COLUMNS: Final = ("check", "severity", "treatment", "rows", "head", "sentence")
KEPT: Final = "kept and flagged"
SET_ASIDE: Final = "set aside"
# Own choice, no source: a head in service whose reading is older than this is called stale.
STALE_DAYS: Final = 45
# Own choice, no source: a date after today is a slip when it stands this far from the others.
APART_DAYS: Final = 92
_ROWS_NAMED: Final = 10
_BETWEEN: Final = str.maketrans("", "", " -_./")
_AND: Final = "\n"  # between printer and position; stands in no name
_FAILS_WITHOUT_HOURS: Final = "failed with no hours run"


@dataclass(frozen=True)
class Finding:
    """Something the audit found in rows that stay."""

    check: str
    severity: str
    treatment: str
    rows: str
    head: str
    sentence: str


def name_rows(rows: Iterable[Any]) -> str:
    """Name rows by number, the first few, then how many more."""
    numbers = sorted(int(row) for row in rows)
    text = ", ".join(map(str, numbers[:_ROWS_NAMED]))
    more = len(numbers) - _ROWS_NAMED
    return text + (f" and {more} more" if more > 0 else "")


def days_between(start: np.ndarray, end: np.ndarray) -> np.ndarray:
    """Whole calendar days from one array of dates to another."""
    return np.asarray((end.astype("datetime64[D]") - start.astype("datetime64[D]")).astype(float))


def too_many_hours(rows: pd.DataFrame) -> Iterator[Conflict]:
    """Find more print hours than the days of the stint have, first and last day included."""
    days = days_between(rows["date_in"].to_numpy(), rows["date_out"].to_numpy()) + 1
    run = (rows["hours_out"] - rows["hours_in"]).to_numpy()
    places = rows.index.to_numpy()
    for i in np.flatnonzero(run > HOURS_PER_DAY * days):
        yield Conflict(
            int(places[i]),
            "hours_out",
            f"makes {run[i]:,.1f} print hours in {days[i]:,.0f} days, more than 24 a day; "
            "correct the hours or the dates",
        )


def far_future(rows: pd.DataFrame, today: date) -> Iterator[Conflict]:
    """Find dates after today that stand apart from all others: a slip of the year.

    Days count as plausible up to today, and from there on as long as no gap is longer than a
    quarter: a computer whose clock is behind refuses nothing.
    """
    ends = rows["date_out"].to_numpy().astype("datetime64[D]")
    days = np.unique(ends)
    now = np.datetime64(today, "D")
    first = int(np.searchsorted(days, now, side="right"))
    gaps = np.diff(days).astype(np.int64) > APART_DAYS
    breaks = np.flatnonzero(gaps[max(first - 1, 0) :])
    if not len(breaks):
        return
    newest = days[max(first - 1, 0) + breaks[0]]
    places = rows.index.to_numpy()
    for i in np.flatnonzero(ends > newest):
        yield Conflict(
            int(places[i]),
            "date_out",
            f"lies after today and {(ends[i] - newest).astype(int):,} days after every other date; "
            "correct the year",
        )


def types(rows: pd.DataFrame) -> Iterator[Conflict]:
    """Find one serial under two head types: two heads, or a slip; nobody can tell which."""
    codes, heads = pd.factorize(rows["head"])
    kinds, names = pd.factorize(rows["head_type"])
    low, high = _extremes(codes, kinds)
    places = rows.index.to_numpy()
    for i in np.flatnonzero((low != high)[codes]):
        head = codes[i]
        both = " and ".join(sorted(quoted(str(names[k])) for k in (low[head], high[head])))
        yield Conflict(
            int(places[i]),
            "head_type",
            f"is not the only type of head {quoted(str(heads[head]))}, which stands as {both}; "
            "correct the type, or give the second head a serial of its own",
        )


def _extremes(codes: np.ndarray, values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Smallest and largest value of each group."""
    groups = int(codes.max()) + 1 if len(codes) else 0
    low = np.full(groups, np.iinfo(np.int64).max)
    high = np.full(groups, -1)
    np.minimum.at(low, codes, values)
    np.maximum.at(high, codes, values)
    return low, high


def twice(rows: pd.DataFrame) -> Iterator[Conflict]:
    """Find installations written down twice; the one with the later end stays."""
    key = ["head", "printer", "position", "date_in", "hours_in"]
    # Nearly always three of the five tell that no row stands twice, at less cost.
    alike = rows[rows.duplicated(["head", "date_in", "hours_in"], keep=False)]
    again = alike[alike.duplicated(key, keep=False)]
    if again.empty:
        return
    closed = again["reason"].notna()
    order = again.assign(closed=closed).sort_values(
        ["date_out", "hours_out", "closed", "reason", "row"],
        ascending=[False, False, False, True, True],
        kind="stable",
    )
    stays = order.groupby(key, sort=False, observed=True)["row"].transform("first")
    for index, row, first in zip(order.index, order["row"], stays, strict=True):
        if row != first:
            yield Conflict(
                int(index),
                "head",
                f"and its row write down the installation of row {first} again; keep one of the "
                "two, with its last reading",
            )


def positions(rows: pd.DataFrame) -> list[Finding]:
    """Find two heads in one position at the same time."""
    place, _ = _places(rows)
    start = rows["date_in"].to_numpy().astype("datetime64[D]").astype(np.int64)
    end = rows["date_out"].to_numpy().astype("datetime64[D]").astype(np.int64)
    order = np.lexsort((rows["row"].to_numpy(), end, start, place))
    place, start, end = place[order], start[order], end[order]
    holder = running_argmax(end, place)
    before = np.r_[-1, holder[:-1]]
    before[first_of_group(place)] = -1
    late = np.flatnonzero((before >= 0) & (start < end[before]))
    names = ("row", "head", "printer", "position")
    row, head, printer, position = (rows[name].to_numpy()[order] for name in names)
    day = np.datetime_as_string(start.astype("datetime64[D]"))
    return [
        Finding(
            "two heads in one position",
            "doubt",
            KEPT,
            name_rows([row[other], row[this]]),
            head[this],
            f"Heads {quoted(head[other])} (row {row[other]}) and {quoted(head[this])} (row "
            f"{row[this]}) were both in printer {quoted(printer[this])}, position "
            f"{quoted(position[this])}, from {day[this]}; correct a date, the printer or the "
            "position. The hours of both count.",
        )
        for this, other in zip(late.tolist(), before[late].tolist(), strict=True)
        if head[this] != head[other]  # one head twice: the audit of heads names it
    ]


def first_of_group(codes: np.ndarray) -> np.ndarray:
    """Places where a new group begins in sorted codes."""
    return np.flatnonzero(np.r_[True, codes[1:] != codes[:-1]]) if len(codes) else codes


def running_argmax(values: np.ndarray, codes: np.ndarray) -> np.ndarray:
    """Place of the largest value so far within each group of sorted codes."""
    if not len(values):
        return values
    # Shifting each group above the last makes one running maximum serve all groups.
    span = int(values.max() - values.min()) + 1
    lifted = values - values.min() + codes.astype(np.int64) * span
    top = np.maximum.accumulate(lifted)
    new = np.r_[True, lifted[1:] > top[:-1]]
    return np.maximum.accumulate(np.where(new, np.arange(len(values)), 0))


def roles(rows: pd.DataFrame) -> list[Finding]:
    """Find heads that change their role after they were first loaded."""
    codes, _ = pd.factorize(rows["head"])
    kinds, _ = pd.factorize(rows["role"])
    low, high = _extremes(codes, kinds)
    torn = rows[(low != high)[codes]].sort_values(["head", "date_in", "hours_in", "row"])
    if torn.empty:
        return []
    row, head, role = (torn[name].to_numpy() for name in ("row", "head", "role"))
    starts = first_of_group(pd.factorize(head)[0]).tolist()
    found = []
    for start, end in zip(starts, [*starts[1:], len(torn)], strict=True):
        first = role[start]
        others = row[start:end][role[start:end] != first]
        other = "support" if first == "model" else "model"
        found.append(
            Finding(
                "role changes",
                "doubt",
                KEPT,
                name_rows(others),
                head[start],
                f"Head {quoted(head[start])} was first loaded as {first} (row {row[start]}) and "
                f"stands as {other} in row {name_rows(others)}; correct the role. It counts as "
                f"{first}.",
            )
        )
    return found


def _plain(name: str) -> str:
    return name.casefold().translate(_BETWEEN)


def spellings(rows: pd.DataFrame) -> list[Finding]:
    """Find names that differ only in capitals, spaces, dashes, points or slashes."""
    found = []
    for column, what in (("head", "Heads"), ("printer", "Printers")):
        names = pd.unique(rows[column])
        if len({_plain(name) for name in names}) == len(names):
            continue
        first = rows.drop_duplicates(column)[[column, "row"]]
        plain = first[column].map(_plain)
        for _, same in first[plain.duplicated(keep=False)].groupby(plain, sort=True):
            spelt = " and ".join(sorted(quoted(name) for name in same[column]))
            found.append(
                Finding(
                    "two spellings",
                    "doubt",
                    KEPT,
                    name_rows(same["row"]),
                    "" if column == "printer" else min(same[column]),
                    f"{what} {spelt} (rows {name_rows(same['row'])}) differ only in capitals, "
                    "spaces or dashes; if they are one, write one name. They count as different.",
                )
            )
    return found


def latest_starts(rows: pd.DataFrame) -> pd.Series:
    """Give the day on which each position was last given a head.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    Series of int
        By printer and position, as `place_of` names them: days since 1970.
    """
    start = rows["date_in"].to_numpy().astype("datetime64[D]").astype(np.int64)
    codes, names = _places(rows)
    latest = np.full(len(names), np.iinfo(np.int64).min)
    np.maximum.at(latest, codes, start)
    return pd.Series(latest, index=pd.Index(names, dtype=object))


def place_of(rows: pd.DataFrame) -> pd.Series:
    """Name each row's printer and position in one text."""
    return rows["printer"].astype(object) + _AND + rows["position"].astype(object)


def _places(rows: pd.DataFrame) -> tuple[np.ndarray, list[str]]:
    """Code each row's printer and position; the name of every code, as `place_of` gives it."""
    printer, printers = pd.factorize(rows["printer"])
    position, positions = pd.factorize(rows["position"])
    codes, pairs = pd.factorize(printer * len(positions) + position)
    first, second = np.divmod(pairs, max(len(positions), 1))
    names = [
        f"{printers[one]}{_AND}{positions[other]}"
        for one, other in zip(first.tolist(), second.tolist(), strict=True)
    ]
    return codes, names


def superseded(rows: pd.DataFrame, starts: pd.Series | None = None) -> np.ndarray:
    """Tell which rows without a removal were followed by another installation there.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows; a missing reason means still in service at `date_out`.
    starts : Series of int, optional
        `latest_starts` of all rows, when these are only some of them.

    Returns
    -------
    ndarray of bool
        True where the position was given to another installation on or after that reading.
    """
    lost = np.zeros(len(rows), dtype=bool)
    still_open = rows["reason"].isna().to_numpy()
    if not still_open.any():
        return lost
    here = rows[still_open]
    latest = (latest_starts(rows) if starts is None else starts)[place_of(here)].to_numpy()
    start = here["date_in"].to_numpy().astype("datetime64[D]").astype(np.int64)
    end = here["date_out"].to_numpy().astype("datetime64[D]").astype(np.int64)
    lost[still_open] = (latest > start) & (latest >= end)
    return lost


def left_open(rows: pd.DataFrame) -> list[Finding]:
    """Find rows without a reason although head or position went on to another installation."""
    still_open = rows["reason"].isna().to_numpy()
    codes, _ = pd.factorize(rows["head"])
    start = rows["date_in"].to_numpy().astype("datetime64[D]").astype(np.int64)
    _, last = _extremes(codes, start)
    where = rows[superseded(rows) | (still_open & (start < last[codes]))]
    columns = ("row", "head", "printer", "position")
    return [
        Finding(
            "removal not written down",
            "doubt",
            KEPT,
            str(row),
            head,
            f"Row {row} has no reason, so head {quoted(head)} would still be in printer "
            f"{quoted(printer)}, position {quoted(position)}, but a later installation of the head "
            "or in that position is on record; write when and why it came out. It counts as taken "
            "out at its last reading, cause unknown.",
        )
        for row, head, printer, position in zip(*(where[c] for c in columns), strict=True)
    ]


def no_hours(rows: pd.DataFrame) -> list[Finding]:
    """Find heads that failed without an hour run since they are on record."""
    failed = rows[rows["mode"].notna() & (rows["hours_out"] <= rows["hours_in"])]
    if failed.empty:
        return []
    entry = rows.groupby("head", sort=False, observed=True)["hours_in"].min()
    dead = failed[failed["hours_out"].to_numpy() <= entry.loc[failed["head"]].to_numpy()]
    return [
        Finding(
            _FAILS_WITHOUT_HOURS,
            "doubt",
            KEPT,
            str(row),
            head,
            f"Row {row}: head {quoted(head)} failed at {hours:,.1f} h, the hours it came with, so "
            "nothing is known of its life; if it ran at all, write the hours. It counts in the "
            "log and in no life.",
        )
        for row, head, hours in zip(dead["row"], dead["head"], dead["hours_out"], strict=True)
    ]


def stale(rows: pd.DataFrame, today: date) -> list[Finding]:
    """Find heads in service whose last reading is old beside the newest one up to today."""
    known = rows["date_out"][rows["date_out"].dt.normalize() <= pd.Timestamp(today)]
    if known.empty:
        return []
    last = known.max()
    open_rows = rows[rows["reason"].isna().to_numpy() & ~superseded(rows)]
    old = open_rows[(last - open_rows["date_out"]).dt.days > STALE_DAYS]
    columns = ("row", "head", "date_out")
    return [
        Finding(
            "stale reading",
            "note",
            KEPT,
            str(row),
            head,
            f"Row {row}: the last reading of head {quoted(head)}, in service, is of "
            f"{day:%Y-%m-%d}, {(last - day).days} days before the newest in the table; read its "
            "counter. Its present age is projected by its printer's usage.",
        )
        for row, head, day in zip(*(old[c] for c in columns), strict=True)
    ]


def future(rows: pd.DataFrame, today: date) -> list[Finding]:
    """Find dates later than today: one finding for all, since the clock may be what is wrong."""
    late = rows[(rows["date_out"].dt.normalize() > pd.Timestamp(today))]
    if late.empty:
        return []
    return [
        Finding(
            "future date",
            "doubt",
            KEPT,
            name_rows(late["row"]),
            "",
            f"Dated after today, {today:%Y-%m-%d}: row {name_rows(late['row'])}. Correct the "
            "dates, or this computer's; they count as written, and ages are projected to the "
            "newest date unless an as-of date is given.",
        )
    ]
