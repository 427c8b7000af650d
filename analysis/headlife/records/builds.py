"""Read a table of the builds ahead: which printer, how long, from when, due when, how critical.

From a CSV or XLSX with any usual header (`shop.columns.BUILD_COLUMNS`), in any hand that a log may
be written in. A row that cannot be used is set aside with a sentence; builds + set aside = rows
read, always. Knows no printer and plans nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pandas as pd

from headlife.display import shows_itself
from headlife.errors import RecordsError
from headlife.records.cells import Problem, quoted, read_name, read_yes
from headlife.records.columns import column_key
from headlife.records.date_columns import read_dates
from headlife.records.hour_columns import read_hours
from headlife.records.intake import TextTable, open_table
from headlife.shop import Intake
from headlife.shop.columns import BUILD_COLUMNS

_KEYS: Final[dict[str, str]] = {
    column_key(word): column.name
    for column in BUILD_COLUMNS.values()
    for word in (*column.synonyms, column.name)
}
_READERS: Final[dict[str, Callable[[str], Any]]] = {"name": read_name, "yes or no": read_yes}


@shows_itself
@dataclass(frozen=True)
class Builds:
    """Builds ahead, and rows of their table that could not be used."""

    builds: pd.DataFrame
    """One row per build: `row` in the table, `build` (its name), `printer`, `head_type` and `site`
    (None: any), `build_hours` [h], `earliest` and `due` (days; empty: none) and
    `quality_critical`."""
    set_aside: pd.DataFrame
    """One row per row that could not be used: `row` and the `sentence` that says why."""
    unread: tuple[str, ...]
    """Columns with cells that stand for nothing that a plan uses."""
    source: str
    """Name of the file."""
    sha256: str
    """SHA-256 of the file's bytes."""


def read_builds(path: str | Path, intake: Intake | None = None) -> Builds:
    """Read a table of the builds ahead.

    Parameters
    ----------
    path : str or Path
        A CSV, XLSX or Parquet table; `shared/columns.md` names its columns.
    intake : Intake, optional
        How the shop writes its tables, where it is not the usual way.

    Returns
    -------
    Builds
        Every row a build, or set aside with a sentence.

    Raises
    ------
    RecordsError
        The file is no table, has no column of print hours, one column twice or no row; or its
        days or hours can be read in two ways and nothing settles which.

    Examples
    --------
    >>> import headlife as hl
    >>> ahead = hl.read_builds("data_demo/builds.csv")
    >>> len(ahead.builds), len(ahead.set_aside)
    (22, 0)
    """
    intake = intake or Intake()
    table = open_table(path, intake, lambda cells: sum(column_key(c) in _KEYS for c in cells))
    places = _places(table)
    rows = list(table.rows)
    if not rows:
        raise RecordsError(f"{table.label}: the table has no builds; add at least one row.")
    texts = {
        name: [cells[at] if at < len(cells) else "" for _, cells in rows]
        for name, at in places.items()
    }
    values = _values(texts, intake, table)
    kept, aside = [], []
    for place, (number, cells) in enumerate(rows):
        row = {name: values[name][place] if name in values else None for name in BUILD_COLUMNS}
        wrong = [
            f"{name} {quoted(texts[name][place])} {value.sentence}"
            for name, value in row.items()
            if isinstance(value, Problem)
        ]
        if any(cell.strip() for cell in cells[len(table.header) :]):
            wrong.append(
                f"it has {len(cells)} cells where the header has {len(table.header)}; look for a "
                "delimiter inside a cell"
            )
        if wrong:
            said = f"{table.label}, row {number}: {'; '.join(wrong)}."
            aside.append({"row": number, "sentence": said})
        else:
            kept.append(row | {"row": number, "build": row["build"] or f"row {number}"})
    return Builds(
        _builds(kept),
        pd.DataFrame(aside, columns=["row", "sentence"]),
        _unread(table, rows),
        table.file,
        table.sha256,
    )


def _places(table: TextTable) -> dict[str, int]:
    """Find the columns; one of print hours must be there."""
    places: dict[str, int] = {}
    for at, name in enumerate(table.header):
        column = _KEYS.get(column_key(name))
        if column is None:
            continue
        if column in places:
            raise RecordsError(
                f"{table.label}: the columns {quoted(table.header[places[column]])} and "
                f"{quoted(name)} both stand for {column}; rename the one that does not count."
            )
        places[column] = at
    if "build_hours" not in places:
        found = ", ".join(quoted(name) for name in table.header if name) or "none"
        raise RecordsError(
            f"{table.label}: a table of builds needs a column of their print hours, build_hours; "
            f"the columns found are {found}."
        )
    return places


def _unread(table: TextTable, rows: Sequence[tuple[int, Sequence[str]]]) -> tuple[str, ...]:
    """Name columns with cells that no column of builds stands for."""
    return tuple(
        name or f"column {at + 1}"
        for at, name in enumerate(table.header)
        if column_key(name) not in _KEYS
        and any(at < len(cells) and cells[at].strip() for _, cells in rows)
    )


def _values(
    texts: Mapping[str, Sequence[str]], intake: Intake, table: TextTable
) -> dict[str, list[Any]]:
    """Read every column; days and hours as a whole, since one hand wrote them."""
    of = {
        kind: {
            name: list(cells) for name, cells in texts.items() if BUILD_COLUMNS[name].kind == kind
        }
        for kind in ("hours", "date")
    }
    hours = read_hours(of["hours"], intake, table.stored)
    days = read_dates(of["date"], intake, table.stored)
    questions = (*hours.questions, *days.questions)
    if questions:
        raise RecordsError("\n".join(f"{table.label}: {one}." for one in questions))
    found = {name: list(cells) for name, cells in {**hours.cells, **days.cells}.items()}
    found["build_hours"] = [_length(value) for value in found["build_hours"]]
    for name, cells in texts.items():
        if name not in found:
            found[name] = [_READERS[BUILD_COLUMNS[name].kind](text) for text in cells]
    return found


def _length(hours: float | Problem | None) -> float | Problem:
    if hours is None:
        return Problem("is blank; write the print hours of the build")
    return hours or Problem("is 0; write the print hours of the build, above zero")


def _builds(kept: list[dict[str, Any]]) -> pd.DataFrame:
    builds = pd.DataFrame(kept, columns=["row", *BUILD_COLUMNS])
    for name in ("earliest", "due"):
        builds[name] = pd.to_datetime(builds[name]).astype("datetime64[ns]").dt.normalize()
    builds["quality_critical"] = builds["quality_critical"].map(bool).astype(bool)
    return builds.astype({"build_hours": float})
