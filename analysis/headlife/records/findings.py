"""What can be wrong with rows? A fault sets a row aside, a finding says what was done about rows.

Values that every check of records gives, and what they are called. Checks nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Final

KEPT: Final = "kept and flagged"
SET_ASIDE: Final = "set aside"
NOT_READ: Final = "not read"
NOT_ANSWERED: Final = "nothing is answered until it is stated"
_ROWS_NAMED: Final = 10


@dataclass(frozen=True)
class Fault:
    """A row, or an event, that cannot be used."""

    place: int
    """Its place in the table."""
    column: str
    """Standard column to look at first."""
    sentence: str
    """What is wrong and what to do; follows the column and its value."""


@dataclass(frozen=True)
class Finding:
    """Something the audit found."""

    check: str
    """Name of the check."""
    severity: str
    """How much it matters."""
    treatment: str
    """What was done about it."""
    rows: str
    """Numbers of the rows."""
    head: str
    """The head they are about; empty where it is no one head."""
    sentence: str
    """What was found, and what to do."""


def doubt(check: str, rows: str, head: str, sentence: str) -> Finding:
    """Find rows that stay although they do not quite agree.

    Parameters
    ----------
    check, rows, head, sentence : str
        As for `Finding`.

    Returns
    -------
    Finding
        A doubt, kept and flagged.
    """
    return Finding(check, "doubt", KEPT, rows, head, sentence)


def name_rows(rows: Iterable[Any]) -> str:
    """Name rows by number, the first few, then how many more.

    Parameters
    ----------
    rows : iterable of Any
        Numbers of rows.

    Returns
    -------
    str
        The words.
    """
    numbers = sorted(rows)
    text = ", ".join(map(str, numbers[:_ROWS_NAMED]))
    more = len(numbers) - _ROWS_NAMED
    return text + (f" and {more} more" if more > 0 else "")
