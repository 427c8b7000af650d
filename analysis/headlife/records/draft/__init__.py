"""Draft a settings file from a shop's own table, for a person to finish.

Answers how the log is laid out and written, which of its columns look like which standard column,
and which reasons, head types and roles stand in it, in nine languages. What is proved is written,
what only looks so is marked `TO DO`, and the settings do not load until someone has filled in what
no log can tell.
"""

from __future__ import annotations

from pathlib import Path

from headlife.records.draft.found import Found, look_at
from headlife.records.draft.intake_lines import column_lines, intake_lines
from headlife.records.draft.meaning_lines import reason_lines, rest_lines, type_lines
from headlife.records.draft.toml import TO_DO, comment


def draft_settings(path: str | Path, sheet: str | None = None) -> str:
    """Draft a settings file from a table of removals.

    Parameters
    ----------
    path : str or Path
        The shop's own table: CSV, XLSX or Parquet.
    sheet : str, optional
        Sheet of a workbook.

    Returns
    -------
    str
        TOML, with `# TO DO` on every line that a person has to finish or confirm.

    Raises
    ------
    RecordsError
        When the file is missing, empty or is no table.

    Examples
    --------
    >>> from headlife import draft_settings
    >>> print(draft_settings("data_demo/removals.csv").splitlines()[0])
    # Settings drafted from removals.csv, 241 rows.
    """
    return draft_of(look_at(path, sheet))


def draft_of(found: Found) -> str:
    """Write the draft of what was found."""
    notes = [*found.hours.notes, *found.dates.notes]
    lines = [
        f"# Settings drafted from {comment(found.file.name)}, {len(found.rows):,} rows.",
        f"# Finish or confirm every line marked {TO_DO[2:]} and take the mark away, delete what you",
        "# do not need, then check the table with: headlife check TABLE --shop THIS_FILE",
        *(f"# {comment(note)}" for note in notes),
        f'name = "Our shop"  {TO_DO}: the name on the page',
        "",
        *intake_lines(found),
        *column_lines(found),
        *reason_lines(found),
        *type_lines(found),
        *rest_lines(found),
    ]
    return "\n".join(lines) + "\n"
