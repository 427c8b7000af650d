"""How is this shop's log laid out: what is a row, which sheets and files, which rows count?

The keys of `[intake]` that say where the records of a log are. What a cell says is
`shop.writing`'s, whose hours they are `shop.clocks`'. Never looks at a record.
"""

from __future__ import annotations

from typing import Annotated, Final, Literal

from pydantic import Field, model_validator

from headlife.alike import nearest
from headlife.shop.columns import EVENT_COLUMNS, STANDARD_COLUMNS
from headlife.shop.values import Name, Part, Text, Yes

Shape = Literal["stretches", "events", "orders", "printers"]
Wide = Literal["serials", "hours", "reasons"]
EventKind = Literal["installed", "removed", "swapped", "reading"]
_ADVICE: Final = "write standard columns in quotes, for example"
_KINDS: Final = 'write "installed", "removed", "swapped" or "reading"'


class Layout(Part):
    """Where the records stand, where that differs from one row a stretch in one table."""

    shape: Annotated[
        Shape,
        Field(description='write "stretches", "events", "orders" or "printers"'),
    ] = "stretches"
    """What one row is: a head's stay in a printer, an event, a work order, or a printer."""
    wide: Annotated[Wide, Field(description='write "serials", "hours" or "reasons"')] | None = None
    """What the cells of a table with a row a day and a column a place hold; None for another."""
    sheets: (
        Annotated[
            Literal["all"] | list[Name],
            Field(description='write "all" or names of sheets, for example ["Otter", "Lynx"]'),
        ]
        | None
    ) = None
    """Sheets of a workbook that hold the records, one after the other."""
    sheet_is: (
        Annotated[
            Literal["printer", "position", "site", "head_type", "role"],
            Field(description='write what a sheet\'s name says, for example "printer"'),
        ]
        | None
    ) = None
    """The column that the name of the sheet stands for."""
    more_files: Annotated[
        list[Name], Field(description='write names of files, for example ["log_2024.csv"]')
    ] = Field(default_factory=list)
    """Further files of the same log, beside the table."""
    header_row: (
        Annotated[int, Field(ge=1, description="write the row number of the header, such as 4")]
        | None
    ) = None
    """Row of the header, where it is not found."""
    fill_down: Annotated[list[Name], Field(description=f'{_ADVICE} ["printer", "site"]')] = Field(
        default_factory=list
    )
    """Columns in which a blank cell repeats the cell above it."""
    only: Annotated[
        dict[str, list[Name]],
        Field(description='write lines of the form "own column" = ["word", "other word"]'),
    ] = Field(default_factory=dict)
    """Column of the shop's -> words: rows with another word there are not records."""
    always: Text = Field(default_factory=dict)
    """Standard column -> what it says where its cell is blank or the table has no such column."""
    groups: dict[str, Text] = Field(default_factory=dict)
    """Shape "printers": position -> standard column -> the shop's column for that position."""
    without_serials: Yes = False
    """True where heads have no serials: every head that goes in counts as another one."""
    events: dict[str, Annotated[EventKind, Field(description=_KINDS)]] = Field(default_factory=dict)
    """Shape "events": the shop's word for an event -> what happened."""

    @property
    def of_events(self) -> bool:
        """True where rows are events, two of which make a stretch."""
        return self.shape in ("events", "orders")

    @property
    def plain(self) -> bool:
        """True for one table in which each row is a stretch."""
        return not (
            self.shape != "stretches"
            or self.wide is not None
            or self.sheets is not None
            or self.sheet_is
            or self.more_files
            or self.fill_down
            or self.only
        )

    @model_validator(mode="after")
    def _known_columns(self) -> Layout:
        known = (*STANDARD_COLUMNS, *EVENT_COLUMNS)
        named = {
            "fill_down": list(self.fill_down),
            "always": list(self.always),
            **{f"groups.{position}": list(own) for position, own in self.groups.items()},
        }
        for table, names in named.items():
            for name in names:
                if name not in known:
                    raise ValueError(
                        f"[intake] {table} names '{name}', which is not a standard column"
                        f"{nearest(name, known)}; the standard columns are {', '.join(known)}"
                    )
        return self

    @model_validator(mode="after")
    def _shapes_that_need_serials(self) -> Layout:
        if self.without_serials and self.shape not in ("stretches", "orders"):
            raise ValueError(
                '[intake] without_serials goes with shape = "stretches" or "orders"; in a log of '
                f'shape "{self.shape}" write a serial for every head'
            )
        return self

    @model_validator(mode="after")
    def _what_a_shape_needs(self) -> Layout:
        if self.shape == "printers" and not self.groups:
            raise ValueError(
                '[intake] shape = "printers" needs a table for each head position, for example '
                '[intake.groups."left"] with head = "..." and its other columns; add it'
            )
        if self.shape == "events" and not self.events:
            raise ValueError(
                '[intake] shape = "events" needs the shop\'s words for events; add lines such as '
                '"fitted" = "installed" under [intake.events]'
            )
        for key, shape in (("groups", "printers"), ("events", "events")):
            if getattr(self, key) and self.shape != shape:
                raise ValueError(
                    f'[intake.{key}] belongs to shape = "{shape}", and the shape is '
                    f'"{self.shape}"; correct one of the two'
                )
        return self
