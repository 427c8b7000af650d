"""Draft a settings file from a shop's own table, for a person to finish.

Answers how the log is laid out and written, which of its columns look like which standard column,
and which reasons, head types and roles stand in it, in nine languages. What is proved is written,
what only looks so is marked `TO DO`, and the settings do not load until someone has filled in what
no log can tell.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from headlife.errors import SettingsError
from headlife.records.draft.earlier import taken_up
from headlife.records.draft.found import Found, look_at
from headlife.records.draft.intake_lines import column_lines, intake_lines
from headlife.records.draft.left import left_to_state
from headlife.records.draft.meaning_lines import reason_lines, rest_lines, type_lines
from headlife.records.draft.toml import TO_DO, comment

_BY_METER: Final = 'hours = "printer"'


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
    >>> import headlife as hl
    >>> print(hl.draft_settings("data_demo/removals.csv").splitlines()[0])
    # Settings drafted from removals.csv, 241 rows.
    """
    return draft_with_steps(path, sheet)[0]


def draft_with_steps(
    path: str | Path, sheet: str | None = None, earlier: str | Path | None = None
) -> tuple[str, list[str]]:
    """Draft a settings file, and list what is left to state.

    Parameters
    ----------
    path : str or Path
        The shop's own table.
    sheet : str, optional
        Sheet of a workbook.
    earlier : str or Path, optional
        An earlier settings file: what was decided there stays, what is new in the log is added.

    Returns
    -------
    draft : str
        TOML, which ends with the same list as remarks.
    steps : list of str
        What is left to state, in order.

    Raises
    ------
    HeadlifeError
        As for `draft_settings`; or the earlier file is missing or no settings file.
    """
    found = look_at(path, sheet)
    draft = _draft_of(found)
    if earlier is not None:
        return _of_an_earlier(Path(earlier), draft, Path(path))
    steps = left_to_state(Path(path), found, draft)
    if any(_BY_METER in step for step in steps):
        draft = _with_clock(draft)
    listed = [f"# {n}. {comment(step)}" for n, step in enumerate(steps, start=1)]
    return "\n".join([draft, "# Left to state, in order:", *listed]) + "\n", steps


def _with_clock(draft: str) -> str:
    """Offer the line that says whose clock the hours are."""
    line = f"# {_BY_METER}  {TO_DO}: whose clock it is; see the list at the end"
    if "\n[intake]\n" in draft:
        return draft.replace("\n[intake]\n", f"\n[intake]\n{line}\n", 1)
    return draft.replace("\n[columns]\n", f"\n[intake]\n{line}\n\n[columns]\n", 1)


def _of_an_earlier(path: Path, draft: str, log: Path) -> tuple[str, list[str]]:
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as problem:
        raise SettingsError(
            f"The earlier settings '{path}' cannot be read ({problem}); check the name and folder."
        ) from None
    merged = taken_up(text, draft, path.name)
    new = [line for line in merged.splitlines() if TO_DO in line and line not in text.splitlines()]
    steps = [f"{line.split('  #')[0].lstrip('# ')} is new in {log.name}" for line in new]
    return merged, steps


def _draft_of(found: Found) -> str:
    """Write the draft of what was found."""
    notes = [*found.hours.notes, *found.dates.notes]
    lines = [
        f"# Settings drafted from {comment(found.file.name)}, {len(found.rows):,} rows.",
        f"# Finish or confirm every line marked {TO_DO[2:]} and take the mark away, then check the",
        "# table with: headlife check TABLE --shop THIS_FILE",
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
