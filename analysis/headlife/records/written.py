"""What do the cells of a table's columns say, and how was that settled?

The result of reading columns of hours or of dates as a whole; and which texts stand for a blank
cell. Reads nothing itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from headlife.plain_text import plain
from headlife.shop import Intake

Columns = Mapping[str, Sequence[str]]
"""Column -> its distinct texts, as written."""

ReadAs = Mapping[str, tuple[tuple[str, ...], tuple[str, ...]]]
"""Line of `[intake]` -> what cells prove of it, and by what of it unclear cells were read."""

DASHES: Final = frozenset({"-", "--", "---"})  # mean a blank cell


@dataclass(frozen=True)
class Written:
    """What the cells of some columns say, and how that was settled."""

    cells: Mapping[str, list[Any]]
    """Column -> for each of its texts the value, None when blank, or a `Problem`."""
    proved: tuple[str, ...] = ()
    """Decimal marks, or orders of dates, that cells prove; one when one hand wrote them all."""
    notes: tuple[str, ...] = ()
    """Sentences about what was found out and is not stated in the settings."""
    settled: tuple[str, ...] = ()
    """Decimal marks, or orders of dates, by which cells were read that can mean two things."""
    questions: tuple[str, ...] = ()
    """Sentences about what nothing settles, each with the line to write in the settings."""


def blank_words(intake: Intake) -> frozenset[str]:
    """Give the texts that mean a blank cell: what is stated, and dashes.

    Parameters
    ----------
    intake : Intake
        How the file is written.

    Returns
    -------
    frozenset[str]
        The texts.
    """
    return DASHES | {plain(word).casefold() for word in intake.blank}


def and_more(n: int) -> str:
    """Say that there are more such cells.

    Parameters
    ----------
    n : int
        How many more.

    Returns
    -------
    str
        The words.
    """
    return f" ({n} more such {'cell' if n == 1 else 'cells'})" if n else ""
