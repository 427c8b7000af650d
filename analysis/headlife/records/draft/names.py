"""Which standard column does a column's name speak of?

Answers from the name alone, with how much it speaks for each: an exact word of the table of columns
most, then what its parts speak of (in, out, date, hours, printer, ...) in nine languages. What the
cells hold is `contents`'. It settles nothing.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache, lru_cache
from typing import Final

from headlife.alike import closest
from headlife.records.draft.vocabulary import CONCEPTS, folded, speaks_of, without
from headlife.shop.columns import COLUMNS

EXACT: Final = 1.0
SPOKEN: Final = 0.8
CLOSE: Final = 0.75
HINTED: Final = 0.5
_ALIKE: Final = 0.9  # share of matching characters from which a name is a slip of the pen
_SHORTEST_CLOSE: Final = 6  # letters; shorter words that differ in one letter are other words

# Concepts that speak of one column, unless one of the last does too; in this order.
_ALONE: Final = (
    ("refurbished", "refurbished", ()),
    ("bought", "date_bought", ()),
    ("good", "last_good_hours", ()),
    ("reason", "reason", ()),
    ("note", "note", ()),
    ("vendor", "vendor", ()),
    ("lot", "lot", ()),
    ("event", "event", ("date",)),
    ("role", "role", ("hours",)),
    ("position", "position", ("date", "hours")),
)
_OTHERS: Final = (
    ("type", "head_type"),
    ("material", "material"),
    ("site", "site"),
)


@lru_cache(4_096)
def name_scores(name: str) -> Mapping[str, float]:
    """Score the standard columns that a name may speak of.

    Parameters
    ----------
    name : str
        A column's name as written.

    Returns
    -------
    mapping of str to float
        Standard column -> score from 0 to 1 [-]; none for a name that says nothing.
    """
    key = folded(name)
    if not key:
        return {}
    scores = _spoken(key)
    for column, words in _words().items():
        if key in words:
            scores[column] = EXACT
        elif len(key) >= _SHORTEST_CLOSE and closest(key, words, _ALIKE):
            scores[column] = max(scores.get(column, 0.0), CLOSE)
    return scores


@cache
def _words() -> dict[str, tuple[str, ...]]:
    return {
        name: tuple(dict.fromkeys(folded(word) for word in (name, *column.synonyms)))
        for name, column in COLUMNS.items()
    }


def concepts(key: str) -> frozenset[str]:
    """Tell what the parts of a folded name speak of; what went out did not go in.

    Parameters
    ----------
    key : str
        A folded name of a column.

    Returns
    -------
    frozenset[str]
        What they speak of.
    """
    rest = without(key, CONCEPTS["out"])
    found = {what for what, words in CONCEPTS.items() if speaks_of(rest, words)}
    return frozenset(found | {"out"} if rest != key else found)


def _spoken(key: str) -> dict[str, float]:
    said = concepts(key)
    for concept, column, unless in _ALONE:
        if concept in said and not said & set(unless):
            return {column: SPOKEN}
    if said & {"in", "out"}:
        return _of_a_move(said)
    if "run" in said and not _of_printer(said):
        return {"hours_run": SPOKEN, "hours": HINTED, "hours_out": HINTED}
    if said & {"hours", "meter"}:
        if not _of_printer(said):
            return {"hours": SPOKEN, "hours_out": HINTED}
        # Hours that are said to be the printer's are no head's counter, whichever end they are of.
        end = "printer_hours_out" if "printer" in said else "hours_out"
        return {"printer_hours": SPOKEN, end: HINTED}
    found = {column: SPOKEN for concept, column in _OTHERS if concept in said}
    if not found and said & {"head", "serial"}:
        found["head"] = SPOKEN
    if "printer" in said and not said & {"type", "date"}:
        found = {"printer": SPOKEN}
    if "date" in said and not found:
        found = {"date": SPOKEN, "date_out": HINTED}
    return {} if "order" in said else found


def _of_a_move(said: frozenset[str]) -> dict[str, float]:
    """Score what a name that speaks of going in or coming out may be."""
    found: dict[str, float] = {}
    if "type" in said:
        return {"head_type": SPOKEN if "in" in said else HINTED}
    for way in ("in", "out"):
        if way not in said:
            continue
        certain = SPOKEN if len(said & {"in", "out"}) == 1 else HINTED
        if said & {"hours", "meter"}:
            found[f"printer_hours_{way}" if _of_printer(said) else f"hours_{way}"] = certain
        elif said & {"head", "serial"} and "date" not in said:
            found[f"head_{way}"] = certain
            found.setdefault("head", HINTED / 2)
        else:
            found[f"date_{way}"] = certain if "date" in said else certain - 0.1
            if "date" not in said:
                found[f"hours_{way}"] = HINTED
                found[f"head_{way}"] = HINTED / 2
    return found


def _of_printer(said: frozenset[str]) -> bool:
    """Tell whether hours are the printer's meter rather than the head's counter.

    A meter that says no more is read as the head's: where it is the printer's after all, reading
    asks, and the other way round it would only find rows that contradict each other.
    """
    return bool(said & {"printer", "meter"}) and "head" not in said
