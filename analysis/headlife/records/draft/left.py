"""What is left to state before a drafted settings file answers, and in which order?

From what was found in the log, and from reading it once by the draft with stand-ins for what only
the shop knows. Each line says what and where; the list ends when nothing is left.
"""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from headlife.errors import HeadlifeError
from headlife.records.causes import causes
from headlife.records.draft.found import Found
from headlife.records.draft.intake_lines import missing, without_hours
from headlife.records.draft.meaning_lines import proposed_meanings
from headlife.records.draft.readings import find_readings
from headlife.records.draft.toml import TO_DO, quote
from headlife.shop import Shop

_MOST_READ: Final = 50_000  # rows; a longer log is not read twice
_MOST_CAUSES: Final = 5
# Stand-ins for what only the shop knows: they make the draft load, and never leave this module.
_STAND_INS: Final = re.compile(
    r'(?m)^# ((?:rated_hours|lead_time_weeks|weekly_hours) = \d+|"[^"]*" = "model")(?=  #)'
)


def left_to_state(path: Path, found: Found, draft: str) -> list[str]:
    """List what a person has to state, in order.

    Parameters
    ----------
    path : Path
        The log.
    found : Found
        What was found in it.
    draft : str
        The draft.

    Returns
    -------
    list of str
        One sentence each.
    """
    steps = []
    absent = missing(found)
    if absent:
        steps.append(f"which column is {', '.join(absent)}: [columns]")
    asked = (*found.hours.questions, *found.dates.questions)
    steps += [f"how it is written: {one}" for one in asked]
    if found.beside:
        steps.append(f"whether {', '.join(found.beside)} belong to the log: [intake] more_files")
    if without_hours(found) and find_readings(found) is None:
        steps.append("print hours a week, since the log has days only: [intake] weekly_hours")
    if _asks(draft, "positions") or _asks(draft, "roles"):
        steps.append("which of your words are model and which support: [positions] or [roles]")
    unplaced = [text for text, meaning in proposed_meanings(found).items() if meaning is None]
    if unplaced:
        shown = ", ".join(map(quote, unplaced[:3])) + (" and others" if len(unplaced) > 3 else "")
        steps.append(f"what {shown} mean: [reasons]")
    types = list(found.texts("head_type")) or ["Standard"]
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
        if "is not in the settings" not in cause.problem and "is not a role" not in cause.problem
    ]
    more = len(found) - _MOST_CAUSES
    tail = [f"{more} more causes, which headlife check lists"] if more > 0 else []
    unread = [sentence.rstrip(".") for sentence in records.not_read]
    return [*records.questions, *unread, *found[:_MOST_CAUSES], *tail]
