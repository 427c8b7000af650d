"""Which columns does a table of head removals have, and what does each hold?

The one table of columns: kind, whether it is needed, what to write where it is blank, and what it
means; what shops write over each, by language, is in `column_words.toml` beside it. Readers, the
draft of the settings, checks, docs and docstrings take it from here. It never reads a table and
never guesses.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Final, Literal

Kind = Literal["name", "role", "date", "hours", "yes or no", "remark"]
_WORDS: Final = Path(__file__).with_name("column_words.toml")
LANGUAGES: Final = ("en", "de", "fr", "es", "it", "nl", "pl", "pt", "ja")


@dataclass(frozen=True)
class Column:
    """One column of a table of removals."""

    name: str
    """Standard name."""
    kind: Kind
    """What its cells hold."""
    meaning: str
    """What it says, in words; hours are print hours [h]."""
    write: str = ""
    """What to write where the cell is blank and may not be; empty when it may."""
    needed: bool = False
    """True when no table can be read without it."""
    always: bool = False
    """True when rows that were read have it whatever the table has; blank where it has none."""

    @property
    def words(self) -> Mapping[str, tuple[str, ...]]:
        """Language -> what shops write over it."""
        return _words()[self.name]

    @property
    def may_be_blank(self) -> bool:
        """True when a blank cell says something, or nothing is missed."""
        return not self.write

    @property
    def synonyms(self) -> tuple[str, ...]:
        """What shops write over it, in all languages."""
        return tuple(dict.fromkeys(word for words in self.words.values() for word in words))


@cache
def _words() -> dict[str, dict[str, tuple[str, ...]]]:
    """Column -> language -> what shops write over it; read when it is first asked for."""
    written = tomllib.loads(_WORDS.read_text(encoding="utf-8"))
    return {
        column: {language: tuple(words.split(", ")) for language, words in own.items()}
        for column, own in written.items()
    }


_ALL: Final = (
    Column(
        "head",
        "name",
        "serial of the head; the same head has the same serial wherever it goes",
        "write the head's serial",
        needed=True,
        always=True,
    ),
    Column(
        "head_type",
        "name",
        "type of the head as in the settings' [head_types]",
        "write the head's type as in the settings",
        needed=True,
        always=True,
    ),
    Column(
        "role",
        "role",
        "model or support, or a word that the settings' [roles] give for one of them",
        "write model or support",
        needed=True,
        always=True,
    ),
    Column(
        "printer",
        "name",
        "printer the head was in",
        "write the printer's name",
        needed=True,
        always=True,
    ),
    Column(
        "position",
        "name",
        "place of the head in that printer",
        "write the head's position in the printer",
        needed=True,
        always=True,
    ),
    Column(
        "date_in",
        "date",
        "day on which the head went in",
        "write the day on which the head went in",
        needed=True,
        always=True,
    ),
    Column(
        "hours_in",
        "hours",
        "the head's own print-hour counter when it went in [h]; without this column 0, then where "
        "it came out last",
        "write the head's hour reading when it went in",
        needed=True,
        always=True,
    ),
    Column(
        "date_out",
        "date",
        "day on which it came out or, while it is in, the day of its last hour reading",
        "write the day on which the head came out or, if it is still in, the day of its last "
        "hour reading",
        needed=True,
        always=True,
    ),
    Column(
        "hours_out",
        "hours",
        "the head's own print-hour counter at `date_out` [h]",
        "write the head's hour reading at date_out",
        needed=True,
        always=True,
    ),
    Column(
        "reason",
        "name",
        "why it came out, in the shop's words; blank: still in service",
        needed=True,
        always=True,
    ),
    Column(
        "material",
        "name",
        "material it was loaded with",
        always=True,
    ),
    Column(
        "last_good_hours",
        "hours",
        "hour reading at which a head that failed was last known good [h]",
        always=True,
    ),
    Column(
        "site",
        "name",
        "where the printer stands",
        always=True,
    ),
    Column(
        "note",
        "remark",
        "any remark; kept and not read",
        always=True,
    ),
    Column(
        "printer_hours_in",
        "hours",
        "the printer's own hour meter when the head went in [h]",
    ),
    Column(
        "printer_hours_out",
        "hours",
        "the printer's own hour meter at `date_out` [h]",
    ),
    Column(
        "hours_run",
        "hours",
        "instead of the counter, the print hours that the head ran in that stay alone [h]",
    ),
    Column(
        "lot",
        "name",
        "the vendor's lot that the head came from",
    ),
    Column(
        "vendor",
        "name",
        "who the head was bought from",
    ),
    Column(
        "date_bought",
        "date",
        "day on which the head was bought",
    ),
    Column(
        "refurbished",
        "yes or no",
        "yes when the head went in refurbished: a new life begins",
    ),
)

# Columns of logs whose rows are events or work orders; two such rows make one stretch.
_OF_EVENTS: Final = (
    Column(
        "date",
        "date",
        "day of the event",
        "write the day of the event",
    ),
    Column(
        "event",
        "name",
        "what happened, in the shop's words",
        "write what happened",
    ),
    Column(
        "hours",
        "hours",
        "the head's own print-hour counter on that day [h]",
    ),
    Column(
        "printer_hours",
        "hours",
        "the printer's own hour meter on that day [h]",
    ),
    Column(
        "head_out",
        "name",
        "serial of the head that came out with a work order",
    ),
    Column(
        "head_in",
        "name",
        "serial of the head that went in with a work order",
    ),
)
_OF_BUILDS: Final = (
    Column(
        "build",
        "name",
        "name of the build or the job; where blank its row",
    ),
    Column(
        "build_hours",
        "hours",
        "its print hours [h]",
        "write the print hours of the build",
        needed=True,
        always=True,
    ),
    Column(
        "earliest",
        "date",
        "day before which it cannot start; where blank it can start at once",
    ),
    Column(
        "due",
        "date",
        "day by whose end it is to be done; where blank there is none",
    ),
    Column(
        "quality_critical",
        "yes or no",
        "whether no head may run past its rating in it; where blank as the settings say of the "
        "printer and its heads",
    ),
)
# What columns of the log say in a table of builds.
_WHERE: Final = {
    "printer": "printer that it must run on; where blank any that fits",
    "head_type": "type of a head that the printer must have in service; where blank any",
    "site": "where the printer must stand; where blank anywhere",
}

STANDARD_COLUMNS: Final = tuple(column.name for column in _ALL)
EVENT_COLUMNS: Final = tuple(column.name for column in _OF_EVENTS)
COLUMNS: Final[Mapping[str, Column]] = {column.name: column for column in (*_ALL, *_OF_EVENTS)}
# Columns of a table of builds ahead; those of the log among them are told by the same words.
BUILD_COLUMNS: Final[Mapping[str, Column]] = {
    column.name: column
    for column in (
        _OF_BUILDS[0],
        *(replace(COLUMNS[name], needed=False, meaning=text) for name, text in _WHERE.items()),
        *_OF_BUILDS[1:],
    )
}
# Names of columns that rows and lives get while they are worked with (`records.frames`): no
# column of the shop's own can have one of them.
RESERVED: Final = frozenset(
    {
        *("row", "mode", "suspension", "in_doubt", "superseded"),
        *("entry_hours", "exit_hours", "in_service", "on_shelf", "date_first", "date_last"),
        *("installations", "age_hours", "reading_date", "reading_hours", "projected"),
        *(
            "weekly_hours",
            "share_of_hours",
            "column",
            "value",
            "problem",
            "check",
            "severity",
            "treatment",
        ),
        *("rows", "sentence", "why", "hours_in_low", "hours_in_high", "hours_out_low"),
        *("hours_out_high", "exit_low", "exit_high", "rated_hours", "rating"),
        "purchase_year",
    }
)
# Column that tells which of several ratings of its type a head was bought with.
RATING: Final = "rating"
# Column of the calendar year in which a head was bought, for records without lots.
PURCHASE_YEAR: Final = "purchase_year"
# Column that says of a life whether it began with a refurbished head.
REFURBISHED: Final = "refurbished"
VENDOR: Final = "vendor"
# Columns that tell one purchase from another: refurbished heads go in where new ones would.
OF_PURCHASES: Final = ("lot", VENDOR, PURCHASE_YEAR, RATING, REFURBISHED)
# Columns that heads can be grouped by beside their type and role, for a rating of each group.
GROUPED_BY: Final = (
    *("lot", VENDOR, PURCHASE_YEAR, REFURBISHED),
    *("material", "site", "printer", "position"),
)
# The printer's meter, beside the head's own counter.
METER_COLUMNS: Final = ("printer_hours_in", "printer_hours_out")
REQUIRED_COLUMNS: Final = tuple(name for name, column in COLUMNS.items() if column.needed)


def of_kind(*kinds: Kind) -> tuple[str, ...]:
    """Give the names of the standard columns of some kinds, in the table's order.

    Parameters
    ----------
    *kinds : Kind
        The kinds.

    Returns
    -------
    tuple of str
        Their names.
    """
    return tuple(name for name, column in COLUMNS.items() if column.kind in kinds)


def _lines(columns: Iterable[Column]) -> list[str]:
    return [
        "| column | cells hold | needed | meaning |",
        "|---|---|---|---|",
        *(
            f"| `{one.name}` | {one.kind} | {'yes' if one.needed else ''} | {one.meaning} |"
            for one in columns
        ),
    ]


def page() -> str:
    """Write the table of columns for people, as Markdown."""
    lines = [
        "# The columns of a table of removals",
        "",
        "Written by `page()` of `headlife.shop.columns`; change it there. A table may use names of",
        "its own: the settings' `[columns]` say which is which, and `[own_columns]` name further",
        "columns to be carried along, so that ratings can be grouped by them.",
        "",
        *_lines(_ALL),
        "",
        "Where rows are events or work orders (`[intake] shape`), these stand instead of the days",
        "and hours in and out:",
        "",
        *_lines(_OF_EVENTS),
        "",
        "# The columns of a table of builds ahead",
        "",
        "For `headlife plan --builds`. A build goes to the `printer` named; where that is blank,",
        "to any printer with a head of the `head_type` and at the `site` named, or to any at all.",
        "The header may use these names or the usual words for them in nine languages.",
        "",
        *_lines(BUILD_COLUMNS.values()),
    ]
    return "\n".join(lines) + "\n"
