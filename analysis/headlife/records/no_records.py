"""Which rows of a table are no records: sums, headings, remarks, headers that are repeated?

Answers from cells as they are written. A row that holds no serial, no day and no reason records
nothing; a row with any of them is a record, sound or not. It never drops one: every such row is
listed with what it is.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np

from headlife.records.columns import Coded, column_key

_SERIALS: Final = ("head", "head_in", "head_out")
_DAYS: Final = ("date_in", "date_out", "date")
_OTHERS: Final = ("reason", "event", "refurbished")
# What stands before a sum or a mean; common practice, no source.
_SUM_WORDS: Final = frozenset(
    {"sum", "sums", "total", "totals", "subtotal", "average", "mean", "avg"}
    | {"summe", "summen", "gesamt", "gesamtsumme", "zwischensumme", "mittelwert", "durchschnitt"}
    | {"somme", "moyenne", "suma", "promedio", "media", "totale", "totali", "somma"}
    | {"totaal", "som", "gemiddelde", "razem", "łącznie", "ogółem", "średnia"}
    | {"soma", "totais", "média", "合計", "小計", "総計", "計", "平均"}
)
_FIRST_WORD: Final = 40  # characters in which it must end; a cell may hold a million, in every row
# Serial of the row that shows how a log is filled in.
EXAMPLE: Final = "EXAMPLE"
AN_EXAMPLE: Final = "the example row"
A_SUM: Final = "a sum or a mean of other rows"
A_HEADING: Final = "a heading or a remark"
A_HEADER: Final = "the header again"
NOTHING: Final = "no serial, no day and no reason in it"


def no_records(coded: Coded, header: dict[str, str]) -> dict[int, str]:
    """Find entries that are no records.

    Parameters
    ----------
    coded : Coded
        The entries as written.
    header : dict
        Column -> its name in the table, for headers that are repeated further down.

    Returns
    -------
    dict
        Place of the entry -> what it is.
    """
    found = dict.fromkeys(_headers(coded, header), A_HEADER) | _examples(coded)
    bare = _all_blank(coded, _DAYS)
    if bare is None or not bare.any():
        return found
    serials, others = _all_blank(coded, _SERIALS), _all_blank(coded, _OTHERS)
    dated = _with_a_day(coded)
    shapes, last = _shapes(coded, dated), int(np.max(np.flatnonzero(dated), initial=-1))
    # Below the last row of several cells, if there is one, no other table stands whose title it
    # could be.
    wide = int(np.max(np.flatnonzero(_several(coded)), initial=-1))
    for place in np.flatnonzero(bare).tolist():
        cells = {name: coded.text(name, place).strip() for name in coded.codes}
        filled = [cell for cell in cells.values() if cell]
        empty = (serials is None or serials[place]) and (others is None or others[place])
        if any(_is_sum_word(cell) for cell in filled) and (empty or _sum_as_serial(cells)):
            found.setdefault(place, A_SUM)
        elif len(filled) == 1 and (place < last or -1 < wide < place) and _no_serial(cells, shapes):
            found.setdefault(place, A_HEADING)
        elif empty:
            found.setdefault(place, A_HEADING if len(filled) <= 1 else NOTHING)
    return found


def _all_blank(coded: Coded, names: tuple[str, ...]) -> np.ndarray | None:
    """Tell which entries have a blank cell in all of some columns; None without such columns."""
    blank: np.ndarray | None = None
    for name in names:
        if name in coded.codes:
            texts = np.array([not text.strip() for text in coded.texts[name]], dtype=bool)
            if not texts.any():
                return np.zeros(coded.rows_read, dtype=bool)
            here = texts[coded.codes[name]]
            blank = here if blank is None else blank & here
    return blank


def _several(coded: Coded) -> np.ndarray:
    """Tell which entries have more than one cell that holds anything."""
    count = np.zeros(coded.rows_read, dtype=np.int64)
    for name, texts in coded.texts.items():
        count += np.array([bool(text.strip()) for text in texts], dtype=bool)[coded.codes[name]]
    return count > 1


def _with_a_day(coded: Coded) -> np.ndarray:
    """Tell which entries have a number where a day stands."""
    found = np.zeros(coded.rows_read, dtype=bool)
    for name in _DAYS:
        if name in coded.codes:
            numbers = [any(c.isdigit() for c in text) for text in coded.texts[name]]
            found |= np.array(numbers, dtype=bool)[coded.codes[name]]
    return found


def _shapes(coded: Coded, dated: np.ndarray) -> frozenset[str]:
    """Give the shapes of the serials in entries with a day."""
    found: set[str] = set()
    for name in _SERIALS:
        if name in coded.codes:
            codes = np.unique(coded.codes[name][dated]).tolist()
            found |= {_shape(coded.texts[name][code]) for code in codes}
    return frozenset(found)


def _shape(text: str) -> str:
    """Write a text as what its characters are: "SN-0042" and "SN-7" are alike, "May 2025" not."""
    return re.sub("9+", "9", re.sub(r"[^\W\d_]+", "a", re.sub(r"\d", "9", text.strip())))


def _no_serial(cells: dict[str, str], shapes: frozenset[str]) -> bool:
    """Tell whether what stands in a column of serials is none, such as "March 2025"."""
    return any(cells.get(name, "") and _shape(cells[name]) not in shapes for name in _SERIALS)


def _sum_as_serial(cells: dict[str, str]) -> bool:
    return any(_is_sum_word(cells.get(name, "")) for name in _SERIALS)


def _is_sum_word(cell: str) -> bool:
    words = cell[:_FIRST_WORD].casefold().replace(":", " ").split()
    return bool(words) and words[0].strip(".") in _SUM_WORDS


def _examples(coded: Coded) -> dict[int, str]:
    texts = coded.texts.get("head", [])
    own = [code for code, text in enumerate(texts) if text.strip() == EXAMPLE]
    if not own:
        return {}
    return dict.fromkeys(map(int, np.flatnonzero(np.isin(coded.codes["head"], own))), AN_EXAMPLE)


def _headers(coded: Coded, header: dict[str, str]) -> list[int]:
    """Find rows whose days are called as the header calls them."""
    days = [name for name in _DAYS if name in coded.codes and header.get(name)]
    if not days:
        return []
    hit = np.ones(coded.rows_read, dtype=bool)
    for name in days:
        own = column_key(header[name])
        again = [i for i, text in enumerate(coded.texts[name]) if column_key(text) == own]
        if not again:
            return []
        hit &= np.isin(coded.codes[name], again)
    return [int(place) for place in np.flatnonzero(hit)]
