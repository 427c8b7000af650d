"""Find the header of a table: the row, or two rows under merged cells, that names columns.

Answers from the first rows and a count of known names among them. It never drops a record: rows
above the header are titles only where they do not fill its columns, all rows below it are data.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import islice
from typing import Final

Row = tuple[int, list[str]]
Recognise = Callable[[Sequence[str]], int]

HEADER_SEARCH_ROWS: Final = 20
_FEWEST_CELLS: Final = 3  # of a row above the header that may be a record


def split_header(
    rows: Iterator[Row], recognise: Recognise, header_row: int | None = None
) -> tuple[tuple[str, ...] | None, Iterator[Row]]:
    """Split rows into the header and the rows below it that are not blank.

    Parameters
    ----------
    rows : iterator of (int, list of str)
        Row numbers and cells.
    recognise : callable
        Takes cells and returns how many of them are names of known columns.
    header_row : int, optional
        Row number of the header, where it is stated.

    Returns
    -------
    header : tuple of str, or None
        Column names, trimmed; None when all rows are blank. Under merged cells the upper name
        comes first: "In" over "date" and "hours" gives "In date" and "In hours".
    rest : iterator of (int, list of str)
        Rows below that hold anything.
    """
    first = list(islice(rows, HEADER_SEARCH_ROWS))
    filled = [i for i, (_, cells) in enumerate(first) if any(map(str.strip, cells))]
    if header_row is not None:
        filled = [i for i in filled if first[i][0] == header_row]
    if not filled:
        return None, iter(())
    candidates = [(i, [cell.strip() for cell in first[i][1]]) for i in filled]
    candidates += [
        (lower, under(first[upper][1], first[lower][1]))
        for upper, lower in zip(filled, filled[1:], strict=False)
        if lower == upper + 1
    ]
    # The first of the best: single rows come before pairs, upper rows before lower ones.
    last, header = max(candidates, key=lambda candidate: recognise(candidate[1]))

    def rest() -> Iterator[Row]:
        # A header that was sorted into its table has records above it.
        above = [row for row in first[:last] if _is_record(row[1], header)]
        for number, cells in (*above, *first[last + 1 :]):
            if any(map(str.strip, cells)):
                yield number, cells
        for number, cells in rows:
            if any(map(str.strip, cells)):
                yield number, cells

    return tuple(header), rest()


def _is_record(cells: Sequence[str], header: Sequence[str]) -> bool:
    """Tell whether a row above the header fills its columns as a record does, and no title."""
    named = [cell for cell, name in zip(cells, header, strict=False) if name and cell.strip()]
    enough = max(_FEWEST_CELLS, sum(map(bool, header)) / 2)
    return len(named) >= enough and any(c.isdigit() for cell in named for c in cell)


def under(upper: Sequence[str], lower: Sequence[str]) -> list[str]:
    """Join two header rows; a blank upper cell continues the merged cell on its left.

    Parameters
    ----------
    upper : sequence of str
        Cells of the upper row.
    lower : sequence of str
        Cells of the lower row.

    Returns
    -------
    list of str
        One row.
    """
    width = max(len(upper), len(lower))
    above = ""
    names = []
    for place in range(width):
        top = upper[place].strip() if place < len(upper) else ""
        below = lower[place].strip() if place < len(lower) else ""
        above = top or (above if below else "")
        # One cell merged over both rows is one name.
        names.append(below if above == below else f"{above} {below}".strip())
    return names
