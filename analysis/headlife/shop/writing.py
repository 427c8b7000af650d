"""How does this shop write its records, and what do its reasons mean?

The tables of the settings that reading records rests on: dates and numbers as they are written,
and the failure mode or kind of suspension behind each reason. How the log is laid out is
`shop.layout`'s, whose hours it holds `shop.clocks`'. Never looks at a record.
"""

from __future__ import annotations

import re
from datetime import datetime
from typing import Annotated, Final, Literal

from pydantic import Field, field_validator, model_validator

from headlife.alike import nearest
from headlife.plain_text import plain
from headlife.shop.clocks import Clocks
from headlife.shop.layout import Layout
from headlife.shop.values import Name, Part, Text

_REASON_TABLES: Final = ("failures", "suspensions", "looked_bad", "may_have_failed")


class Intake(Layout, Clocks):
    """How the shop's table is written, where it differs from plain CSV with ISO dates."""

    date_format: (
        Annotated[str, Field(description='write a date format, for example "%d.%m.%Y"')] | None
    ) = None
    """Format of dates that are not written year-month-day, in strftime codes."""
    date_order: (
        Annotated[
            Literal["day first", "month first", "year first"],
            Field(description='write "day first", "month first" or "year first"'),
        ]
        | None
    ) = None
    """Order of dates in numbers, where their cells can be read in several; found from the columns
    when not stated."""
    languages: Annotated[
        list[str], Field(description='write codes of languages, for example ["cs"]')
    ] = []
    """Languages of month names besides English, German, French, Spanish, Italian, Dutch, Polish,
    Portuguese and Japanese."""
    decimal: Annotated[Literal[".", ","], Field(description='write "." or ","')] | None = None
    """Decimal mark of hour readings, the other one marking thousands; found from the columns when
    not stated."""
    unit: (
        Annotated[
            Literal["hours", "minutes", "seconds"],
            Field(description='write "hours", "minutes" or "seconds"'),
        ]
        | None
    ) = None
    """What the columns of hours hold; hours when not stated, unless their names say otherwise. A
    cell with the word for hours, or with hours and minutes, is in hours."""
    blank: Annotated[
        list[Name], Field(description='write words in quotes, for example ["n/a", "still in"]')
    ] = []
    """Words that mean a blank cell."""
    delimiter: (
        Annotated[Literal[",", ";", "\t", "|"], Field(description='write ",", ";", "\\t" or "|"')]
        | None
    ) = None
    """Character between cells of a CSV; found from the header row when not stated."""
    encoding: (
        Annotated[str, Field(description='write an encoding, for example "utf-8" or "cp1252"')]
        | None
    ) = None
    """Encoding of a CSV; UTF-8 (or what its byte-order mark says) when not stated."""
    sheet: Annotated[str, Field(description="write the name of the sheet, in quotes")] | None = None
    """Sheet of a workbook that holds the records; needed when several could."""

    @property
    def by_stretches_and_counters(self) -> bool:
        """True where each row is a stretch and tells the head's own hours: rows can be read apart.

        Other shapes and clocks need the rows of a printer and of its heads together.
        """
        return self.plain and not (
            self.hours == "printer"
            or self.hours_of
            or self.readings
            or self.as_of is not None
            or self.weekly_hours is not None
        )

    @field_validator("date_format")
    @classmethod
    def _whole_date(cls, value: str | None) -> str | None:
        parts = ("%d", "%m", "%Y")
        months = ("%m", "%b", "%B")
        if value is None:
            return None
        if not (
            parts[0] in value
            and any(month in value for month in months)
            and ("%Y" in value or "%y" in value)
        ):
            raise ValueError("a date format needs day, month and year")
        try:
            datetime.strptime("", value)  # noqa: DTZ007
        except re.error:
            raise ValueError("each part of a date stands once in a date format") from None
        except ValueError:
            pass  # the empty text is no date
        return value

    @field_validator("languages")
    @classmethod
    def _known_languages(cls, value: list[str]) -> list[str]:
        from babel import Locale, UnknownLocaleError

        for code in value:
            try:
                Locale.parse(code)
            except (UnknownLocaleError, ValueError):
                raise ValueError(f"no such language: {code}") from None
        return value

    @field_validator("encoding")
    @classmethod
    def _known_encoding(cls, value: str | None) -> str | None:
        if value is not None:
            try:
                "".join(chr(c) for c in range(32, 127)).encode(value).decode(value)
            except (LookupError, UnicodeError):
                raise ValueError("no such encoding") from None
        return value


class Reasons(Part):
    """What each removal reason of the shop means."""

    failures: Text = Field(default_factory=dict)
    """Reason text -> failure mode, such as "wear" or "damage"."""
    suspensions: Text = Field(default_factory=dict)
    """Reason text -> kind of suspension, such as "planned swap" or "material change"."""
    looked_bad: Text = Field(default_factory=dict)
    """Reason text of heads pulled on looks -> failure mode they would count as."""
    may_have_failed: Text = Field(default_factory=dict)
    """Reason text of removals of which nobody knows whether the head had failed -> the failure
    mode they would count as; read both ways."""
    reusable: Annotated[
        list[Name], Field(description='write kinds of suspension, ["material change"]')
    ] = Field(default=["material change"])
    """Kinds of suspension after which a head waits on the shelf to be used again."""

    @property
    def known(self) -> dict[str, tuple[str, str]]:
        """Reason text, trimmed and in lower case -> (table, meaning)."""
        return {
            reason_key(text): (table, meaning)
            for table in _REASON_TABLES
            for text, meaning in getattr(self, table).items()
        }

    @property
    def modes(self) -> tuple[str, ...]:
        """Failure modes in the order in which the settings first name them."""
        return tuple(
            dict.fromkeys(
                mode
                for table in (self.failures, self.looked_bad, self.may_have_failed)
                for mode in table.values()
            )
        )

    @model_validator(mode="after")
    def _reusable_kinds(self) -> Reasons:
        kinds = list(dict.fromkeys(self.suspensions.values()))
        for kind in self.reusable if "reusable" in self.model_fields_set else ():
            if kind not in kinds:
                raise ValueError(
                    f"[reasons] reusable names '{kind}'{nearest(kind, kinds)}, which is no kind "
                    f"in [reasons.suspensions] ({', '.join(kinds)}); write one of those"
                )
        return self

    @model_validator(mode="after")
    def _one_meaning_each(self) -> Reasons:
        seen: dict[str, str] = {}
        for table in _REASON_TABLES:
            for text in getattr(self, table):
                key = reason_key(text)
                if not key:
                    raise ValueError(
                        f"[reasons.{table}] has an empty reason; a blank reason already means "
                        "that the head is still in service, so delete that line"
                    )
                if key in seen:
                    raise ValueError(
                        f"the reason '{text}' stands in [reasons.{seen[key]}] and in "
                        f"[reasons.{table}] (capitals and spaces at the ends do not count); "
                        "keep one of the two lines"
                    )
                seen[key] = table
        return self


def reason_key(text: str) -> str:
    """Return a reason as it is compared: in plain characters, single spaces, lower case.

    Parameters
    ----------
    text : str
        As the shop writes it.

    Returns
    -------
    str
        The reason in its compared form.
    """
    return plain(text).casefold()
