"""Heads that failed too early, as rows for page, terminal and files. From a `VendorStatement`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from headlife.show.plain import lines
from headlife.show.words import vendor as words

if TYPE_CHECKING:
    import pandas as pd

    from headlife.decisions.vendor import VendorStatement


def head_rows(heads: pd.DataFrame) -> list[list[Any]]:
    """Give heads as typed rows.

    Parameters
    ----------
    heads : DataFrame
        `VendorStatement.early` or `warranted`.

    Returns
    -------
    list of list
        Rows under `words.vendor.HEADINGS`.
    """
    return [
        [
            row.head,
            row.role,
            row.lot if isinstance(row.lot, str) else None,
            row.date_first.date(),
            row.date_last.date(),
            round(float(row.exit_hours), 1),
        ]
        for row in lines(heads)
    ]


def warranty_csv(said: VendorStatement) -> bytes:
    """Write the heads that failed within the warranty.

    Parameters
    ----------
    said : VendorStatement
        The statement.

    Returns
    -------
    bytes
        The CSV.
    """
    from headlife.show.csv_text import csv_bytes

    return csv_bytes([list(words.HEADINGS), *head_rows(said.warranted)])
