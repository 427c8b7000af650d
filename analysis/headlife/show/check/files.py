"""The findings of a check as CSV and XLSX that a spreadsheet program can open without harm.

From the table that `records.audit.audit` returns. A cell that a spreadsheet would take for a
formula is written as text, and characters that no spreadsheet can hold are shown by their code.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from headlife.show.check.marked import marked_copy
from headlife.show.csv_text import csv_bytes
from headlife.show.files import Outputs, write_whole
from headlife.show.xlsx import workbook_bytes

if TYPE_CHECKING:
    import pandas as pd

    from headlife.records.record_set import Records

_WIDTHS: Final = {"check": 24, "sentence": 110}
_WIDTH: Final = 16
_KINDS: Final = ("csv", "xlsx")


def claim_findings(beside: Path, outputs: Outputs) -> tuple[Path, Path, Path]:
    """Say where the findings about a table will be written: `log.csv` gives `log.check.csv`.

    Parameters
    ----------
    beside : Path
        The table.
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
    copy = marked_copy(log, records, findings)
    if copy is None:
        return [places[0], places[1]]
    write_whole(places[2], copy)
    return list(places)
