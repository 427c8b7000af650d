"""Write the audit's findings as CSV and XLSX that a spreadsheet program can open without harm.

From the table that `records.audit.audit` returns. A cell that a spreadsheet would take for a
formula is written as text, and characters that no spreadsheet can hold are shown by their code.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from headlife.errors import HeadlifeError
from headlife.show.files import put_in_place

if TYPE_CHECKING:
    from collections.abc import Sequence

    import pandas as pd

# A cell that begins with one of these may be run as a formula when a CSV is opened.
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "|", "%")
_LONGEST: Final = 32_767  # characters in a cell of a workbook
_WIDTHS: Final = {"check": 24, "sentence": 110}


def harmless(value: object) -> str:
    """Write a cell so that no spreadsheet runs it: an apostrophe before what looks like a formula.

    Control characters, line breaks and direction marks are written as their codes.
    """
    text = "".join(c if c.isprintable() else f"<U+{ord(c):04X}>" for c in str(value))[:_LONGEST]
    return f"'{text}" if text.lstrip().startswith(_FORMULA_STARTS) else text


def write_findings(findings: pd.DataFrame, beside: Path) -> tuple[Path, Path]:
    """Write findings as CSV and XLSX beside the table they are about.

    Parameters
    ----------
    findings : DataFrame
        From `audit`.
    beside : Path
        The records file; `log.csv` gives `log.check.csv` and `log.check.xlsx`.

    Returns
    -------
    tuple of Path
        The two files.

    Raises
    ------
    HeadlifeError
        When the folder cannot be written to.
    """
    lines = [list(findings.columns), *findings.to_numpy(dtype=object).tolist()]
    cells = [[harmless(value) for value in line] for line in lines]
    names = (
        beside.with_name(f"{beside.stem}.check.csv"),
        beside.with_name(f"{beside.stem}.check.xlsx"),
    )
    try:
        put_in_place(names[0], _as_csv(cells))
        put_in_place(names[1], _as_xlsx(cells))
    except OSError as problem:
        raise HeadlifeError(
            f"The findings cannot be written to {names[0].parent} ({problem.strerror}); copy the "
            "table into a folder of your own, or use --no-files."
        ) from None
    return names


def _as_csv(cells: Sequence[Sequence[str]]) -> bytes:
    text = io.StringIO()
    csv.writer(text, lineterminator="\r\n").writerows(cells)
    # The byte-order mark tells spreadsheet programs that the text is UTF-8.
    return text.getvalue().encode("utf-8-sig", errors="replace")


def _as_xlsx(cells: Sequence[Sequence[str]]) -> bytes:
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    book = Workbook()
    sheet: Any = book.active
    sheet.title = "Findings"
    for number, line in enumerate(cells, start=1):
        for place, text in enumerate(line, start=1):
            cell = sheet.cell(row=number, column=place)
            cell.value = text.removeprefix("'")
            cell.data_type = "s"  # text, whatever it begins with
            cell.quotePrefix = text.startswith("'")
            cell.alignment = Alignment(wrap_text=True, vertical="top")
            if number == 1:
                cell.font = Font(bold=True)
    for place, name in enumerate(cells[0], start=1):
        sheet.column_dimensions[get_column_letter(place)].width = _WIDTHS.get(name, 16)
    sheet.freeze_panes = "A2"
    stream = io.BytesIO()
    book.save(stream)
    return stream.getvalue()
