"""How is a table laid out on a terminal, so that nothing of it is lost where that is narrow?

From headings and cells as text, and the width: side by side, or one row below the other where
columns would be too narrow to be read (a table squeezed into them shows no numbers at all).
Prints nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from rich.text import Text

_NARROWEST: Final = 6  # signs in which a number has room
_BETWEEN: Final = 3  # signs between two columns


def laid_out(
    title: Text,
    headings: Sequence[Text],
    rows: Sequence[Sequence[Text]],
    right: Sequence[int],
    width: int,
) -> Any:
    """Lay out a table for a terminal.

    Parameters
    ----------
    title : Text
        Above it; may be empty.
    headings : sequence of Text
        One per column.
    rows : sequence of sequences of Text
        Cells.
    right : sequence of int
        Columns set to the right.
    width : int
        Of the terminal [signs].

    Returns
    -------
    object
        What a rich console prints.
    """
    from rich.table import Table

    if too_narrow(headings, rows, width):
        return _one_below_the_other(title, headings, rows)
    made = Table(title=title, title_justify="left", show_edge=False, pad_edge=False)
    for at, heading in enumerate(headings):
        made.add_column(heading, justify="right" if at in right else "left", overflow="fold")
    for row in rows:
        made.add_row(*row)
    return made


def too_narrow(headings: Sequence[Text], rows: Sequence[Sequence[Text]], width: int) -> bool:
    """Tell whether columns side by side would be too narrow to be read.

    The widest columns give way first, down to a width that all of them share.

    Parameters
    ----------
    headings, rows, width : sequence of Text, sequence of sequences of Text, int
        As for `laid_out`.

    Returns
    -------
    bool
        True where they would.
    """
    wanted = [max(text.cell_len for text in column) for column in zip(headings, *rows, strict=True)]
    least = sum(min(each, _NARROWEST) for each in wanted) + _BETWEEN * (len(wanted) - 1)
    return bool(least > width)


def _one_below_the_other(
    title: Text, headings: Sequence[Text], rows: Sequence[Sequence[Text]]
) -> Text:
    from rich.text import Text

    lines = [title] if title else []
    for row in rows:
        filled = [(name, cell) for name, cell in zip(headings, row, strict=True) if cell.plain]
        for at, (name, cell) in enumerate(filled):
            before = "  " if at else ""
            lines.append(Text(f"{before}{name.plain}: " if name.plain else before) + cell)
        lines.append(Text())
    return Text("\n").join(lines[:-1])
