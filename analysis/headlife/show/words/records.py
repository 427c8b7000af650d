"""What was read, in words. From the provenance of an answer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from headlife.show.words.numbers import counted

if TYPE_CHECKING:
    from headlife.case import Provenance


def rows_read(made: Provenance) -> str:
    """Say how many rows were read, set aside and no records, and whether sheets were passed over.

    Parameters
    ----------
    made : Provenance
        The answers, with what they were made from.

    Returns
    -------
    str
        The words.
    """
    others, unread = made.rows_no_record, len(made.not_read)
    aside = made.rows_read - made.rows_accepted - others
    parts = [
        f"{counted(made.rows_read, 'row', 'rows')} read from {made.source}",
        f"{others:,} of them no records" if others else "",
        f"{aside:,} set aside" if aside else "all used" if not others else "all others used",
        f"{counted(unread, 'sheet', 'sheets')} that {'looks' if unread == 1 else 'look'} like the "
        "log not read"
        if unread
        else "",
    ]
    return ", ".join(part for part in parts if part)
