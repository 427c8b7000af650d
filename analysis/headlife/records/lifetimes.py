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

from headlife.errors import RecordsError
from headlife.records.cells import Problem, clean, quoted, read_hours, read_name
from headlife.records.columns import column_key
from headlife.records.intake import open_table
from headlife.settings_errors import nearest
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
    """
    intake = intake or Intake()
    table = open_table(path, intake, _recognised)
    places = _places(table.file, table.header)
    readers = _readers(intake.decimal)
    values: dict[str, list[Any]] = {name: [] for name in LIFETIME_COLUMNS}
    problems: list[str] = []
    for number, cells in table.rows:
        line = {name: cells[i] if i < len(cells) else "" for name, i in places.items()}
        if len(cells) > len(table.header) and any(c.strip() for c in cells[len(table.header) :]):
            problems.append(
                f"{table.file}, row {number}: the row has {len(cells)} cells where the header has "
                f"{len(table.header)}; look for a delimiter inside a cell."
            )
        for name, reader in readers.items():
            value = reader(line[name]) if name in line else _DEFAULTS[name]
            if isinstance(value, Problem):
                problems.append(
                    f"{table.file}, row {number}, {name} {quoted(line[name])} {value.sentence}."
                )
            values[name].append(value)
        problems += _late_entry(table.file, number, values)
    if problems:
        more = len(problems) - _SENTENCES_SHOWN
        tail = [f"{more} more values of {table.file} cannot be used either."] if more > 0 else []
        raise RecordsError("\n".join(problems[:_SENTENCES_SHOWN] + tail))
    if not sum(values["count"]):
        raise RecordsError(f"{table.file}: the table has no lifetimes; add at least one row.")
    return pd.DataFrame(
        {
            "hours": np.array(values["hours"], dtype=float),
            "failed": np.array(values["failed"], dtype=bool),
            "count": np.array(values["count"], dtype=np.int64),
            "entry_hours": np.array(values["entry_hours"], dtype=float),
            "group": np.array(values["group"], dtype=object),
        }
    )


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
            f"{file}: a table of lifetimes needs the columns hours and failed; missing: "
            f"{', '.join(missing)}. The columns found are {found}."
        )
    return {name: keys.index(name) for name in LIFETIME_COLUMNS if name in keys}


def _readers(decimal: str) -> dict[str, Callable[[str], Any]]:
    def hours(text: str) -> float | Problem:
        value = read_hours(text, decimal)
        if value is None:
            return Problem("is blank; write the hours reached")
        if value == 0.0:
            return Problem("is 0; write the hours reached, above zero")
        return value

    def entry(text: str) -> float | Problem:
        value = read_hours(text, decimal)
        return 0.0 if value is None else value

    return {
        "hours": hours,
        "failed": _failed,
        "count": _count,
        "entry_hours": entry,
        "group": lambda text: read_name(text) or _DEFAULTS["group"],
    }


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


def _late_entry(file: str, number: int, values: dict[str, list[Any]]) -> list[str]:
    hours, entry = values["hours"][-1], values["entry_hours"][-1]
    if isinstance(hours, Problem) or isinstance(entry, Problem) or entry < hours:
        return []
    return [
        f"{file}, row {number}, entry_hours '{entry:g}' is not below hours '{hours:g}'; write the "
        "hours the head already had when observation began, less than it reached."
    ]
