"""How do answers become plain values that a program reads and JSON can hold?

From values of any room; gives text, numbers, lists and dictionaries. Every answer for a program
is one of these, with its `format` number, which changes when a name in it does.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Final, NamedTuple

if TYPE_CHECKING:
    import pandas as pd

    from headlife.case import Provenance

_FORMAT: Final = 2


class Table(NamedTuple):
    """A table as everybody reads it: handed whole to page (`markup.table`) and `Screen.table`."""

    headings: Sequence[str]
    """One per column, with the unit in square brackets."""
    rows: Sequence[Sequence[object]]
    """Cells, row by row."""
    numbers: Sequence[int] = ()
    """Columns set to the right."""


def answers(made_from: Provenance, **parts: Any) -> dict[str, Any]:
    """Begin the answers of a command: format, shop, day; then its parts; then the stamp.

    Parameters
    ----------
    made_from : Provenance
        The answers, with what they were made from.
    **parts : object
        The parts, by their key.

    Returns
    -------
    dict of str to Any
        Values that survive JSON.
    """
    return document(
        shop=made_from.shop_name,
        as_of=made_from.as_of.date().isoformat(),
        **parts,
        stamp=stamp(made_from),
    )


def document(**parts: Any) -> dict[str, Any]:
    """Make what a program reads where there is no case behind it: format, then its parts.

    Parameters
    ----------
    **parts : object
        The parts, by their key.

    Returns
    -------
    dict of str to Any
        Values that survive JSON.
    """
    return dict(plain({"format": _FORMAT, **parts}))


def stamp(made: Provenance) -> dict[str, Any]:
    """Name everything needed to make the same page again.

    Parameters
    ----------
    made : Provenance
        The answers, with what they were made from.

    Returns
    -------
    dict of str to Any
        Values that survive JSON.
    """
    return {
        "records_sha256": made.records_sha256,
        "settings_sha256": made.shop_sha256,
        "as_of": made.as_of.date().isoformat(),
        "seed": made.seed,
        "version": made.version,
    }


def rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    """Give a table as one dictionary a row.

    Parameters
    ----------
    table : DataFrame
        The table.

    Returns
    -------
    list of dict of str to Any
        The rows.
    """
    return [dict(plain(row)) for row in table.to_dict(orient="records")]


def lines(table: pd.DataFrame) -> Iterator[Any]:
    """Go through the rows of a table by name.

    Parameters
    ----------
    table : DataFrame
        The table.

    Yields
    ------
    iterator of namedtuple
        The rows.
    """
    yield from table.itertuples(index=False)


def plain(value: Any) -> Any:
    """Turn numpy numbers into Python's, days into text, what is no finite number into nothing.

    Parameters
    ----------
    value : object
        What to write.

    Returns
    -------
    object
        The value, as JSON knows it.
    """
    if isinstance(value, dict):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    if isinstance(value, datetime.date):
        if value != value:  # no day at all
            return None
        return (value.date() if isinstance(value, datetime.datetime) else value).isoformat()
    if hasattr(value, "item"):
        value = value.item()
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value if isinstance(value, (str, int, float, bool, type(None))) else str(value)
