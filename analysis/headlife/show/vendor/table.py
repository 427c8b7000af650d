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


def vendor_values(said: VendorStatement) -> dict[str, Any]:
    """Give the statement as plain values; the same things that the page shows.

    Parameters
    ----------
    said : VendorStatement
        The statement.

    Returns
    -------
    dict
        The values, by their key.
    """
    from headlife.show.plain import FORMAT, plain, rows

    return dict(
        plain(
            {
                "format": FORMAT,
                "head_type": said.head_type,
                "vendor": said.vendor,
                "as_of": said.as_of,
                "first": said.first,
                "rated_hours": said.rated_hours,
                "mode": said.mode,
                "claim_sentence": words.claim_sentence(said),
                "roles": [
                    {
                        "role": one.role,
                        "heads": one.heads,
                        "hours_run": one.print_hours,
                        "failures": one.failures,
                        "failures_before_rating": one.before_rating,
                        "verdict": one.stated,
                        "judged": None if one.verdict is None else vars(one.verdict),
                        "confirmed_on": one.confirmed_on,
                        "sentence": words.role_sentence(one),
                    }
                    for one in said.roles
                ],
                "early_failures": rows(said.early),
                "warranty_hours": said.warranty_hours,
                "warranty_months": said.warranty_months,
                "failed_within_warranty": rows(said.warranted),
                "method": words.method_lines(said),
                "version": said.version,
            }
        )
    )
