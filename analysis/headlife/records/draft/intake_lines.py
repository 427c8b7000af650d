"""Write how a log is laid out and written: the tables [intake], [columns] and [positions].

From what was found. What is proved is written; what only looks so is marked to be confirmed; what
can be read in two ways is left out and asked.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from headlife.plain_text import clean
from headlife.records.cells import Problem
from headlife.records.columns import column_key
from headlife.records.counted import other_unit
from headlife.records.dates import DateReadings, date_readings
from headlife.records.draft.found import Found, filled_down
from headlife.records.draft.readings import find_readings
from headlife.records.draft.toml import TO_DO, at_most, inline, key, many, quote
from headlife.records.draft.vocabulary import (
    AS_OF,
    CONCEPTS,
    EVENTS,
    POSITIONS,
    ROLES,
    first_that_fits,
    share_that_fits,
    speaks_of,
)
from headlife.shop.columns import COLUMNS, METER_COLUMNS, REQUIRED_COLUMNS

_FILLED_DOWN: Final = ("printer", "position", "site", "head_type", "role")
_MOST_WORDS: Final = 12  # words of a column that may say which rows are records
_SHAPES: Final = {
    "events": "each row is an event",
    "orders": "each row is a work order",
    "printers": "each row is a printer, with a group of columns for each head position",
}

_STAYS: Final = "each row is a head, with a group of columns for each of its stays"
_ROWS_ARE_DAYS: Final = "is it so that each look is a day, each place has its cell, and it holds"
_WIDE: Final = {
    "serials": "the serial that is there that day",
    "hours": "its head's counter, which only for another head falls or gains over 24 h a day",
    "reasons": "why the head was changed that day",
}


def intake_lines(found: Found) -> list[str]:
    """Write [intake].

    Parameters
    ----------
    found : Found
        What was found in the log.

    Returns
    -------
    list of str
        The lines.
    """
    plain = [
        *_where(found),
        *_shape(found),
        *_hand(found),
        *_still_in(found),
        *_hours_from(found),
        *_which_rows(found),
    ]
    tables = [*_groups(found), *_events(found)]
    if not plain and not tables:
        return []
    return ["[intake]", *plain, "", *tables]


def _where(found: Found) -> list[str]:
    lines = []
    if len(found.alike) > 1:
        every = set(found.alike) == set(found.file.sheets) and not found.file.hidden
        lines.append(f"sheets = {quote('all') if every else many(found.alike)}")
        if (of := _sheet_is(found)) is not None:
            lines.append(f"sheet_is = {quote(of)}  {TO_DO}: is that what a sheet's name says?")
    elif found.sheet and (len(found.file.sheets) > 1 or found.file.hidden):
        lines.append(f"sheet = {quote(found.sheet)}")
    if found.beside:
        lines.append(f"# more_files = {many(found.beside)}  {TO_DO}: do they belong to the log?")
    if found.file.encoding:
        lines.append(f'encoding = "{found.file.encoding}"  {TO_DO}: check names with accents')
    return lines


def _sheet_is(found: Found) -> str | None:
    """Guess what the names of sheets say: a column that the log has not."""
    if not found.places("position") and share_that_fits(found.alike, POSITIONS.values()) == 1:
        return "position"
    if not found.places("role") and share_that_fits(found.alike, ROLES.values()) == 1:
        return "role"
    return next((name for name in ("printer", "site") if not found.places(name)), None)


def _shape(found: Found) -> list[str]:
    shape = found.guess.shape
    lines = []
    if found.top.wide:
        what = _WIDE[found.top.wide]
        lines.append(f"wide = {quote(found.top.wide)}  {TO_DO}: {_ROWS_ARE_DAYS} {what}?")
    if found.top.once:
        lines.append(f'fill_down = ["head"]  {TO_DO}: does a blank cell mean the head above it?')
    if shape != "stretches":
        what = _STAYS if shape == "printers" and "head" in found.guess.chosen else _SHAPES[shape]
        lines.append(f"shape = {quote(shape)}  {TO_DO}: is it so that {what}?")
    if no_serials(found):
        lines.append(f"without_serials = true  {TO_DO}: do heads have none? Each counts as another")
    return lines


def no_serials(found: Found) -> bool:
    """Tell whether no column of the log holds serials, where a log can do without.

    Parameters
    ----------
    found : Found
        What was found in the log.

    Returns
    -------
    bool
        True where heads can only be told by their place.
    """
    if found.guess.shape not in ("stretches", "orders") or not found.places("printer"):
        return False
    return not any(found.places(name) for name in ("head", "head_in", "head_out"))


def _hand(found: Found) -> list[str]:
    """Write the decimal mark and the order of dates that the cells prove, or ask for them."""
    lines = []
    if found.hours.questions:
        lines += [f"# {TO_DO[2:]}: {question}" for question in found.hours.questions]
        lines.append('# decimal = "." or ","')
    elif found.hours.proved == (",",):
        lines.append('decimal = ","')
    units = [
        unit
        for name, column in COLUMNS.items()
        if column.kind == "hours"
        for place in found.places(name)
        if (unit := other_unit(found.header[place]))
    ]
    if units:
        lines.append(f"unit = {quote(units[0])}  {TO_DO}: is that what the columns of hours hold?")
    if found.dates.questions:
        lines += [f"# {TO_DO[2:]}: {question}" for question in found.dates.questions]
        lines.append('# date_order = "day first" or "month first"')
    elif len(found.dates.proved) == 1:
        lines.append(f"date_order = {quote(found.dates.proved[0])}")
    return lines


def _still_in(found: Found) -> list[str]:
    """Write what stands for a head that has not come out: words, blank cells, and of which day."""
    lines = []
    words = found.in_service_words()
    strange = _strange_words(found)
    if found.top.words:
        told = found.top.words[:_MOST_WORDS]
        lines.append(f"blank = {many(told)}  {TO_DO}: do they mean that no head was there?")
    elif words:
        lines.append(f"blank = {many(words)}  {TO_DO}: do they mean still in service?")
    if strange:
        lines.append(
            f"# blank = {many([*words, *strange])}  {TO_DO}: if they mean that nothing is known"
        )
    if _has_open_rows(found):
        lines.append(_as_of(found))
    return lines


def without_hours(found: Found) -> bool:
    """Tell whether no column of the log holds hours.

    Parameters
    ----------
    found : Found
        What was found in the log.

    Returns
    -------
    bool
        True where there are only days.
    """
    own = ("hours_in", "hours_out", "hours", "hours_run")
    return not any(found.places(name) or found.places(f"printer_{name}") for name in own)


def _hours_from(found: Found) -> list[str]:
    """Write where hours come from when the log has only days."""
    if not without_hours(found):
        return []
    readings = find_readings(found)
    if readings is not None:
        pairs = inline(readings)
        return [f"readings = {pairs}  {TO_DO}: are these the printers' hour meters?"]
    return [
        f"# weekly_hours = 40  {TO_DO}: print hours a week of a printer, since no column has any"
    ]


def _strange_words(found: Found) -> list[str]:
    """Find texts in columns of days and hours that are neither."""
    known = set(found.in_service_words())
    strange: list[str] = []
    for written in (found.hours, found.dates):
        for column, cells in written.cells.items():
            texts = next(
                list(contents.texts)
                for place, contents in enumerate(found.contents)
                if found.label(place) == column
            )
            strange += [
                text
                for text, cell in zip(texts, cells, strict=True)
                if isinstance(cell, Problem) and text not in known and text.isalpha()
            ]
    return list(dict.fromkeys(strange))[:_MOST_WORDS]


def _has_open_rows(found: Found) -> bool:
    """Tell whether rows have no day of removal: heads in service, as of a day to state."""
    if found.guess.shape in ("events", "orders"):
        return True
    if found.guess.shape == "printers":
        return not found.places("date_out")
    outs = found.cells("date_out")
    words = found.in_service_words()
    return any(not out or out in words for out in outs)


def _as_of(found: Found) -> str:
    for number, cells in found.top.titles:
        for place, cell in enumerate(cells):
            if not speaks_of(cell, AS_OF):
                continue
            own = _day_in(cell)
            if own:
                return f"as_of = {own}  {TO_DO}: is it the day on which heads were last seen in?"
            after = next((i for i in range(place + 1, len(cells)) if cells[i].strip()), None)
            if after is not None and _day_in(cells[after]):
                sheet = f"{found.sheet}!" if len(found.alike) > 1 else ""
                where = quote(f"{sheet}{_letters(after)}{number}")
                return f"as_of = {where}  # the cell that holds the day"
    return f'as_of = "last reading"  {TO_DO}: or the day on which heads were last seen in service'


def _day_in(text: str) -> str | None:
    """Give the one day that some words of a text say; as TOML."""
    words = clean(text).replace(":", " ").split()
    for size in range(min(4, len(words)), 0, -1):
        days = set()
        for start in range(len(words) - size + 1):
            reading = date_readings(" ".join(words[start : start + size]).strip("(),;"))
            if isinstance(reading, DateReadings) and not reading.differ:
                days.add(reading.days[0][1])
        if len(days) == 1:
            return f"{days.pop():%Y-%m-%d}"
    return None


def _letters(place: int) -> str:
    return chr(ord("A") + place) if place < 26 else f"A{chr(ord('A') + place - 26)}"


def _which_rows(found: Found) -> list[str]:
    lines = []
    # An order that is about no head has no type of head either.
    written_once = _FILLED_DOWN if found.guess.shape == "stretches" else ("printer", "site")
    down = filled_down(found, written_once)
    if down:
        lines.append(f"fill_down = {many(down)}  {TO_DO}: does a blank cell repeat the one above?")
    only = _only(found)
    if only is not None:
        column, words = only
        lines.append(
            f"only = {{ {key(column)} = {many(words)} }}  {TO_DO}: are these the rows about heads?"
        )
    return lines


def _only(found: Found) -> tuple[str, list[str]] | None:
    """Find the column that tells rows about heads from others: its words part them."""
    serials = [found.cells(name) for name in ("head", "head_in", "head_out")]
    about = [any(cells) for cells in zip(*serials, strict=True)]
    taken = {one.place for one in found.guess.chosen.values()}
    free = [
        (name, found.contents[place].texts, found.column(place))
        for place, name in enumerate(found.header)
        if name and place not in taken and 1 < len(found.contents[place].texts) <= _MOST_WORDS
    ]
    for name, _, cells in free if any(about) and not all(about) else ():
        yes = {cell for cell, is_about in zip(cells, about, strict=True) if is_about}
        no = {cell for cell, is_about in zip(cells, about, strict=True) if not is_about}
        if "" not in yes and not yes & no:
            return name, sorted(yes)
    for name, texts, _ in free if found.guess.shape == "orders" else ():
        heads = [text for text in texts if speaks_of(text, CONCEPTS["head"])]
        if 0 < len(heads) < len(texts):
            return name, sorted(heads)
    return None


def _groups(found: Found) -> list[str]:
    lines: list[str] = []
    for position, places in found.guess.groups.items():
        lines.append(f"[intake.groups.{quote(position)}]")
        lines += [f"{name} = {quote(found.label(place))}" for name, place in places.items()]
        lines.append("")
    return lines


def _events(found: Found) -> list[str]:
    if found.guess.shape != "events":
        return []
    lines = ["[intake.events]"]
    for text, count in found.texts("event").most_common():
        kind = first_that_fits(text, EVENTS)
        many_rows = f"{count:,} rows"
        lines.append(
            f"{quote(text)} = {quote(kind)}  {TO_DO}: is it so? {many_rows}"
            if kind
            else f'# {quote(text)} = "..."  {TO_DO}: installed, removed, swapped or reading? '
            + many_rows
        )
    return [*at_most(lines), ""]


def column_lines(found: Found) -> list[str]:
    """Write [columns], and what stands in for columns that the log has not.

    Parameters
    ----------
    found : Found
        What was found in the log.

    Returns
    -------
    list of str
        The lines.
    """
    lines = ["[columns]"]
    for name in COLUMNS:
        if name in found.guess.chosen:
            one = found.guess.chosen[name]
            own = found.label(one.place)
            sure = one.sure or column_key(own) == name
            lines.append(f"{name} = {quote(own)}" + ("" if sure else f"  {TO_DO}: is it so?"))
    lines += [f'# {name} = "..."  {TO_DO}: no column looks like it' for name in missing(found)]
    left = [
        own
        for place, own in enumerate(found.header)
        if own and place not in _used(found) and not _in_only(found, own)
    ]
    if left:
        lines.append(f"# Columns not used: {', '.join(map(quote, left))}")
    return [*lines, "", *_positions(found), *_roles(found)]


def _used(found: Found) -> set[int]:
    return {place for name in COLUMNS for place in found.places(name)}


def _in_only(found: Found, own: str) -> bool:
    only = _only(found)
    return only is not None and only[0] == own


def missing(found: Found) -> list[str]:
    """Give the columns that are needed and that nothing looks like.

    Parameters
    ----------
    found : Found
        What was found in the log.

    Returns
    -------
    list of str
        Their names.
    """
    shape = found.guess.shape
    if shape == "orders":
        needed: Sequence[str] = ("head_out", "head_in", "printer", "date")
    elif shape == "events":
        needed = ("head", "event", "printer", "date")
    else:
        needed = REQUIRED_COLUMNS
    said = _said_otherwise(found)
    return [name for name in needed if not found.places(name) and name not in said]


def _said_otherwise(found: Found) -> set[str]:
    """Give the columns that something else says."""
    said = {"head_type"}
    if no_serials(found):
        said |= {"head", "head_in", "head_out"}
    if without_hours(found) or any(found.places(n) for n in ("hours_run", *METER_COLUMNS)):
        said |= {"hours_in", "hours_out"}
    if found.places("hours_out"):
        said |= {"hours_in"}
    if found.places("position") or found.guess.groups:
        said |= {"role", "position"}
    if found.places("role"):
        said |= {"position"}
    if _sheet_is(found) and len(found.alike) > 1:
        said |= {str(_sheet_is(found))}
    if found.guess.shape in ("stretches", "printers") and not found.places("date_out"):
        said |= {"date_out", "hours_out", "reason"}
    return said


def _positions(found: Found) -> list[str]:
    """Propose roles by position where the log has no column of roles."""
    if found.places("role") or not (found.places("position") or found.guess.groups):
        return []
    names = list(found.texts("position")) or list(found.guess.groups)
    return _role_lines("[positions]  # the role of the heads in each position", names)


def _roles(found: Found) -> list[str]:
    own = [text for text in found.texts("role") if text.casefold() not in ("model", "support")]
    if not own:
        return []
    return _role_lines("[roles]", own)


def _role_lines(table: str, names: Sequence[str]) -> list[str]:
    """Propose a role for each name."""
    lines = [table]
    for name in names:
        role = first_that_fits(name, ROLES)
        lines.append(
            f"{quote(name)} = {quote(role)}  {TO_DO}: is it so?"
            if role
            else f'# {quote(name)} = "model"  {TO_DO}: model or support?'
        )
    return [*at_most(lines), ""]
