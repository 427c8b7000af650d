"""Is there a table of meter readings beside the log?

Answers from the other sheets of the file and the files beside it: a table with a column of days and
either a column of printers and one of hours, or a column of hours for each printer of the log. For
a draft that a person confirms.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from headlife.plain_text import clean
from headlife.records.draft.contents import Contents, contents_of
from headlife.records.draft.found import Found

_CLEARLY: Final = 0.8  # share of cells from which a column is of a kind


def find_readings(found: Found) -> dict[str, str] | None:
    """Find a table of meter readings in another sheet or in a file beside the log.

    Parameters
    ----------
    found : Found
        The log.

    Returns
    -------
    dict of str to str
        What `[intake] readings` says; None where no table looks like readings.
    """
    printers = {text.casefold() for text in found.texts("printer")}
    for (where, name), top in found.others.items():
        rows = [cells for _, cells in top.rows]
        contents = [
            contents_of((row[i] for row in rows if i < len(row)), len(rows))
            for i in range(len(top.header))
        ]
        told = _told(top.header, contents, printers)
        if told is not None:
            return {where: name} | told
    return None


def _told(
    header: Sequence[str], contents: Sequence[Contents], printers: set[str]
) -> dict[str, str] | None:
    days = [i for i, one in enumerate(contents) if one.days >= _CLEARLY]
    numbers = [i for i, one in enumerate(contents) if one.hours >= _CLEARLY]
    if len(days) != 1 or not numbers:
        return None
    if all(clean(header[i]).casefold() in printers for i in numbers):
        return {"date": header[days[0]]}
    named = [i for i, one in enumerate(contents) if _are(one, printers)]
    if len(named) == 1 and len(numbers) == 1:
        return {
            "date": header[days[0]],
            "printer": header[named[0]],
            "printer_hours": header[numbers[0]],
        }
    return None


def _are(contents: Contents, printers: set[str]) -> bool:
    return bool(contents.texts) and {text.casefold() for text in contents.texts} <= printers
