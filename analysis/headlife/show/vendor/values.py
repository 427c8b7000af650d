"""For the vendor, as plain values: what a program reads. From a `VendorStatement`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from headlife.show.plain import document, rows
from headlife.show.words import vendor as words

if TYPE_CHECKING:
    from headlife.decisions.vendor import VendorStatement


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
    return document(
        head_type=said.head_type,
        vendor=said.vendor,
        as_of=said.as_of,
        first=said.first,
        rated_hours=said.rated_hours,
        mode=said.mode,
        claim_sentence=words.claim_sentence(said),
        roles=[
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
        early_failures=rows(said.early),
        warranty_hours=said.warranty_hours,
        warranty_months=said.warranty_months,
        failed_within_warranty=rows(said.warranted),
        method=words.method_lines(said),
        version=said.version,
    )
