"""Say which heads, reasons, lead times and claims this shop works with.

Answers from one TOML file that a person in the shop wrote. It never looks at records, and it
never guesses: a key it does not know, a value out of range or a missing table stops with a
sentence that names the file, the table, the key and the value, and says what to write instead.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Annotated, Any, Final, Literal

from pydantic import Field, PrivateAttr, ValidationError, model_validator

from headlife.alike import nearest
from headlife.display import shows_itself
from headlife.errors import SettingsError
from headlife.plain_text import plain
from headlife.settings_errors import sentences
from headlife.shop.columns import (
    COLUMNS,
    EVENT_COLUMNS,
    GROUPED_BY,
    RATING,
    RESERVED,
    STANDARD_COLUMNS,
)
from headlife.shop.policy_book import PolicySettings, check_policies
from headlife.shop.values import Name, Part, Text, WeeklyHours
from headlife.shop.work import (
    Booking,
    Claim,
    Costs,
    HeadType,
    NewPrinter,
    Plan,
    PrinterSettings,
    ReviewSettings,
    Spares,
)
from headlife.shop.writing import Intake, Reasons

# Tables that hold no names that stand in records, or what must stay as it is written.
_AS_WRITTEN: Final = frozenset({"name", "intake", "costs", "claim"})


@shows_itself
class Shop(Part):
    """A shop's settings, as read from its TOML file by `read_shop`."""

    name: Name
    claim: Claim = Claim()
    intake: Intake = Intake()
    columns: Text = Field(default_factory=dict)
    """Standard column name -> the shop's own column name."""
    own_columns: Text = Field(default_factory=dict)
    """Name -> column of the shop's table that lives carry along, to group ratings by."""
    roles: dict[
        str,
        Annotated[Literal["model", "support"], Field(description='write "model" or "support"')],
    ] = Field(default_factory=dict)
    """The shop's own words for the roles -> model or support."""
    positions: dict[
        str,
        Annotated[Literal["model", "support"], Field(description='write "model" or "support"')],
    ] = Field(default_factory=dict)
    """Position -> role of the heads in it, where the table has no column of roles."""
    reasons: Reasons
    head_types: Annotated[
        dict[str, HeadType],
        Field(
            min_length=1, description='add a table [head_types."NAME"] with rated_hours for each'
        ),
    ]
    spares: Spares
    usage: dict[str, WeeklyHours] = Field(default_factory=dict)
    """Print hours a week by printer, where the shop knows better than its records [h/week]."""
    policy: PolicySettings = PolicySettings()
    costs: Costs = Costs()
    printers: dict[str, PrinterSettings] = Field(default_factory=dict)
    plans: dict[str, Plan] = Field(default_factory=dict)
    """Planned changes of printing, by a name of the shop's own."""
    order_book: dict[str, Booking] = Field(default_factory=dict)
    """Print hours of builds on order, by a name of the shop's own."""
    new_printers: dict[str, NewPrinter] = Field(default_factory=dict)
    """Printers that will come and are not in the records yet, by their name."""
    review: ReviewSettings = ReviewSettings()
    _path: str = PrivateAttr("")
    _sha256: str = PrivateAttr("")
    _to_do: tuple[str, ...] = PrivateAttr(())
    _as_read: Shop | None = PrivateAttr(None)

    @property
    def path(self) -> str:
        """The settings file, as it was named to `read_shop`."""
        return self._path

    @property
    def sha256(self) -> str:
        """SHA-256 of the settings file's bytes."""
        return self._sha256

    @property
    def divisions(self) -> tuple[tuple[str, ...], ...]:
        """Columns that heads are rated by: those of `[review] groups`, and ratings that changed."""
        changed = any(kind.earlier_ratings for kind in self.head_types.values())
        return (*self.review.divisions, *(((RATING,),) if changed else ()))

    def rated_hours_of(self, head_type: str, further: Sequence[tuple[str, str]] = ()) -> float:
        """Give the rating of a group of heads [h].

        Parameters
        ----------
        head_type : str
            Head type.
        further : sequence of (str, str)
            Further columns and values of the group; one of them may be its rating.

        Returns
        -------
        float
            Today's rating of the type, or the group's own [h].
        """
        kind = self.head_types[head_type]
        return kind.ratings.get(dict(further).get(RATING, ""), kind.rated_hours)

    @property
    def rated_hours(self) -> dict[str, float]:
        """Head type -> the vendor's rated life [h], in the settings' order."""
        return {name: one.rated_hours for name, one in self.head_types.items()}

    @property
    def prices(self) -> dict[str, float | None]:
        """Head type -> price of a new head, where it is stated [currency]."""
        return {name: one.price for name, one in self.head_types.items()}

    @property
    def critical_printers(self) -> tuple[str, ...]:
        """Printers on which no head runs past its rating."""
        return tuple(name for name, one in self.printers.items() if one.quality_critical)

    @property
    def failure_modes(self) -> tuple[str, ...]:
        """Failure modes that the settings know, the one the rating claim is about first."""
        return tuple(dict.fromkeys([self.review.primary_mode, *self.reasons.modes]))

    @property
    def to_do(self) -> tuple[str, ...]:
        """Lines of the settings file that a draft proposed and nobody has confirmed yet."""
        return self._to_do

    @property
    def as_read(self) -> Shop:
        """The settings as they were written, before any change by `with_`."""
        return self._as_read or self

    @property
    def changed(self) -> tuple[str, ...]:
        """Tables that were changed by `with_` since the settings were read."""
        return self.tables_unlike(self.as_read)

    def with_(self, **changes: Any) -> Shop:
        """Return these settings with some values changed: the one way to ask "what if".

        Parameters
        ----------
        **changes : object
            Tables of the settings by their name. A mapping given for a table with keys of its
            own (`review`, `spares`, `costs` and the like) changes those keys and keeps the
            others; a table of the shop's own names (`plans`, `head_types` and the like), or a
            whole table such as `Costs()`, replaces what was there.

        Returns
        -------
        Shop
            Checked as a file is; it keeps the path and SHA-256 of the file.

        Raises
        ------
        SettingsError
            One sentence for each value that cannot be used, as for `read_shop`.

        Examples
        --------
        >>> from headlife.shop import read_shop
        >>> shop = read_shop("data_demo/shop.toml")
        >>> shop.with_(review={"build_hours": 140}).review.build_hours
        140.0
        """
        for name in changes:
            if name not in type(self).model_fields:
                known = list(type(self).model_fields)
                raise SettingsError(
                    f"The settings do not know '{name}'{nearest(name, known)}; they know "
                    f"{', '.join(known)}."
                )
        raw = self.model_dump(exclude_unset=True, by_alias=True)
        for name, change in changes.items():
            if isinstance(change, Part):
                raw[name] = change.model_dump(exclude_unset=True, by_alias=True)
            elif isinstance(getattr(self, name, None), Part) and isinstance(change, Mapping):
                raw[name] = raw.get(name, {}) | dict(change)
            else:
                raw[name] = _plain(change)
        changed = checked_settings(raw, "The settings asked for")
        changed._path, changed._sha256 = self._path, self._sha256
        changed._to_do = self._to_do
        changed._as_read = self.as_read
        return changed

    def tables_unlike(self, other: Shop) -> tuple[str, ...]:
        """Name the tables in which these settings differ from others.

        Parameters
        ----------
        other : Shop
            The other settings.

        Returns
        -------
        tuple of str
            Names of the tables.
        """
        return tuple(
            name for name in type(self).model_fields if getattr(self, name) != getattr(other, name)
        )

    @model_validator(mode="before")
    @classmethod
    def _in_plain_characters(cls, raw: Any) -> Any:
        """Write names as those in the records are compared: one width, one kind of dash."""
        if not isinstance(raw, Mapping):
            return raw
        return {
            name: part if name in _AS_WRITTEN else _plain_names(part) for name, part in raw.items()
        }

    @model_validator(mode="before")
    @classmethod
    def _none_goes_in_again_without_serials(cls, raw: Any) -> Any:
        """Without serials nobody can tell which head goes in again: none waits on the shelf."""
        intake = raw.get("intake") if isinstance(raw, Mapping) else None
        if not isinstance(intake, Mapping) or intake.get("without_serials") is not True:
            return raw
        reasons = raw.get("reasons", {})
        if not isinstance(reasons, Mapping):
            return raw
        if reasons.get("reusable"):
            raise ValueError(
                "[reasons] reusable says that heads go in again, and [intake] without_serials that "
                "nobody can tell which; take one of the two out"
            )
        return {**raw, "reasons": {**reasons, "reusable": []}}

    @model_validator(mode="after")
    def _one_column_for_one_purpose(self) -> Shop:
        served: dict[str, str] = {}
        for name, own in self.columns.items():
            other = served.setdefault(plain(own).casefold(), name)
            if other != name:
                raise ValueError(
                    f"[columns] {other} and {name} both name the column '{own}', and one column "
                    "cannot say both; name another for one of the two, or take its line out"
                )
        return self

    @model_validator(mode="after")
    def _columns_and_mode(self) -> Shop:
        known = STANDARD_COLUMNS
        if self.intake.shape in ("events", "orders"):
            known = (*STANDARD_COLUMNS, *EVENT_COLUMNS)
        for name in self.columns:
            if name not in known:
                raise ValueError(
                    f"[columns] '{name}' is not a standard column{nearest(name, known)}"
                    f"; the standard columns are {', '.join(known)}"
                )
        for name in self.own_columns:
            if name in COLUMNS or name in RESERVED:
                where = "[columns]" if name in COLUMNS else "headlife's own tables"
                raise ValueError(
                    f"[own_columns] '{name}' is a name that {where} already have; choose another "
                    "name for it"
                )
        known = (*GROUPED_BY, *self.own_columns)
        for name in dict.fromkeys(name for names in self.review.divisions for name in names):
            if name not in known:
                raise ValueError(
                    f"[review] groups names '{name}'{nearest(name, known)}, by which heads cannot "
                    f"be grouped; write some of {', '.join(known)}, or name a further column of "
                    "your table in [own_columns]"
                )
        if self.reasons.failures and self.review.primary_mode not in self.reasons.modes:
            raise ValueError(
                f"[review] primary_mode = '{self.review.primary_mode}' is none of the failure "
                f"modes named in [reasons.failures] ({', '.join(self.reasons.modes)}); "
                "write one of those"
            )
        return self

    @model_validator(mode="after")
    def _heads_counted_once(self) -> Shop:
        for name, settings in self.head_types.items():
            sites = sum(settings.on_hand_by_site.values())
            if settings.on_hand and settings.on_hand_by_site and settings.on_hand != sites:
                raise ValueError(
                    f'[head_types."{name}"] on_hand = {settings.on_hand}, but its '
                    f"on_hand_by_site adds up to {sites}; correct one of the two"
                )
            if settings.orders and (settings.on_order or settings.on_order_due is not None):
                raise ValueError(
                    f'[head_types."{name}"] states on_order or on_order_due and orders too, '
                    f"which may be the same heads twice (orders: {', '.join(settings.orders)}); "
                    "keep the orders and delete the other lines"
                )
        return self

    @model_validator(mode="after")
    def _heads_of_new_printers(self) -> Shop:
        known = list(self.head_types)
        for name, printer in self.new_printers.items():
            for role, head_type in (("model", printer.model), ("support", printer.support)):
                if head_type not in known:
                    raise ValueError(
                        f"[new_printers.\"{name}\"] {role} = '{head_type}' is no head type of "
                        f"[head_types]{nearest(head_type, known)}; write one of "
                        f"{', '.join(known)}"
                    )
        return self

    @model_validator(mode="after")
    def _heads_of_the_policy(self) -> Shop:
        check_policies(self)
        return self


def _plain_names(part: Any) -> Any:
    """Write the texts of a table in plain characters; two keys that become one are refused."""
    if isinstance(part, str):
        return plain(part)
    if isinstance(part, list):
        return [_plain_names(one) for one in part]
    if not isinstance(part, Mapping):
        return part
    named: dict[Any, Any] = {}
    for key, value in part.items():
        name = plain(key) if isinstance(key, str) else key
        if name in named:
            raise ValueError(
                f"'{key}' stands twice, in characters that only look different; keep one line"
            )
        named[name] = _plain_names(value)
    return named


def _plain(value: Any) -> Any:
    """Turn tables given as objects into mappings, to be checked like those of a file."""
    if isinstance(value, Part):
        return value.model_dump(exclude_unset=True, by_alias=True)
    if isinstance(value, Mapping):
        return {name: _plain(one) for name, one in value.items()}
    return value


def checked_settings(raw: Mapping[str, Any], file: str) -> Shop:
    """Check tables as a settings file has them.

    Parameters
    ----------
    raw : mapping
        The tables by their name.
    file : str
        What the sentences call them.

    Returns
    -------
    Shop
        The settings.

    Raises
    ------
    SettingsError
        One sentence for each value that cannot be used.
    """
    try:
        return Shop.model_validate(raw)
    except ValidationError as problem:
        raise SettingsError("\n".join(sentences(problem, Shop, file))) from None
