"""The findings of a check as CSV and XLSX that a spreadsheet program can open without harm.

From the table that `records.audit.audit` returns. A cell that a spreadsheet would take for a
formula is written as text, and characters that no spreadsheet can hold are shown by their code.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from headlife.show.csv_text import csv_bytes
from headlife.show.files import Outputs, write_whole
from headlife.show.xlsx import workbook_bytes

if TYPE_CHECKING:
    import pandas as pd

_WIDTHS: Final = {"check": 24, "sentence": 110}
_WIDTH: Final = 16
_KINDS: Final = ("csv", "xlsx")


def claim_findings(beside: Path) -> tuple[Path, Path]:
    """Say where the findings about a table will be written: `log.csv` gives `log.check.csv`.

    Parameters
    ----------
    beside : Path
        The table.

    Returns
    -------
    tuple of Path
        The CSV and the XLSX.

    Raises
    ------
    HeadlifeError
        Nothing may be written there.
    """
    outputs = Outputs([beside])
    csv_name, xlsx_name = (beside.with_name(f"{beside.stem}.check.{kind}") for kind in _KINDS)
    say = "the findings (use --no-files for none)"
    return outputs.claim(csv_name, say), outputs.claim(xlsx_name, say)


def write_findings(findings: pd.DataFrame, places: tuple[Path, Path]) -> None:
    """Write findings as CSV and XLSX.

    Parameters
    ----------
    findings : DataFrame
        From `audit`.
    places : tuple of Path
        From `claim_findings`.

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
