"""Which swap policy does this shop have, by head type, role, printer and day?

From the `[policy]` table of the settings: one rule for all heads, exceptions by head type, role
and printer, and changes with the day from which they hold. A shop's policy has a history: what is
asked about a past day is answered with the policy of that day (`policies_on`).
"""

from __future__ import annotations

import datetime
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import Field, field_validator, model_validator

from headlife.alike import nearest
from headlife.errors import DecisionError, SettingsError
from headlife.shop.policy import AT_RATING, Policy
from headlife.shop.values import Hours, Part, Yes

if TYPE_CHECKING:
    from headlife.shop import Shop
    from headlife.shop.work import HeadType

ROLES: Final = ("model", "support")
_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}")
_SwapAt = Annotated[
    Literal["rating", "notice", "failure"] | Hours | dict[str, int],
    Field(
        description='write "rating", "notice", "failure", a number of hours above zero or '
        "{ jobs = 12 }"
    ),
]
_JoinFrom = Annotated[
    Literal["notice", "rating", "never"] | Hours,
    Field(description='write "notice", "rating", "never" or a number of hours above zero'),
]


class PolicyRule(Part):
    """When working heads are swapped; what is not stated is as the wider rule says."""

    swap_at: _SwapAt | None = None
    """Age at which a working head is swapped, or number of jobs after which it is."""
    join_from: _JoinFrom | None = None
    """Age from which a head is swapped along when the other head of its printer is."""
    between_builds: Yes | None = None
    """Whether a due head waits for the end of a build."""
    build_hours: Hours | None = None
    """Print hours of a build, or job, for `between_builds` and for `jobs` [h]."""

    @field_validator("swap_at", mode="before")
    @classmethod
    def _only_jobs(cls, value: Any) -> Any:
        if isinstance(value, dict) and not (list(value) == ["jobs"] and _is_count(value["jobs"])):
            raise ValueError(
                f"[policy] swap_at = {value} cannot be used; in braces stands a whole number of "
                "jobs and nothing else, as in swap_at = { jobs = 12 }"
            )
        return value


class PolicyRules(PolicyRule):
    """A rule for all heads, and exceptions from it; the narrowest that says something holds."""

    roles: dict[str, PolicyRule] = Field(default_factory=dict)
    """Exceptions for a role."""
    head_types: dict[str, PolicyRule] = Field(default_factory=dict)
    """Exceptions for a head type; they go before those for a role."""
    printers: dict[str, PolicyRule] = Field(default_factory=dict)
    """Exceptions for a printer; they go before all others."""

    def about(self, head_type: str, role: str, printer: str) -> tuple[PolicyRule | None, ...]:
        """Give the rules about one head, the narrowest first.

        Parameters
        ----------
        head_type : str
            Head type.
        role : str
            model or support.
        printer : str
            Printer.

        Returns
        -------
        tuple of PolicyRule or None
            Rules, None where there is no exception.
        """
        return (
            self.printers.get(printer),
            self.head_types.get(head_type),
            self.roles.get(role),
            self,
        )


class PolicySettings(PolicyRules):
    """When the shop swaps a head that still works, and when that changed."""

    swap_at: _SwapAt = "rating"
    """Age at which a working head is swapped, or number of jobs after which it is."""
    join_from: _JoinFrom = "never"
    """Age from which a head is swapped along when the other head of its printer is."""
    between_builds: Yes = False
    """Whether a due head waits for the end of a build."""
    confirmed: Yes = False
    """Whether forecasts follow these settings even where the installations clearly show another
    practice."""
    from_: dict[str, PolicyRules] = Field(default_factory=dict, alias="from")
    """What changed, by the day from which it holds, the earliest first."""

    @model_validator(mode="after")
    def _days_in_order(self) -> PolicySettings:
        before = ""
        for day, change in self.from_.items():
            if not _DAY.fullmatch(day) or not _is_day(day):
                raise ValueError(
                    f"[policy.from] '{day}' is no day; write a table such as "
                    "[policy.from.2026-04-01] for what holds from that day on"
                )
            if day < before:
                raise ValueError(
                    f"[policy.from.{day}] stands after [policy.from.{before}]; write changes of "
                    "policy in the order of their days, or correct a day"
                )
            if not change.model_fields_set:
                raise ValueError(
                    f"[policy.from.{day}] changes nothing; state what changed, such as swap_at, "
                    "or delete it"
                )
            before = day
        return self

    @property
    def rules(self) -> tuple[tuple[datetime.date, PolicyRules], ...]:
        """Every set of rules with its first day, the earliest first."""
        changes = [(datetime.date.fromisoformat(day), one) for day, one in self.from_.items()]
        return ((datetime.date.min, self), *changes)


@dataclass(frozen=True)
class PolicyBook:
    """Every swap policy of a shop: by head type, role, printer and day."""

    rules: tuple[tuple[datetime.date, PolicyRules], ...]
    """Rules with the day from which they hold, the earliest first."""
    head_types: Mapping[str, HeadType]
    """Rating and notice of every head type, and which are quality-critical."""
    critical_printers: frozenset[str] = frozenset()
    """Printers on which no head may be advised past its rating."""
    later: tuple[datetime.date, ...] = ()
    """Days of changes that the settings state and that do not hold yet."""

    def of(
        self,
        head_type: str,
        role: str = "",
        printer: str = "",
        rated_hours: float | None = None,
    ) -> Policy:
        """Give the policy for one head; without role or printer the one without exceptions.

        Parameters
        ----------
        head_type : str
            Head type.
        role : str, optional
            model or support.
        printer : str, optional
            Printer.
        rated_hours : float, optional
            The rating that the head was bought with [h]; default today's of its type.

        Returns
        -------
        Policy
            The policy.

        Raises
        ------
        DecisionError
            The head type is not in the settings, or its policy makes no sense.
        """
        settings = self.head_types.get(head_type)
        if settings is None:
            raise DecisionError(
                f"Head type '{head_type}' is not in the settings; "
                f'add a table [head_types."{head_type}"] with its rated_hours.'
            )
        if rated_hours is not None and rated_hours != settings.rated_hours:
            settings = settings.model_copy(update={"rated_hours": rated_hours})
        stated = self._stated(head_type, role, printer)
        swap_at, jobs, name = _due(stated["swap_at"], settings)
        build_hours = 0.0
        if jobs < math.inf or stated["between_builds"]:
            build_hours = stated["build_hours"] or 0.0
            if not build_hours:
                raise DecisionError(
                    "By [policy] heads are swapped between builds or after so many jobs, which "
                    "needs the print hours of one: add build_hours to [policy]."
                )
            name = f"{name}, between builds" if name and jobs == math.inf else name
        critical = settings.quality_critical or printer in self.critical_printers
        join_from = _age(stated["join_from"], settings)
        return Policy(swap_at, join_from, build_hours, critical, jobs, name)

    def has_own(self, printer: str) -> bool:
        """Say whether a printer's policy may differ from that of others.

        Parameters
        ----------
        printer : str
            Name of the printer.

        Returns
        -------
        bool
            Whether it has a rule of its own or is quality-critical.
        """
        return printer in self.critical_printers or any(
            printer in rules.printers for _, rules in self.rules
        )

    def since(self, head_type: str, role: str = "", printer: str = "") -> datetime.date:
        """Give the day from which the policy for one head has been what it is.

        Parameters
        ----------
        head_type : str
            Head type.
        role : str, optional
            model or support.
        printer : str, optional
            Printer.

        Returns
        -------
        datetime.date
            The day.
        """
        now, began = self.of(head_type, role, printer), self.rules[-1][0]
        for number in range(len(self.rules) - 1, 0, -1):
            before = replace(self, rules=self.rules[:number])
            if before.of(head_type, role, printer) != now:
                break
            began = before.rules[-1][0]
        return began

    def _stated(self, head_type: str, role: str, printer: str) -> dict[str, Any]:
        """Give what holds of every key: by the narrowest rule about it, as stated last."""
        by_width = zip(
            *(rules.about(head_type, role, printer) for _, rules in reversed(self.rules)),
            strict=True,
        )
        stated: dict[str, Any] = dict.fromkeys(PolicyRule.model_fields)
        for rule in (rule for rules in by_width for rule in rules if rule is not None):
            for key, value in stated.items():
                stated[key] = getattr(rule, key) if value is None else value
        return stated

    def refuse_unknown_printers(self, known: Iterable[str]) -> None:
        """Refuse exceptions for printers that are neither on record nor to come.

        Parameters
        ----------
        known : iterable of str
            Printers on record or to come.

        Raises
        ------
        SettingsError
            In one sentence.
        """
        names = sorted(known)
        for _, rules in self.rules:
            for name in rules.printers:
                if name not in names:
                    raise SettingsError(
                        f"[policy] has a rule for the printer '{name}', which has no row in the "
                        f"records{nearest(name, names)}; correct its name or delete the rule."
                    )


def check_policies(shop: Shop) -> None:
    """Make sure that every rule is about a known head type and role, and gives a policy.

    Parameters
    ----------
    shop : Shop
        The settings.

    Raises
    ------
    ValueError
        One does not; in one sentence.
    """
    for first, rules in shop.policy.rules:
        _refuse_unknown("head type", rules.head_types, list(shop.head_types))
        _refuse_unknown("role", rules.roles, list(ROLES))
        book = policies_on(shop, first)
        for head_type in shop.head_types:
            for role in ROLES:
                for printer in ("", *rules.printers):
                    try:
                        book.of(head_type, role, printer)
                    except DecisionError as fault:
                        raise ValueError(str(fault).rstrip(".")) from None


def policies_on(shop: Shop, day: Any) -> PolicyBook:
    """Give the policies that were in force on a day.

    Whoever asks about a past day (a back-test, a review as of a day) asks with that day, and gets
    what was the shop's policy then, not what it is now. Fleet, lags and forecasts do so by
    themselves: they are told the day (`fleet_on`, `forecast_fleet`).

    Parameters
    ----------
    shop : Shop
        Its `[policy]` table and head types.
    day : date or pandas.Timestamp
        The day; rules that begin later are left out and their days named in `later`.

    Returns
    -------
    PolicyBook
        The policies in force.
    """
    on = day.date() if isinstance(day, datetime.datetime) else day
    return PolicyBook(
        tuple(rule for rule in shop.policy.rules if rule[0] <= on),
        shop.head_types,
        frozenset(shop.critical_printers),
        tuple(first for first, _ in shop.policy.rules if first > on),
    )


def policies_after(shop: Shop, day: Any) -> PolicyBook:
    """Give the policies for what comes after a day, such as the last one of the records.

    Parameters
    ----------
    shop : Shop
        Its `[policy]` table and head types.
    day : date or pandas.Timestamp
        The day before the first that is asked about; a change on the next day holds already.

    Returns
    -------
    PolicyBook
        The policies in force from then on.
    """
    return policies_on(shop, day + datetime.timedelta(days=1))


def _refuse_unknown(what: str, named: Iterable[str], known: list[str]) -> None:
    for name in named:
        if name not in known:
            raise ValueError(
                f"[policy] has a rule for the {what} '{name}', which there is not"
                f"{nearest(name, known)}; write one of {', '.join(known)}"
            )


def _due(stated: Any, settings: HeadType) -> tuple[float, float, str]:
    """Turn what the settings call a swap age into hours, a number of jobs, and a name."""
    if isinstance(stated, dict):
        return math.inf, float(stated["jobs"]), ""
    names = {"notice": "at the notice", "rating": AT_RATING}
    return _age(stated, settings), math.inf, names.get(stated, "")


def _age(stated: Any, settings: HeadType) -> float:
    """Turn what the settings call an age into hours; infinite for never."""
    if stated in ("failure", "never"):
        return math.inf
    if stated == "notice":
        return settings.notice_hours
    return settings.rated_hours if stated == "rating" else float(stated)


def _is_count(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and value >= 1


def _is_day(text: str) -> bool:
    try:
        datetime.date.fromisoformat(text)
    except ValueError:
        return False
    return True
