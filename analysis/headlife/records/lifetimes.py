"""Read a plain table of lifetimes, for judging a rating without head records.

Answers from a CSV with the columns `hours, failed` and, where given, `count, entry_hours,
group`. Every value that cannot be read is named with its row; it never drops one.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.alike import nearest
from headlife.errors import RecordsError
from headlife.plain_text import clean
from headlife.records.cells import Problem, quoted, read_name
from headlife.records.columns import column_key
from headlife.records.hour_columns import read_hours
from headlife.records.intake import open_table
from headlife.shop import Intake

LIFETIME_COLUMNS: Final = ("hours", "failed", "count", "entry_hours", "group")
_REQUIRED: Final = ("hours", "failed")
_YES: Final = frozenset({"1", "true", "yes", "1.0"})
_NO: Final = frozenset({"0", "false", "no", "0.0"})
_MOST_HEADS: Final = 1_000_000_000
_SENTENCES_SHOWN: Final = 20


def read_lifetimes(path: str | Path, intake: Intake | None = None) -> pd.DataFrame:
    """Read a table of lifetimes.

    Parameters
    ----------
    path : str or Path
        CSV with the columns `hours` [h] and `failed` (1/0, true/false, yes/no), and where given
        `count` [heads] (default 1), `entry_hours` [h] (default 0), `group` (default one group).
    intake : Intake, optional
        Delimiter, decimal mark and encoding, where they are not the usual ones.

    Returns
    -------
    DataFrame
        `hours, failed, count, entry_hours, group`, one row per row of the table.

    Raises
    ------
    RecordsError
        One sentence per value that cannot be used: file, row, column, value and what to do.

    Examples
    --------
    >>> import headlife as hl
    >>> lifetimes = hl.read_lifetimes("data_demo/lifetimes.csv")
    >>> len(lifetimes), int(lifetimes["failed"].sum())
    (75, 9)
    """
    intake = intake or Intake()
    table = open_table(path, intake, _recognised)
    places = _places(table.file, table.header)
    rows = list(table.rows)
    texts = {
        name: [cells[i] if i < len(cells) else "" for _, cells in rows]
        for name, i in places.items()
    }
    hours = read_hours({name: texts[name] for name in _HOURS if name in texts}, intake)
    if hours.questions:
        raise RecordsError("\n".join(f"{table.file}: {one}." for one in hours.questions))
    values = {
        name: _values(name, texts.get(name), hours.cells.get(name), len(rows))
        for name in LIFETIME_COLUMNS
    }
    problems: list[str] = []
    for place, (number, cells) in enumerate(rows):
        if any(c.strip() for c in cells[len(table.header) :]):
            problems.append(
                f"{table.file}, row {number}: the row has {len(cells)} cells where the header has "
                f"{len(table.header)}; look for a delimiter inside a cell."
            )
        problems += [
            f"{table.file}, row {number}, {name} {quoted(texts[name][place])} {value.sentence}."
            for name in texts
            if isinstance(value := values[name][place], Problem)
        ]
        problems += _late_entry(
            table.file, number, values["hours"][place], values["entry_hours"][place]
        )
    if problems:
        more = len(problems) - _SENTENCES_SHOWN
        tail = [f"{more} more values of {table.file} cannot be used either."] if more > 0 else []
        raise RecordsError("\n".join(problems[:_SENTENCES_SHOWN] + tail))
    if not sum(values["count"]):
        raise RecordsError(f"{table.file}: the table has no lives; add at least one row.")
    return pd.DataFrame(
        {
            "hours": np.array(values["hours"], dtype=float),
            "failed": np.array(values["failed"], dtype=bool),
            "count": np.array(values["count"], dtype=np.int64),
            "entry_hours": np.array(values["entry_hours"], dtype=float),
            "group": np.array(values["group"], dtype=object),
        }
    )


_HOURS: Final = ("hours", "entry_hours")
_DEFAULTS: Final[dict[str, Any]] = {"count": 1, "entry_hours": 0.0, "group": "all heads"}


def _recognised(cells: Any) -> int:
    return len(set(LIFETIME_COLUMNS) & {column_key(cell) for cell in cells})


def _places(file: str, header: tuple[str, ...]) -> dict[str, int]:
    keys = [column_key(name) for name in header]
    for name in LIFETIME_COLUMNS:
        if keys.count(name) > 1:
            raise RecordsError(
                f"{file}: the column '{name}' stands {keys.count(name)} times in the header; "
                "rename all but the one that counts."
            )
    missing = [f"'{name}'{nearest(name, list(header))}" for name in _REQUIRED if name not in keys]
    if missing:
        found = ", ".join(quoted(name) for name in header if name) or "none"
        raise RecordsError(
            f"{file}: a table of lives needs the columns hours and failed; missing: "
            f"{', '.join(missing)}. The columns found are {found}."
        )
    return {name: keys.index(name) for name in LIFETIME_COLUMNS if name in keys}


def _values(name: str, texts: list[str] | None, hours: list[Any] | None, rows: int) -> list[Any]:
    """Read a column; what is blank, or is not there at all, is what is usual."""
    if texts is None:
        return [_DEFAULTS[name]] * rows
    if name == "hours":
        return [_reached(value) for value in hours or []]
    if name == "entry_hours":
        return [0.0 if value is None else value for value in hours or []]
    read: Callable[[str], Any] = {"failed": _failed, "count": _count, "group": _group}[name]
    return [read(text) for text in texts]


def _reached(hours: float | Problem | None) -> float | Problem:
    if hours is None:
        return Problem("is blank; write the hours reached")
    return hours or Problem("is 0; write the hours reached, above zero")


def _group(text: str) -> str | Problem:
    return read_name(text) or str(_DEFAULTS["group"])


def _failed(text: str) -> bool | Problem:
    word = clean(text).casefold()
    if word in _YES or word in _NO:
        return word in _YES
    return Problem("is neither yes nor no; write 1, true or yes for a failure, else 0, false or no")


def _count(text: str) -> int | Problem:
    number = clean(text)
    if number.endswith(".0"):
        number = number[:-2]
    if not number:
        return 1
    if not (number.isascii() and number.isdigit()):
        return Problem("is not a count; write a whole number of heads, 0 or more")
    if int(number[:12]) > _MOST_HEADS:
        return Problem("is more heads than anyone has; write the number of heads in that row")
    return int(number)


def _late_entry(file: str, number: int, hours: Any, entry: Any) -> list[str]:
    if isinstance(hours, Problem) or isinstance(entry, Problem) or entry < hours:
        return []
    return [
        f"{file}, row {number}, entry_hours '{entry:g}' is not below hours '{hours:g}'; write the "
        "hours the head already had when observation began, less than it reached."
    ]
