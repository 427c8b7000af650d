"""Which head stood in which position, and until when? Rows of different heads compared by place.

Answers from sound rows where two heads stand in one position at once, which installations were
followed by another although nobody wrote down the removal, and whose last reading is old. Keeps
every row; a finding flags it.
"""

from __future__ import annotations

from datetime import date
from typing import Final

import numpy as np
import pandas as pd

from headlife.records.cells import quoted
from headlife.records.checks import extremes, first_of_group, running_argmax
from headlife.records.findings import KEPT, Finding, doubt, name_rows

_AND: Final = "\n"  # between printer and position; stands in no name

# Own choice, no source: a head in service whose reading is older than this is called stale.
STALE_DAYS: Final = 45
# Own choice: a head without a reason came out on the day of its row where another one went into its
# position within so many days of it; later, the row is a reading, and when it came out is unknown.
_SAME_VISIT_DAYS: Final = 7


def positions(rows: pd.DataFrame) -> list[Finding]:
    """Find two heads in one position at the same time.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    list of Finding
        The findings.
    """
    place, _ = place_codes(rows)
    start = rows["date_in"].to_numpy().astype("datetime64[D]").astype(np.int64)
    end = rows["date_out"].to_numpy().astype("datetime64[D]").astype(np.int64)
    order = np.lexsort((rows["row"].to_numpy().astype(np.int64), end, start, place))
    place, start, end = place[order], start[order], end[order]
    holder = running_argmax(end, place)
    before = np.r_[-1, holder[:-1]]
    before[first_of_group(place)] = -1
    late = np.flatnonzero((before >= 0) & (start < end[before]))
    names = ("row", "head", "printer", "position")
    row, head, printer, position = (rows[name].to_numpy()[order] for name in names)
    day = np.datetime_as_string(start.astype("datetime64[D]"))
    return [
        doubt(
            "two heads in one position",
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
    codes, names = place_codes(rows)
    latest = np.full(len(names), np.iinfo(np.int64).min)
    np.maximum.at(latest, codes, start)
    return pd.Series(latest, index=pd.Index(names, dtype=object))


def place_of(rows: pd.DataFrame) -> pd.Series:
    """Name each row's printer and position in one text.

    Parameters
    ----------
    rows : DataFrame
        With `printer` and `position`.

    Returns
    -------
    Series of str
        The names.
    """
    return rows["printer"].astype(object) + _AND + rows["position"].astype(object)


def place_codes(rows: pd.DataFrame) -> tuple[np.ndarray, list[str]]:
    """Code each row's printer and position; the name of every code, as `place_of` gives it.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    tuple of (array, list of str)
        Codes, (n,), and the name of each.
    """
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
    """Find rows without a reason although head or position went on to another installation.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    list of Finding
        The findings.
    """
    still_open = rows["reason"].isna().to_numpy()
    codes, _ = pd.factorize(rows["head"])
    start = rows["date_in"].to_numpy().astype("datetime64[D]").astype(np.int64)
    _, last = extremes(codes, start)
    out = cause_not_written(rows)
    where = rows[(superseded(rows) & ~out) | (still_open & (start < last[codes]))]
    columns = ("row", "head", "printer", "position")
    found = _without_a_cause(rows[out])
    found += [
        doubt(
            "removal not written down",
            str(row),
            head,
            f"Row {row} has no reason, so head {quoted(head)} would still be in printer "
            f"{quoted(printer)}, position {quoted(position)}, but a later installation of the head "
            "or in that position is on record; write when and why it came out. It counts as taken "
            "out at its last reading, cause unknown.",
        )
        for row, head, printer, position in zip(*(where[c] for c in columns), strict=True)
    ]
    return found


def cause_not_written(rows: pd.DataFrame) -> np.ndarray:
    """Tell which heads came out, since another one went in then, with no reason on record.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    ndarray of bool
        True at the last row of a head that has no reason, where another head went into its position
        on the day of that row or within a week.
    """
    out = superseded(rows)
    if not out.any():
        return out
    place, _ = place_codes(rows)
    heads, _ = pd.factorize(rows["head"])
    start, end = (
        rows[name].to_numpy().astype("datetime64[D]").astype(np.int64)
        for name in ("date_in", "date_out")
    )
    _, last = extremes(heads, start)
    first = int(start.min())
    width = int(end.max()) - first + 2
    keys = np.sort(place * width + start - first)
    asked = place * width + np.maximum(end, start + 1) - first
    at = np.searchsorted(keys, asked)
    following = np.r_[keys, np.iinfo(np.int64).max][at]
    soon = following <= np.minimum(asked + _SAME_VISIT_DAYS, (place + 1) * width - 1)
    return np.asarray(out & soon & (start == last[heads]))


def _without_a_cause(rows: pd.DataFrame) -> list[Finding]:
    if rows.empty:
        return []
    one = len(rows) == 1
    return [
        doubt(
            "reason not written down",
            name_rows(rows["row"]),
            str(rows["head"].iloc[0]) if one else "",
            f"{'A head' if one else f'{len(rows):,} heads'} came out, since another one went into "
            f"the same position then, and no reason is written down (row {name_rows(rows['row'])})"
            "; write why. Until then "
            f"{'it counts' if one else 'they count'} as taken out working, and each rating says "
            "what it would be if those out before their time had failed.",
        )
    ]


def stale(rows: pd.DataFrame, today: date) -> list[Finding]:
    """Find heads in service whose last reading is old beside the newest one up to today.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.
    today : date
        The day on which it is asked.

    Returns
    -------
    list of Finding
        The findings.
    """
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
