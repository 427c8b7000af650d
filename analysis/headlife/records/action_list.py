"""What was to be done after an earlier review, and what did people write beside it?

From the list of actions that a review wrote and people filled in, CSV or XLSX. Each row carries a
reference that says what it is about; a row of another shop, changed or added by hand is named and
the others are read. Never judges what came of an action.
"""

from __future__ import annotations

import datetime
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from headlife.errors import RecordsError
from headlife.plain_text import clean
from headlife.records.cells import quoted
from headlife.records.columns import column_key
from headlife.records.intake import open_table
from headlife.shop import Intake

WHAT: Final = "What"
OWNER: Final = "Owner"
DECISION: Final = "Decision"
DECIDED: Final = "Decided on"
REFERENCE: Final = "Reference"
_READ: Final = (WHAT, OWNER, DECISION, DECIDED, REFERENCE)
_FORMAT: Final = 1
_DIGITS: Final = 12


@dataclass(frozen=True)
class ListedAction:
    """One action of an earlier review, as its reference says it."""

    shop: str
    """Name of the shop."""
    as_of: datetime.date
    """Day of the review that asked for it."""
    kind: str
    """What sort of thing."""
    about: tuple[str, ...]
    """What it is about."""
    by: datetime.date
    """Day by which it was to be done."""
    heads: int = 0
    """Heads to order, or in question [heads]."""
    on_hand: int = 0
    """New heads on the shelf then [heads]."""
    on_order: int = 0
    """New heads on order then [heads]."""


@dataclass(frozen=True)
class GivenBack:
    """One row of the list as it came back."""

    action: ListedAction
    """What was asked for."""
    what: str
    """What it was called."""
    owner: str
    """Whose it is; empty where nobody wrote it."""
    decision: str
    """What was decided; empty where nobody wrote it."""
    decided: str
    """When, as it was written."""


@dataclass(frozen=True)
class ActionList:
    """A list of actions given back."""

    file: str
    """Name of the file."""
    rows: tuple[GivenBack, ...]
    """Rows that can be answered."""
    problems: tuple[str, ...]
    """Sentences about rows that cannot, or that were changed."""


def reference(action: ListedAction, what: str) -> str:
    """Write what an action is about so that a spreadsheet leaves it as it is.

    Parameters
    ----------
    action : ListedAction
        The action.
    what : str
        What it is called in the list.

    Returns
    -------
    str
        Text with a check sum that shows a slip of the hand; it is no signature.
    """
    said = [
        _FORMAT, action.shop, action.as_of.isoformat(), action.kind, list(action.about),
        action.by.isoformat(), action.heads, action.on_hand, action.on_order,
        _digest(_letters(what)),
    ]  # fmt: skip
    # No separator of any spreadsheet's CSV stands in it but the comma, and every cell is quoted.
    text = json.dumps(said, ensure_ascii=True).replace(";", "\\u003b").replace("|", "\\u007c")
    return f"{text} {_digest(text)}"


def read_action_list(path: str | Path, shop_name: str, day: datetime.date) -> ActionList:
    """Read a list of actions that was given back.

    Parameters
    ----------
    path : str or Path
        CSV or XLSX.
    shop_name : str
        The shop that asks.
    day : datetime.date
        Day on which it asks: what was to be done after it is not answered.

    Returns
    -------
    ActionList
        Every row is answered or named.

    Raises
    ------
    RecordsError
        The file is no list of actions, or cannot be read.
    """
    table = open_table(path, Intake(), _recognised)
    keys = [column_key(name) for name in table.header]
    if column_key(REFERENCE) not in keys:
        raise RecordsError(
            f"{table.file} has no column '{REFERENCE}', so it is no list of actions that a review "
            "wrote; give back the file of --actions-to with its columns as they were."
        )
    places = {name: keys.index(column_key(name)) for name in _READ if column_key(name) in keys}
    rows, problems = [], []
    for number, cells in table.rows:
        said = {name: clean(cells[at]) if at < len(cells) else "" for name, at in places.items()}
        found = _row(said, shop_name, day)
        if isinstance(found, GivenBack):
            rows.append(found)
            if _digest(_letters(found.what)) != _words_of(said[REFERENCE]):
                problems.append(
                    f"{table.file}, row {number}: {quoted(found.what)} is not what the review "
                    "wrote there; it is answered by its reference."
                )
        else:
            problems.append(f"{table.file}, row {number}: {found}")
    return ActionList(table.file, tuple(rows), tuple(problems))


def _recognised(cells: Sequence[str]) -> int:
    return len({column_key(name) for name in _READ} & {column_key(cell) for cell in cells})


def _row(said: dict[str, str], shop_name: str, day: datetime.date) -> GivenBack | str:
    """Read one row, or say why it cannot be answered."""
    what, text = said.get(WHAT, ""), said[REFERENCE].lstrip("'")
    if not text:
        return f"{quoted(what)} has no reference: somebody's own line, left as it is."
    action = _action(text)
    if action is None:
        return (
            f"the reference of {quoted(what)} was changed by hand; copy it from the file that the "
            "review wrote."
        )
    if action.shop != shop_name:
        return f"{quoted(what)} is of another shop, {quoted(action.shop)}; it is left out."
    if action.as_of > day:
        return f"{quoted(what)} was asked for on {action.as_of}, after the day of this review."
    texts = (said.get(name, "") for name in (OWNER, DECISION, DECIDED))
    return GivenBack(action, what, *texts)


def _action(text: str) -> ListedAction | None:
    body, _, digest = text.rpartition(" ")
    if _digest(body) != digest:
        return None
    try:
        _, shop, as_of, kind, about, by, heads, on_hand, on_order, _ = json.loads(body)
        return ListedAction(
            str(shop), _day(as_of), str(kind), tuple(map(str, about)), _day(by),
            int(heads), int(on_hand), int(on_order),
        )  # fmt: skip
    except (ValueError, TypeError):
        return None


def _words_of(text: str) -> Any:
    return json.loads(text.lstrip("'").rpartition(" ")[0])[-1]


def _day(text: str) -> datetime.date:
    return datetime.date.fromisoformat(text)


def _letters(text: str) -> str:
    """Letters and digits alone: spreadsheets add quotes and spaces of their own."""
    return "".join(filter(str.isalnum, text))


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:_DIGITS]
