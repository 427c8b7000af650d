"""Whose hours does this shop write down, and what stands in where there are none?

The keys of `[intake]` about clocks: the head's own counter or the printer's meter, meters that
were replaced, readings kept elsewhere, and the day on which heads without a removal are in
service. Never looks at a record.
"""

from __future__ import annotations

import re
from typing import Annotated, Final, Literal

from pydantic import Field, field_validator

from headlife.shop.values import Date, Duration, Name, Part, WeeklyHours

Clock = Annotated[Literal["head", "printer"], Field(description='write "head" or "printer"')]
LAST_READING: Final = "last reading"
# Own choice, no source: hours worked out from hours a week may be off by this share of them in
# the long run, and by a week's hours from one week to the next.
USAGE_RANGE: Final = 0.25
_CELL: Final = re.compile(
    r"(?:(?P<sheet>.+)!)?\$?(?P<column>[A-Za-z]{1,3})\$?(?P<row>[0-9]{1,7})\Z"
)


class MeterChange(Part):
    """A printer's hour meter that was replaced or set back."""

    printer: Name
    """The printer."""
    on: Date
    """The day."""
    last: Duration | None = None
    """What the meter read last; when not stated, its last reading on record, and the hours in
    between are a range [h]."""
    first: Duration = 0.0
    """What the new meter read first [h]."""


class Readings(Part):
    """A table of meter readings kept beside the log."""

    file: Name | None = None
    """Its file, beside the log; the log's own when not stated."""
    sheet: Name | None = None
    """Its sheet."""
    date: Name = "date"
    """Its column of days."""
    printer: Name | None = None
    """Its column of printers; when not stated, every printer has a column of its own name."""
    printer_hours: Name = "printer_hours"
    """Its column of meter readings, where printers have a column."""


class Clocks(Part):
    """Which clock hours are read from, where it is not the head's own counter."""

    hours: Clock | None = None
    """Whose clock the columns of hours are: the head's own counter or the printer's meter. Where
    it is not stated they are read as the head's, and nothing is answered while they look like a
    printer's."""
    hours_of: dict[str, Clock] = Field(default_factory=dict)
    """The same for single printers."""
    meter_changes: list[MeterChange] = Field(default_factory=list)
    """Meters of printers that were replaced or set back."""
    readings: Readings | None = None
    """Meter readings kept in a table or sheet of their own."""
    weekly_hours: WeeklyHours | None = None
    """Print hours a week of printers that `[usage]` does not name, to work out hours that nobody
    read [h/week]."""
    usage_range: Annotated[
        float, Field(ge=0, le=1, description="write a share from 0 to 1, for example 0.25")
    ] = USAGE_RANGE
    """How far hours worked out from hours a week may be off, as a share of them [-]."""
    as_of: (
        Annotated[
            Date | str,
            Field(
                description='write a day such as 2026-09-30, "last reading", or the cell that '
                'holds the day, such as "B2" or "Log!B2"'
            ),
        ]
        | None
    ) = None
    """The day on which a head without a day of removal was still in service."""

    @property
    def as_of_cell(self) -> tuple[str | None, int, int] | None:
        """Sheet, row and column (both from 1) of the cell that holds the day, if one does."""
        found = _CELL.match(self.as_of) if isinstance(self.as_of, str) else None
        if found is None:
            return None
        column = 0
        for letter in found["column"].upper():
            column = column * 26 + ord(letter) - ord("A") + 1
        sheet = found["sheet"]
        return (sheet.strip("'") if sheet else None, int(found["row"]), column)

    @field_validator("as_of")
    @classmethod
    def _day_or_place(cls, value: object) -> object:
        if isinstance(value, str) and value != LAST_READING and not _CELL.match(value):
            raise ValueError(f"neither a cell nor '{LAST_READING}'")
        return value
