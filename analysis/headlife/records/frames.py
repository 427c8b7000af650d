"""What do the tables hold that pass from one room to the next?

Every such frame has one model: its columns, what each holds, which may be blank, and what holds
across columns. Columns that a shop writes itself are taken from the one table of columns. The
models are pandera's and are built when they are asked for, since pandera is slow to import:
reading records does not need them, tests and anyone who makes a frame of their own do.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
import pandas as pd

from headlife.shop.columns import COLUMNS, OF_PURCHASES, STANDARD_COLUMNS

if TYPE_CHECKING:
    import pandera.pandas as pa

FrameName = Literal[
    "accepted", "set_aside", "no_records", "findings", "lives", "in_service", "shelf"
]
Holds = Literal["text", "hours", "share", "date", "count", "flag"]


@dataclass(frozen=True)
class Field:
    """One column of a frame."""

    name: str
    """Name."""
    holds: Holds
    """What its cells hold; hours are print hours [h], a count is a whole number."""
    meaning: str
    """What it says."""
    blank: bool = False
    """True when cells may be blank (None, NaN or NaT)."""
    always: bool = True
    """False when the column is there only where the shop's table has it."""
    unique: bool = False
    """True when no value stands twice."""


# Properties of a head, not of a stint: a later installation need not repeat them.
OF_THE_HEAD: Final = ("lot", "vendor", "date_bought")
_HOLDS: Final[dict[str, Holds]] = {"date": "date", "hours": "hours", "yes or no": "flag"}


def _standard(
    name: str, meaning: str = "", blank: bool | None = None, always: bool = True
) -> Field:
    """Take a column from the shop's table of columns."""
    column = COLUMNS[name]
    return Field(
        name,
        _HOLDS.get(column.kind, "text"),
        meaning or column.meaning,
        column.may_be_blank if blank is None else blank,
        always,
    )


_ROW: Final = Field("row", "count", "row number as a spreadsheet shows it", unique=True)
_MEANT: Final = (
    Field("mode", "text", "failure mode that ended it; blank: none did", blank=True),
    Field("suspension", "text", "kind of removal when it was no failure", blank=True),
)
_OF_THE_HEAD: Final = tuple(_standard(name) for name in OF_THE_HEAD)

_RANGES: Final = {
    f"hours_{side}_{end}": f"the {least} that `hours_{side}` can be, where it was worked out [h]"
    for side in ("in", "out")
    for end, least in (("low", "least"), ("high", "most"))
}

_RATED: Final = (
    Field("refurbished", "text", "yes where this life began with a refurbished head", blank=True),
    Field("rated_hours", "hours", "the rating of heads bought when it was [h]"),
    Field("rating", "text", "the same in words, where its type had several", blank=True),
    Field(
        "purchase_year",
        "text",
        "year in which it was bought or, where no row says, first went in new",
        blank=True,
    ),
)

FRAMES: Final[Mapping[FrameName, tuple[Field, ...]]] = {
    "accepted": (
        _ROW,
        *(_standard(name, always=COLUMNS[name].always) for name in STANDARD_COLUMNS),
        *_MEANT,
        Field("in_doubt", "text", "why nobody knows whether it had failed", blank=True),
        *(Field(name, "hours", meaning, always=False) for name, meaning in _RANGES.items()),
    ),
    "no_records": (
        _ROW,
        Field("why", "text", "why the row is no record"),
    ),
    "set_aside": (
        _ROW,
        Field("column", "text", "standard column to look at first"),
        Field("value", "text", "what stands in it"),
        Field("problem", "text", "what is wrong and what to do; follows column and value"),
        Field("head", "text", "serial of the head, where it can be read", blank=True),
        _standard("head_type", "its type, where it can be read", blank=True),
        _standard("role", "its role, where it can be read", blank=True),
        _standard("reason", "why it came out, where that can be read", blank=True),
    ),
    "findings": (
        Field("check", "text", "which check found it"),
        Field("severity", "text", "error, doubt or note"),
        Field("treatment", "text", "set aside, kept and flagged, or not read"),
        Field("rows", "text", "row numbers"),
        Field("head", "text", "serial of the head; empty when it is not about one"),
        Field("sentence", "text", "what was found and what to do"),
    ),
    "lives": (
        Field("head", "text", COLUMNS["head"].meaning, unique=True),
        _standard("head_type"),
        _standard("role", "model or support, as of the first installation"),
        _standard("site", "as of the last installation"),
        _standard("material", "as of the last installation"),
        _standard("printer", "as of the last installation"),
        _standard("position", "as of the last installation"),
        Field("entry_hours", "hours", "hours it had when its records begin [h]"),
        Field("exit_hours", "hours", "hours it reached [h]"),
        *_MEANT,
        Field("in_service", "flag", "it is in a printer"),
        Field("on_shelf", "flag", "part-used and waiting to go in again"),
        _standard("last_good_hours"),
        Field("date_first", "date", "its first day on record"),
        Field("date_last", "date", "day of its last reading"),
        Field("installations", "count", "how many there were"),
        Field("exit_low", "hours", "the least it can have reached, where worked out [h]"),
        Field("exit_high", "hours", "the most it can have reached, where worked out [h]"),
        *_OF_THE_HEAD,
        *_RATED,
    ),
    "in_service": (
        Field("head", "text", COLUMNS["head"].meaning, unique=True),
        _standard("head_type"),
        _standard("role"),
        _standard("site"),
        _standard("printer"),
        _standard("position"),
        Field("age_hours", "hours", "its age on the day asked for [h]"),
        Field("reading_date", "date", "day of its last reading"),
        Field("reading_hours", "hours", "its last reading [h]"),
        Field("projected", "flag", "its age was carried forward from an older reading"),
        Field("weekly_hours", "hours", "print hours it runs a week [h/week]"),
        Field("share_of_hours", "share", "share of its printer's print hours that it runs [-]"),
        _standard("material"),
        *_OF_THE_HEAD,
        *_RATED,
    ),
    "shelf": (
        Field("head", "text", COLUMNS["head"].meaning, unique=True),
        _standard("head_type"),
        _standard("role"),
        _standard("site"),
        Field("age_hours", "hours", "hours it has run [h]"),
        *(one for one in (*_OF_THE_HEAD, *_RATED) if one.name in OF_PURCHASES),
    ),
}
# Frames that carry the shop's own columns.
_CARRY_OWN: Final = ("accepted", "lives", "in_service")


def columns_of(frame: FrameName) -> tuple[str, ...]:
    """Give the names of a frame's columns, in their order.

    Parameters
    ----------
    frame : FrameName
        Which frame.

    Returns
    -------
    tuple of str
        The names.
    """
    return tuple(field.name for field in FRAMES[frame])


def blank_cells(name: str, rows: int) -> np.ndarray:
    """Make an empty column of the kind a standard or own column is of.

    Parameters
    ----------
    name : str
        The name.
    rows : int
        How many.

    Returns
    -------
    array
        Blank cells, (rows,).
    """
    kind = COLUMNS[name].kind if name in COLUMNS else "name"
    if kind == "hours":
        return np.full(rows, np.nan)
    if kind == "date":
        return np.full(rows, np.datetime64("NaT"), dtype="datetime64[ns]")
    return np.full(rows, None, dtype=object)


def model(frame: FrameName, own_columns: Collection[str] = ()) -> pa.DataFrameSchema:
    """Build the pandera model of a frame.

    Parameters
    ----------
    frame : str
        Which frame, one of `FRAMES`.
    own_columns : collection of str
        The shop's own columns, from its settings; cells may be blank.

    Returns
    -------
    pandera.DataFrameSchema
        Refuses a frame with a column too many or too few, or with a cell it should not hold.
    """
    import pandera.pandas as pa

    own = own_columns if frame in _CARRY_OWN else ()
    fields = [*FRAMES[frame], *(Field(name, "text", "the shop's own", True) for name in own)]
    return pa.DataFrameSchema(
        {
            field.name: pa.Column(
                checks=pa.Check(_CHECKS[field.holds], name=field.holds),
                nullable=field.blank,
                required=field.always,
                unique=field.unique,
            )
            for field in fields
        },
        checks=[pa.Check(rule, name=name) for name, rule in _ACROSS.get(frame, {}).items()],
        strict=True,
        name=frame,
    )


def _texts(values: pd.Series) -> bool:
    return bool(values.dropna().map(lambda value: isinstance(value, str)).all())


def _hours(values: pd.Series) -> bool:
    return values.dtype == np.float64 and bool((values.dropna() >= 0).all())


def _shares(values: pd.Series) -> bool:
    return values.dtype == np.float64 and bool(((values > 0) & (values <= 1)).all())


_CHECKS: Final[dict[Holds, Callable[[pd.Series], bool]]] = {
    "text": _texts,
    "hours": _hours,
    "share": _shares,
    "date": lambda values: values.dtype == "datetime64[ns]",
    "count": lambda values: values.dtype == np.int64 and bool((values >= 0).all()),
    "flag": lambda values: values.dtype == np.bool_,
}


def _in_order(first: str, second: str) -> Callable[[pd.DataFrame], Any]:
    return lambda frame: ~(frame[second] < frame[first])


_ACROSS: Final[Mapping[str, Mapping[str, Callable[[pd.DataFrame], Any]]]] = {
    "accepted": {
        "hours run forwards": _in_order("hours_in", "hours_out"),
        "days run forwards": _in_order("date_in", "date_out"),
        "last known good before it came out": _in_order("last_good_hours", "hours_out"),
        "every reason has one meaning": lambda rows: (
            rows[["mode", "suspension"]].notna().sum(axis=1) == rows["reason"].notna()
        ),
    },
    "lives": {
        "hours run forwards": _in_order("entry_hours", "exit_hours"),
        "days run forwards": _in_order("date_first", "date_last"),
        "failed or suspended": lambda rows: ~(rows["mode"].notna() & rows["suspension"].notna()),
        "in one place at most": lambda rows: ~(rows["in_service"] & rows["on_shelf"]),
    },
    "in_service": {"no age below its reading": _in_order("reading_hours", "age_hours")},
}
