"""Where does a table begin: which rows are its title, which its header?

Answers from the first rows of a sheet, whatever language they are in: the row whose cells speak of
columns most and hold no data, with rows below it that do. For a draft that a person confirms.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from headlife.plain_text import clean
from headlife.records.dates import DateReadings, date_readings
from headlife.records.draft.names import name_scores
from headlife.records.header import HEADER_SEARCH_ROWS, Row, under
from headlife.records.hours import HourReadings, hour_readings

_LOOKED_BELOW: Final = 12  # rows below a header that say whether it heads them
_HEADS_THEM: Final = 0.5  # what it is worth that the cells below a name are of another kind
_TWICE: Final = 0.5  # what a name that stands twice takes away
_DATA: Final = 0.75  # what a day or a number in a header takes away


@dataclass(frozen=True)
class Top:
    """A table's header, with what stands above it."""

    titles: tuple[Row, ...]
    """Rows above the header that hold anything."""
    header: tuple[str, ...]
    """Names of the columns; of two rows under merged cells, joined."""
    header_row: int
    """Row number of the header, of its lower row where there are two."""
    rows: tuple[Row, ...]
    """Rows below that hold anything."""
    score: float
    """How much its cells speak of columns of a log [-]."""


def find_top(rows: Sequence[Row]) -> Top | None:
    """Find the header of a sheet; None for a sheet without two filled rows.

    Parameters
    ----------
    rows : sequence of Row
        Rows of a sheet.

    Returns
    -------
    Top or None
        Header and where the data begin; None where there is none.
    """
    filled = [(number, cells) for number, cells in rows if any(map(str.strip, cells))]
    best: Top | None = None
    first = filled[:HEADER_SEARCH_ROWS]
    for i in range(len(first)):
        candidates = [(first[i][1], i)]
        # A title fills one cell; merged cells above a header are several.
        several = sum(bool(cell.strip()) for cell in first[i][1]) > 1
        if several and i + 1 < len(first) and first[i + 1][0] == first[i][0] + 1:
            candidates.append((under(first[i][1], first[i + 1][1]), i + 1))
        for header, last in candidates:
            if last > i and _holds_data(first[last][1]):
                continue
            score = _score(header, filled[last + 1 : last + 1 + _LOOKED_BELOW])
            if best is None or score > best.score:
                best = Top(
                    tuple(filled[:i]),
                    tuple(map(clean, header)),
                    first[last][0],
                    tuple(filled[last + 1 :]),
                    score,
                )
    return best


def _score(header: Sequence[str], below: Sequence[Row]) -> float:
    names = [clean(name) for name in header]
    filled = [name for name in names if name]
    total = -_TWICE * (len(filled) - len(set(filled)))
    for place, name in enumerate(names):
        if name and _is_data(name):
            total -= _DATA
        elif name:
            cells = [clean(cells[place]) for _, cells in below if place < len(cells)]
            total += max(name_scores(name).values(), default=0.0) - (name in cells)
            data = [_is_data(cell) for cell in cells if cell]
            total += _HEADS_THEM * (sum(data) / len(data) if data else 0.0)
    return total


def _holds_data(cells: Sequence[str]) -> bool:
    return any(_is_data(clean(cell)) for cell in cells)


def _is_data(text: str) -> bool:
    """Tell whether a cell holds a day or a number rather than words."""
    return isinstance(date_readings(text), DateReadings) or isinstance(
        hour_readings(text), HourReadings
    )
