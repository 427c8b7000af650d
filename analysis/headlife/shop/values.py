"""What kinds of values may stand in the settings, and what to write instead of others?

Each kind is a type that says what it allows and the advice given when something else is written;
every table of the settings is a `Part`. Knows no table and reads no file.
"""

from __future__ import annotations

import datetime
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field

from headlife.units import HOURS_PER_WEEK

# Own choices, no source: far beyond any shop, and near enough to be counted through.
MOST_WEEKS: Final = 520
MOST_HEADS: Final = 100_000
LEAST_HOURS: Final = 1e-3
MOST_HOURS: Final = 1e7
MOST_AMOUNT: Final = 1e12
NEAREST: Final = 1e-9  # that a share may come to 0 or 1

Hours = Annotated[
    float,
    Field(
        ge=LEAST_HOURS,
        le=MOST_HOURS,
        description="write hours above zero as a plain number, for example 1200",
    ),
]
Share = Annotated[
    float,
    Field(
        ge=NEAREST,
        le=1.0 - NEAREST,
        description="write a share between 0 and 1, for example 0.95 for 95 percent",
    ),
]
Weeks = Annotated[
    float,
    Field(
        gt=0,
        le=MOST_WEEKS,
        description=f"write weeks above zero, {MOST_WEEKS} at most, for example 6",
    ),
]
WeeksOrNone = Annotated[
    float,
    Field(
        ge=0, le=MOST_WEEKS, description=f"write weeks of 0 or more, {MOST_WEEKS} at most, as 1.5"
    ),
]
WeeklyHours = Annotated[
    float,
    Field(
        ge=0,
        le=HOURS_PER_WEEK,
        description="write print hours a week between 0 and 168, for example 40.0",
    ),
]
_HEADS: Final = "write a whole number of heads,"
_AT_MOST: Final = f"and {MOST_HEADS:,} at most"
Heads = Annotated[int, Field(ge=0, le=MOST_HEADS, description=f"{_HEADS} 0 or more {_AT_MOST}")]
SomeHeads = Annotated[int, Field(ge=1, le=MOST_HEADS, description=f"{_HEADS} 1 or more {_AT_MOST}")]
Yes = Annotated[bool, Field(description="write true or false, without quotes")]
Name = Annotated[str, Field(min_length=1, description="write a name in quotes")]
Amount = Annotated[
    float,
    Field(
        ge=0,
        le=MOST_AMOUNT,
        description="write an amount of 0 or more as a plain number, such as 45.0",
    ),
]
Price = Annotated[float, Field(ge=0, le=MOST_AMOUNT, description="write a price of 0 or more")]
Duration = Annotated[
    float,
    Field(
        ge=0, le=MOST_HOURS, description="write hours of 0 or more as a plain number, such as 0.5"
    ),
]
Date = Annotated[
    datetime.date, Field(description="write a day without quotes, for example 2026-12-21")
]
YearDay = Annotated[
    str,
    Field(
        pattern=r"^(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])$",
        description='write month and day in quotes, for example "12-15" for 15 December',
    ),
]
Text = Annotated[dict[str, Name], Field(description='write lines of the form "text" = "name"')]


class Part(BaseModel):
    """A table of the settings file: fixed once read, unknown keys refused."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, allow_inf_nan=False, serialize_by_alias=True
    )
