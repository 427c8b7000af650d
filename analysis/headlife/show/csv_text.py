"""How do rows become a CSV that a spreadsheet opens without harm? The one writer of CSV answers.

A cell that a spreadsheet would take for a formula is written as text, and characters that no
spreadsheet can hold are shown by their code.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import Any, Final

from headlife.show.xlsx import FORMULA_STARTS, printable

_SPLITTER: Final = ";"  # where half of Europe's spreadsheets begin the next cell


def csv_bytes(rows: Iterable[Sequence[Any]]) -> bytes:
    """Write rows as CSV: days as year-month-day, nothing for a cell without a value.

    Parameters
    ----------
    rows : iterable of sequence
        Rows, headings first.

    Returns
    -------
    bytes
        The file.
    """
    text = io.StringIO()
    # Every cell in quotes: whoever splits at semicolons still sees where a cell ends.
    writer = csv.writer(text, lineterminator="\r\n", quoting=csv.QUOTE_ALL)
    writer.writerows([_cell(value) for value in row] for row in rows)
    # The byte-order mark tells spreadsheet programs that the text is UTF-8.
    return text.getvalue().encode("utf-8-sig", errors="replace")


def _cell(value: Any) -> str:
    if value is None:
        return ""
    # A number below zero is no formula.
    return str(value) if isinstance(value, (int, float)) else harmless(value)


def harmless(value: object) -> str:
    """Write a cell of a CSV so that no spreadsheet runs it, whatever it takes for a separator.

    An apostrophe goes before what looks like a formula, at the beginning and behind a semicolon;
    control characters, line breaks and direction marks are written as their codes.

    Parameters
    ----------
    value : object
        The cell.

    Returns
    -------
    str
        The cell.
    """
    parts = printable(str(value)).split(_SPLITTER)
    return _SPLITTER.join(map(_guarded, parts))


def _guarded(part: str) -> str:
    bare = part.lstrip(" \"'")
    return f"'{part}" if bare.startswith(FORMULA_STARTS) and not part.startswith("'") else part
