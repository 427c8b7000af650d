"""Which meter readings does the shop keep beside its log, and on which day is a head still in?

Answers from a second table or sheet of readings, one row a reading or one column a printer, and
from the cell that holds the day. A reading that cannot be read is named; it never fills one in.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from functools import partial
from pathlib import Path
from typing import Any, Final

import numpy as np
import pandas as pd

from headlife.alike import nearest
from headlife.errors import RecordsError
from headlife.records.cells import Problem, quoted, read_name
from headlife.records.columns import column_key
from headlife.records.counted import PER_HOUR
from headlife.records.date_columns import read_dates
from headlife.records.hour_columns import read_hours
from headlife.records.intake import TextTable, open_table
from headlife.records.sources import beside, cell_text
from headlife.shop import Intake
from headlife.shop.clocks import Readings

_COLUMNS: Final = ("printer", "day", "hours", "name")
_SENTENCES_SHOWN: Final = 20


def _no_readings() -> pd.DataFrame:
    """Give an empty table of readings."""
    return pd.DataFrame({name: [] for name in _COLUMNS})


def stated_day(path: str | Path | None, intake: Intake) -> date | None:
    """Give the day on which heads without a removal are in service, where one is stated.

    Parameters
    ----------
    path : str, Path or None
        The log, for a cell of it.
    intake : Intake
        Its `as_of`.

    Returns
    -------
    date or None
        The day; None where none is stated.

    Raises
    ------
    RecordsError
        The cell is blank or holds no date.
    """
    if isinstance(intake.as_of, date):
        return intake.as_of
    place = intake.as_of_cell
    if place is None or path is None:
        return None
    text = cell_text(path, intake, *place)
    read = read_dates({"as_of": [text]}, intake).cells["as_of"][0]
    if not isinstance(read, datetime):
        why = read.sentence if isinstance(read, Problem) else "is blank"
        raise RecordsError(f"{Path(path).name}, cell {intake.as_of}: {quoted(text)} {why}.")
    return read.date()


def meter_readings(
    path: str | Path | None, intake: Intake, printers: Sequence[str]
) -> pd.DataFrame:
    """Read the table of meter readings that is kept beside the log.

    Parameters
    ----------
    path : str, Path or None
        The log.
    intake : Intake
        Its `readings` say where the table is.
    printers : sequence of str
        Printers of the log.

    Returns
    -------
    DataFrame
        `printer, day` (days since 1970), `hours` [h], `name` (where it stands).

    Raises
    ------
    RecordsError
        The table or a column is missing, or a cell of it cannot be read.
    """
    asked = intake.readings
    if asked is None or path is None:
        return _no_readings()
    file = beside(Path(path)) / asked.file if asked.file else Path(path)
    own = intake.model_copy(update={"sheet": asked.sheet or None, "header_row": None})
    names = {asked.date, asked.printer, asked.printer_hours} | set(printers)
    keys = {column_key(name) for name in names if name}
    table = open_table(file, own, partial(_known, keys=keys))
    label = f"{table.file}, sheet '{asked.sheet}'" if asked.sheet else table.file
    rows = list(table.rows)
    columns = _columns(table, asked, printers, label)
    frames = [_column(rows, *places, printer, own, table, label) for printer, places in columns]
    together = [frame for frame in frames if len(frame)]
    return pd.concat(together, ignore_index=True) if together else _no_readings()


def _known(cells: Sequence[str], keys: set[str]) -> int:
    return len(keys & {column_key(cell) for cell in cells})


def _columns(
    table: TextTable, asked: Readings, printers: Sequence[str], label: str
) -> list[tuple[str | None, tuple[int, int, int | None]]]:
    """Find the columns: (printer, (day, hours, printer's column)); one for each printer or one."""
    place = {column_key(name): i for i, name in enumerate(table.header)}

    def of(name: str) -> int:
        if column_key(name) not in place:
            raise RecordsError(
                f"{label}: the column '{name}'{nearest(name, list(table.header))} is missing; "
                "correct [intake] readings, the columns are "
                f"{', '.join(quoted(one) for one in table.header if one)}."
            )
        return place[column_key(name)]

    day = of(asked.date)
    if asked.printer is not None:
        return [(None, (day, of(asked.printer_hours), of(asked.printer)))]
    across = [name for name in printers if column_key(name) in place]
    if not across:
        raise RecordsError(
            f"{label}: no column is called as a printer of the log ({', '.join(printers)}); name "
            "its columns, [intake] readings = { printer = ..., printer_hours = ... }."
        )
    return [(name, (day, of(name), None)) for name in across]


def _column(
    rows: Sequence[tuple[int, list[str]]],
    day: int,
    hours: int,
    named: int | None,
    printer: str | None,
    intake: Intake,
    table: TextTable,
    label: str,
) -> pd.DataFrame:
    """Read one column of readings; cells without a reading are no readings."""
    kept = [(n, cells) for n, cells in rows if len(cells) > hours and cells[hours].strip()]
    texts = {
        "date": [cells[day] if day < len(cells) else "" for _, cells in kept],
        "hours": [cells[hours] for _, cells in kept],
    }
    dates = read_dates({"date": texts["date"]}, intake, table.stored).cells["date"]
    per_hour = PER_HOUR[intake.unit or "hours"]
    values = read_hours({"hours": texts["hours"]}, intake, table.stored, per_hour).cells["hours"]
    names = [printer if named is None else read_name(cells[named]) for _, cells in kept]
    problems = [
        f"{label}, row {kept[i][0]}, {what} {quoted(text)} {_why(value)}."
        for i in range(len(kept))
        for what, text, value in (
            ("day", texts["date"][i], dates[i]),
            ("reading", texts["hours"][i], values[i]),
            ("printer", "" if named is None else kept[i][1][named], names[i]),
        )
        if value is None or isinstance(value, Problem)
    ]
    if problems:
        raise RecordsError("\n".join(problems[:_SENTENCES_SHOWN]))
    return pd.DataFrame(
        {
            "printer": np.array(names, dtype=object),
            "day": np.array(dates, dtype="datetime64[D]").astype(np.float64),
            "hours": np.array(values, dtype=float),
            "name": [f"{n} of {label}" for n, _ in kept],
        }
    )


def _why(value: Any) -> str:
    return value.sentence if isinstance(value, Problem) else "is blank; fill it in"
