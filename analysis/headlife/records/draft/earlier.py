"""Take up an earlier settings file: keep what was decided, add what is new in the log.

From the text of the earlier file and of a fresh draft. Every line of the earlier file stays where
it is; new lines go below the heading of their table, new tables to the end. It changes no value.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any, Final

from headlife.errors import SettingsError
from headlife.plain_text import plain
from headlife.records.draft.toml import TO_DO
from headlife.shop.settings_file import toml_of

_HEADING: Final = re.compile(r"^\[([^\[\]]+)\]\s*(#.*)?$")
_KEY: Final = re.compile(r'^#?\s*("(?:[^"\\]|\\.)*"|[A-Za-z0-9_-]+)\s*=\s*(.*)$')
# Tables whose lines are the shop's own words; of the others only what is missing is added.
_OF_WORDS: Final = ("reasons.", "roles", "positions", "columns", "intake.events")
_NEW_TABLES: Final = ("head_types.", "intake.groups.")


def taken_up(earlier: str, draft: str, file: str) -> str:
    """Put what is new in a draft into an earlier settings file.

    Parameters
    ----------
    earlier : str
        Text of the earlier file.
    draft : str
        Text of the fresh draft.
    file : str
        Name of the earlier file, for messages.

    Returns
    -------
    str
        The earlier text with new lines.

    Raises
    ------
    SettingsError
        The earlier file is no TOML.
    """
    decided = toml_of(earlier, file)
    known = _words(decided)
    lines = earlier.rstrip("\n").split("\n")
    for table, own in _tables(draft).items():
        if table.startswith(_NEW_TABLES):
            if _at(decided, table) is None:
                lines += ["", f"[{table}]  {TO_DO}: new in the log", *own]
        elif table.startswith(_OF_WORDS):
            fresh = [line for line in own if _is_new(line, table, known, decided)]
            lines = _added(lines, table, fresh)
    text = "\n".join(lines) + "\n"
    if not _keeps(decided, toml_of(text, file)):
        raise SettingsError(
            f"{file}: what is new in the log cannot be added without changing what was decided; "
            "draft without --from, and copy the new lines by hand."
        )
    return text


def _tables(draft: str) -> dict[str, list[str]]:
    """Give the lines of each table of a draft, without blank ones and plain remarks."""
    tables: dict[str, list[str]] = {}
    own: list[str] = []
    unplaced = tables.setdefault("reasons.", [])
    for line in draft.splitlines():
        heading = _HEADING.match(line)
        if heading:
            own = tables.setdefault(heading[1], [])
        elif line.startswith("# Reasons without a proposal"):
            own = unplaced
        elif _KEY.match(line):
            own.append(line)
    return tables


def _words(decided: Mapping[str, Any]) -> frozenset[str]:
    """Give every word that some table of the earlier file gives a meaning."""
    reasons = decided.get("reasons", {})
    tables = [table for table in reasons.values() if isinstance(table, Mapping)]
    tables += [decided.get(name, {}) for name in ("roles", "positions")]
    tables.append(decided.get("intake", {}).get("events", {}))
    blank = decided.get("intake", {}).get("blank", [])
    words = [word for table in tables for word in table] + list(blank)
    return frozenset(plain(word).casefold() for word in words)


def _is_new(line: str, table: str, known: frozenset[str], decided: Mapping[str, Any]) -> bool:
    match = _KEY.match(line)
    if match is None:
        return False
    name = _text(match[1])
    if table == "columns":
        columns = decided.get("columns", {})
        return name not in columns and not line.startswith("#") and _column_is_free(line, columns)
    return plain(name).casefold() not in known


def _column_is_free(line: str, columns: Mapping[str, str]) -> bool:
    value = tomllib.loads(line.split("  #")[0])
    return not set(value.values()) & set(columns.values())


def _text(key: str) -> str:
    return str(next(iter(tomllib.loads(f"{key} = 1")))) if key.startswith('"') else key


def _added(lines: list[str], table: str, fresh: list[str]) -> list[str]:
    """Put lines below the heading of a table, or the table with them at the end."""
    if not fresh:
        return lines
    marked = [line if TO_DO in line else f"{line}  {TO_DO}: new in the log" for line in fresh]
    if table == "reasons.":
        return [*lines, "", "# New reasons without a proposal: move each to its table.", *marked]
    for place, line in enumerate(lines):
        heading = _HEADING.match(line)
        if heading and heading[1] == table:
            return [*lines[: place + 1], *marked, *lines[place + 1 :]]
    return [*lines, "", f"[{table}]", *marked]


def _at(decided: Mapping[str, Any], table: str) -> Any:
    here: Any = tomllib.loads(f"[{table}]\n")
    there: Any = decided
    while here:
        name, here = next(iter(here.items()))
        if not isinstance(there, Mapping) or name not in there:
            return None
        there = there[name]
    return there


def _keeps(before: Any, after: Any) -> bool:
    """Tell whether everything that was decided still stands."""
    if isinstance(before, Mapping):
        return isinstance(after, Mapping) and all(
            name in after and _keeps(value, after[name]) for name, value in before.items()
        )
    return bool(before == after)
