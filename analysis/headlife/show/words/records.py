"""What was read, in words. From the provenance of an answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from headlife.case import Provenance


def rows_read(made: Provenance) -> str:
    """Say how many rows were read and how many were set aside.

    Parameters
    ----------
    made : Provenance
        The answers, with what they were made from.

    Returns
    -------
    str
        The words.
    """
    aside = made.rows_read - made.rows_accepted
    read = f"{made.rows_read:,} rows read from {made.source}"
    return f"{read}, {aside:,} set aside" if aside else f"{read}, all used"
