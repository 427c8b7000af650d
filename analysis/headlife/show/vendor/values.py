"""For the vendor, as plain values: what a program reads. From a `VendorStatement`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from headlife.show.plain import document, rows
from headlife.show.words import vendor as words

if TYPE_CHECKING:
    from headlife.decisions.vendor import RoleStatement, VendorStatement


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
        roles=[_judged(one) for one in said.roles],
        divided=[
            {
                "role": divided.role,
                "columns": divided.columns,
                "sentence": words.divided_sentence(divided),
                "parts": [
                    {
                        "part": one.part,
                        "newest": one.newest,
                        "too_young": one.too_young,
                        "name": words.part_name(one, said),
                        **_judged(one),
                    }
                    for one in divided.parts
                ],
            }
            for divided in said.divided
        ],
        early_failures=rows(said.early),
        warranty_hours=said.warranty_hours,
        warranty_months=said.warranty_months,
        failed_within_warranty=rows(said.warranted),
        method=words.method_lines(said),
        version=said.version,
    )


def _judged(one: RoleStatement) -> dict[str, Any]:
    """Give what is said of all heads of a role, or of one lot of them."""
    return {
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
