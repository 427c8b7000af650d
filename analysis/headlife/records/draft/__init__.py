"""Draft a settings file from a shop's own table, for a person to finish.

Answers how the log is laid out and written, which of its columns look like which standard column,
and which reasons, head types and roles stand in it, in nine languages. What is proved is written,
what only looks so is marked `TO DO`, and the settings do not load until someone has filled in what
no log can tell: a list says what is left, in which order, from reading the log once by the draft.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from headlife.errors import HeadlifeError, SettingsError
from headlife.records.causes import causes
from headlife.records.counted import PER_HOUR, other_unit
from headlife.records.draft.earlier import taken_up
from headlife.records.draft.found import Found, look_at
from headlife.records.draft.intake_lines import column_lines, intake_lines, missing, without_hours
from headlife.records.draft.meaning_lines import (
    proposed_meanings,
    reason_lines,
    rest_lines,
    type_lines,
)
from headlife.records.draft.names import name_scores
from headlife.records.draft.readings import find_readings
from headlife.records.draft.toml import TO_DO, comment, quote
from headlife.records.wide import NOT_SEEN_AGAIN
from headlife.shop import Shop

_BY_METER: Final = 'hours = "printer"'
_MOST_READ: Final = 50_000  # rows; a longer log is not read twice
_MOST_CAUSES: Final = 5
_HALF: Final = 0.5
# What is asked for by itself, and rows that only wait for the answer or for another row.
_SAID_BEFORE: Final = ("is not in the settings", "is not a role", "belong to an installation")
# Stand-ins for what only the shop knows: they make the draft load, and never leave this module.
_STAND_INS: Final = re.compile(
    r'(?m)^# ((?:rated_hours|lead_time_weeks|weekly_hours) = \d+|"[^"]*" = "model")(?=  #)'
)


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
    steps = _left_to_state(Path(path), found, draft)
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


def _left_to_state(path: Path, found: Found, draft: str) -> list[str]:
    """List what a person has to state, in order."""
    steps = []
    absent = missing(found)
    if absent:
        removals_alone = "date_in" in absent and found.places("date_out")
        hint = " (where none tells it: the day the head before came out)" * bool(removals_alone)
        steps.append(f"which column is {', '.join(absent)}{hint}: [columns]")
    asked = (*found.hours.questions, *found.dates.questions)
    steps += [f"how it is written: {one}" for one in asked]
    if found.beside:
        steps.append(f"whether {', '.join(found.beside)} belong to the log: [intake] more_files")
    counts = [
        (own, unit)
        for place, own in enumerate(found.header)
        if (unit := other_unit(own)) not in (None, *PER_HOUR)
        and found.contents[place].hours > _HALF
    ]
    if without_hours(found) and find_readings(found) is None:
        steps += [
            f"whether {quote(own)}, which seems to count {unit} and is not read, tells how long "
            "heads printed: where it does, write print hours into the log instead"
            for own, unit in counts
        ]
        steps.append("print hours a week, since no column has hours: [intake] weekly_hours")
    if _asks(draft, "positions") or _asks(draft, "roles"):
        steps.append("which of your words are model and which support: [positions] or [roles]")
    unplaced = [text for text, meaning in proposed_meanings(found).items() if meaning is None]
    if NOT_SEEN_AGAIN in unplaced:
        steps.append(
            f"what became of heads that are {quote(NOT_SEEN_AGAIN)}, since this log does not say "
            "why heads came out: [reasons.may_have_failed] where nobody knows it (answers are then "
            "given both ways, and few can be settled); better keep a row a stretch with its reason "
            "(headlife log)"
        )
    elif unplaced:
        shown = ", ".join(map(quote, unplaced[:3])) + (" and others" if len(unplaced) > 3 else "")
        steps.append(f"what {shown} mean{'s' if len(unplaced) == 1 else ''}: [reasons]")
    types = list(found.texts("head_type")) or ["Standard"]
    if not found.places("head_type") and (where := _types_elsewhere(found)):
        steps.append(
            f"the type of each head: {where}; the log has no column of types, and all heads "
            "count as one while it has none. Add one, filled in by the serials"
        )
    steps.append(f"the rated hours of {', '.join(map(quote, types[:5]))}: [head_types]")
    steps.append("weeks from order to delivery: [spares] lead_time_weeks")
    marked = sum(TO_DO in line and not line.startswith("#") for line in draft.splitlines())
    if marked:
        steps.append(
            f"whether the {marked} proposals marked {TO_DO[2:]} are right; take the mark away"
        )
    if not absent and len(found.rows) <= _MOST_READ:
        steps += _troubles(path, draft)
    return steps


def _types_elsewhere(found: Found) -> str:
    """Name another table that says by its serials of which type heads are."""
    for (where, name), top in found.others.items():
        said = {column: own for own in top.header for column in name_scores(own)}
        if {"head", "head_type"} <= set(said):
            return f"{where} {quote(name)} tells it in {quote(said['head_type'])}"
    return ""


def _asks(draft: str, table: str) -> bool:
    """Tell whether a table of the draft has a line that nobody could propose."""
    part = draft.partition(f"\n[{table}]")[2].partition("\n\n")[0]
    return any(line.startswith("# ") and TO_DO in line for line in part.splitlines())


def _troubles(path: Path, draft: str) -> list[str]:
    """Read the log by the draft with stand-ins; say what would keep rows from being used."""
    from headlife.records.table import read_records

    try:
        shop = Shop.model_validate(tomllib.loads(_STAND_INS.sub(r"\1", draft)))
        records = read_records(path, shop, unknown="set aside")
    except ValidationError:
        return []
    except HeadlifeError as problem:
        return [str(problem).splitlines()[0].rstrip(".")]
    found = [
        cause.sentence
        for cause in causes(records.set_aside, records.origins)
        if not any(known in cause.problem for known in _SAID_BEFORE)
    ]
    more = len(found) - _MOST_CAUSES
    tail = [f"{more} more causes, which headlife check lists"] if more > 0 else []
    unread = [sentence.rstrip(".") for sentence in records.not_read]
    return [*records.questions, *unread, *found[:_MOST_CAUSES], *tail]
