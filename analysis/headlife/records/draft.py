"""Draft a settings file from a shop's own table, for a person to finish.

Answers which of the shop's columns look like which standard column, how its dates and numbers
are written, and which reasons, head types and roles stand in it. It guesses names of columns
and nothing else: what a reason means and how long a head is rated is left open, and the settings
do not load until someone has filled it in.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

from headlife.errors import RecordsError
from headlife.plain_text import clean
from headlife.records.columns import column_key
from headlife.records.dates import DateReadings, date_readings
from headlife.records.intake import open_table
from headlife.settings_errors import closest
from headlife.shop import COLUMNS, REQUIRED_COLUMNS, STANDARD_COLUMNS, Intake

_FORMATS: Final = (
    "%d.%m.%Y",
    "%d/%m/%Y",
    "%m/%d/%Y",
    "%d-%m-%Y",
    "%m-%d-%Y",
    "%Y/%m/%d",
    "%Y.%m.%d",
    "%d.%m.%y",
    "%d/%m/%y",
    "%m/%d/%y",
    "%d %b %Y",
    "%d %B %Y",
    "%b %d, %Y",
)
_DECIMAL_COMMA: Final = re.compile(r"[0-9]+,[0-9]{1,3}\Z")
_ALIKE: Final = 0.85  # share of matching characters from which a column name is guessed
_MOST_LISTED: Final = 200
# Comments that show what else can be said; a person takes away the marks.
_ORDER: Final = '# orders."NUMBER" = { heads = 2, site = "SITE", due = 2030-01-31 }  # on order'
_NEW_PRINTER: Final = (
    '# [new_printers."NAME"]  # one that will come and is not in the table yet',
    "# begins = 2030-01-31",
    "# weekly_hours = 40.0",
    '# model = "HEAD TYPE"',
    '# support = "HEAD TYPE"',
    '# site = "SITE"',
)
_TO_DO: Final = "# TO DO"


def draft_settings(path: str | Path, sheet: str | None = None) -> str:
    """Draft a settings file from a table of removals.

    Parameters
    ----------
    path : str or Path
        The shop's own table: CSV, XLSX or Parquet.
    sheet : str, optional
        Sheet of a workbook.

    Returns
    -------
    str
        TOML, with `# TO DO` on every line that a person has to finish.

    Raises
    ------
    RecordsError
        When the file is missing, empty or is no table.

    Examples
    --------
    >>> import headlife as hl
    >>> draft = hl.draft_settings("data_demo/removals.csv")
    >>> print(draft.splitlines()[0])
    # Settings drafted from removals.csv, 241 rows.
    """
    path = Path(path)
    intake = Intake(sheet=sheet, encoding=_encoding(path))
    table = open_table(path, intake, lambda cells: len(guess_columns(cells)))
    guessed = guess_columns(table.header)
    seen = _Seen(guessed)
    for _, cells in table.rows:
        seen.take(cells)
    if not seen.rows:
        raise RecordsError(
            f"{table.file}: the table has a header and no rows; add at least one installation."
        )
    lines = [
        f"# Settings drafted from {_comment(table.file)}, {seen.rows:,} rows.",
        f"# Finish every line marked {_TO_DO[2:]}, delete what you do not need, then check the",
        "# table with: headlife check TABLE --shop THIS_FILE",
        f'name = "Our shop"  {_TO_DO}: the name on the page',
        "",
        *_intake_lines(intake, seen),
        *_column_lines(table.header, guessed),
        *_role_lines(seen),
        *_reason_lines(seen),
        *_type_lines(seen),
        "[spares]",
        f"# lead_time_weeks = 6  {_TO_DO}: weeks from order to delivery",
        f"review_weeks = 13  {_TO_DO}: weeks from one order day to the next",
        '# sites = "separate"  # each its own stock: state on_hand_by_site, the site of orders',
        "",
        "[policy]",
        f'swap_at = "rating"  {_TO_DO}: "rating", "notice", "failure" or hours',
        "",
        "[review]",
        f"build_hours = 96  {_TO_DO}: hours of your next long build",
        f'primary_mode = "wear"  {_TO_DO}: the failure mode that the rating is about',
        "",
        *_NEW_PRINTER,
    ]
    return "\n".join(lines) + "\n"


def guess_columns(header: Sequence[str]) -> dict[str, int]:
    """Guess which column is which: standard name -> place; only what is quite alike."""
    keys = [_key(name) for name in header]
    guessed: dict[str, int] = {}
    taken: set[int] = set()
    for exact in (True, False):
        for name in STANDARD_COLUMNS:
            if name in guessed:
                continue
            words = (name, *map(_key, COLUMNS[name].synonyms))
            for place, key in enumerate(keys):
                close = key in words if exact else key and closest(key, words, _ALIKE) is not None
                if close and place not in taken:
                    guessed[name] = place
                    taken.add(place)
                    break
    return guessed


def _key(name: str) -> str:
    return re.sub(r"[^\w]+", "_", column_key(name)).strip("_")


class _Seen:
    """Texts seen in the columns that the draft speaks of, with how often."""

    def __init__(self, guessed: dict[str, int]) -> None:
        self.rows = 0
        self._guessed = guessed
        self.texts: dict[str, Counter[str]] = {name: Counter() for name in STANDARD_COLUMNS}

    def take(self, cells: Sequence[str]) -> None:
        self.rows += 1
        for name, place in self._guessed.items():
            text = clean(cells[place]) if place < len(cells) else ""
            if text:
                self.texts[name][text] += 1

    def all_of(self, *names: str) -> list[str]:
        return [text for name in names for text in self.texts[name]]


def _encoding(path: Path) -> str | None:
    """Return an encoding to state, when the table is a text that is not UTF-8."""
    try:
        with path.open("rb") as stream:
            start = stream.read(4)
            stream.seek(0)
            if start[:2] in (b"PK", b"PA", b"\xff\xfe", b"\xfe\xff", b"\xd0\xcf"):
                return None
            for line in stream:
                line.decode()
    except UnicodeDecodeError:
        return "cp1252"
    except OSError:
        return None  # opening the table names the problem
    return None


def _intake_lines(intake: Intake, seen: _Seen) -> list[str]:
    lines = []
    if intake.sheet:
        lines.append(f"sheet = {_quote(intake.sheet)}")
    if intake.encoding:
        lines.append(f'encoding = "{intake.encoding}"  {_TO_DO}: check names with accents')
    hours = seen.all_of("hours_in", "hours_out")
    if any(_DECIMAL_COMMA.match(text) for text in hours) and not any("." in t for t in hours):
        lines.append('decimal = ","')
    formats = _date_formats(seen.all_of("date_in", "date_out"))
    if len(formats) == 1:
        lines.append(f'date_format = "{formats[0]}"')
    elif formats:
        choice = " or ".join(f'"{one}"' for one in formats)
        lines.append(f"# date_format = {choice}  {_TO_DO}: all dates fit each; keep the right one")
    return ["[intake]", *lines, ""] if lines else []


def _date_formats(texts: Sequence[str]) -> list[str]:
    """Return the formats that every date fits; none when all are year-month-day already."""
    others = [
        text
        for text in texts
        if not isinstance(one := date_readings(text), DateReadings)
        or not one.form.startswith("####")
    ]
    if not others:
        return []
    return [one for one in _FORMATS if all(_fits(text, one) for text in others)]


def _fits(text: str, date_format: str) -> bool:
    try:
        datetime.strptime(text, date_format)  # noqa: DTZ007
    except ValueError:
        return False
    return True


def _column_lines(header: Sequence[str], guessed: dict[str, int]) -> list[str]:
    lines = ["[columns]"]
    for name in STANDARD_COLUMNS:
        if name in guessed:
            own = header[guessed[name]]
            sure = column_key(own) == name
            lines.append(f"{name} = {_quote(own)}" + ("" if sure else f"  {_TO_DO}: is it so?"))
        elif name in REQUIRED_COLUMNS:
            lines.append(f'# {name} = "..."  {_TO_DO}: no column looks like it')
    left = [own for place, own in enumerate(header) if own and place not in guessed.values()]
    if left:
        lines.append(f"# Columns not used: {', '.join(_quote(own) for own in left)}")
    return [*lines, ""]


def _role_lines(seen: _Seen) -> list[str]:
    own = [text for text in seen.texts["role"] if text.casefold() not in ("model", "support")]
    if not own:
        return []
    lines = [f'# {_quote(text)} = "model"  {_TO_DO}: model or support?' for text in own]
    return ["[roles]", *_at_most(lines), ""]


def _reason_lines(seen: _Seen) -> list[str]:
    found = [
        f'# {_quote(text)} = "..."  {_TO_DO}: {count:,} rows'
        for text, count in seen.texts["reason"].most_common()
    ]
    return [
        "# Every reason found. Move each line, without its #, to the table it belongs to.",
        *_at_most(found),
        "",
        "[reasons.failures]  # reason = failure mode, such as wear or damage",
        "",
        "[reasons.suspensions]  # reason = kind, such as planned swap or material change",
        "",
        "[reasons.looked_bad]  # pulled on looks: reason = the failure mode it may have been",
        "",
    ]


def _type_lines(seen: _Seen) -> list[str]:
    lines = []
    for text, count in seen.texts["head_type"].most_common(_MOST_LISTED):
        lines += [
            f"[head_types.{_quote(text)}]  # {count:,} rows",
            f"# rated_hours = 1000  {_TO_DO}: the vendor's rated life in print hours",
            f"on_hand = 0  {_TO_DO}: new heads on the shelf",
            _ORDER,
            "",
        ]
    return lines or [f'# [head_types."..."]  {_TO_DO}: one table for each type of head', ""]


def _at_most(lines: list[str]) -> list[str]:
    more = len(lines) - _MOST_LISTED
    return lines[:_MOST_LISTED] + ([f"# and {more:,} more"] if more > 0 else [])


def _quote(text: str) -> str:
    """Write a text as TOML, on one line whatever is in it."""
    plain = "".join(c for c in text if not 0xD800 <= ord(c) <= 0xDFFF)
    return json.dumps(plain, ensure_ascii=False).replace("\x7f", "\\u007F")


def _comment(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text)
