"""A copy of the shop's own workbook with the cells to look at coloured and commented.

From what a check found. Cells that keep a row from being used are orange, cells of rows that are
used and doubtful are yellow; nothing else in the workbook changes.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final

from headlife.records.columns import recogniser
from headlife.records.intake import is_workbook
from headlife.show.xlsx_marks import marked_workbook
from headlife.show.xlsx_notes import Mark

if TYPE_CHECKING:
    import pandas as pd

    from headlife.records.record_set import Records

_UNUSABLE, _DOUBTFUL = "F8CBAD", "FFF2CC"
_MOST: Final = 5_000  # cells marked; a log with more needs its settings mended first


def marked_copy(path: Path, records: Records, findings: pd.DataFrame) -> bytes | None:
    """Mark the cells that a check is about, in a copy of the workbook.

    Parameters
    ----------
    path : Path
        The log.
    records : Records
        What was read of it.
    findings : DataFrame
        From `audit`.

    Returns
    -------
    bytes or None
        The copy; None for a log that is no workbook, or where there is nothing to mark.

    Raises
    ------
    HeadlifeError
        The workbook is not as spreadsheet programs write it.
    """
    if not is_workbook(path):
        return None
    sheet = ""
    if not any(one.sheet for one in records.origins.sheets):
        from headlife.records.workbook import table_sheet

        sheet = table_sheet(path, records.shop.intake, recogniser(records.shop))
    found = [
        *_unusable(records),
        *_doubtful(records, findings),
    ]
    marks = [
        Mark(cell_sheet or sheet, column, row, colour, f"headlife: {words}")
        for file, cell_sheet, column, row, colour, words in found[:_MOST]
        if column and file == path.name
    ]
    return marked_workbook(path.read_bytes(), marks) if marks else None


_Found = tuple[str, str, str, int, str, str]


def _unusable(records: Records) -> Iterator[_Found]:
    names = ("row", "column", "value", "problem")
    lines = zip(*(records.set_aside[name].tolist() for name in names), strict=True)
    for row, column, _, problem in lines:
        yield _at(records, row, column, _UNUSABLE, f"this row is not used. {column} {problem}.")


def _doubtful(records: Records, findings: pd.DataFrame) -> Iterator[_Found]:
    """Find the rows that doubts are about by the names that these give them."""
    rows = [*records.accepted["row"].tolist(), *records.set_aside["row"].tolist()]
    numbers = {records.origins.name(row): row for row in rows}
    kept = findings[findings["severity"] != "error"]
    for named, sentence in zip(kept["rows"].tolist(), kept["sentence"].tolist(), strict=True):
        for name in named.split(" and ")[0].split(", "):
            if name in numbers:
                yield _at(records, numbers[name], "head", _DOUBTFUL, f"doubtful. {sentence}")


def _at(records: Records, row: int, column: str, colour: str, words: str) -> _Found:
    cell = records.origins.cell(row, column)
    if not cell.column:  # the table has no such column: the note goes to the first one it has
        places = [name for one in records.origins.sheets for name in one.places]
        cell = records.origins.cell(row, places[0]) if places else cell
    return cell.file, cell.sheet, cell.column, cell.row, colour, words
