"""For how long is nothing on record? Times without a head in any printer, quarters without a row.

Answers from the dates of sound rows. It states what is and what is not on record, and what answers
assume meanwhile; it accuses nobody, since nothing may have happened. It never mends a row.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import pandas as pd

from headlife.records.findings import KEPT, Finding

# Own choice, no source: nothing on record for so long is asked about; a quarter has 90 to 92 days.
SILENT_DAYS: Final = 90
# Own choice: a quarter without a row is worth a sentence where heads came out on so many days a
# quarter, over up to a year before it and after it. Of 1,400 simulated shops of 6 to 50 positions
# with five years of complete records (studies.changing_shops.shops: to failure, swapped at the
# rating, growing, swinging together, both heads in one visit) 0.3 % have such a quarter; with
# three days 3.7 %, with eight 0.1 %. A test of each printer's pace rang in up to 81 %.
BUSY_DAYS: Final = 5.0
_YEAR: Final = 365
_QUARTER: Final = 91
_MONTHS: Final = 3  # in a quarter


def silent(rows: pd.DataFrame) -> list[Finding]:
    """Find quarters and longer times in which no head is on record in any printer.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    list of Finding
        The findings.
    """
    start, end = _days(rows)
    order = np.lexsort((rows["row"].to_numpy().astype(np.int64), start))
    start, ended = start[order], np.maximum.accumulate(end[order])
    days = (start[1:] - ended[:-1]).astype(np.int64)
    row, head = (rows[name].to_numpy()[order] for name in ("row", "head"))
    return [
        Finding(
            "nothing on record",
            "note",
            KEPT,
            str(row[at + 1]),
            head[at + 1],
            f"Between {ended[at]} and {start[at + 1]} ({days[at]} days) no head is on record in "
            "any printer. If printers ran then, add the rows: heads that failed in that time are "
            "in no answer. If they stood still, nothing is missing.",
        )
        for at in np.flatnonzero(days >= SILENT_DAYS).tolist()
    ]


def quiet_quarters(rows: pd.DataFrame) -> list[Finding]:
    """Find whole calendar quarters that no row is dated in, while heads were in service.

    Where heads come out on `BUSY_DAYS` days a quarter and more, over up to a year on both sides;
    a shop in which little comes out, or nothing yet, has such quarters without anything missing.

    Parameters
    ----------
    rows : DataFrame
        Accepted rows.

    Returns
    -------
    list of Finding
        The findings, one for each time without a row.
    """
    start, end = _days(rows)
    written = np.unique(np.concatenate([start, end]))
    long = np.flatnonzero(np.diff(written).astype(np.int64) > SILENT_DAYS)
    if not long.size:
        return []
    removed = np.unique(end[rows["reason"].notna().to_numpy()])
    began, ended = written[long], written[long + 1]
    quiet = began.astype(np.int64), ended.astype(np.int64)
    found = []
    for before, after in zip(began, ended, strict=True):
        through = (start <= before) & (end >= after)
        names = _quarters_within(before, after)
        sides = ((before - _YEAR, before), (after, after + _YEAR))
        paces = [_pace(removed, written, quiet, *side) for side in sides]
        if names and through.any() and min(paces) >= BUSY_DAYS:
            hours = _spread_hours(rows[through], (end - start)[through], after - before)
            found.append(_quiet(names, (before, after), int(through.sum()), hours, min(paces)))
    return found


def _quiet(
    names: list[str],
    between: tuple[np.datetime64, np.datetime64],
    heads: int,
    hours: float,
    pace: float,
) -> Finding:
    one = len(names) == 1
    which = names[0] if one else f"{names[0]} to {names[-1]}"
    before, after = between
    whose = "that head" if heads == 1 else "those heads"
    return Finding(
        "quarter without a row" if one else "quarters without a row",
        "note",
        KEPT,
        "",
        "",
        f"Of the rows used none is dated in {which} (none between {before} and {after}), while "
        f"{_heads_are(heads)} on record as in service; in the year before and the year after, "
        f"heads came out on {pace:.0f} days a quarter or more. That nothing came out is taken as "
        f"written: the {hours:,.0f} print hours of {whose} between the two days are spread "
        "evenly over their time in the printer. If the log was not kept "
        "then, add the rows of heads that came out: without them only those that lasted are on "
        "record, and heads look longer-lived than they are. If nothing came out, nothing is "
        "missing.",
    )


def _heads_are(heads: int) -> str:
    return "1 head is" if heads == 1 else f"{heads:,} heads are"


def _days(rows: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """First and last day of each row."""
    first, last = (
        rows[name].to_numpy().astype("datetime64[D]") for name in ("date_in", "date_out")
    )
    return first, last


def _quarters_within(before: np.datetime64, after: np.datetime64) -> list[str]:
    """Calendar quarters that lie wholly between two days on which something is dated."""
    first, last = (
        int(day.astype("datetime64[M]").astype(int)) // _MONTHS for day in (before, after)
    )
    return [f"{1970 + at // 4}-Q{at % 4 + 1}" for at in range(first + 1, last)]


def _pace(
    removed: np.ndarray,
    written: np.ndarray,
    quiet: tuple[np.ndarray, np.ndarray],
    first: np.datetime64,
    last: np.datetime64,
) -> float:
    """Days on which heads came out for each quarter of a time, long times without a row apart."""
    first, last = max(first, written[0]), min(last, written[-1])
    days = int(np.searchsorted(removed, last, "right") - np.searchsorted(removed, first))
    begin, end = int(first.astype(np.int64)), int(last.astype(np.int64))
    apart = np.minimum(quiet[1], end) - np.maximum(quiet[0], begin)
    left = end - begin - int(np.maximum(apart, 0).sum())
    return days * _QUARTER / max(left, _QUARTER)


def _spread_hours(rows: pd.DataFrame, days: np.ndarray, gap: np.timedelta64) -> float:
    """Print hours that fall between two days, if each head ran evenly over its days [h]."""
    run = (rows["hours_out"] - rows["hours_in"]).to_numpy()
    return float((run * (gap / days)).sum())
