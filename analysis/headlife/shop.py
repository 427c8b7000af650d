"""Say which heads, reasons, lead times and claims this shop works with.

Answers from one TOML file that a person in the shop wrote. It never looks at records, and it
never guesses: a key it does not know, a value out of range or a missing table stops with a
sentence that names the file, the table, the key and the value, and says what to write instead.
"""

from __future__ import annotations

import datetime
import hashlib
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Final, Literal

from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    PrivateAttr,
    ValidationError,
    field_validator,
    model_validator,
)

from headlife.errors import SettingsError
from headlife.settings_errors import nearest, sentences
from headlife.units import HOURS_PER_WEEK

STANDARD_COLUMNS: Final = (
    "head",
    "head_type",
    "role",
    "printer",
    "position",
    "date_in",
    "hours_in",
    "date_out",
    "hours_out",
    "reason",
    "material",
    "last_good_hours",
    "site",
    "note",
)
# Common practice, no source: the machine gives notice at nine tenths of the rating.
NOTICE_FRACTION: Final = 0.9
# Common practice, no source: about 33 minutes, warm-up included, and one check by hand after it.
CALIBRATION_HOURS: Final = 0.55
MANUAL_CHECKS: Final = 1
_MOST_DRAWS: Final = 10_000_000

_Hours = Annotated[
    float, Field(gt=0, description="write hours above zero as a plain number, for example 1200")
]
_Share = Annotated[
    float,
    Field(
        gt=0,
        lt=1,
        description="write a share between 0 and 1, for example 0.95 for 95 percent",
    ),
]
_Weeks = Annotated[
    float, Field(gt=0, description="write weeks above zero as a plain number, for example 6")
]
_Heads = Annotated[int, Field(ge=0, description="write a whole number of heads, 0 or more")]
_Yes = Annotated[bool, Field(description="write true or false, without quotes")]
_Name = Annotated[str, Field(min_length=1, description="write a name in quotes")]
_Amount = Annotated[
    float, Field(ge=0, description="write an amount of 0 or more as a plain number, such as 45.0")
]
_Duration = Annotated[
    float, Field(ge=0, description="write hours of 0 or more as a plain number, such as 0.5")
]
_Date = Annotated[
    datetime.date, Field(description="write a day without quotes, for example 2026-12-21")
]
_Text = Annotated[dict[str, _Name], Field(description='write lines of the form "text" = "name"')]


class _Part(BaseModel):
    """A table of the settings file: fixed once read, unknown keys refused."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False)


class Claim(_Part):
    """The claim that the rating verdict judges."""

    share: _Share = 0.90
    """Share of heads claimed to reach the rated hours [-]."""
    confidence: _Share = 0.95
    """One-sided confidence asked of the verdict [-]."""


class Intake(_Part):
    """How the shop's table is written, where it differs from plain CSV with ISO dates."""

    date_format: (
        Annotated[str, Field(description='write a date format, for example "%d.%m.%Y"')] | None
    ) = None
    """Format of dates that are not written year-month-day, in strftime codes."""
    decimal: Annotated[Literal[".", ","], Field(description='write "." or ","')] = "."
    """Decimal mark of hour readings."""
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

    @field_validator("date_format")
    @classmethod
    def _whole_date(cls, value: str | None) -> str | None:
        parts = ("%d", "%m", "%Y")
        months = ("%m", "%b", "%B")
        if value is not None and not (
            parts[0] in value
            and any(month in value for month in months)
            and ("%Y" in value or "%y" in value)
        ):
            raise ValueError("a date format needs day, month and year")
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


class Reasons(_Part):
    """What each removal reason of the shop means."""

    failures: _Text = Field(default_factory=dict)
    """Reason text -> failure mode, such as "wear" or "damage"."""
    suspensions: _Text = Field(default_factory=dict)
    """Reason text -> kind of suspension, such as "planned swap" or "material change"."""
    looked_bad: _Text = Field(default_factory=dict)
    """Reason text of heads pulled on looks -> failure mode they would count as."""
    reusable: Annotated[
        list[_Name], Field(description='write kinds of suspension, ["material change"]')
    ] = Field(default=["material change"])
    """Kinds of suspension after which a head waits on the shelf to be used again."""

    @property
    def known(self) -> dict[str, tuple[str, str]]:
        """Reason text, trimmed and in lower case -> (table, meaning)."""
        return {
            reason_key(text): (table, meaning)
            for table in ("failures", "suspensions", "looked_bad")
            for text, meaning in getattr(self, table).items()
        }

    @property
    def modes(self) -> tuple[str, ...]:
        """Failure modes in the order in which the settings first name them."""
        return tuple(dict.fromkeys([*self.failures.values(), *self.looked_bad.values()]))

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
        for table in ("failures", "suspensions", "looked_bad"):
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


class HeadType(_Part):
    """What the shop knows about one type of head."""

    rated_hours: _Hours
    """The vendor's rated life [h]."""
    notice_fraction: Annotated[
        float,
        Field(gt=0, le=1, description="write a fraction of the rating, for example 0.9"),
    ] = NOTICE_FRACTION
    """Fraction of the rating at which the machine gives notice [-]."""
    quality_critical: _Yes = False
    """True when no head of this type may be advised past its rating."""
    price: Annotated[float, Field(ge=0, description="write a price of 0 or more")] | None = None
    """Price of a new head [currency]."""
    on_hand: _Heads = 0
    """New heads on the shelf [heads]."""
    on_order: _Heads = 0
    """New heads ordered and not yet delivered [heads]."""
    on_order_due: _Date | None = None
    """Day on which the heads on order are due; one lead time from now when not stated."""
    on_hand_by_site: Annotated[
        dict[str, _Heads], Field(description='write lines of the form "site" = heads')
    ] = Field(default_factory=dict)
    """New heads on each site's shelf, needed where sites keep separate stocks [heads]."""

    @property
    def notice_hours(self) -> float:
        """Hours at which the machine gives notice [h]."""
        return self.rated_hours * self.notice_fraction


class Spares(_Part):
    """How spare heads are ordered."""

    lead_time_weeks: _Weeks
    """From order to delivery [weeks]."""
    review_weeks: _Weeks = 13.0
    """From one order day to the next [weeks]."""
    service_level: _Share = 0.95
    """Probability of no shortage over lead time and review period [-]."""
    lead_time_sd_weeks: Annotated[
        float, Field(ge=0, description="write weeks of 0 or more as a plain number, such as 1.5")
    ] = 0.0
    """Standard deviation of the lead time [weeks]."""
    order_multiple: Annotated[
        int, Field(ge=1, description="write a whole number of heads, 1 or more")
    ] = 1
    """Heads are ordered in multiples of this [heads]."""
    sites: Annotated[
        Literal["pooled", "separate"], Field(description='write "pooled" or "separate"')
    ] = "pooled"
    """Whether all sites share one stock or each keeps its own."""
    use_shelf: _Yes = True
    """Whether part-used heads on the shelf go back in before new ones, where that is sensible."""


class PolicySettings(_Part):
    """When the shop swaps a head that still works."""

    swap_at: Annotated[
        Literal["rating", "notice", "failure"] | _Hours,
        Field(description='write "rating", "notice", "failure" or a number of hours above zero'),
    ] = "rating"
    """Age at which a working head is swapped."""
    join_from: (
        Annotated[
            Literal["notice", "rating"] | _Hours,
            Field(description='write "notice", "rating" or a number of hours above zero'),
        ]
        | None
    ) = None
    """Age from which a head is swapped along when the other head of its printer is; never when
    not stated."""


class ReviewSettings(_Part):
    """Choices of the quarterly review."""

    build_hours: _Hours = 96.0
    """Length of the next long build, for the watch list [h]."""
    draws: Annotated[
        int,
        Field(ge=100, le=_MOST_DRAWS, description="write a whole number of draws, 100 or more"),
    ] = 20_000
    """Simulated futures behind the spares answer [-]."""
    seed: Annotated[int, Field(ge=0, description="write a whole number, 0 or more")] = 1
    """Seed of the random numbers: the same seed gives the same page."""
    primary_mode: _Name = "wear"
    """The failure mode that the rating claim is about."""
    set_aside: Annotated[
        Literal["stop", "continue"], Field(description='write "stop" or "continue"')
    ] = "stop"
    """What a review does when rows cannot be read: stop and name them, or go on without them."""


class Costs(_Part):
    """What swaps, failures and waiting cost; what is not stated is named when it is needed."""

    currency: _Name = "currency units"
    """How amounts are labelled."""
    labour_per_hour: _Amount | None = None
    """An hour of a person's work [currency/h]."""
    machine_hour_rate: _Amount | None = None
    """An hour a printer stands still instead of printing [currency/h]."""
    swap_labour_hours: _Duration | None = None
    """Work to take one head out and put another in; the printer stands for it [h]."""
    calibration_hours: _Duration = CALIBRATION_HOURS
    """The automatic calibration after a visit, warm-up included [h]."""
    manual_checks: Annotated[
        int, Field(ge=0, description="write a whole number of checks, 0 or more")
    ] = MANUAL_CHECKS
    """Manual calibration checks after a visit [-]."""
    manual_check_hours: _Duration | None = None
    """Work for one manual check; the printer stands for it [h]."""
    scrapped_build_cost: _Amount | None = None
    """What is lost with the build in which a head fails [currency]."""
    waiting_hours_per_stockout: _Duration | None = None
    """How long a printer stands when a head fails and no spare is on the shelf [h]."""
    carrying_cost_per_head_year: _Amount | None = None
    """Money, space and ageing of one head on the shelf for a year [currency/year]."""


class PrinterSettings(_Part):
    """What the shop knows about one printer."""

    quality_critical: _Yes = False
    """True when no head may be advised past its rating on this printer."""


class Plan(_Part):
    """A planned change of printing, for example a shutdown or growth."""

    factor: Annotated[
        float, Field(ge=0, description="write a factor of 0 or more: 0 is a stop, 1.2 a fifth more")
    ]
    """Print hours a week are multiplied by this [-]."""
    begins: _Date
    """First day of the change."""
    ends: _Date | None = None
    """Last day of the change; it stays when not stated."""
    printer: _Name | None = None
    """The printer it is about; all of them when not stated."""
    site: _Name | None = None
    """The site it is about; all of them when not stated."""

    @model_validator(mode="after")
    def _in_order(self) -> Plan:
        if self.ends is not None and self.ends < self.begins:
            raise ValueError(
                f"a plan ends on {self.ends}, before it begins on {self.begins}; correct a date"
            )
        return self


class Shop(_Part):
    """A shop's settings, as read from its TOML file by `read_shop`."""

    name: _Name
    claim: Claim = Claim()
    intake: Intake = Intake()
    columns: _Text = Field(default_factory=dict)
    """Standard column name -> the shop's own column name."""
    roles: dict[
        str,
        Annotated[Literal["model", "support"], Field(description='write "model" or "support"')],
    ] = Field(default_factory=dict)
    """The shop's own words for the roles -> model or support."""
    reasons: Reasons
    head_types: Annotated[
        dict[str, HeadType],
        Field(
            min_length=1, description='add a table [head_types."NAME"] with rated_hours for each'
        ),
    ]
    spares: Spares
    usage: dict[
        str,
        Annotated[
            float,
            Field(
                ge=0,
                le=HOURS_PER_WEEK,
                description="write print hours a week between 0 and 168, for example 40.0",
            ),
        ],
    ] = Field(default_factory=dict)
    """Print hours a week by printer, where the shop knows better than its records [h/week]."""
    policy: PolicySettings = PolicySettings()
    costs: Costs = Costs()
    printers: dict[str, PrinterSettings] = Field(default_factory=dict)
    plans: dict[str, Plan] = Field(default_factory=dict)
    """Planned changes of printing, by a name of the shop's own."""
    review: ReviewSettings = ReviewSettings()
    _path: str = PrivateAttr("")
    _sha256: str = PrivateAttr("")

    @property
    def path(self) -> str:
        """The settings file, as it was named to `read_shop`."""
        return self._path

    @property
    def sha256(self) -> str:
        """SHA-256 of the settings file's bytes."""
        return self._sha256

    @model_validator(mode="after")
    def _columns_and_mode(self) -> Shop:
        for name in self.columns:
            if name not in STANDARD_COLUMNS:
                raise ValueError(
                    f"[columns] '{name}' is not a standard column{nearest(name, STANDARD_COLUMNS)}"
                    f"; the standard columns are {', '.join(STANDARD_COLUMNS)}"
                )
        if self.reasons.failures and self.review.primary_mode not in self.reasons.modes:
            raise ValueError(
                f"[review] primary_mode = '{self.review.primary_mode}' is none of the failure "
                f"modes named in [reasons.failures] ({', '.join(self.reasons.modes)}); "
                "write one of those"
            )
        return self


def reason_key(text: str) -> str:
    """Return a reason as it is compared: trimmed, single spaces, lower case."""
    return " ".join(text.split()).casefold()


def read_shop(path: str | Path) -> Shop:
    """Read a shop's settings file.

    Parameters
    ----------
    path : str or Path
        A TOML file; every table and key is described in the README.

    Returns
    -------
    Shop
        Frozen settings, with the file's path and SHA-256.

    Raises
    ------
    SettingsError
        One sentence per problem, each naming the file, the table and key, the value and what
        to write instead.
    """
    path = Path(path)
    data = _bytes(path)
    shop = _shop(_toml(data, path.name), path.name)
    shop._path = str(path)
    shop._sha256 = hashlib.sha256(data).hexdigest()
    return shop


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise SettingsError(
            f"There is no settings file '{path}'; check the name and the folder."
        ) from None
    except IsADirectoryError:
        raise SettingsError(
            f"'{path}' is a folder; name the settings file in it, for example '{path}/shop.toml'."
        ) from None
    except (OSError, ValueError) as problem:
        raise SettingsError(f"The settings file '{path}' cannot be opened: {problem}.") from None


def _toml(data: bytes, file: str) -> dict[str, Any]:
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data[: problem.start].count(b"\n") + 1
        raise SettingsError(
            f"{file}, line {line}: the settings are not written in UTF-8; save the file as UTF-8."
        ) from None
    try:
        return tomllib.loads(text.replace("\r\n", "\n"))
    except tomllib.TOMLDecodeError as problem:
        raise SettingsError(
            f"{file}: the settings cannot be read: {problem}. Check quotes, brackets and equals "
            "signs there; a name or a text needs quotes, a number has none."
        ) from None
    except RecursionError:
        raise SettingsError(f"{file}: the settings are nested too deeply to be a shop.") from None


def _shop(raw: Mapping[str, Any], file: str) -> Shop:
    try:
        return Shop.model_validate(raw)
    except ValidationError as problem:
        raise SettingsError("\n".join(sentences(problem, Shop, file))) from None
