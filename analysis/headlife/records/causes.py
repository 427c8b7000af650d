"""What is behind the rows that cannot be used? Rows set aside grouped by one cause each.

From the rows that reading set aside. One line of settings, or one kind of slip, often explains many
rows; a cause names it once, with its rows. It mends nothing.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import pandas as pd

from headlife.records.cells import quoted
from headlife.records.origins import Origins

# Columns whose words are stated in the settings: each word is a cause of its own.
_OF_WORDS: Final = ("role", "reason", "head_type", "event", "refurbished")
# What differs from row to row in one and the same sentence: values in quotes, numbers, days.
_OF_ONE_ROW: Final = re.compile(r"'[^']*'|[0-9][0-9.,:-]*")


@dataclass(frozen=True)
class Cause:
    """One cause for which rows cannot be used."""

    column: str
    """Column to look at."""
    value: str
    """What stands in it, in the first row."""
    one_value: bool
    """True when it stands so in all of the rows."""
    problem: str
    """What is wrong and what to do, for the first row; follows column and value."""
    rows: tuple[int, ...]
    """The rows' numbers."""
    named: str
    """The rows in words: the first few, then how many more."""

    @property
    def sentence(self) -> str:
        """Say it in one sentence, without the full stop."""
        n = len(self.rows)
        which = f"{n:,} rows ({self.named})" if n > 1 else f"row {self.named}"
        example = "" if self.one_value else "such as "
        return f"{which}, {self.column} {example}{quoted(self.value)} {self.problem}"


def causes(set_aside: pd.DataFrame, origins: Origins) -> list[Cause]:
    """Group rows set aside by their cause.

    Parameters
    ----------
    set_aside : DataFrame
        Rows that cannot be used, as `frames` describes them.
    origins : Origins
        Where each row stands.

    Returns
    -------
    list of Cause
        Those with the most rows first.
    """
    names = ("row", "column", "value", "problem")
    lines = zip(*(set_aside[name].tolist() for name in names), strict=True)
    groups: dict[tuple[str, str, str], list[tuple[int, str, str]]] = {}
    for row, column, value, problem in lines:
        own = value.strip() if column in _OF_WORDS else ""
        alike = _OF_ONE_ROW.sub("#", problem.split("; and ")[0])
        groups.setdefault((column, own, alike), []).append((row, value, problem))
    found = [_cause(column, rows, origins) for (column, _, _), rows in groups.items()]
    return sorted(found, key=lambda cause: (-len(cause.rows), cause.rows[0]))


def _cause(column: str, rows: list[tuple[int, str, str]], origins: Origins) -> Cause:
    numbers = tuple(row for row, _, _ in rows)
    _, value, problem = rows[0]
    return Cause(
        column,
        value,
        len({text.strip() for _, text, _ in rows}) == 1,
        problem,
        numbers,
        origins.listed(numbers),
    )
