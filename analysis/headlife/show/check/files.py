"""The findings of a check as CSV and XLSX, and the shop's own workbook with its cells marked.

From the table that `records.audit.audit` returns. A cell that a spreadsheet would take for a
formula is written as text, and characters that no spreadsheet can hold are shown by their code. In
the copy of the workbook cells that keep a row from being used are orange, cells of rows that are
used and doubtful are yellow; nothing else in it changes.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final

from headlife.records.columns import recogniser
from headlife.records.intake import is_workbook
from headlife.show.csv_text import csv_bytes
from headlife.show.files import Outputs, write_whole
from headlife.show.xlsx import workbook_bytes
from headlife.show.xlsx_marks import marked_workbook
from headlife.show.xlsx_notes import Mark

if TYPE_CHECKING:
    import pandas as pd

    from headlife.records.record_set import Records

_WIDTHS: Final = {"check": 24, "sentence": 110}
_WIDTH: Final = 16
_KINDS: Final = ("csv", "xlsx")
_UNUSABLE, _DOUBTFUL = "F8CBAD", "FFF2CC"
_MOST: Final = 5_000  # cells marked; a log with more needs its settings mended first


def claim_findings(beside: Path, outputs: Outputs) -> tuple[Path, Path, Path]:
    """Say where the findings about a table will be written: `log.csv` gives `log.check.csv`.

    Parameters
    ----------
    beside : Path
        The table, or the folder of tables, by a name of its own.
    outputs : Outputs
        What this run may write.

    Returns
    -------
    tuple of Path
        The CSV, the XLSX and the marked copy of a workbook.

    Raises
    ------
    HeadlifeError
        Nothing may be written there.
    """
    names = [beside.with_name(f"{beside.stem}.check.{kind}") for kind in _KINDS]
    names.append(beside.with_name(f"{beside.stem}.marked{beside.suffix}"))
    say = "the findings (use --no-files for none)"
    claimed = [outputs.claim(name, say) for name in names]
    return claimed[0], claimed[1], claimed[2]


def write_findings(
    log: Path, records: Records, findings: pd.DataFrame, places: tuple[Path, Path, Path]
) -> list[Path]:
    """Write findings as CSV and XLSX, and into a copy of the shop's own workbook.

    Parameters
    ----------
    log : Path
        The log.
    records : Records
        What was read of it.
    findings : DataFrame
        From `audit`.
    places : tuple of Path
        From `claim_findings`.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    HeadlifeError
        A file cannot be written.
    """
    names = [str(name) for name in findings.columns]
    lines = [names, *([str(cell) for cell in line] for line in findings.to_numpy(dtype=object))]
    write_whole(places[0], csv_bytes(lines))
    widths = [_WIDTHS.get(name, _WIDTH) for name in names]
    write_whole(places[1], workbook_bytes({"Findings": lines}, widths, wrap=True))
    copy = _marked_copy(log, records, findings)
    if copy is None:
        return [places[0], places[1]]
    write_whole(places[2], copy)
    return list(places)


def _marked_copy(path: Path, records: Records, findings: pd.DataFrame) -> bytes | None:
    """Mark the cells that a check is about, in a copy of the workbook."""
    if path.is_dir() or not is_workbook(path):
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
