"""An independent reading of a log, in plain Python: no pandas, no numpy, nothing of the package.

From a CSV of stretches in the standard columns, with year-month-day dates and the head's own hours:
which rows are whole, and the lives they join into. Written from the design's words, not from the
reader: rows that cannot be true are dropped with their number, and rows of one head follow each
other in time.
"""

from __future__ import annotations

import csv
import datetime
import io

REASONS = {"worn": "wear", "crash": "damage"}
SUSPENSIONS = {"swap", "material"}


def rows_of(text):
    """Rows as dictionaries, with the row number a spreadsheet would show."""
    return [(number, row) for number, row in enumerate(csv.DictReader(io.StringIO(text)), start=2)]


def sound(row):
    """The row's values, or None where a cell cannot be read or contradicts another."""
    try:
        begun = datetime.date.fromisoformat(row["date_in"])
        ended = datetime.date.fromisoformat(row["date_out"])
        first, last = float(row["hours_in"]), float(row["hours_out"])
    except ValueError:
        return None
    reason = row["reason"].strip()
    if ended < begun or first < 0 or last < first or not row["head"].strip():
        return None
    if last - first > 24 * ((ended - begun).days + 1):
        return None
    if reason in REASONS and last == first:
        return None  # failed without having run
    return row["head"].strip(), begun, ended, first, last, reason


def lives(text):
    """Whole rows by number, and for each head its (entry, exit, mode or None)."""
    used, by_head = [], {}
    for number, row in rows_of(text):
        values = sound(row)
        if values is not None:
            used.append(number)
            by_head.setdefault(values[0], []).append(values)
    found = {}
    for head, stretches in by_head.items():
        stretches.sort(key=lambda one: (one[1], one[3]))
        last = stretches[-1]
        found[head] = (stretches[0][3], last[4], REASONS.get(last[5]))
    return used, found
